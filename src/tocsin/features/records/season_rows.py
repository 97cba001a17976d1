"""Give all runs of one or several folders as rows, the oldest first: what reviews and advice are reckoned from.

Rows hold keys of people only, never names, labels or what people wrote: ``taken_out`` is a kind of note.
"""

from collections import defaultdict
from collections.abc import Iterable, Sequence
from datetime import datetime
from pathlib import Path

import msgspec

from tocsin.analysis.seasons.evening import evenings
from tocsin.analysis.seasons.row import Row
from tocsin.errors import BrokenRunError
from tocsin.features.records.round_files import DROPPED, REPEATED, note_of
from tocsin.features.records.rows import RowMaker
from tocsin.journal.local_time import local_begin
from tocsin.journal.reader import Journal, OnBroken, all_runs


def season_rows(folders: Sequence[Path], on_broken: OnBroken) -> tuple[Row, ...]:
    """Return a row for each run below these folders, the oldest first, with the evenings of all of them together.

    Several folders are one season: whoever names them says that they are of one team. ``on_broken`` gets each run that
    cannot be read. Raises JournalError if a folder itself cannot be read.
    """
    maker, found, begins = RowMaker(), [], {}
    for journal in (one for folder in dict.fromkeys(folders) for one in all_runs(folder, on_broken)):
        begin = local_begin(journal.header)
        if begin is not None:
            begins[str(journal.path.parent)] = begin
        try:
            found.append(_row(maker, journal))
        except BrokenRunError as error:
            on_broken(error)
    return _placed(found, begins)


def _row(maker: RowMaker, journal: Journal) -> Row:
    """Return a run's row without what people wrote. Raises BrokenRunError."""
    made = maker.row(journal)
    note = note_of(journal, DROPPED, REPEATED)
    plain = {name: getattr(made, name) for name in Row.__struct_fields__}
    return Row(**{**plain, "taken_out": note.what if note else ""})


def _placed(found: Iterable[Row], begins: dict[str, datetime]) -> tuple[Row, ...]:
    """Return rows in their order of time, each with its evening, and without people who may be another crew's."""
    found = sorted(found, key=lambda row: (row.wall, row.folder))
    of, crews = evenings(begins), defaultdict(set)
    for row in found:
        if row.people_unknown:
            crews[row.session].add(row.crew)
    return tuple(_settled(row, of[row.folder].name if row.folder in of else "", crews[row.session]) for row in found)


def _settled(row: Row, evening: str, crews: set[str]) -> Row:
    if not row.people_unknown:
        return msgspec.structs.replace(row, evening=evening)
    mixed = len(crews) > 1
    return msgspec.structs.replace(row, evening=evening, people_unknown=mixed, people={} if mixed else row.people)
