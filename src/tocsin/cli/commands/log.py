"""``tocsin log``: record matches that were not played by this laptop's Tocsin."""

import sys
from argparse import Namespace
from collections.abc import Sequence
from pathlib import Path
from typing import Any, get_args

from tocsin.cli.lines import tell
from tocsin.cli.parser import Parser
from tocsin.cli.people import people_of
from tocsin.cli.project import Meant, meant_here
from tocsin.cli.source import NO_DEVICES
from tocsin.config.file_cache import FileCache
from tocsin.config.load import MOST_PLANS, Loaded, load
from tocsin.errors import OVER, TocsinError, UsageError, reason
from tocsin.features.records.observed import MOST_LOG_BYTES, log_robot, log_video, seen_in_video, table_of
from tocsin.features.records.page.files import PlanSearch
from tocsin.features.records.page.log import log_page, told_of
from tocsin.features.records.page.record import read_page_record
from tocsin.features.records.rows import RowMaker
from tocsin.intake import read_given
from tocsin.journal.place import runs_folder
from tocsin.journal.reader import read
from tocsin.journal.short_name import short_name
from tocsin.model.drill import CREWS
from tocsin.model.timeline.shown import taken_note
from tocsin.runner.options import PRACTICE, At
from tocsin.translation import tr

_EXAMPLES = tr("""\
examples:
  tocsin log --plan full --video marks.csv --seen 0:12.4=driver.begin --label "match 14"
  tocsin log --plan my.toml --video marks.csv --seen 0:12.4=driver.begin --seen 1:49.5=driver.end
  tocsin log --plan my.toml --robot robot.log --at event
  tocsin log --page tocsin-page-20310301-1005.jsonl --who driver=Ann

marks.csv has the columns time, label, until, by, with times as the video player shows them:
  time,label,until,by
  1:27.4,called,,
  1:27.6,contact,1:29.4,us
  1:44,home,,
`called` is when somebody called home: without it turns count from when the plan has that call.

--seen says when the video shows a moment of the match; a second one checks the first. --seen 1:27.4=0:22 is as the
official display in it changes to 0:22 in the last period, --seen 0:20=auto@0:22 in another one. The log of a robot
holds the lines that exported code writes (TOCSIN1 ...). A page's record holds one match or several, with the plan that
its page was made from, so it needs no --plan; nothing is taken in twice.

exit codes: 0, 2 usage, 20 a mistake in a file, 22 it cannot be written
""")


def parser() -> Parser:
    """Return the parser of ``tocsin log``."""
    purpose = tr(
        "Make a run from a video of a match, a robot's log, or a record saved by a page.",
    )
    result = Parser("tocsin log", purpose, _EXAMPLES)
    add = result.add_argument
    add(
        "--plan", metavar="NAME|FILE",
        help=tr("the plan that the crew had (the project's, or what a page was made from)"),
    )
    add("--game", metavar="NAME|FILE", help=tr("instead of the game that the plan names"))
    add("--runs", type=Path, metavar="DIR", help=tr("where runs are recorded"))
    add("--label", default="", metavar="TEXT", help=tr("a name for this run"))
    add("--at", choices=get_args(At), default=PRACTICE, help=tr("practice or event (practice)"))
    add("--video", type=Path, metavar="CSV", help=tr("marks with the video's times"))
    add("--seen", action="append", default=[], metavar="TIME=MOMENT", help=tr("when the video shows a moment"))
    add("--robot", type=Path, metavar="FILE", help=tr("the log of exported robot code"))
    add("--page", type=Path, metavar="FILE", help=tr("the record that an exported page saved"))
    add("--who", action="append", default=[], metavar="ROLE=NAME", help=tr("who played, e.g. driver=Ann"))
    add("--crew", choices=CREWS, help=tr("whose match: a crew of the project (the only one)"))
    return result


def main(arguments: Sequence[str]) -> int:
    """Write the run, or a page's runs, and say where; return 0."""
    given = parser().parse_args(arguments)
    if sum(source is not None for source in (given.video, given.robot, given.page)) != 1:
        hint = tr("--video CSV with --seen TIME=MOMENT, --robot FILE, or --page FILE")
        raise UsageError(tr("say where the match comes from"), hint=hint)
    if given.seen and given.video is None:
        raise UsageError(tr("--seen is for a video"), hint=tr("leave it out"))
    meant = meant_here()
    runs = runs_folder(meant.runs(given.runs, told=True))
    if given.page is not None:
        _log_page(given, meant, runs)
        return OVER
    found = _loaded(given, meant, 1)
    options = _options(given, meant, runs)
    meant.tell()
    if given.video is not None:
        seen = seen_in_video(given.seen, found.plans[0].timeline)
        for text in given.seen:
            if note := taken_note(text.partition("=")[2], found.plans[0].timeline):
                tell(tr("note: {note}", note=note), sys.stderr)
        folder = log_video(runs, found, given.label, options, table_of(given.video), seen)
    else:
        folder = log_robot(runs, found, given.label, options, _lines(given.robot))
    tell(tr("recorded {short_name} in {parent}", short_name=short_name(folder), parent=folder.parent))
    _tell_result(folder, RowMaker())
    return OVER


def _log_page(given: Namespace, meant: Meant, runs: Path) -> None:
    record = read_page_record(given.page)
    asked = None if given.plan is None and given.game is None else _loaded(given, meant, 1)
    search = PlanSearch(record, asked, lambda: _usual(given, meant), runs)
    plans = [search.plan_of(match) for match in record.matches]
    options = _options(given, meant, runs)
    meant.tell()
    for note in (*(tr("note: {page}, {flaw}", page=given.page, flaw=flaw) for flaw in record.flaws), *search.notes):
        tell(note, sys.stderr)
    maker = RowMaker()
    for taken in log_page(runs, record, plans, given.label, options):
        for line in told_of(taken, len(record.matches)):
            tell(line)
        if taken.known == "new":
            _tell_result(taken.folder, maker)


def _tell_result(folder: Path, maker: RowMaker) -> None:
    report = maker.report(read(folder))
    for line in report.lines if report else ():
        tell(f"  {line}")


def _usual(given: Namespace, meant: Meant) -> Loaded | None:
    """Return the usual plans, None where they are not sound: nobody asked for them."""
    try:
        return _loaded(given, meant, MOST_PLANS)
    except TocsinError:
        return None


def _loaded(given: Namespace, meant: Meant, most: int) -> Loaded:
    plans = meant.plans(None if given.plan is None else [given.plan], most)
    return load(meant.game(given.game, plans), plans, NO_DEVICES, FileCache(meant.shared))


def _options(given: Namespace, meant: Meant, runs: Path) -> dict[str, Any]:
    """Return what stands in a run's header of who played, and where."""
    people = people_of(given.who, given.crew, runs, meant)
    return {"at": given.at, **({"people": people} if people else {})}


def _lines(path: Path) -> list[str]:
    try:
        return read_given(path, MOST_LOG_BYTES).decode("utf-8", errors="replace").splitlines()
    except OSError as error:
        raise UsageError(tr("{path} cannot be read: {reason}", path=path, reason=reason(error))) from error
