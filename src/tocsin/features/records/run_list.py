"""List the runs of a folder as rows: when, what, by whom, how it went."""

from collections.abc import Iterator
from pathlib import Path

import msgspec

from tocsin.analysis.seasons.row import Dealt, dealt_in
from tocsin.errors import BrokenRunError
from tocsin.features.records.round_files import are_mixed, facts_of
from tocsin.features.records.rows import RowMaker, RunRow
from tocsin.journal import records
from tocsin.journal.reader import Journal, OnBroken, all_runs


class Wanted(msgspec.Struct, frozen=True, kw_only=True):
    """A filter of runs; an empty field accepts all. ``since`` and ``until`` are dates, both inclusive."""

    drill: str = ""
    label: str = ""
    at: str = ""
    crew: str = ""
    person: str = ""                       # a key
    since: str = ""
    until: str = ""

    def fits(self, row: RunRow) -> bool:
        """Return whether a run passes the filter. A text matches any part of a field, without regard to case."""
        day = row.wall[:10]
        return (
            self.drill.casefold() in row.drill.casefold()
            and self.label.casefold() in row.label.casefold()
            and self.at in ("", row.at)
            and self.crew in ("", row.crew)
            and (not self.person or self.person in row.people.values())
            and (not self.since or day >= self.since)
            and (not self.until or day <= self.until)
        )


def rows(runs: Path, on_broken: OnBroken) -> Iterator[RunRow]:
    """Yield a row for each run below ``runs``, the newest first; ``on_broken`` gets each one that cannot be read.

    Raises JournalError if the folder itself cannot be read.
    """
    maker = RowMaker()
    found: list[RunRow] = []
    old: dict[str, list[records.Header]] = {}           # by session
    for journal in all_runs(runs, on_broken):
        try:
            row = maker.row(journal)
        except BrokenRunError as error:
            on_broken(error)
        else:
            found.append(row)
            if row.people_unknown:
                old.setdefault(row.session, []).append(journal.header)
    mixed = {session for session, headers in old.items() if are_mixed(headers)}
    for row in found:
        yield _settled(row, mixed=row.session in mixed)


def row_of_one(journal: Journal, maker: RowMaker, on_broken: OnBroken) -> RunRow:
    """Return what is said of one run, by the other rounds of its drill too where its journal leaves something open.

    Raises BrokenRunError where its records contradict each other, JournalError where the other runs cannot be read.
    """
    row = maker.row(journal)
    if not row.people_unknown:
        return row
    others = (other.header for other in all_runs(journal.path.parent.parent, on_broken))
    session = [header for header in others if (facts := facts_of(header)) and facts.key == row.session]
    return _settled(row, mixed=are_mixed(session))


class SessionRows(msgspec.Struct, frozen=True, kw_only=True):
    """All rounds of one drill, the oldest first, and how often each value that it varies was dealt."""

    session: str
    rows: tuple[RunRow, ...]
    dealt: tuple[Dealt, ...]


def session_rows(runs: Path, session: str, on_broken: OnBroken) -> SessionRows | None:
    """Return the rounds of the drill with this key, None if there are none. Raises JournalError if the folder cannot
    be read."""
    maker = RowMaker()
    journals = [one for one in all_runs(runs, on_broken) if (facts := facts_of(one.header)) and facts.key == session]
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
    return SessionRows(session=session, rows=tuple(found), dealt=dealt_in(found, values))


def _settled(row: RunRow, *, mixed: bool) -> RunRow:
    """Return a row with its people if no other crew's may stand there."""
    if not row.people_unknown:
        return row
    return msgspec.structs.replace(row, people_unknown=mixed, people={} if mixed else row.people)
