"""Handle the standard streams if they are closed, of a small alphabet, or a pipe that nobody reads."""

import contextlib
import io
import os
import stat
import sys
import threading
from queue import SimpleQueue
from typing import Any, TextIO

PATIENCE_S = 2.0                       # for a reader that takes nothing, once all is said
_MOST_UNREAD = 4000                    # pieces that wait for a reader that does not read


def fill_closed() -> None:
    """Replace closed streams by the null device.

    The number of a closed stream would go to the next opened file, say the journal, and a library's output would end up
    in it.
    """
    for fd, name in enumerate(("stdin", "stdout", "stderr")):
        with contextlib.suppress(OSError):
            try:
                os.fstat(fd)
            except OSError:
                os.open(os.devnull, os.O_RDWR)         # takes the lowest number that is free
            if getattr(sys, name) is None:
                setattr(sys, name, open(fd, "w" if fd else "r", encoding="utf-8", closefd=False))  # noqa: SIM115


def make_printable() -> None:
    """Replace characters that the console lacks, so that none ends the program: Windows pipes are often cp1252."""
    for stream in (sys.stdout, sys.stderr):
        if isinstance(stream, io.TextIOWrapper):
            with contextlib.suppress(OSError, ValueError):
                stream.reconfigure(errors="replace")


def never_wait() -> None:
    """Stop waiting for the readers of pipes: a match continues and ends while nobody reads.

    A command that only prints must wait, for example for a pager. ``let_go`` restores the old streams.
    """
    for name in ("stdout", "stderr"):
        stream = getattr(sys, name)
        if isinstance(stream, io.TextIOWrapper) and not isinstance(stream, _Patient) and _is_pipe(stream):
            stream.flush()
            setattr(sys, name, _Patient(stream))


def let_go() -> None:
    """Write the rest, as long as somebody reads it, and restore the streams that ``never_wait`` replaced."""
    for name in ("stdout", "stderr"):
        stream = getattr(sys, name)
        if isinstance(stream, _Patient):
            setattr(sys, name, stream.before)
            stream.finish()


def _is_pipe(stream: TextIO) -> bool:
    try:
        mode = os.fstat(stream.fileno()).st_mode
    except (OSError, ValueError):                      # closed, or no stream of the system
        return False
    return stat.S_ISFIFO(mode) or stat.S_ISSOCK(mode)


class _Patient(io.TextIOWrapper):
    """A text stream that takes everything at once; a thread writes it to the pipe of the stream ``before``."""

    def __init__(self, before: io.TextIOWrapper) -> None:
        self.before = before
        self._sink = _Sink(before.fileno())
        super().__init__(
            io.BufferedWriter(self._sink), encoding=before.encoding, errors=before.errors, line_buffering=True
        )

    def finish(self) -> None:
        """Write what is left, as long as somebody reads it."""
        self.flush()
        self._sink.finish()


class _Sink(io.RawIOBase):
    """Bytes for a descriptor. What a reader leaves unread, or has gone before it read, is dropped without a word."""

    def __init__(self, fd: int) -> None:
        super().__init__()
        self._fd = fd
        self._gone = False
        self._written = 0
        self._queue: SimpleQueue[bytes | None] = SimpleQueue()
        self._thread = threading.Thread(target=self._work, name="output", daemon=True)
        self._thread.start()

    def writable(self) -> bool:
        """Return True."""
        return True

    def fileno(self) -> int:
        """Return the pipe's descriptor."""
        return self._fd

    def write(self, data: Any, /) -> int:
        """Take bytes; never blocks."""
        taken = bytes(data)
        if not self._gone and self._queue.qsize() < _MOST_UNREAD:
            self._queue.put(taken)
        return len(taken)

    def finish(self) -> None:
        """Wait until all is written, as long as the reader takes something now and then."""
        self._queue.put(None)
        before = -1
        while self._thread.is_alive() and before != self._written:
            before = self._written
            self._thread.join(PATIENCE_S)

    def _work(self) -> None:
        with contextlib.suppress(OSError):
            while (data := self._queue.get()) is not None:
                # Not through a file object, whose lock this thread would hold while the interpreter ends.
                view = memoryview(data)
                while view:
                    done = os.write(self._fd, view[:4096])
                    self._written += done
                    view = view[done:]
        self._gone = True
