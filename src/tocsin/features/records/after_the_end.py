"""Change what the journal of a run says while its result stands: take a mark back, say that somebody watched."""

from collections.abc import Callable, Sequence
from pathlib import Path

from tocsin.errors import JournalError
from tocsin.features.records.round_files import note_watched, take_back_newest
from tocsin.journal import records
from tocsin.model.timeline.timeline import Timeline
from tocsin.runner.match.scribe import took_back
from tocsin.runner.outcome import Done, Outcome, Refused
from tocsin.translation import tr

Judge = Callable[[Sequence[records.Record]], None]
"""Takes a run's records as they are now, to judge it anew."""


def take_back(folder: Path | None, timeline: Timeline, judge: Judge, what: str) -> Outcome:
    """Take the newest mark of a run that has ended back, and judge it anew; ``what`` it is, as people call it."""
    if folder is None:
        return Refused(tr("the {what} has no journal", what=what))
    try:
        found = take_back_newest(folder)
    except JournalError as error:
        return Refused(str(error))
    if found is None:
        return Refused(tr("there is no mark to take back"))
    mark, run = found
    judge(run)
    return Done(took_back(mark, timeline, run))


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
