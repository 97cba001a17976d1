"""Append a run's records to its journal, without stopping the match when the disk fails or hangs.

Rules of this module:

- threads of its own open, write and sync; ``append`` waits at most ``HAND_OVER_S`` for the system to take the record,
  so that it survives a crash of this process, and not at all while the disk is behind;
- records are written in order, each as soon as it arrives;
- the disk is synced at once after header, origin, state and end, else every 200 ms;
- records that cannot be written wait in memory, in order, and are tried again with each record and every 200 ms;
- a file is only ever appended to; a folder belongs to one run.
"""

import contextlib
import io
import threading
from collections.abc import Callable, Iterator
from functools import partial
from pathlib import Path

from tocsin import files
from tocsin.errors import JournalError, reason
from tocsin.journal.opening import OpenJournal, open_again, open_new
from tocsin.journal.place import JOURNAL_NAME, folder_name
from tocsin.journal.records import End, Header, OriginRecord, Record, State, encode
from tocsin.monotime import now_ns
from tocsin.translation import tr, trn
from tocsin.units import NS_PER_S

SYNC_S = 0.2
# Longer than a busy laptop takes to change threads, no longer than a turn of whoever appends.
HAND_OVER_S = 0.05
# A disk that does not answer must not hold the end of a run for ever.
CLOSE_S = 5.0
# From then on people are told; a drive that wakes up, or a card that tidies up, takes a second or so.
_PATIENCE_NS = 2 * NS_PER_S
# A long run has some thousand records of a few hundred bytes; more than this would only cost the laptop its memory.
MOST_WAITING_BYTES = 8_000_000
_MOST_AT_ONCE_BYTES = 65536

HANGS = tr("the disk does not answer, what is recorded waits in memory")
_URGENT = (Header, State, OriginRecord, End)


class JournalWriter:
    """The one writer of a run's journal. ``folder`` is the run's; while the journal is being opened, the likely one."""

    def __init__(self, folder: Path, open_file: Callable[[], OpenJournal]) -> None:
        self.folder = folder
        self._open = open_file
        self._file: io.FileIO | None = None
        self._turn = threading.Condition()         # holds all below; never held over a call to the disk
        self._waiting = bytearray()
        self._behind = True                        # nobody waits for the disk to have a record
        self._refused: JournalError | None = None  # there is no journal, and why
        self._write_error = ""
        self._sync_error = ""
        self._lost = 0
        self._unsynced = False
        self._urgent = False
        self._closing = False
        self._written_out = False                  # nothing more will be written
        self._gave_up = False
        self._calls: dict[int, int] = {}           # by thread, since when it has been in a call to the disk
        self._wake = threading.Event()
        self._threads = [
            threading.Thread(target=target, name=tr("journal {name}", name=name), daemon=True)
            for name, target in (("write", self._write_until_closed), ("sync", self._sync_until_closed))
        ]
        for thread in self._threads:
            thread.start()

    @classmethod
    def begin(cls, runs: Path, header: Header) -> "JournalWriter":
        """Return a writer on a new folder in ``runs``; threads make the folder meanwhile, the header first.

        Never raises and never waits: ``failed`` says if that did not work.
        """
        return cls(runs / folder_name(header.wall, header.label), partial(open_new, runs, header))

    @classmethod
    def create(cls, runs: Path, header: Header) -> "JournalWriter":
        """Return a writer on a new folder in ``runs``, its header already on the disk. Raises JournalError if that
        fails: no permission, a full disk, a folder that is a file."""
        return cls._on(open_new(runs, header))

    @classmethod
    def reopen(cls, folder: Path) -> "JournalWriter":
        """Return a writer that continues behind the last whole record of a run.

        The torn rest of a crash is copied beside the journal before it is cut. Raises JournalError.
        """
        return cls._on(open_again(folder))

    @classmethod
    def _on(cls, opened: OpenJournal) -> "JournalWriter":
        return cls(opened.folder, lambda: opened)

    @property
    def path(self) -> Path:
        """Return the journal's file."""
        return self.folder / JOURNAL_NAME

    @property
    def refused(self) -> bool:
        """Return whether there is no journal because it could not be opened."""
        return self._refused is not None

    @property
    def failed(self) -> str:
        """Return what keeps records from the disk now, or has lost some, or an empty text."""
        if self._refused is not None:
            return str(self._refused)
        with self._turn:
            hangs = HANGS if any(now_ns() - since_ns > _PATIENCE_NS for since_ns in self._calls.values()) else ""
            lost = trn("{count} record lost", "{count} records lost", self._lost) if self._lost else ""
            if self._gave_up:
                return "; ".join(filter(None, [self._sync_error, self._in_doubt(), lost]))
        return "; ".join(filter(None, [self._write_error or self._sync_error or hangs, lost]))

    def append(self, *records: Record) -> None:
        """Queue records to be written together, or keep them for a later try. Never raises, never waits for a sync."""
        line = b"".join(encode(record) for record in records)
        with self._turn:
            if self._closing or self._refused is not None:
                return
            if len(self._waiting) + len(line) > MOST_WAITING_BYTES:
                self._lost += 1
            else:
                self._waiting += line
            self._urgent |= any(isinstance(record, _URGENT) for record in records)
            self._turn.notify_all()
            if not self._behind:
                self._turn.wait_for(lambda: not self._waiting or self._write_error, HAND_OVER_S)
                self._behind = bool(self._waiting)

    def close(self) -> str:
        """Write and sync the rest, end the threads, and return ``failed``. May be called twice.

        Waits for a disk that does not answer ``CLOSE_S`` once.
        """
        if self._gave_up:
            return self.failed
        with self._turn:
            self._closing = True
            self._turn.notify_all()
        until_ns = now_ns() + round(CLOSE_S * NS_PER_S)
        for thread in self._threads:
            thread.join(max(until_ns - now_ns(), 0) / NS_PER_S)
        if any(thread.is_alive() for thread in self._threads):
            with self._turn:
                self._gave_up = True
                self._sync_error = tr("the disk has not answered for {close:.0f} s", close=CLOSE_S)
            return self.failed
        with self._turn:
            self._lost += self._waiting.count(b"\n")
            self._waiting.clear()
        return self.failed

    def _in_doubt(self) -> str:
        """Return what a disk that has not answered may still lose."""
        count = self._waiting.count(b"\n")
        if self._file is None:
            return tr("the whole run may be lost")
        return (
            tr("the last {count} records may be lost", count=count) if count > 1
            else tr("the last record may be lost")
        )

    # -- the thread that opens and writes

    def _write_until_closed(self) -> None:
        try:
            with self._in_call():
                folder, file = self._open()
        except JournalError as error:
            self._refused = error
        else:
            with self._turn:
                self.folder, self._file = folder, file
                self._behind = bool(self._waiting)
            while not self._written_to_the_end(file):
                pass
        with self._turn:
            self._written_out = True
        self._wake.set()

    def _written_to_the_end(self, file: io.FileIO) -> bool:
        """Wait for records or for time to try again, write once, and return whether this was the last time."""
        with self._turn:
            if not self._closing and (not self._waiting or self._write_error):
                self._turn.wait(SYNC_S)
            chunk = bytes(self._waiting[:_MOST_AT_ONCE_BYTES])
            closing = self._closing
        written, error = self._written(file, chunk) if chunk else (0, "")
        with self._turn:
            del self._waiting[:written]
            self._unsynced |= written > 0
            self._write_error = error
            if not self._waiting:
                self._behind = False
                if self._urgent:
                    self._urgent = False
                    self._wake.set()
            self._turn.notify_all()
            return closing and (not self._waiting or bool(error))

    def _written(self, file: io.FileIO, chunk: bytes) -> tuple[int, str]:
        """Write what the system takes of ``chunk``; return the number of bytes, and what was against the rest."""
        try:
            with self._in_call():
                return file.write(chunk) or 0, ""
        except OSError as error:
            return 0, reason(error)

    # -- the thread that syncs

    def _sync_until_closed(self) -> None:
        over = False
        while not over:
            self._wake.wait(SYNC_S)
            self._wake.clear()
            with self._turn:
                over = self._written_out
                unsynced, self._unsynced = self._unsynced, False
                file = self._file
            if file is not None and unsynced:
                self._sync(file)
        if file is not None:
            with contextlib.suppress(OSError):
                file.close()

    def _sync(self, file: io.FileIO) -> None:
        try:
            with self._in_call():
                files.sync(file.fileno())
        except OSError as error:
            # The system may have dropped the pages: no later success takes this back.
            self._sync_error = tr("the disk may not have everything: {reason}", reason=reason(error))

    @contextlib.contextmanager
    def _in_call(self) -> Iterator[None]:
        """Note how long a call to the disk takes."""
        thread = threading.get_ident()
        with self._turn:
            self._calls[thread] = now_ns()
        try:
            yield
        finally:
            with self._turn:
                del self._calls[thread]
