"""``tocsin mark``: add marks to a finished run or withdraw them; nothing is overwritten."""

import argparse
import sys
from collections.abc import Iterable, Sequence
from pathlib import Path

from tocsin import monotime
from tocsin.cli.lines import tell
from tocsin.cli.parser import Parser
from tocsin.cli.project import meant_here
from tocsin.errors import OVER, UsageError
from tocsin.features.records.added_marks import (
    add_marks,
    added_notes,
    doubts,
    marks_at,
    marks_in_video,
    take_back,
    taken_notes,
    told,
)
from tocsin.features.records.observed import table_of
from tocsin.features.records.round_files import note_watched
from tocsin.features.records.rows import RowMaker
from tocsin.features.records.scores import note_score, score_of
from tocsin.journal.place import runs_folder
from tocsin.journal.reader import Journal, find_run, reckoning
from tocsin.model.mark import LATER, VIDEO, Mark
from tocsin.translation import tr

_EXAMPLES = tr("""\
examples:
  tocsin mark                                           lists the newest run's marks, with their numbers
  tocsin mark --label contact --at driver.end-18.4s --until driver.end-17s
  tocsin mark k7f2 --label home --at 0:02               k7f2 as `tocsin runs` lists it, as the display changed to 0:02
  tocsin mark --video marks.csv --seen 0:12.4=driver.begin
  tocsin mark --take-back 3
  tocsin mark k7f2 --score 88:75                        the official score, ours first; a later one counts
  tocsin mark --watched                                 nobody touched anybody, and somebody was there to see it

A time alone, such as 0:22, is what the display shows in the last period; auto@0:22 is in another one. Marks are
appended to the run's journal and say that they came later. exit codes: 0, 2 usage, 20 a mistake in a file, 22 the
journal cannot be read or written
""")
_LABEL = ("label", tr("write what it was, e.g. --label contact"))
# What an option is nothing without, and how that is written.
_NEEDS = {
    "at": _LABEL,
    "until": _LABEL,
    "by": _LABEL,
    "seen": ("video", tr("name the table of marks, e.g. --video marks.csv")),
}  # fmt: skip


def parser() -> Parser:
    """Return the parser of ``tocsin mark``."""
    result = Parser("tocsin mark", tr("Add marks to a run that has ended, or take one back."), _EXAMPLES)
    add = result.add_argument
    which = tr("its short name, as `tocsin runs` lists it, or its folder (the newest run)")
    add("run", nargs="?", default="", metavar="RUN", help=which)
    add("--runs", type=Path, metavar="DIR", help=tr("where runs are recorded"))
    add("--label", metavar="LABEL", help=tr("contact, turned, home, home_half, home_none, moved, called, or your own"))
    add("--at", metavar="MOMENT", help=tr("when, e.g. driver.end-18.4s, or 0:22 by the display"))
    add("--until", metavar="MOMENT", help=tr("until when, for a span"))
    add("--by", choices=["us", "partner", "opponent"], help=tr("whose it was (us)"))
    add("--video", type=Path, metavar="CSV", help=tr("marks with the video's times, see `tocsin log --help`"))
    add("--seen", action="append", default=[], metavar="TIME=MOMENT", help=tr("when the video shows a moment"))
    add("--score", metavar="US:THEM", help=tr("the match's official score, ours first, e.g. 88:75; none takes it back"))
    watched = tr("somebody watched, and there was nothing to mark: without a mark or this a round is not judged")
    add("--watched", action="store_const", const=True, help=watched)
    add("--take-back", type=int, metavar="NUMBER", help=tr("the number of the mark to take back"))
    return result


def main(arguments: Sequence[str]) -> int:
    """Add, withdraw or list marks; return 0."""
    given = parser().parse_args(arguments)
    asked = [name for name in ("label", "video", "take_back", "watched", "score") if getattr(given, name) is not None]
    if len(asked) > 1:
        hint = tr("--label and --at, --video and --seen, --take-back, --score or --watched")
        raise UsageError(tr("one thing at a time"), hint=hint)
    for option, (needed, hint) in _NEEDS.items():
        if getattr(given, option) not in (None, []) and getattr(given, needed) is None:
            raise UsageError(tr("--{option} needs --{needed}", option=option, needed=needed), hint=hint)
    meant = meant_here()
    runs = runs_folder(meant.runs(given.runs, told=True))
    meant.tell()
    journal = find_run(runs, given.run)
    with reckoning(journal):
        _change(given, journal)
        journal = find_run(runs, str(journal.path.parent))
        lines = list(told(journal))
        report, score = RowMaker().report(journal), score_of(journal.records)
    for line in lines:
        tell(line)
    if score:
        tell(tr("  score {text}, ours first", text=score.text))
    for line in report.lines if report else ():
        tell(f"  {line}")
    return OVER


def _change(given: argparse.Namespace, journal: Journal) -> None:
    """Add or take back what is asked for."""
    if given.label is not None:
        if given.at is None:
            raise UsageError(tr("--label needs --at"), hint=tr("write when, e.g. --at driver.end-18.4s"))
        marks = marks_at(journal, given.label, given.at, given.until, given.by or "")
        _tell_notes(taken_notes(journal, [given.at, given.until]))
        _add(journal, marks, LATER)
    elif given.video is not None:
        marks = marks_in_video(journal, table_of(given.video), given.seen)
        _tell_notes(taken_notes(journal, [text.partition("=")[2] for text in given.seen]))
        _add(journal, marks, VIDEO)
    elif given.take_back is not None:
        take_back(journal, given.take_back)
    elif given.score is not None:
        note_score(journal, given.score, monotime.now_ns())
    elif given.watched:
        note_watched(journal.path.parent, monotime.now_ns())


def _add(journal: Journal, marks: Sequence[Mark], source: str) -> None:
    notes = [*doubts(journal, marks), *added_notes(journal, marks, source)]
    add_marks(journal, marks, source)
    _tell_notes(notes)


def _tell_notes(notes: Iterable[str]) -> None:
    for note in notes:
        tell(note, sys.stderr)
