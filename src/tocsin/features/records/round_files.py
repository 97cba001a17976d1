"""Keep the rounds of a drill in the folder of runs: each is a run of its own, its header names round and session."""

from collections.abc import Iterable, Iterator, Sequence
from pathlib import Path
from typing import Annotated, Any

import msgspec

from tocsin import monotime
from tocsin.analysis.rounds.own_limit import OwnLimit
from tocsin.errors import JournalError
from tocsin.journal import records
from tocsin.journal.past import workers_of
from tocsin.journal.reader import Journal, OnBroken, all_runs, read, reckoning
from tocsin.journal.writer import JournalWriter
from tocsin.model.drill import CREWS
from tocsin.model.mark import places_of
from tocsin.runner.options import ROUND, Roster, RunOptions, options_of
from tocsin.translation import tr

_ROSTER = "roster"                     # in a header's options, of versions that know crews by their people
DROPPED, REPEATED, ENDED = "dropped", "repeated", tr("drill ended")
IMPORTED = "imported"                  # from another laptop
WATCHED = "watched"                    # somebody did, and there was nothing to mark
UNWATCHED = "watched taken back"       # there was: marks of it came late
MOST_ROUNDS = 100_000                  # in a header that may come from anywhere


class Session(msgspec.Struct, kw_only=True):
    """The position in an evening's drill. ``key`` tells sessions apart, ``seed`` sets the variation; ``crew`` plays
    now, ``places`` counts the rounds that each crew has played; ``on_battery`` counts all rounds on this battery."""

    name: str
    key: str
    seed: int
    crew: str = CREWS[0]
    places: dict[str, int] = {}
    on_battery: int = 0

    @property
    def place(self) -> int:
        """The next round of the crew that is on, from 0."""
        return self.places.get(self.crew, 0)

    def advance(self) -> None:
        """Leave the round of the crew that is on behind."""
        self.places[self.crew] = self.place + 1


class RoundFacts(msgspec.Struct, frozen=True, kw_only=True):
    """The header's facts about its round, ``round`` from 1. ``own`` is the crew's own limit by which it is judged, if
    the drill asks for one."""

    name: str
    key: str
    seed: int
    round: Annotated[int, msgspec.Meta(ge=1, le=MOST_ROUNDS)]
    crew: str
    battery: Annotated[int, msgspec.Meta(ge=0, le=MOST_ROUNDS)]
    half_speed: bool
    condition: dict[str, Any] = {}
    own: OwnLimit | None = None


class PastSession(msgspec.Struct, frozen=True, kw_only=True):
    """A drill that was cut short: its position, its files, its rounds from the first to the newest.

    ``unfinished`` are the folders of rounds without an end, ``workers`` processes that may be left from the newest.
    ``unknown_people``: rounds of an earlier version name people, but not those of their own crew.
    """

    session: Session
    options: RunOptions
    files: tuple[records.FileRecord, ...]
    rounds: tuple[Journal, ...]
    unfinished: tuple[Path, ...]
    workers: tuple[records.Worker, ...]
    unknown_people: bool = False


def facts_of(header: records.Header) -> RoundFacts | None:
    """Return the header's facts about its round, None for a run that was no round of a drill."""
    found = header.options.get(ROUND)
    if not isinstance(found, dict):
        return None
    try:
        return msgspec.convert(found, RoundFacts)
    except msgspec.ValidationError:
        return None


def mixes_people(header: records.Header) -> bool:
    """Return whether the people whom a round names may be of another crew: before each crew had people of its own,
    those of the first stood in the rounds of all."""
    return facts_of(header) is not None and _ROSTER not in header.options and bool(header.options.get("people"))


def are_mixed(headers: Iterable[records.Header]) -> bool:
    """Return whether several crews played the rounds of a session that ``mixes_people``."""
    crews = {facts.crew for header in headers if mixes_people(header) and (facts := facts_of(header))}
    return len(crews) > 1


def note_of(journal: Journal, *kinds: str) -> records.Note | None:
    """Return the newest note of a kind, or None."""
    notes = (record for record in reversed(journal.records) if isinstance(record, records.Note))
    return next((note for note in notes if note.what in kinds), None)


def append_note(folder: Path, note: records.Note) -> None:
    """Append a note to a run that has ended. Raises JournalError."""
    append_records(folder, note)


def append_records(folder: Path, *added: records.Record) -> None:
    """Append records to a run that has ended, as one. Raises JournalError."""
    writer = JournalWriter.reopen(folder)
    writer.append(*added)
    if failed := writer.close():
        raise JournalError(f"{folder}: {failed}")


def said_watched(run: Sequence[records.Record]) -> bool:
    """Return whether somebody said that a run was watched, and no mark has taken that back."""
    said = [one.what for one in run if isinstance(one, records.Note) and one.what in (WATCHED, UNWATCHED)]
    return said[-1:] == [WATCHED]


def note_watched(folder: Path, now_ns: int) -> tuple[records.Record, ...]:
    """Note that somebody watched a run that has ended, and there was nothing to mark; return its records then.

    Raises JournalError.
    """
    run = read(folder).records
    note = records.Note(at_ns=now_ns, what=WATCHED)
    append_records(folder, note)
    return (*run, note)


def take_back_newest(folder: Path, source: str) -> tuple[records.MarkRecord | None, tuple[records.Record, ...]]:
    """Take the newest mark that holds of a run that has ended back, of the scribe behind ``source``; return it, None if
    there is no such mark, and the run's records then. Raises JournalError."""
    run = read(folder).records
    marks = records.marks_of(run)
    places = places_of(marks, source)
    if not places:
        return None, run
    now_ns = monotime.now_ns()
    back = records.MarkRecord(
        at_ns=now_ns, label=marks[places[-1]].label, begin_ns=now_ns, source=source, takes_back=places[-1]
    )
    append_records(folder, back)
    return marks[places[-1]], (*run, back)


def newest_session(runs: Path, on_broken: OnBroken, key: str = "") -> PastSession | None:
    """Return the newest drill, or the one with this key, if it was neither played to its end nor ended by a person.

    Unreadable rounds are skipped, and ``on_broken`` gets them. Raises JournalError if the runs cannot be read, or the
    drill's newest round is not valid.
    """
    newest: RoundFacts | None = None
    rounds: list[Journal] = []
    for journal, facts in _drills(runs, on_broken):
        if key and facts.key != key:
            continue                       # another drill, played meanwhile
        if newest is not None and facts.key != newest.key:
            break
        newest = newest or facts
        rounds.insert(0, journal)
    if newest is None or note_of(rounds[-1], ENDED):
        return None
    last = rounds[-1]
    session = Session(
        name=newest.name, key=newest.key, seed=newest.seed, crew=newest.crew, places=_places(rounds),
        on_battery=newest.battery + (0 if _comes_again(last) else 1),
    )  # fmt: skip
    header = last.header
    with reckoning(last):
        options = options_of(header.options)
    return PastSession(
        session=session,
        options=msgspec.structs.replace(options, people={}, roster=_roster(rounds, options)),
        unknown_people=are_mixed([journal.header for journal in rounds]),
        files=header.files,
        rounds=tuple(rounds),
        unfinished=tuple(journal.path.parent for journal in rounds if journal.end is None),
        workers=workers_of(last.records),
    )


def _comes_again(journal: Journal) -> bool:
    """Return whether a round is played again: it was cut short, scrapped, or is to be repeated."""
    return journal.end is None or journal.end.outcome != "over" or note_of(journal, REPEATED) is not None


def _places(rounds: Sequence[Journal]) -> dict[str, int]:
    """Return how many rounds each crew has behind it, by the newest that it played."""
    places = {}
    for journal in rounds:
        if facts := facts_of(journal.header):
            places[facts.crew] = facts.round - (1 if _comes_again(journal) else 0)
    return places


def _roster(rounds: Sequence[Journal], options: RunOptions) -> Roster:
    """Return who is in each crew, as far as the rounds say so: those of an earlier version only of a single crew."""
    headers = [journal.header for journal in rounds]
    if _ROSTER in headers[-1].options or are_mixed(headers) or not options.people:
        return options.roster
    return {facts.crew: options.people for header in headers[-1:] if (facts := facts_of(header))}


def _drills(runs: Path, on_broken: OnBroken) -> Iterator[tuple[Journal, RoundFacts]]:
    """Yield the rounds that were played on this laptop, the newest first."""
    for journal in all_runs(runs, on_broken):
        if (facts := facts_of(journal.header)) is not None and note_of(journal, IMPORTED) is None:
            yield journal, facts
