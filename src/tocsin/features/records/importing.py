"""Take in the runs of another laptop: copies of the folders of its runs, each whole or not at all.

A folder of others is data. Only what is named like a run and its files is looked at, itself and not through a link, up
to a size; only a journal that reads is taken. Nothing here is changed or replaced, but that names are added to the file
of names. A run is copied into a folder beside the others and gets its name at the very end, so that whoever interrupts
it loses nothing, and repeats it. What was taken in is never gone on with here: its devices are elsewhere.
"""

import contextlib
import os
import re
import stat
from collections.abc import Iterator
from contextlib import contextmanager
from itertools import count, islice
from pathlib import Path

import msgspec

from tocsin import files
from tocsin.errors import BrokenRunError, DeviceError, JournalError, UsageError, reason
from tocsin.features.records.round_files import IMPORTED
from tocsin.features.records.rows import RowMaker
from tocsin.features.records.same_run import Played, tail_of
from tocsin.intake import is_plain, read_plain
from tocsin.journal import records
from tocsin.journal.fields import Holds, visited
from tocsin.journal.forget import clear_leftovers
from tocsin.journal.local_time import begin_text
from tocsin.journal.opening import open_again
from tocsin.journal.people import People, names_elsewhere
from tocsin.journal.place import (
    JOURNAL_NAME,
    KEPT_NAMES,
    PEOPLE_NAME,
    begun_s,
    cannot_write,
    folder_name,
    is_run_name,
    unlabelled,
)
from tocsin.journal.reader import MOST_BYTES, Journal, all_folders, journal_of, reckoning
from tocsin.journal.short_name import short_name, short_names
from tocsin.runner.run import alone
from tocsin.translation import tr

MOST_ENTRIES = 50_000                  # in a folder that may be anybody's: three seasons of ten teams
_TORN = re.compile(r"torn-[0-9]{1,3}\.txt")
_MOST_TORN, _MOST_TORN_BYTES = 8, 1 << 20
_RUNS_A_MAKER = 200                    # it keeps what it parsed, of files that may be large
_CUT_SHORT = tr("cut short on another laptop")


class Taken(msgspec.Struct, frozen=True, kw_only=True):
    """A run that was taken in: its folder's name there, its folder here, when it began where it was played."""

    there: str
    folder: str
    began: str
    label: str = ""


class Left(msgspec.Struct, frozen=True, kw_only=True):
    """What was left, by its name there, and why. ``known`` is the folder of the run here that it is."""

    there: str
    why: str
    known: str = ""


class Import(msgspec.Struct, kw_only=True):
    """What has come of an import so far. ``names`` are new here; ``nameless`` keys have no name here; ``others`` counts
    what is not named like a run or its files."""

    taken: list[Taken] = []
    left: list[Left] = []
    names: list[str] = []
    nameless: list[str] = []
    others: int = 0


def take_in(runs: Path, source: Path, done: Import) -> None:
    """Take the runs of a folder, or one run by its own folder, into ``runs``; ``done`` says what came of each.

    Raises UsageError if there is no such folder or it holds no runs, DeviceError while a run is on, JournalError if
    ``runs`` cannot be written.
    """
    with _alone():
        if not _is_folder(source):
            raise UsageError(
                tr("{source}: there is no such folder", source=source),
                hint=tr("name the folder that holds the runs' folders"),
            )
        if _is_folder(runs) and runs.samefile(source):
            done.left.append(Left(there=str(source), why=tr("this is where these runs are kept")))
            return
        found = list(_runs_in(source, done))
        if not found:
            hint = tr("name the folder that holds the runs' folders")
            raise UsageError(tr("{source}: no run is in it", source=source), hint=_inner(source) or hint)
        clear_leftovers(runs)
        importer = _Importer(runs, source, done)
        try:
            for number, folder in enumerate(found):
                if not number % _RUNS_A_MAKER:
                    importer.maker = RowMaker()
                importer.take(folder)
        except OSError as error:
            raise cannot_write(runs, error) from error


@contextmanager
def _alone() -> Iterator[None]:
    try:
        with alone():
            yield
    except DeviceError as error:
        raise DeviceError(str(error), hint=tr("runs are taken in once its run is over")) from error


def _runs_in(source: Path, done: Import) -> Iterator[Path]:
    """Yield the folders that are named like runs, the oldest first. Raises JournalError."""
    if is_run_name(source.resolve().name) and os.path.lexists(source / JOURNAL_NAME):
        yield source
        return
    try:
        with os.scandir(source) as entries:
            names = [entry.name for entry in islice(entries, MOST_ENTRIES + 1)]
    except OSError as error:
        raise JournalError(tr("{source}: cannot be read: {reason}", source=source, reason=reason(error))) from error
    if len(names) > MOST_ENTRIES:
        raise UsageError(tr(
            "{source} has more than {most_entries:,} files and folders: not a folder of runs", source=source,
            most_entries=MOST_ENTRIES,
        ))
    done.others += sum(not is_run_name(name) and name not in KEPT_NAMES for name in names)
    yield from (source / name for name in sorted(names) if is_run_name(name))


def _is_folder(path: Path) -> bool:
    try:
        return path.is_dir()
    except OSError:                                        # a name that no folder can have
        return False


def _inner(source: Path) -> str:
    """Return where runs are instead, for a hint, or an empty text."""
    inner = source / "runs"
    return tr("did you mean {inner}?", inner=inner) if inner.is_dir() else ""


class _Importer:
    """Takes runs one by one."""

    def __init__(self, runs: Path, source: Path, done: Import) -> None:
        self._runs, self._done = runs, done
        self.maker = RowMaker()
        self._people = People(runs)
        self._known: dict[str, list[Path]] = {}            # by the begin in their names
        self._short = short_names(all_folders(runs))
        for folder in self._short:
            self._known.setdefault(_stamp(folder.name), []).append(folder)
        self._names: dict[str, str] = {}
        try:
            self._names = names_elsewhere(source / PEOPLE_NAME)
        except FileNotFoundError:
            pass
        except (OSError, ValueError) as error:
            done.left.append(Left(there=PEOPLE_NAME, why=reason(error) if isinstance(error, OSError) else str(error)))

    def take(self, folder: Path) -> None:
        """Take a run in, or say why not. Raises OSError and JournalError for this laptop's own folder."""
        try:
            journal, data, torn = self._read(folder)
        except BrokenRunError as error:
            self._left(folder, str(error).removeprefix(f"{folder / JOURNAL_NAME}: "))
        except OSError as error:
            self._left(folder, reason(error))
        else:
            name = folder_name(journal.header.wall, journal.header.label)
            if not is_run_name(name) or begun_s(name) is None:
                self._left(folder, tr("bad start time: '{wall}'", wall=journal.header.wall[:40]))
            elif known := self._same(_stamp(name), data):
                self._left_known(folder, data, known)
            else:
                self._copy(folder, journal, data, torn)

    def _read(self, folder: Path) -> tuple[Journal, bytes, list[bytes]]:
        """Return a run's journal, its bytes, and the torn rests beside it. Raises BrokenRunError, OSError."""
        if not is_plain(folder, stat.S_ISDIR):
            raise NotADirectoryError(tr("it is a link, or no folder"))
        data = read_plain(folder / JOURNAL_NAME, MOST_BYTES)
        journal = journal_of(folder / JOURNAL_NAME, data)
        with reckoning(journal):
            self.maker.row(journal)
        return journal, data, self._torn(folder)

    def _torn(self, folder: Path) -> list[bytes]:
        """Return the rests of lines that crashes left beside a journal; count what is none. Raises OSError."""
        torn: list[bytes] = []
        with os.scandir(folder) as entries:
            names = sorted(entry.name for entry in islice(entries, MOST_ENTRIES) if entry.name != JOURNAL_NAME)
        for name in names:
            rest = b""
            if _TORN.fullmatch(name) and len(torn) < _MOST_TORN:
                with contextlib.suppress(OSError):
                    rest = read_plain(folder / name, _MOST_TORN_BYTES)
            if rest:
                torn.append(rest)
            else:
                self._done.others += 1
        return torn

    def _same(self, stamp: str, data: bytes) -> Path | None:
        """Return the run here that is the same, or None. Raises OSError."""
        known = {folder: (folder / JOURNAL_NAME).read_bytes() for folder in self._known.get(stamp, ())}
        for folder, ours in known.items():
            if ours.startswith(_whole(data)):          # as it was taken in, and only that note behind it
                return folder
        played = Played.of(data) if known else None
        return next((folder for folder, ours in known.items() if played and played.is_same(Played.of(ours))), None)

    def _left_known(self, folder: Path, data: bytes, known: Path) -> None:
        ours, more = (known / JOURNAL_NAME).read_bytes(), 0
        if not ours.startswith(_whole(data)):
            kept = tail_of(ours)
            more = sum(line not in kept for line in tail_of(data))
        differs = (
            tr("; {more} later marks or notes there are not here: nothing is overwritten", more=more) if more
            else ""
        )
        self._left(
            folder,
            tr("already here as {known}{differs}", known=self._short.get(known) or short_name(known), differs=differs),
            known,
        )

    def _left(self, folder: Path, why: str, known: Path | None = None) -> None:
        self._done.left.append(Left(there=folder.name, why=why, known=str(known or "")))

    def _copy(self, folder: Path, journal: Journal, data: bytes, torn: list[bytes]) -> None:
        keys = self._keys(journal)
        target = self._free(journal.header)
        with files.new_folder(target, private=True) as half:
            (half / JOURNAL_NAME).write_bytes(_with_keys(data, keys))
            for number, rest in enumerate(torn, 1):
                (half / f"torn-{number}.txt").write_bytes(rest)
            _mark_as_imported(half, journal)
        self._known.setdefault(_stamp(target.name), []).append(target)
        header = journal.header
        self._done.taken.append(
            Taken(there=folder.name, folder=str(target), began=begin_text(header), label=header.label)
        )

    def _free(self, header: records.Header) -> Path:
        """Return a folder for a run that no run here has, whatever its label."""
        taken = {unlabelled(known.name) for known in self._known.get(_stamp(folder_name(header.wall, "")), ())}
        names = (folder_name(header.wall, header.label, number) for number in count(1))
        return next(self._runs / name for name in names if unlabelled(name) not in taken)

    def _keys(self, journal: Journal) -> dict[str, str]:
        """Return the keys that a run's people have here, by those that they have there; keep their names."""
        found = {}
        for key in sorted(_people_of(journal.header)):
            before = self._people.names
            if key in self._names:
                found[key] = self._people.take_in(key, self._names[key])
            names = self._people.names
            self._done.names += [names[new] for new in names if new not in before]
            if (here := found.get(key, key)) not in names and here not in self._done.nameless:
                self._done.nameless.append(here)
        return found


def _whole(data: bytes) -> bytes:
    """Return a journal without the torn rest of its last line."""
    return data[: data.rfind(b"\n") + 1]


def _stamp(name: str) -> str:
    """Return the begin in the name of a run's folder, as text."""
    return unlabelled(name).partition("Z")[0]


def _people_of(header: records.Header) -> set[str]:
    found: set[str] = set()

    def look(holds: Holds, text: str) -> str:
        if holds == "person" and text:
            found.add(text)
        return text

    visited(records.encode(msgspec.structs.replace(header, files=(), timeline=None)).decode(), look)
    return found


def _with_keys(data: bytes, keys: dict[str, str]) -> bytes:
    """Return a journal with other keys of people; the same bytes where none changes."""
    if all(key == new for key, new in keys.items()):
        return data

    def change(holds: Holds, text: str) -> str:
        return keys.get(text, text) if holds == "person" else text

    lines = data.decode("utf-8", "surrogateescape").split("\n")
    return "\n".join(visited(line, change) for line in lines).encode("utf-8", "surrogateescape")


def _mark_as_imported(folder: Path, journal: Journal) -> None:
    """Note in the copy that it is one, and end it if the run was cut short. Raises OSError, JournalError."""
    last_ns = max(record.at_ns for record in journal.records)
    added: list[records.Record] = [records.Note(at_ns=last_ns, what=IMPORTED)]
    if journal.end is None:
        added.append(records.End(at_ns=last_ns, outcome="crashed", exit=0, why=_CUT_SHORT))
    with open_again(folder).file as file:
        data = b"".join(records.encode(record) for record in added)
        while data:
            data = data[file.write(data) or 0 :]
        files.sync(file.fileno())
    files.sync_folder(folder)
