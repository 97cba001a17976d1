"""``tocsin log``: record a match that Tocsin did not clock."""

import sys
from collections.abc import Sequence
from pathlib import Path
from typing import get_args

from tocsin.cli.lines import tell
from tocsin.cli.parser import Parser
from tocsin.cli.source import NO_DEVICES
from tocsin.config.load import load
from tocsin.errors import OVER, UsageError, reason
from tocsin.features.records.observed import MOST_LOG_BYTES, log_robot, log_video, seen_in_video, table_of
from tocsin.features.records.rows import RowMaker
from tocsin.intake import read_given
from tocsin.journal.place import runs_folder
from tocsin.journal.reader import read
from tocsin.model.timeline.shown import taken_note
from tocsin.runner.options import PRACTICE, At

_EXAMPLES = """\
examples:
  tocsin log --plan full --video marks.csv --seen 0:12.4=driver.begin --label "match 14"
  tocsin log --plan my.toml --video marks.csv --seen 0:12.4=driver.begin --seen 2:12.5=driver.end
  tocsin log --plan my.toml --robot robot.log --at event

marks.csv has the columns time, label, until, by, with times as the video player shows them:
  time,label,until,by
  1:47.0,called,,
  1:47.2,contact,1:49.0,us
  2:08,home,,
`called` is when somebody called home: without it turns count from when the plan has that call.

--seen says when the video shows a moment of the match; a second one checks the first. --seen 2:12.5=0:24 is as the
official display in it changes to 0:24 in the last period, --seen 0:20=auto@0:24 in another one. The log of a robot
holds the lines that exported code writes (TOCSIN1 ...). exit codes: 0, 2 usage, 20 a mistake in a file, 22 it cannot
be written
"""


def parser() -> Parser:
    """Return the parser of ``tocsin log``."""
    purpose = "Record a match that was watched in a video, or logged by the robot's program."
    result = Parser("tocsin log", purpose, _EXAMPLES)
    add = result.add_argument
    add("--plan", default="full", metavar="NAME|FILE", help="the plan that the crew had (full)")
    add("--game", metavar="NAME|FILE", help="instead of the game that the plan names")
    add("--runs", type=Path, metavar="DIR", help="where runs are recorded")
    add("--label", default="", metavar="TEXT", help="a name for this run")
    add("--at", choices=get_args(At), default=PRACTICE, help="what it belongs to (practice)")
    add("--video", type=Path, metavar="CSV", help="marks with the video's times")
    add("--seen", action="append", default=[], metavar="TIME=MOMENT", help="when the video shows a moment")
    add("--robot", type=Path, metavar="FILE", help="the log of exported robot code")
    return result


def main(arguments: Sequence[str]) -> int:
    """Write the run and say where; return 0."""
    given = parser().parse_args(arguments)
    if (given.video is None) == (given.robot is None):
        hint = "--video CSV with --seen TIME=MOMENT, or --robot FILE"
        raise UsageError("say what the match is taken from", hint=hint)
    found = load(given.game, [given.plan], NO_DEVICES)
    runs = runs_folder(given.runs)
    if given.video is not None:
        seen = seen_in_video(given.seen, found.plans[0].timeline)
        for text in given.seen:
            if note := taken_note(text.partition("=")[2], found.plans[0].timeline):
                tell(f"note: {note}", sys.stderr)
        folder = log_video(runs, found, given.label, table_of(given.video), seen, at=given.at)
    else:
        if given.seen:
            raise UsageError("--seen is for a video", hint="leave it out")
        folder = log_robot(runs, found, given.label, _lines(given.robot), at=given.at)
    tell(f"recorded {folder}")
    report = RowMaker().report(read(folder))
    for line in report.lines if report else ():
        tell(f"  {line}")
    return OVER


def _lines(path: Path) -> list[str]:
    try:
        return read_given(path, MOST_LOG_BYTES).decode("utf-8", errors="replace").splitlines()
    except OSError as error:
        raise UsageError(f"{path} cannot be read: {reason(error)}") from error
