"""Appends a run's records to its journal, and never takes the match along when the disk fails.

Rules that this file keeps:
- every record is handed to the system at once, so that it outlives a crash of this process;
- the disk is synced by a thread of its own: at once after header, origin, state and end, else every 200 ms;
- what cannot be written waits in memory, in order, and is tried again with each record and every 200 ms;
- a file is only ever appended to; a folder belongs to one run.
"""

import contextlib
import io
import os
import threading
from itertools import count
from pathlib import Path

from tocsin.errors import JournalError, reason
from tocsin.journal.place import JOURNAL_NAME, cannot_write, folder_name
from tocsin.journal.records import End, Header, Origin, Record, State, encode, is_whole

SYNC_S = 0.2
# A disk that does not answer must not hold the end of a run for ever.
CLOSE_S = 5.0
# A long run has some thousand records of a few hundred bytes; more than this would only cost the laptop its memory.
MOST_WAITING_BYTES = 8_000_000

_URGENT = (Header, State, Origin, End)


class JournalWriter:
    """The one writer of a run's journal.

    ``failed`` is empty while the file holds everything that was appended; else it says what is wrong now (records wait
    in memory and may still get there) or what was lost. ``append`` never raises and never waits for a sync.
    """

    def __init__(self, folder: Path, file: io.FileIO) -> None:
        self.folder = folder
        self.path = folder / JOURNAL_NAME
        self._file = file
        self._lock = threading.Lock()
        self._waiting = bytearray()
        self._write_error = ""
        self._sync_error = ""
        self._lost = 0
        self._unsynced = False
        self._closing = False
        self._wake = threading.Event()
        self._thread = threading.Thread(target=self._sync_until_closed, name="journal sync", daemon=True)
        self._thread.start()

    @classmethod
    def create(cls, runs: Path, header: Header) -> "JournalWriter":
        """Return a writer on a new folder in ``runs``, its header already on the disk.

        Raises JournalError where that does not work: no permission, a full disk, a folder that is a file.
        """
        try:
            folder = _new_folder(runs, header)
        except OSError as error:
            raise cannot_write(runs, error) from error
        try:
            file = (folder / JOURNAL_NAME).open("ab", buffering=0)
        except OSError as error:
            _take_back(folder)
            raise cannot_write(folder, error) from error
        try:
            _write_all(file, encode(header))
            os.fsync(file.fileno())
            _sync_folders(folder, runs)
        except OSError as error:
            file.close()
            _take_back(folder)
            raise cannot_write(folder, error) from error
        return cls(folder, file)

    @classmethod
    def reopen(cls, folder: Path) -> "JournalWriter":
        """Return a writer that goes on behind the last whole record of a run.

        The torn rest of a crash is copied beside the journal before it is cut. Raises JournalError.
        """
        path = folder / JOURNAL_NAME
        try:
            if not path.is_file():
                raise JournalError(f"{folder}: there is no journal", hint="name the folder of a run")
            _cut_torn(path)
            return cls(folder, path.open("ab", buffering=0))
        except OSError as error:
            raise cannot_write(folder, error) from error

    @property
    def failed(self) -> str:
        """Return what keeps records off the disk, or an empty text."""
        lost = f"{self._lost} record{'s' if self._lost != 1 else ''} lost" if self._lost else ""
        return "; ".join(part for part in (self._write_error or self._sync_error, lost) if part)

    def append(self, record: Record) -> None:
        """Hand a record to the system, or keep it for a later try. Never raises."""
        line = encode(record)
        with self._lock:
            if len(self._waiting) + len(line) > MOST_WAITING_BYTES:
                self._lost += 1
            else:
                self._waiting += line
            self._drain()
        if isinstance(record, _URGENT):
            self._wake.set()

    def close(self) -> str:
        """Write and sync what is left, end the thread, and return ``failed``. May be called twice."""
        with self._lock:
            self._closing = True
        self._wake.set()
        self._thread.join(CLOSE_S)
        if self._thread.is_alive():
            self._sync_error = f"the disk has not answered for {CLOSE_S:.0f} s"
            return self.failed
        with self._lock:
            if not self._file.closed:
                self._lost += self._waiting.count(b"\n")
                self._waiting.clear()
                with contextlib.suppress(OSError):
                    self._file.close()
        return self.failed

    def _drain(self) -> None:
        """Write what waits; a part that went out is never written again. The caller holds the lock."""
        if self._file.closed:
            return
        try:
            while self._waiting:
                written = self._file.write(self._waiting) or 0
                del self._waiting[:written]
                self._unsynced = True
                if not written:
                    return
            self._write_error = ""
        except OSError as error:
            self._write_error = reason(error)

    def _sync_until_closed(self) -> None:
        closing = False
        while not closing:
            self._wake.wait(SYNC_S)
            self._wake.clear()
            with self._lock:
                closing = self._closing
                self._drain()
                unsynced, self._unsynced = self._unsynced, False
            if unsynced:
                self._sync()

    def _sync(self) -> None:
        try:
            os.fsync(self._file.fileno())
        except OSError as error:
            # The system may have dropped the pages: no later success takes this back.
            self._sync_error = f"the disk may not hold everything: {reason(error)}"


def _new_folder(runs: Path, header: Header) -> Path:
    runs.mkdir(parents=True, exist_ok=True)
    for number in count(1):
        folder = runs / folder_name(header.wall, header.label, number)
        with contextlib.suppress(FileExistsError):
            folder.mkdir()
            return folder
    raise AssertionError("count ends never")


def _take_back(folder: Path) -> None:
    """Remove the folder of a run that never began, so that it does not look like a broken one."""
    with contextlib.suppress(OSError):
        (folder / JOURNAL_NAME).unlink(missing_ok=True)
        folder.rmdir()


def _write_all(file: io.FileIO, data: bytes) -> None:
    while data:
        data = data[file.write(data) or 0 :]


def _sync_folders(*folders: Path) -> None:
    """Sync the folders' own entries, or a power cut could take the new file along (POSIX only; Windows has no such
    call and needs none)."""
    if os.name != "posix":
        return
    for folder in folders:
        descriptor = os.open(folder, os.O_RDONLY)
        try:
            os.fsync(descriptor)
        finally:
            os.close(descriptor)


def _cut_torn(path: Path) -> None:
    """Cut what stands behind the last newline, after a copy of it is on the disk; a whole record gets its newline."""
    data = path.read_bytes()
    whole_bytes = data.rfind(b"\n") + 1
    rest = data[whole_bytes:]
    if not rest:
        return
    with path.open("r+b") as file:
        if is_whole(rest):
            file.seek(0, os.SEEK_END)
            file.write(b"\n")
        else:
            _keep_copy(path.parent, rest)
            file.truncate(whole_bytes)
        file.flush()
        os.fsync(file.fileno())


def _keep_copy(folder: Path, rest: bytes) -> None:
    for number in count(1):
        with contextlib.suppress(FileExistsError), (folder / f"torn-{number}.txt").open("xb") as file:
            file.write(rest)
            file.flush()
            os.fsync(file.fileno())
            return
