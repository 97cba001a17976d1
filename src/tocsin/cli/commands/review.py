"""``tocsin review``: what an evening, a season or all matches came to, with limits, or what is not known yet."""

import argparse
import re
import sys
from collections.abc import Sequence
from pathlib import Path
from typing import get_args

from tocsin.analysis.review.before.outlook import USUAL_EVENINGS
from tocsin.analysis.seasons.row import Row
from tocsin.cli.arguments import evenings
from tocsin.cli.filters import (
    PEOPLE_UNKNOWN,
    add_filters,
    day_of,
    demand_dates,
    demand_drill,
    demand_folders,
    names_in,
    reading_runs,
    tell_broken,
    wanted,
)
from tocsin.cli.lines import tell, tell_json
from tocsin.cli.own_files import demand_suffix, write_own
from tocsin.cli.parser import Parser
from tocsin.cli.project import Meant, meant_here
from tocsin.config import bundle
from tocsin.config.drills import deals_plans
from tocsin.errors import OVER, UsageError
from tocsin.features.records.example_season import example_season
from tocsin.features.records.run_list import Wanted
from tocsin.features.records.season_rows import season_rows
from tocsin.features.review.chosen import Chosen, Of, ReviewRequest, reviewed
from tocsin.features.review.document import document_of
from tocsin.features.review.look import look_lines
from tocsin.features.review.pages import FORMS, SIZES, page_of
from tocsin.features.review.planned import USUAL_DRILL, lines_before
from tocsin.features.review.told import lines_of, season_lines
from tocsin.journal.place import runs_folder
from tocsin.model.project import Asked, Project
from tocsin.translation import tr

_EXAMPLES = tr("""\
examples:
  tocsin review --example                      an invented team's newest evening: what this command can tell
  tocsin review                                your newest evening, and its season in three lines
  tocsin review --evening 2026-03-14           that evening; 2026-03-14.2 is the second one of that date
  tocsin review --season --drill break_off     all evenings of one drill
  tocsin review --season --since 2026-01-10 --crew A
  tocsin review --matches                      all matches, in place of a drill
  tocsin review --question coach               a look at one of the things that the lot compares
  tocsin review --question coach -o coach.pdf  that question alone on a page
  tocsin review -o evening.pdf                 the evening on a page of A4; also: .png, .svg
  tocsin review --season --size phone -o season.png    for a phone
  tocsin review --plan-season                  before a season: what twelve evenings can show, and what they cannot
  tocsin review --json                         all figures with their limits, for other programs

It says what happened, not why, and "not yet" where the rounds do not tell, with how many are missing. One drill at a
time: the one with most rounds that count, if --drill does not say which.

Repeat --runs for one team's runs in several folders: they are counted together. Nothing is sent anywhere. It says names
only with --names, and never in --json. Only an earlier page of a review is ever overwritten.

exit codes: 0 (also where nothing is known yet), 2 usage, 20 a mistake in tocsin.toml, 22 journals cannot be read
""")
_EVENING = re.compile(r"\d{4}-\d\d-\d\d(\.\d+)?")
# Options of runs that were played.
_NOT_AHEAD = ("crew", "who", "since", "until", "question", "example", "runs", "names", "json", "out", "size")
MOST_EVENINGS = 100
Source = tuple[tuple[Path, ...], Project | None, tuple[Row, ...]]
"""The folders of runs, the project, and the runs as rows."""


def parser() -> Parser:
    """Return the parser of ``tocsin review``."""
    purpose = tr("Say what an evening or a season came to: figures with limits, and what is not known yet.")
    result = Parser("tocsin review", purpose, _EXAMPLES)
    add = result.add_argument
    of = result.add_mutually_exclusive_group()
    of.add_argument("--evening", metavar="DATE", help=tr("that evening, e.g. 2026-03-14 (the newest, and its season)"))
    of.add_argument("--season", action="store_true", help=tr("all evenings together"))
    of.add_argument("--matches", action="store_true", help=tr("all matches, in place of a drill"))
    ahead = tr("before a season: what so many evenings of a drill can show (12 of --drill, or of break_off)")
    of.add_argument("--plan-season", type=evenings, nargs="?", const=USUAL_EVENINGS, metavar="EVENINGS", help=ahead)
    add_filters(result)
    asked = tr("of a season: look at one of the things that drills deal by lot; your question of the month stays")
    add("--question", choices=get_args(Asked), help=asked)
    add("--example", action="store_true", help=tr("an invented team's season in place of yours"))
    add("--runs", type=Path, action="append", metavar="DIR", help=tr("where runs are recorded; may be repeated"))
    add("--names", action="store_true", help=tr("tell who was in each crew"))
    form = result.add_mutually_exclusive_group()
    form.add_argument("--json", action="store_true", help=tr("print all figures as JSON"))
    form.add_argument("-o", dest="out", type=Path, metavar="FILE", help=tr("draw its page: .pdf, .png or .svg"))
    add("--size", choices=SIZES, help=tr("of a page: a4 for paper, phone for a screen in the hand (a4)"))
    return result


def main(arguments: Sequence[str]) -> int:
    """Review runs; return 0."""
    given = parser().parse_args(arguments)
    _check(given)
    if given.plan_season is not None:
        _tell_ahead(given)
        return OVER
    folders, project, rows = _example() if given.example else _recorded(given)
    wish = request_of(given, project, wanted(given, folders))
    demand_drill(given.drill, rows)
    found = reviewed(rows, wish)
    if wish.wanted.person and any(row.people_unknown for row in rows):
        tell(PEOPLE_UNKNOWN, sys.stderr)
    if given.json:
        tell_json(document_of((one.review for one in found), wish.wanted, invented=given.example))
        return OVER
    names = names_in(folders) if given.names else {}
    if given.out is not None:
        _draw(given, wish, found, names)
    elif found:
        _print(found, names, look_lines(found[0], wish), example=given.example)
    else:
        _tell_nothing(rows, folders, example=given.example)
    return OVER


def _check(given: argparse.Namespace) -> None:
    """Refuse what does not fit together, before anything is read."""
    demand_dates(given)
    if given.evening is not None:
        if not _EVENING.fullmatch(given.evening) or not _is_day(given.evening[:10]):
            raise UsageError(
                tr("'{evening}' is no evening", evening=given.evening),
                hint=tr("write its date, e.g. 2026-03-14; `tocsin runs` shows them"),
            )
        if given.question:
            raise UsageError(
                tr("an evening alone compares nothing: --question is for all evenings"), hint=tr("leave out --evening"),
            )
        if given.since or given.until:
            raise UsageError(
                tr("--since and --until are for several evenings"), hint=tr("leave them out, or use --season"),
            )
    if given.plan_season is not None:
        others = ["-o" if name == "out" else f"--{name}" for name in _NOT_AHEAD if getattr(given, name)]
        if given.out:
            raise UsageError(tr("--plan-season has no page: it is text alone"), hint=tr("leave out -o"))
        if others:
            raise UsageError(
                tr("--plan-season asks no runs: {option} is not for it", option=others[0]),
                hint=tr("it takes --drill alone"),
            )
        if not 1 <= given.plan_season <= MOST_EVENINGS:
            raise UsageError(tr("a season has 1 to {most} evenings", most=MOST_EVENINGS))
    if given.matches and given.drill:
        raise UsageError(tr("use --matches or --drill, not both"), hint=tr("matches are of no drill"))
    if given.json and given.names:
        raise UsageError(tr("--json never holds names"), hint=tr("leave out --names: it has the keys of people"))
    if given.out is not None:
        demand_suffix(given.out, tr("page"), tuple(FORMS), "review")
    elif given.size:
        raise UsageError(tr("--size is for a page"), hint=tr("say where: -o review.pdf"))
    if given.example and (given.runs or given.names or given.who):
        raise UsageError(
            tr("--example has runs of its own, and nobody has a name"), hint=tr("leave out --runs, --names and --who"),
        )


def _is_day(text: str) -> bool:
    try:
        return day_of(text) is not None
    except UsageError:
        return False


def _tell_ahead(given: argparse.Namespace) -> None:
    """Say what a season of a drill can show, as it would be played here: runs are not asked."""
    meant = meant_here()
    drill = meant.drill(given.drill or next(iter(meant.found.drills if meant.found else ()), USUAL_DRILL))
    plan = meant.plan_of_drill(None, drill, deals=deals_plans(drill))
    names = () if bundle.is_file_argument(drill) or plan is not None else (drill,)
    game = meant.game(None, names if plan is None else (plan,))
    crews = max(1, len(meant.found.project.crews)) if meant.found else 1
    meant.tell()
    for line in lines_before(
        drill, evenings=given.plan_season, crews=crews, plan=plan, game=game, shared=meant.shared,
    ):  # fmt: skip
        tell(line)


def _example() -> Source:
    found = example_season()
    return (), found.project, found.rows


def _recorded(given: argparse.Namespace) -> Source:
    meant = meant_here()
    folders = _folders(given, meant)
    meant.tell()
    return folders, meant.found.project if meant.found else None, season_rows(folders, tell_broken, reading_runs())


def _folders(given: argparse.Namespace, meant: Meant) -> tuple[Path, ...]:
    demand_folders(given.runs or ())
    if not given.runs:
        return (runs_folder(meant.runs(None, told=True)),)
    return tuple(dict.fromkeys(runs_folder(meant.runs(one, told=True)) for one in given.runs))


def request_of(given: argparse.Namespace, project: Project | None, chosen: Wanted) -> ReviewRequest:
    """Return what options ask for. The question is the project's: naming another one now, with what was played in view,
    is a look, and changes no evidence."""
    of: Of = (
        "evening" if given.evening else "matches" if given.matches else "season" if given.season or given.question
        else "newest"
    )
    return ReviewRequest(
        of=of, evening=given.evening or "", wanted=chosen, question=project.question if project else None,
        look=given.question,
    )


def _draw(given: argparse.Namespace, wish: ReviewRequest, found: Sequence[Chosen], names: dict[str, str]) -> None:
    """Write the page of what was asked for, or of its question; of the newest evening its own. Raises UsageError where
    there is none."""
    if not found:
        raise UsageError(
            tr("no run fits: there is nothing to draw"), hint=tr("leave out -o: then it is told what there is"),
        )
    page = page_of(found[0], wish, given.out, given.size or SIZES[0], names, example=given.example)
    write_own(given.out, page)
    tell(tr("wrote {out}", out=given.out))


def _print(found: Sequence[Chosen], names: dict[str, str], look: Sequence[str], *, example: bool) -> None:
    first, *season = found
    for line in lines_of(first, names, look, example=example):
        tell(line)
    for one in season:
        tell("")
        for line in season_lines(one.review):
            tell(line)
    tell(tr("What to change: `tocsin advise --example`.") if example else tr("What to change: `tocsin advise`."))


def _tell_nothing(rows: Sequence[Row], folders: Sequence[Path], *, example: bool) -> None:
    if example:
        tell(tr("No run of the invented team fits: ask for less, e.g. leave out --since."))
        return
    if rows:
        tell(tr("No run fits. `tocsin runs` lists what there is."))
        return
    tell(tr("Nothing is recorded yet in {folders}.", folders=", ".join(map(str, folders))))
    tell(tr("`tocsin evening` or `tocsin drill break_off` records rounds, `tocsin run` a match: then come back."))
    tell(tr("`tocsin review --example` shows what it will tell."))
