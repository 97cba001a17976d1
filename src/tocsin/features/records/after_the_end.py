"""Change what the journal of a run says once it has ended: take a mark back, add one that came late, say that somebody
watched."""

from collections.abc import Callable, Sequence
from pathlib import Path

import msgspec

from tocsin import monotime
from tocsin.analysis.rounds.scribes import scribe_text
from tocsin.errors import JournalError
from tocsin.features.records.round_files import (
    UNWATCHED,
    append_records,
    facts_of,
    note_watched,
    said_watched,
    take_back_newest,
)
from tocsin.features.records.round_report import RoundReport
from tocsin.journal import records
from tocsin.journal.clock_history import ClockHistory, noted_text
from tocsin.journal.reader import read
from tocsin.model.mark import Mark, places_of, scribe_of
from tocsin.runner.match.scribe import AGAIN_NS, LADDER, nothing_to_take_back, took_back
from tocsin.runner.notices import ANSWER
from tocsin.runner.outcome import Done, Outcome, Refused
from tocsin.runner.stage import Stage
from tocsin.translation import tr
from tocsin.units import NS_PER_S

CHANGED_NS = 30 * NS_PER_S             # so long it stands that a result was changed: nobody looks for it

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


def write_late(folder: Path, mark: Mark) -> tuple[str, tuple[records.Record, ...]]:
    """Write a mark that a board noted while it was out of reach into the journal of its run; return what people read,
    and the run's records then. Raises JournalError. Called from a thread too."""
    journal = read(folder)
    run, marks = journal.records, records.marks_of(journal.records)
    if any((one.source, one.begin_ns) == (mark.source, mark.begin_ns) for one in marks):
        return tr("noted already"), run
    now_ns = monotime.now_ns()
    added: list[records.Record] = []
    if said_watched(run):
        text = tr("a mark came late")
        added.append(records.Note(at_ns=now_ns, what=UNWATCHED, text=text, source=mark.source))
    if mark.label in LADDER and mark.is_ours:
        mark, before = _tapped_on(mark, marks)
        if before is not None:
            taken = marks[before].label
            added.append(
                records.MarkRecord(at_ns=now_ns, label=taken, begin_ns=now_ns, source=mark.source, takes_back=before)
            )
    noted = records.MarkRecord(at_ns=now_ns, **msgspec.structs.asdict(mark))
    append_records(folder, *added, noted)
    run = (*run, *added, noted)
    if journal.header.timeline is None:
        return tr("noted late"), run
    told = tr("noted late: {noted}", noted=noted_text(noted, journal.header.timeline, ClockHistory(run)))
    facts = facts_of(journal.header)               # it is read while another round is on
    return (told if facts is None else tr("round {number}: {told}", number=facts.round, told=told)), run


def _tapped_on(mark: Mark, marks: Sequence[records.MarkRecord]) -> tuple[Mark, int | None]:
    """Return a mark of ours that says less than home if its scribe tapped on, with the place of the one before it."""
    places = [
        place for place in places_of(marks, mark.source)
        if marks[place].label in LADDER[:-1] and marks[place].is_ours
        and abs(mark.begin_ns - marks[place].begin_ns) < AGAIN_NS
    ]
    if not places:
        return mark, None
    less = LADDER[LADDER.index(marks[places[-1]].label) + 1]
    return msgspec.structs.replace(mark, label=less), places[-1]


class Changes:
    """The changes of results by late marks that people were not told yet."""

    def __init__(self) -> None:
        self._told: list[str] = []

    def add(self, stage: Stage, told: str) -> None:
        """Keep a change to be told, if there is one; what a key came to before may say otherwise, and goes."""
        if told:
            stage.notices.drop(ANSWER)
            self._told.append(told)

    def turn(self, stage: Stage, now_ns: int) -> None:
        """Tell the changes."""
        for told in self._told:
            stage.notice(told, now_ns, CHANGED_NS)
        self._told.clear()


def change_text(before: RoundReport, after: RoundReport, run: Sequence[records.Record], round_no: int = 0) -> str:
    """Return how the newest mark of a run changed its result, or an empty text if it did not; ``round_no`` is the round
    of a drill that it was."""
    was, now = before.picture.word.upper(), after.picture.word.upper()
    if was == now:
        return ""
    scribe = scribe_text(scribe_of(records.marks_of(run)[-1].source))
    told = tr("changed by {scribe}: {now}, was {was}", scribe=scribe, now=now, was=was)
    return tr("round {number}: {told}", number=round_no, told=told) if round_no else told


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
