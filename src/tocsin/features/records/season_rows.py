"""Give all runs of one or several folders as rows, the oldest first: what reviews and advice are reckoned from.

Rows hold keys of people only, never names, labels or what people wrote: ``taken_out`` is a kind of note. Those of a
journal that did not change come from the rows that are kept beside it.
"""

from collections import Counter, defaultdict
from collections.abc import Callable, Iterable, Iterator, Sequence
from datetime import datetime
from pathlib import Path

import msgspec

from tocsin.analysis.seasons.evening import evenings
from tocsin.analysis.seasons.row import Row
from tocsin.errors import BrokenRunError
from tocsin.features.records.round_files import DROPPED, REPEATED, note_of
from tocsin.features.records.row_cache import State, keep_rows, kept_rows
from tocsin.features.records.rows import RowMaker
from tocsin.journal.local_time import local_begin
from tocsin.journal.reader import Journal, OnBroken, all_folders, read

OnProgress = Callable[[int, int], None]
"""Told before each journal is read how many were, and how many have to be."""


def season_rows(
    folders: Sequence[Path], on_broken: OnBroken, on_progress: OnProgress = lambda read, of: None
) -> tuple[Row, ...]:
    """Return a row for each run below these folders, the oldest first, with the evenings of all of them together.

    Several folders are one season: whoever names them says that they are of one team. A run that was taken in from one
    of them into another counts once, as the one with more marks. ``on_broken`` gets each run that cannot be read.
    Raises JournalError if a folder itself cannot be read.
    """
    shelves = [_Shelf(folder) for folder in dict.fromkeys(folders)]
    of, done, reader = sum(len(shelf.missing) for shelf in shelves), 0, _Reader(on_broken)
    for shelf in shelves:
        for place in shelf.missing:
            on_progress(done, of)
            done += 1
            shelf.put(place, reader.row(shelf.folders[place]))
        shelf.keep()
    return _placed([row for shelf in shelves for row in shelf.rows()], reader.begins)


class _Shelf:
    """The rows of a folder of runs, by the places of its ``folders``: those that are kept, and those that are
    ``missing``, to be read."""

    def __init__(self, runs: Path) -> None:
        self._runs = runs
        self.folders = all_folders(runs)
        states = [State.of(folder) for folder in self.folders]
        twice = {state for state, count in Counter(states).items() if count > 1}       # which is whose?
        self._states = [None if state in twice else state for state in states]
        kept = kept_rows(runs) if self.folders else {}
        self._rows = {place: row for place, state in enumerate(self._states) if state and (row := kept.get(state))}
        self.missing = [place for place in range(len(self.folders)) if place not in self._rows]
        self._is_new = len(self._rows) < len(kept)

    def put(self, place: int, row: Row | None) -> None:
        """Take the row of a run that was missing, None for one that is broken."""
        if row is not None:
            self._rows[place] = row
            self._is_new = self._is_new or self._states[place] is not None

    def keep(self) -> None:
        """Write the rows if any of them is new, or gone. A journal that was changed meanwhile is read another time: it
        may be that a name was just taken out of it."""
        if self._is_new:
            known = ((state, self.folders[place], row) for place, row in self._rows.items()
                     if (state := self._states[place]))
            keep_rows(self._runs, {state: row for state, folder, row in known if State.of(folder) == state})

    def rows(self) -> Iterator[tuple[str, Row]]:
        """Yield all rows, with the folders in which they are now."""
        for place, row in self._rows.items():
            yield str(self.folders[place]), row


class _Reader:
    """Makes rows of journals; ``begins`` are those of all that could be read, as an evening begins with any run."""

    def __init__(self, on_broken: OnBroken) -> None:
        self._maker, self._on_broken = RowMaker(), on_broken
        self.begins: dict[str, datetime] = {}

    def row(self, folder: Path) -> Row | None:
        """Return a run's row without its folder and what people wrote, None for a broken run."""
        try:
            journal = read(folder)
            begin = local_begin(journal.header)
            if begin is not None:
                self.begins[str(folder)] = begin
            return _plain(self._maker.row(journal), journal)
        except BrokenRunError as error:
            self._on_broken(error)
            return None


def _plain(made: Row, journal: Journal) -> Row:
    note = note_of(journal, DROPPED, REPEATED)
    plain = {name: getattr(made, name) for name in Row.__struct_fields__}
    return Row(**{**plain, "folder": "", "taken_out": note.what if note else ""})


def _placed(found: Iterable[tuple[str, Row]], begins: dict[str, datetime]) -> tuple[Row, ...]:
    """Return rows in their order of time, each with its folder and evening, and without people who may be another
    crew's."""
    ordered = _once(sorted(found, key=lambda one: (one[1].wall, one[0])))
    known = {folder: begin for folder, row in ordered if (begin := _begin(row)) is not None}
    of, crews = evenings({**begins, **known}), defaultdict[str, set[str]](set)
    for _, row in ordered:
        if row.people_unknown:
            crews[row.session].add(row.crew)
    mixed = {session for session, played in crews.items() if len(played) > 1}
    return tuple(
        _settled(row, folder, of[folder].name if folder in of else "", mixed=row.session in mixed)
        for folder, row in ordered
    )


def _once(ordered: Iterable[tuple[str, Row]]) -> list[tuple[str, Row]]:
    """Return each run once: two that began in one millisecond as the same round are copies."""
    found: dict[tuple[object, ...], tuple[str, Row]] = {}
    for folder, row in ordered:
        key = (row.wall, row.kind, row.session, row.crew, row.round, row.game, row.plan)
        if key not in found or found[key][1].marks_noted < row.marks_noted:
            found[key] = (folder, row)
    return list(found.values())


def _begin(row: Row) -> datetime | None:
    try:
        return datetime.fromisoformat(row.local)
    except ValueError:                                 # none, or of a file that somebody changed
        return None


def _settled(row: Row, folder: str, evening: str, *, mixed: bool) -> Row:
    if not row.people_unknown:
        return msgspec.structs.replace(row, folder=folder, evening=evening)
    return msgspec.structs.replace(
        row, folder=folder, evening=evening, people_unknown=mixed, people={} if mixed else row.people
    )
