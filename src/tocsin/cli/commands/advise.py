"""``tocsin advise``: the one change of a plan's leads that wins points, or why there is none."""

import argparse
import re
import shutil
import sys
import textwrap
from collections.abc import Callable, Sequence
from datetime import date
from pathlib import Path

from tocsin import monotime
from tocsin.cli.lines import tell, tell_json
from tocsin.cli.parser import Parser
from tocsin.cli.project import Meant, meant_here
from tocsin.errors import OVER, TocsinError, UsageError
from tocsin.features.advice.advise import USUAL_PUSHES, Known, advise
from tocsin.features.advice.advised_plan import load_advised
from tocsin.features.advice.answer import AdviceDocument
from tocsin.features.advice.words import curve_lines, details, line_lines, sentence
from tocsin.features.records.measured_leads import measured_leads
from tocsin.features.records.season_rows import season_rows
from tocsin.journal.place import runs_folder
from tocsin.lint.leads import least_lead_ns
from tocsin.lint.subject import MeasuredLead
from tocsin.model.project import DEFAULT_SECOND
from tocsin.translation import tr

_EXAMPLES = tr("""\
examples:
  tocsin advise                        your plan, by all your rounds: one change, or why there is none
  tocsin advise --plan my.toml
  tocsin advise --second 0.5..0.8      a second of playing is worth 0.5 to 0.8 points a match
  tocsin advise --pushes 0.2..0.3      a push is on at the call in 20 to 30 of 100 matches
  tocsin advise --event 2026-03-14 --look
                                       what each lead is worth, though an event is near
  tocsin advise --json                 all of it for other programs

It weighs two things: a second that is given up by an earlier call, and a contact that costs points. It speaks only
where the gain is sure whatever nobody knows: else it says what is missing. At most one lead is changed at a time, by a
second or less, and never to where `tocsin check` objects. It changes no file: it prints the line, and you type it.
It never speaks in the seven days before an event that tocsin.toml names.

It knows your rounds, not the reasons: people, robots and opponents differ from match to match.

exit codes: 0 (also where it says no), 2 usage, 20 a mistake in a file, 22 the journals cannot be read
""")
_DATE = re.compile(r"\d{4}-\d\d-\d\d")
_WIDE = 13                             # of the words at the left


def parser() -> Parser:
    """Return the parser of ``tocsin advise``."""
    purpose = tr("Say which one change of a plan's leads wins points, by your own rounds, or why there is none.")
    result = Parser("tocsin advise", purpose, _EXAMPLES)
    add = result.add_argument
    add("--plan", metavar="NAME|FILE", help=tr("the plan (the project's usual one)"))
    add("--game", metavar="NAME|FILE", help=tr("instead of the game that the plan names"))
    add("--rig", metavar="NAME|FILE", help=tr("how surely the clock starts: its [start] (the project's)"))
    add(
        "--second", type=span(0.0, 1000.0), metavar="A..B",
        help=tr("what a second of playing is worth, in points a match (the project's, or 0.5..1)"),
    )
    add(
        "--pushes", type=span(0.0, 1.0), metavar="A..B", default=USUAL_PUSHES,
        help=tr("in which share of matches a push is on at the call (0.1..0.5, or what 8 matches show)"),
    )
    add("--event", metavar="DATE", default="", help=tr("the day of the next event, in place of those of tocsin.toml"))
    add("--look", action="store_true", help=tr("show what each lead is worth, also just before an event"))
    add("--runs", type=Path, nargs="+", action="extend", metavar="DIR", help=tr("where runs are recorded"))
    add("--json", action="store_true", help=tr("print all of it as JSON"))
    return result


def main(arguments: Sequence[str]) -> int:
    """Print advice; return 0, also where there is none to give."""
    given = parser().parse_args(arguments)
    event = _day(given.event)
    meant = meant_here()
    plan = meant.plan(given.plan)
    found = load_advised(plan, meant.game(given.game, [plan]), meant.rig(given.rig), meant.shared)
    folders = _folders(given.runs, meant)
    meant.tell()
    project = meant.found.project if meant.found else None
    events = (event,) if event else tuple(map(date.fromisoformat, project.event.dates if project else ()))
    known = Known(
        today=monotime.today(), least_ns=_least_ns(folders, found.loaded.timeline.game),
        second=given.second or (project.second if project else DEFAULT_SECOND), pushes=given.pushes, events=events,
        look=given.look,
    )  # fmt: skip
    document = advise(found, season_rows(folders, _tell_broken), known)
    if given.json:
        tell_json(document)
    else:
        _print(document, look=given.look)
    return OVER


def span(lowest: float, most: float) -> Callable[[str], tuple[float, float]]:
    """Return the parser of one number or two, as 0.5..1, within these bounds."""

    def read(text: str) -> tuple[float, float]:
        low, dots, high = text.partition("..")
        try:
            found = float(low), float(high if dots else low)
        except ValueError:
            raise argparse.ArgumentTypeError(
                tr("'{text}' is not a number, or two as 0.5..1", text=text)
            ) from None
        if not lowest <= found[0] <= found[1] <= most:
            raise argparse.ArgumentTypeError(tr(
                "{text} is not within {lowest:g}..{most:g}, the smaller one first", text=text, lowest=lowest, most=most,
            ))
        return found

    return read


def _day(text: str) -> date | None:
    if not text:
        return None
    try:
        if _DATE.fullmatch(text):
            return date.fromisoformat(text)
    except ValueError:
        pass
    raise UsageError(tr("'{day}' is not a date", day=text), hint=tr("write it as 2026-03-14"))


def _folders(given: Sequence[Path] | None, meant: Meant) -> tuple[Path, ...]:
    """Return the folders of runs. Raises UsageError for one that was named and is not there."""
    for folder in given or ():
        if not folder.is_dir():
            raise UsageError(
                tr("there is no folder {folder}", folder=folder), hint=tr("name the folder that holds your runs"),
            )
    return tuple(given) if given else (runs_folder(meant.runs(None, told=True)),)


def _least_ns(folders: Sequence[Path], game: str) -> Callable[[str], int]:
    """Return what tells below which length `tocsin check` objects to a lead, by these runs."""
    measured = [measured_leads(folder, game, lambda _: None) for folder in folders]

    def least_ns(lead: str) -> int:
        shown = [MeasuredLead(one.lead_ns, one.rounds, one.missing) for each in measured if (one := each.get(lead))]
        return max((least_lead_ns(lead, one) for one in shown), default=least_lead_ns(lead))

    return least_ns


def _tell_broken(error: TocsinError) -> None:
    tell(tr("tocsin: {line}", line=error.line), sys.stderr)


def _beside(word: str, text: str) -> str:
    """Return a text beside its word, at a terminal broken in its own column."""
    whole = f"{word:<{_WIDE}}{text}"
    if not sys.stdout.isatty():
        return whole
    width = max(2 * _WIDE, shutil.get_terminal_size().columns - 1)
    return textwrap.fill(whole, width, subsequent_indent=" " * _WIDE, break_on_hyphens=False)


def _print(document: AdviceDocument, *, look: bool) -> None:
    tell(sentence(document))
    told = list(details(document))
    if told:
        tell("")
    for word, text in told:
        tell(_beside(word, text), fit=False)
    if look:
        tell("")
        for line in curve_lines(document):
            tell(line)
    lines = line_lines(document)
    if lines:
        tell("")
    for place, line in enumerate(lines):
        tell(line, fit=not place)
