"""``tocsin advise``: the one change of a plan's leads that wins points, or why there is none."""

import argparse
import re
import shutil
import sys
import textwrap
from collections.abc import Callable, Sequence
from datetime import date
from pathlib import Path

import msgspec

from tocsin import monotime
from tocsin.analysis.seasons.row import Row
from tocsin.cli.arguments import number
from tocsin.cli.filters import day_of, demand_folders, reading_runs
from tocsin.cli.lines import tell, tell_json
from tocsin.cli.own_files import demand_suffix, write_own
from tocsin.cli.parser import Parser
from tocsin.cli.project import Meant, meant_here
from tocsin.cli.source import NO_DEVICES
from tocsin.config.file_cache import NOTHING_SHARED
from tocsin.errors import OVER, TocsinError, UsageError
from tocsin.export.drawing.printing import Form
from tocsin.features.advice.advise import advise
from tocsin.features.advice.advised_plan import AdvisedPlan, load_advised
from tocsin.features.advice.answer import AdviceDocument
from tocsin.features.advice.details import close_match_lines, details
from tocsin.features.advice.known import USUAL_PUSHES, Known
from tocsin.features.advice.page import draw
from tocsin.features.advice.words import INVENTED, curve_lines, line_lines, said_of, sentence
from tocsin.features.records.example_season import example_season
from tocsin.features.records.season_rows import season_rows
from tocsin.journal.place import runs_folder
from tocsin.model.project import DEFAULT_SECOND, MOST_SECOND, Project
from tocsin.translation import tr

_EXAMPLES = tr("""\
examples:
  tocsin advise                        your plan, by all your rounds: one change, or why there is none
  tocsin advise --plan my.toml
  tocsin advise --second 0.5..0.8      a second of playing is worth 0.5 to 0.8 points a match
  tocsin advise --pushes 0.2..0.3      a push is on at the call in 20 to 30 of 100 matches
  tocsin advise --event 2026-03-14 --look
                                       what each lead is worth, though an event is near
  tocsin advise --ahead 5              ahead by 5 points near the end: all the way in, or the sure half?
  tocsin advise --example              an invented team's season: what this command can tell
  tocsin advise -o advice.pdf          on a page: A4, or for a phone (--size phone); also .png, .svg
  tocsin advise --json                 all of it for other programs

It weighs two things: a second that is given up by an earlier call, and a contact that costs points. It speaks only
where the gain is sure whatever nobody knows: else it says what is missing. At most one lead is changed at a time, by a
second or less, and never to where `tocsin check` objects. It changes no file: it prints the line, and you type it.
It never speaks in the seven days before an event that tocsin.toml names.

It knows your rounds, not the reasons: people, robots and opponents differ from match to match.

exit codes: 0 (also where it says no), 2 usage, 20 a mistake in a file, 22 the journals cannot be read
""")
_SPANS = ("--second", "--pushes")
_BELOW_0 = re.compile(r"-[\d.]")
_PAGES = ("a4", "phone")
_FORMS: dict[str, Form] = {".pdf": "pdf", ".png": "png", ".svg": "svg"}
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
        "--second", type=span(0.0, MOST_SECOND), metavar="A..B",
        help=tr("what a second of playing is worth, in points a match (the project's, or 0.5..1)"),
    )
    add(
        "--pushes", type=span(0.0, 1.0), metavar="A..B", default=USUAL_PUSHES,
        help=tr("in which share of matches a push is on at the call (0.1..0.5, or what 8 matches show)"),
    )
    add("--event", metavar="DATE", default="", help=tr("the day of the next event, in place of those of tocsin.toml"))
    add(
        "--ahead", type=number(-1000, 1000), metavar="M",
        help=tr("a close match: you are ahead by so many points near the end, below 0 behind"),
    )
    add(
        "--spread", type=number(0.1, 1000), metavar="S",
        help=tr("a close match: by how many points such a lead ends up off (12, or what 8 scores show)"),
    )
    add("--look", action="store_true", help=tr("show what each lead is worth, also just before an event"))
    add("--example", action="store_true", help=tr("an invented team's season in place of yours"))
    add("--runs", type=Path, action="append", metavar="DIR", help=tr("where runs are recorded; may be repeated"))
    form = result.add_mutually_exclusive_group()
    form.add_argument("-o", dest="out", type=Path, metavar="FILE", help=tr("draw it on a page: .pdf, .png or .svg"))
    add("--size", choices=_PAGES, help=tr("of that page: paper, or a phone (a4)"))
    form.add_argument("--json", action="store_true", help=tr("print all of it as JSON"))
    return result


def main(arguments: Sequence[str]) -> int:
    """Print advice; return 0, also where there is none to give."""
    given = parser().parse_args(_joined(arguments))
    _check(given)
    plan, rows, known = _example(given) if given.example else _recorded(given)
    document = advise(plan, rows, known)
    if given.out is not None:
        kind = _FORMS[given.out.suffix.lower()]
        write_own(given.out, draw(document, kind=kind, size=given.size or "a4"))
    if given.json:
        tell_json(document)
    elif given.out is not None:
        tell(sentence(document))
        tell(tr("wrote {out}", out=given.out))
    else:
        _print(document, look=given.look)
    return OVER


def _joined(arguments: Sequence[str]) -> list[str]:
    """Return arguments with a range below 0 tied to its option: alone it would be taken for an option itself."""
    found: list[str] = []
    for one in arguments:
        if found and found[-1] in _SPANS and _BELOW_0.match(one):
            found[-1] += f"={one}"
        else:
            found.append(one)
    return found


def _check(given: argparse.Namespace) -> None:
    if given.example and (given.plan or given.game or given.runs):
        raise UsageError(
            tr("--example has a plan and runs of its own"), hint=tr("leave out --plan, --game and --runs")
        )
    if given.out is not None:
        demand_suffix(given.out, tr("page"), tuple(_FORMS), "advice")
    elif given.size is not None:
        raise UsageError(tr("--size is for a page"), hint=tr("say where: -o advice.pdf"))


def _recorded(given: argparse.Namespace) -> tuple[AdvisedPlan, tuple[Row, ...], Known]:
    """Return what the project and its runs say."""
    meant = meant_here()
    plan = meant.plan(given.plan)
    found = load_advised(plan, meant.game(given.game, [plan]), meant.rig(given.rig), meant.shared)
    folders = _folders(given.runs, meant)
    meant.tell()
    known = _known(given, meant.found.project if meant.found else None, monotime.today())
    return found, season_rows(folders, _tell_broken, reading_runs()), known


def _example(given: argparse.Namespace) -> tuple[AdvisedPlan, tuple[Row, ...], Known]:
    """Return what the invented team's season says."""
    season = example_season()
    found = load_advised(season.project.plans[0], None, given.rig or NO_DEVICES, NOTHING_SHARED)
    today = date.fromisoformat(season.today)
    event = day_of(given.event)
    if event is not None and event < today:
        raise UsageError(
            tr("the event {event} is over: the example's today is {today}", event=event, today=today),
            hint=tr("name a day after that"),
        )
    known = _known(given, season.project, today)
    return found, season.rows, msgspec.structs.replace(known, invented=True)


def _known(given: argparse.Namespace, project: Project | None, today: date) -> Known:
    event = day_of(given.event)
    if event is not None and event < today:
        raise UsageError(
            tr("the event {event} is over: today is {today}", event=event, today=today),
            hint=tr("name one that is still to come"),
        )
    events = (event,) if event else tuple(map(date.fromisoformat, project.event.dates if project else ()))
    return Known(
        today=today, second=given.second or (project.second if project else DEFAULT_SECOND), pushes=given.pushes,
        events=events, look=given.look, ahead=given.ahead, spread=given.spread,
    )  # fmt: skip


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


def _folders(given: Sequence[Path] | None, meant: Meant) -> tuple[Path, ...]:
    demand_folders(given or ())
    return tuple(given) if given else (runs_folder(meant.runs(None, told=True)),)


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
    if document.invented:
        tell(INVENTED)
    tell(sentence(document))
    blocks = [
        [_beside(word, text) for word, text in details(document)], list(curve_lines(document)) if look else [],
        [said_of(document, one) for one in document.others], list(line_lines(document)),
        list(close_match_lines(document)),
    ]  # fmt: skip
    for block in filter(None, blocks):
        tell("")
        for line in block:
            tell(line, fit=(not line.startswith("    ") and line != block[0]) or len(block) == 1)
