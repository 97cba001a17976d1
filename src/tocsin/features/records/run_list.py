"""List the runs of a folder as rows: when, what, by whom, how it went."""

import contextlib
from collections.abc import Iterable, Iterator
from datetime import datetime
from pathlib import Path

import msgspec

from tocsin.analysis.seasons.evening import evenings
from tocsin.analysis.seasons.row import Dealt, Row, dealt_in
from tocsin.errors import BrokenRunError
from tocsin.features.records.round_files import are_mixed, facts_of
from tocsin.features.records.rows import RowMaker, RunRow
from tocsin.journal import records
from tocsin.journal.local_time import local_begin
from tocsin.journal.place import begun_s
from tocsin.journal.reader import Journal, OnBroken, all_folders, all_runs, read
from tocsin.journal.short_name import short_names
from tocsin.model.evening import is_same_evening

# Whose evenings may have the date of a run's own.
_ONE_DATE_S = 2 * 86_400


class Wanted(msgspec.Struct, frozen=True, kw_only=True):
    """A filter of runs; an empty field accepts all. ``since`` and ``until`` are dates of evenings, both inclusive."""

    drill: str = ""
    label: str = ""
    at: str = ""
    crew: str = ""
    person: str = ""                       # a key
    since: str = ""
    until: str = ""

    def fits(self, row: Row) -> bool:
        """Return whether a run passes the filter. A text matches any part of a field, without regard to case; a
        drill may be named as its file is: ``break_off`` is *Break off*."""
        day, label = row.evening[:10], row.label if isinstance(row, RunRow) else ""
        return (
            is_drill(self.drill, row.drill)
            and self.label.casefold() in label.casefold()
            and self.at in ("", row.at)
            and self.crew in ("", row.crew)
            and (not self.person or self.person in row.people.values())
            and (not self.since or day >= self.since)
            and (not self.until or "" < day <= self.until)
        )


def is_drill(asked: str, drill: str) -> bool:
    """Return whether a text is a part of a drill's name."""
    return asked.casefold().replace("_", " ") in drill.casefold().replace("_", " ")


class _Calendar:
    """The runs of a folder with their evenings and short names, gathered while they are read."""

    def __init__(self, runs: Path) -> None:
        self._runs = runs
        self._begins: dict[str, datetime] = {}

    def add(self, journal: Journal) -> None:
        """Take a run into account."""
        begin = local_begin(journal.header)
        if begin is not None:
            self._begins[str(journal.path.parent)] = begin

    def placed(self, found: Iterable[RunRow]) -> Iterator[RunRow]:
        """Yield rows with their evenings and short names. Raises JournalError if the folder cannot be read."""
        of, names = evenings(self._begins), short_names(all_folders(self._runs))
        for row in found:
            evening = of[row.folder].name if row.folder in of else ""
            yield msgspec.structs.replace(row, evening=evening, short=names.get(Path(row.folder), ""))


def rows(runs: Path, on_broken: OnBroken) -> Iterator[RunRow]:
    """Yield a row for each run below ``runs``, the newest first; ``on_broken`` gets each one that cannot be read.

    Raises JournalError if the folder itself cannot be read.
    """
    maker, calendar = RowMaker(), _Calendar(runs)
    found: list[RunRow] = []
    old: dict[str, list[records.Header]] = {}           # by session
    for journal in all_runs(runs, on_broken):
        calendar.add(journal)
        try:
            row = maker.row(journal)
        except BrokenRunError as error:
            on_broken(error)
        else:
            found.append(row)
            if row.people_unknown:
                old.setdefault(row.session, []).append(journal.header)
    mixed = {session for session, headers in old.items() if are_mixed(headers)}
    for row in calendar.placed(found):
        yield _settled(row, mixed=row.session in mixed)


def row_of_one(journal: Journal, maker: RowMaker, on_broken: OnBroken) -> RunRow:
    """Return what is said of one run, by other runs too: its evening began with one of them, and its drill's rounds say
    what its own journal leaves open.

    Raises BrokenRunError where its records contradict each other, JournalError where the other runs cannot be read.
    """
    runs, calendar = journal.path.parent.parent, _Calendar(journal.path.parent.parent)
    for other in _of_one_date(journal.path.parent):
        calendar.add(other)
    calendar.add(journal)
    (row,) = calendar.placed([maker.row(journal)])
    if not row.people_unknown:
        return row
    others = (other.header for other in all_runs(runs, on_broken))
    session = [header for header in others if (facts := facts_of(header)) and facts.key == row.session]
    return _settled(row, mixed=are_mixed(session))


def _of_one_date(folder: Path) -> Iterator[Journal]:
    """Yield the readable runs before one that may be of its evening, or of another one with the same date."""
    last_s = first_s = begun_s(folder.name)
    for other in all_folders(folder.parent):
        begin_s = begun_s(other.name)
        if begin_s is None or last_s is None or first_s is None or begin_s > first_s or other == folder:
            continue
        if not is_same_evening(begin_s, last_s) and first_s - begin_s >= _ONE_DATE_S:
            return
        last_s = begin_s
        with contextlib.suppress(BrokenRunError):
            yield read(other)


class SessionRows(msgspec.Struct, frozen=True, kw_only=True):
    """All rounds of one drill, the oldest first, and how often each value that it varies was dealt."""

    session: str
    rows: tuple[RunRow, ...]
    dealt: tuple[Dealt, ...]


def session_rows(runs: Path, session: str, on_broken: OnBroken) -> SessionRows | None:
    """Return the rounds of the drill with this key, None if there are none. Raises JournalError if the folder cannot
    be read."""
    maker, calendar = RowMaker(), _Calendar(runs)
    journals = []
    for one in all_runs(runs, on_broken):
        calendar.add(one)
        if (facts := facts_of(one.header)) and facts.key == session:
            journals.append(one)
    mixed = are_mixed(one.header for one in journals)
    found: list[RunRow] = []
    for journal in reversed(journals):
        try:
            found.append(_settled(maker.row(journal), mixed=mixed))
        except BrokenRunError as error:
            on_broken(error)
    if not found:
        return None
    values = maker.dealt_values(journals[0])
    return SessionRows(session=session, rows=tuple(calendar.placed(found)), dealt=dealt_in(found, values))


def _settled(row: RunRow, *, mixed: bool) -> RunRow:
    """Return a row with its people if no other crew's may stand there."""
    if not row.people_unknown:
        return row
    return msgspec.structs.replace(row, people_unknown=mixed, people={} if mixed else row.people)
