"""Rounds of a drill in the folder of runs: each is a run of its own, its header says which round of which session."""

from collections.abc import Iterator
from pathlib import Path
from typing import Annotated, Any

import msgspec

from tocsin import monotime
from tocsin.errors import JournalError
from tocsin.journal import records
from tocsin.journal.past import workers_of
from tocsin.journal.reader import Journal, OnBroken, all_runs, read, reckoning
from tocsin.journal.writer import JournalWriter
from tocsin.model.mark import standing_places
from tocsin.runner.options import ROUND, RunOptions, options_of

DROPPED, REPEATED, ENDED = "dropped", "repeated", "drill ended"
MOST_ROUNDS = 100_000                  # in a header that may come from anywhere


class Session(msgspec.Struct, kw_only=True):
    """Where an evening's drill stands. ``key`` tells sessions apart, ``seed`` sets what varies; ``place`` is the next
    round, from 0; ``on_battery`` counts the rounds on this battery."""

    name: str
    key: str
    seed: int
    place: int = 0
    crew: str = "A"
    on_battery: int = 0


class RoundFacts(msgspec.Struct, frozen=True, kw_only=True):
    """What a header says of its round, ``round`` from 1."""

    name: str
    key: str
    seed: int
    round: Annotated[int, msgspec.Meta(ge=1, le=MOST_ROUNDS)]
    crew: str
    battery: Annotated[int, msgspec.Meta(ge=0, le=MOST_ROUNDS)]
    half_speed: bool
    condition: dict[str, Any] = {}


class PastSession(msgspec.Struct, frozen=True, kw_only=True):
    """A drill that was cut short: where it stands, what it runs on, its rounds from the first to the newest.

    ``unfinished`` are the folders of rounds without an end, ``workers`` what may be left of the newest.
    """

    session: Session
    options: RunOptions
    files: tuple[records.FileRecord, ...]
    rounds: tuple[Journal, ...]
    unfinished: tuple[Path, ...]
    workers: tuple[records.Worker, ...]


def facts_of(header: records.Header) -> RoundFacts | None:
    """Return what a header says of its round, None for a run that was no round of a drill."""
    found = header.options.get(ROUND)
    if not isinstance(found, dict):
        return None
    try:
        return msgspec.convert(found, RoundFacts)
    except msgspec.ValidationError:
        return None


def note_of(journal: Journal, *kinds: str) -> records.Note | None:
    """Return the newest note of a kind, or None."""
    notes = (record for record in reversed(journal.records) if isinstance(record, records.Note))
    return next((note for note in notes if note.what in kinds), None)


def append_note(folder: Path, note: records.Note) -> None:
    """Append a note to a run that has ended. Raises JournalError."""
    _append(folder, note)


def _append(folder: Path, record: records.Record) -> None:
    writer = JournalWriter.reopen(folder)
    writer.append(record)
    if failed := writer.close():
        raise JournalError(f"{folder}: {failed}")


def take_back_newest(folder: Path) -> tuple[records.Record, ...]:
    """Take the newest mark that holds of a run that has ended back; return the run's records then, or none if there is
    no such mark. Raises JournalError."""
    run = read(folder).records
    marks = [record for record in run if isinstance(record, records.MarkRecord)]
    places = standing_places(marks)
    if not places:
        return ()
    now_ns = monotime.now_ns()
    back = records.MarkRecord(
        at_ns=now_ns, label=marks[places[-1]].label, begin_ns=now_ns, source="result", takes_back=places[-1]
    )
    _append(folder, back)
    return (*run, back)


def newest_session(runs: Path, on_broken: OnBroken) -> PastSession | None:
    """Return the newest drill, if it was neither played to its end nor ended by a person.

    Rounds that cannot be read are passed over, and ``on_broken`` is told. Raises JournalError where the runs cannot be
    read, or the drill's newest round is no round.
    """
    newest: RoundFacts | None = None
    rounds: list[Journal] = []
    for journal, facts in _drills(runs, on_broken):
        if newest is not None and facts.key != newest.key:
            break
        newest = newest or facts
        rounds.insert(0, journal)
    if newest is None or note_of(rounds[-1], ENDED):
        return None
    last = rounds[-1]
    again = last.end is None or last.end.outcome != "over" or note_of(last, REPEATED) is not None
    session = Session(
        name=newest.name, key=newest.key, seed=newest.seed, place=newest.round - (1 if again else 0),
        crew=newest.crew, on_battery=newest.battery + (0 if again else 1),
    )  # fmt: skip
    header = last.header
    with reckoning(last):
        options = options_of(header.options)
    return PastSession(
        session=session,
        options=options,
        files=header.files,
        rounds=tuple(rounds),
        unfinished=tuple(journal.path.parent for journal in rounds if journal.end is None),
        workers=workers_of(last.records),
    )


def _drills(runs: Path, on_broken: OnBroken) -> Iterator[tuple[Journal, RoundFacts]]:
    for journal in all_runs(runs, on_broken):
        if (facts := facts_of(journal.header)) is not None:
            yield journal, facts
