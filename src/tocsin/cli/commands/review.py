"""``tocsin review``: what an evening, a season or all matches came to, with limits, or what is not known yet."""

import argparse
import re
import sys
from collections.abc import Sequence
from pathlib import Path

from tocsin.analysis.seasons.row import Row
from tocsin.cli.filters import PEOPLE_UNKNOWN, add_filters, demand_dates, names_in, tell_broken, wanted
from tocsin.cli.lines import tell, tell_json
from tocsin.cli.parser import Parser
from tocsin.cli.project import Meant, meant_here
from tocsin.errors import OVER, UsageError
from tocsin.features.records.season_rows import season_rows
from tocsin.features.review.chosen import Chosen, ReviewRequest, reviewed
from tocsin.features.review.document import document_of
from tocsin.features.review.told import lines_of
from tocsin.journal.place import runs_folder
from tocsin.translation import tr

_EXAMPLES = tr("""\
examples:
  tocsin review                                the newest evening
  tocsin review --evening 2026-03-14           that evening; 2026-03-14.2 is the second one of that date
  tocsin review --drill turn --crew A          the newest evening with rounds of that drill and crew
  tocsin review --json                         all figures with their limits, for other programs

It says what happened, not why, and "not yet" where the rounds do not tell, with how many are missing. One drill at a
time: the one with most rounds that count, if --drill does not say which.

Repeat --runs for one team's runs in several folders: they are counted together. Nothing is sent anywhere. Names stand
in it only with --names, and never in --json.

exit codes: 0 (also where nothing is known yet), 2 usage, 20 a mistake in tocsin.toml, 22 the journals cannot be read
""")
_EVENING = re.compile(r"\d{4}-\d\d-\d\d(\.\d+)?")


def parser() -> Parser:
    """Return the parser of ``tocsin review``."""
    purpose = tr("Say what an evening or a season came to: figures with limits, and what is not known yet.")
    result = Parser("tocsin review", purpose, _EXAMPLES)
    add = result.add_argument
    add("--evening", metavar="DATE", help=tr("that evening, e.g. 2026-03-14 (the newest)"))
    add_filters(result)
    add("--runs", type=Path, action="append", metavar="DIR", help=tr("where runs are recorded; may be repeated"))
    add("--names", action="store_true", help=tr("tell who was in each crew"))
    add("--json", action="store_true", help=tr("print all figures as JSON"))
    return result


def main(arguments: Sequence[str]) -> int:
    """Review runs; return 0."""
    given = parser().parse_args(arguments)
    _check(given)
    meant = meant_here()
    folders = _folders(given, meant)
    meant.tell()
    wish = ReviewRequest(evening=given.evening or "", wanted=wanted(given, folders))
    rows = season_rows(folders, tell_broken)
    found = reviewed(rows, wish)
    if wish.wanted.person and any(row.people_unknown for row in rows):
        tell(PEOPLE_UNKNOWN, sys.stderr)
    if given.json:
        tell_json(document_of((one.review for one in found), wish.wanted))
    elif found:
        _print(found, names_in(folders) if given.names else {})
    else:
        _tell_nothing(rows, folders)
    return OVER


def _check(given: argparse.Namespace) -> None:
    """Refuse what does not fit together, before anything is read."""
    demand_dates(given)
    if given.evening is not None:
        if not _EVENING.fullmatch(given.evening):
            raise UsageError(
                tr("'{evening}' is no evening", evening=given.evening),
                hint=tr("write its date, e.g. 2026-03-14; `tocsin runs` shows them"),
            )
        if given.since or given.until:
            raise UsageError(
                tr("--since and --until are for several evenings"), hint=tr("leave them out"),
            )
    if given.json and given.names:
        raise UsageError(tr("--json never holds names"), hint=tr("leave out --names: it has the keys of people"))


def _folders(given: argparse.Namespace, meant: Meant) -> tuple[Path, ...]:
    if not given.runs:
        return (runs_folder(meant.runs(None, told=True)),)
    return tuple(dict.fromkeys(runs_folder(meant.runs(one, told=True)) for one in given.runs))


def _print(found: Sequence[Chosen], names: dict[str, str]) -> None:
    for one in found:
        for line in lines_of(one, names):
            tell(line)


def _tell_nothing(rows: Sequence[Row], folders: Sequence[Path]) -> None:
    if rows:
        tell(tr("No run fits. `tocsin runs` lists what there is."))
        return
    tell(tr("Nothing is recorded yet in {folders}.", folders=", ".join(map(str, folders))))
    tell(tr("`tocsin evening` or `tocsin drill break_off` records rounds, `tocsin run` a match: then come back."))
