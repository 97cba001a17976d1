"""Read and write lines over a pipe by threads, so that neither side ever blocks the other.

Waits on a pipe in Windows have steps of 15.6 ms; threads with blocking reads work everywhere.
"""

import contextlib
import os
import threading
from collections import deque
from collections.abc import Callable
from queue import Empty, SimpleQueue
from typing import TypeVar

import msgspec

from tocsin.readable import utf8_json

T = TypeVar("T")

# A peer that stopped reading must not make this process grow without bound.
MOST_UNSENT = 2000
# The longest line of ours, a timeline of 20,000 firings, has some 10 MB; what is longer is cut, and so is no message.
LONGEST_LINE = 32 << 20


class MessageError(ValueError):
    """A line is no message; the text says why."""


def line_of(message: msgspec.Struct) -> bytes:
    """Return a message as one line of JSON."""
    return utf8_json(message) + b"\n"


def message_of(decoder: msgspec.json.Decoder[T], line: bytes) -> T:
    """Return the message of a line. Raises MessageError for any line that is none."""
    try:
        return decoder.decode(line)
    except (msgspec.DecodeError, RecursionError) as error:         # the latter for brackets without end
        raise MessageError(str(error)) from error


def own_streams() -> tuple[int, int]:
    """Return descriptors of standard input and output that are this process's messages alone. From now on what
    libraries and packages print goes to standard error, and who reads standard input finds it at its end."""
    stdin, stdout = os.dup(0), os.dup(1)
    nothing = os.open(os.devnull, os.O_RDONLY)
    os.dup2(nothing, 0)
    os.close(nothing)
    os.dup2(2, 1)
    return stdin, stdout


class LineReader:
    """Reads lines from a file descriptor in a thread and hands each to ``on_line``; at the end calls ``on_end``."""

    def __init__(self, fd: int, on_line: Callable[[bytes], None], on_end: Callable[[], None], name: str) -> None:
        self._fd = fd
        self._on_line = on_line
        self._on_end = on_end
        self._thread = threading.Thread(target=self._read, name=name, daemon=True)
        self._thread.start()

    def _read(self) -> None:
        rest = bytearray()
        # os.read rather than a file object: a daemon thread inside a buffered read aborts the interpreter's exit.
        with contextlib.suppress(OSError):
            while chunk := os.read(self._fd, 65536):
                first, *begun = chunk.split(b"\n")
                rest += first[: LONGEST_LINE - len(rest)]
                for line in begun:
                    self._on_line(bytes(rest))
                    rest = bytearray(line)
        if rest:
            self._on_line(bytes(rest))
        with contextlib.suppress(OSError):
            self._on_end()

    def join(self, timeout_s: float) -> None:
        """Wait until everything has been read, at most ``timeout_s``."""
        self._thread.join(timeout_s)


class LineWriter:
    """Writes lines to a file descriptor in a thread, which calls ``on_end`` when it no longer needs it. ``broken``
    turns true once the peer is gone."""

    def __init__(self, fd: int, name: str, on_end: Callable[[], None] = lambda: None) -> None:
        self._fd = fd
        self._on_end = on_end
        self._queue: SimpleQueue[bytes | None] = SimpleQueue()
        self._thread = threading.Thread(target=self._write, name=name, daemon=True)
        self.broken = False
        self._thread.start()

    def send(self, line: bytes, *, droppable: bool = False) -> None:
        """Queue a line; never blocks. Droppable lines are dropped while the peer does not read."""
        if self.broken or (droppable and self._queue.qsize() > 20) or self._queue.qsize() > MOST_UNSENT:
            return
        self._queue.put(line)

    def finish(self, timeout_s: float) -> None:
        """Let the thread write the queue and end; wait for it at most ``timeout_s``."""
        self._queue.put(None)
        self._thread.join(timeout_s)

    def _write(self) -> None:
        try:
            while (line := self._queue.get()) is not None:
                view = memoryview(line)
                while view:
                    view = view[os.write(self._fd, view) :]
        except OSError:
            self.broken = True
        finally:
            with contextlib.suppress(OSError):
                self._on_end()


class Inbox:
    """Lines from one reader, taken without waiting, for a loop that must be on time."""

    def __init__(self, fd: int, name: str) -> None:
        self._lines: deque[bytes] = deque()
        self._bell: SimpleQueue[None] = SimpleQueue()
        self.ended = False
        self._reader = LineReader(fd, self._add, self._end, name)

    def wait(self, timeout_s: float) -> None:
        """Return once a line or the end has come since the last wait, or after ``timeout_s``.

        Windows wakes from it up to 15.6 ms late if nothing comes.
        """
        with contextlib.suppress(Empty):
            self._bell.get(timeout=timeout_s)
            while True:
                self._bell.get_nowait()

    def take(self) -> list[bytes]:
        """Return the lines since the last call."""
        return [self._lines.popleft() for _ in range(len(self._lines))]

    def any(self, wanted: Callable[[bytes], bool]) -> bool:
        """Return whether any line not taken yet fits the condition."""
        return any(wanted(self._lines[place]) for place in range(len(self._lines)))

    def put_back(self, lines: list[bytes]) -> None:
        """Let the next ``take`` return these lines first."""
        self._lines.extendleft(reversed(lines))

    def _add(self, line: bytes) -> None:
        self._lines.append(line)
        self._bell.put(None)

    def _end(self) -> None:
        self.ended = True
        self._bell.put(None)
