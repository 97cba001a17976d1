"""Keep the rows of a folder of runs in a file beside them, so that no journal is read twice.

The file is made of the journals alone: it may be deleted at any time, and whatever does not fit is made anew without a
word. A row is that of a journal as long as that has the same size and time of change. In the file runs are named
without their labels, rows have keys of people only and nothing that people wrote; whoever forgets a name deletes it all
the same, since a plan or a drill may be called by one.

Of two programs that write at once the later one wins, and the other's rows are made again another time. Where it cannot
be written, as in a folder that is read-only, all goes on without.
"""

import contextlib
import math
import os
import stat
import zlib
from collections.abc import Iterable, Iterator, Mapping
from operator import attrgetter
from pathlib import Path
from typing import Any, NamedTuple

import msgspec

from tocsin import __version__
from tocsin.analysis.seasons.row import Row
from tocsin.files import write_whole
from tocsin.journal.local_time import offset_at
from tocsin.journal.place import JOURNAL_NAME, ROWS_NAME, unlabelled
from tocsin.translation import LANGUAGE

# Counted up by whoever changes what a row's field says of a journal.
_MEANING = 3
_MOST_BYTES = 64 << 20                 # a row takes about 60: what is larger is not ours
_ROWS_A_BLOCK = 500
_MOST_BLOCK_BYTES = 16 << 20
_MOST_BLOCKS = 1000
# Rows of earlier versions say no offset to UTC, and are placed by the laptop's zone: in winter, in summer.
_SEASONS = ("2030-01-15T12:00:00Z", "2030-07-15T12:00:00Z")


class _Entry(msgspec.Struct, frozen=True, array_like=True, gc=False):
    """A row, and the journal that it was made of; the row names no folder."""

    name: str
    size: int
    changed_ns: int
    row: Row


class _File(msgspec.Struct, frozen=True, array_like=True):
    """The file: what its rows are by, and blocks of them, each compressed (most of a row is names of fields)."""

    version: str
    blocks: list[bytes]


class State(NamedTuple):
    """A journal as it is on the disk: its run's name without a label, its bytes, its time of change."""

    name: str
    size: int
    changed_ns: int

    @classmethod
    def of(cls, folder: Path) -> "State | None":
        """Return the state of a run's journal, None if there is none that can be read."""
        try:
            found = os.stat(f"{folder}{os.sep}{JOURNAL_NAME}")         # noqa: PTH116 (of 50,000, half the time)
        except (OSError, ValueError):
            return None
        return cls(unlabelled(folder.name), found.st_size, found.st_mtime_ns) if stat.S_ISREG(found.st_mode) else None


def kept_rows(runs: Path) -> dict[State, Row]:
    """Return the rows that are kept for a folder of runs, without their folders; none if the file is not ours."""
    kept: dict[State, Row] = {}
    try:
        kept.update(_entries(_data(runs / ROWS_NAME)))
    except (OSError, ValueError, msgspec.MsgspecError, zlib.error, RecursionError, MemoryError):
        return {}
    return kept


def keep_rows(runs: Path, rows: Mapping[State, Row]) -> None:
    """Write the rows of a folder of runs, if that is possible."""
    entries = [_Entry(*state, row) for state, row in rows.items()]
    blocks = [entries[place : place + _ROWS_A_BLOCK] for place in range(0, len(entries), _ROWS_A_BLOCK)]
    found = _File(_version(), [zlib.compress(msgspec.msgpack.encode(block), 1) for block in blocks])
    path = runs / ROWS_NAME
    with contextlib.suppress(OSError):
        if _is_ours(path):
            write_whole(path, msgspec.msgpack.encode(found), private=True)


def drop_rows(runs: Path) -> None:
    """Delete the rows that are kept for a folder of runs. Raises OSError."""
    (runs / ROWS_NAME).unlink(missing_ok=True)


def _version() -> str:
    """Return what rows are by: the program, the fields, the language of their sentences, the time zone."""
    fields = [(name, str(kind)) for name, kind in Row.__annotations__.items()]
    said = (_MEANING, __version__, LANGUAGE, fields, [offset_at(moment) for moment in _SEASONS])
    return f"{zlib.crc32(repr(said).encode()):08x}"


def _is_ours(path: Path) -> bool:
    """Return whether a file may be ours: none, or an ordinary one. A link is somebody else's, wherever it leads."""
    try:
        return stat.S_ISREG(path.lstat().st_mode)
    except FileNotFoundError:
        return True


def _data(path: Path) -> bytes:
    found = path.lstat()
    if not stat.S_ISREG(found.st_mode) or found.st_size > _MOST_BYTES:
        raise ValueError("not a file of ours")
    return path.read_bytes()


def _entries(data: bytes) -> Iterator[tuple[State, Row]]:
    """Yield the rows in a file's bytes. Raises ValueError, or what decoders raise, for a file that does not fit."""
    found = msgspec.msgpack.decode(data, type=_File)
    if found.version != _version() or len(found.blocks) > _MOST_BLOCKS:
        raise ValueError("of another version")
    decoder = msgspec.msgpack.Decoder(list[_Entry])
    shared: dict[object, Any] = {}
    for block in found.blocks:
        unpacked = zlib.decompressobj()
        entries = decoder.decode(unpacked.decompress(block, _MOST_BLOCK_BYTES))
        if not unpacked.eof:
            raise ValueError("a block is not whole")
        _demand_finite(entries)
        for one in entries:
            yield State(one.name, one.size, one.changed_ns), _sharing(one.row, shared)


_TABLES = tuple(name for name, kind in Row.__annotations__.items() if str(kind).startswith("dict"))
_OWN_TEXTS = ("folder", "wall", "local")               # of each row
_TEXTS = tuple(name for name, kind in Row.__annotations__.items() if kind is str and name not in _OWN_TEXTS)
_NUMBERS = attrgetter(*(name for name, kind in Row.__annotations__.items() if kind in (float, float | None)))


def _sharing(row: Row, shared: dict[object, Any]) -> Row:
    """Return a row whose texts and tables are those of earlier rows, where they are equal: of 50,000 rows they are half
    of the memory."""
    common: dict[str, Any] = {}
    for name in _TEXTS:
        if own := getattr(row, name):
            common[name] = shared.setdefault(own, own)
    for name in _TABLES:
        own = getattr(row, name)
        common[name] = shared.setdefault((name, *own.items()), own)
    return msgspec.structs.replace(row, **common)


def _demand_finite(entries: Iterable[_Entry]) -> None:
    """Raise ValueError for a number that no journal can say."""
    for entry in entries:
        said = (*filter(None, _NUMBERS(entry.row)), *entry.row.leads_s.values(), *entry.row.scribe_lags_s)
        if not math.isfinite(sum(said)):
            raise ValueError("a number is none")
