"""Change what the journal of a run says while its result stands: take a mark back, say that somebody watched."""

from collections.abc import Callable, Sequence
from pathlib import Path

from tocsin.errors import JournalError
from tocsin.features.records.round_files import note_watched, take_back_newest
from tocsin.journal import records
from tocsin.runner.match.scribe import nothing_to_take_back, took_back
from tocsin.runner.outcome import Done, Outcome, Refused
from tocsin.runner.stage import Stage
from tocsin.translation import tr

Judge = Callable[[Sequence[records.Record]], None]
"""Takes a run's records as they are now, to judge it anew."""


def take_back(stage: Stage, judge: Judge, what: str) -> Outcome:
    """Take the newest mark of who asks back, in the run that has ended on this stage, and judge it anew; ``what`` it
    is, as people call it."""
    folder = stage.last_folder
    if folder is None:
        return Refused(tr("the {what} has no journal", what=what))
    try:
        mark, run = take_back_newest(folder, stage.asked_by)
    except JournalError as error:
        return Refused(str(error))
    if mark is None:
        return Refused(nothing_to_take_back(records.marks_of(run)))
    judge(run)
    return Done(took_back(mark, stage.match.timeline, run))


def say_watched(folder: Path | None, now_ns: int, judge: Judge) -> Outcome:
    """Take a person's word that a run was watched, and nothing was to be marked; judge it anew."""
    if folder is None:
        return Done()
    try:
        run = note_watched(folder, now_ns)
    except JournalError as error:
        return Refused(str(error))
    judge(run)
    return Done(tr("watched, nothing to mark: recorded"))
