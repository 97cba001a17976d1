"""Read typed answers: single keys of a terminal, or the lines of a pipe."""

import sys
from collections.abc import Callable
from queue import SimpleQueue

from tocsin.pipe import LineReader
from tocsin.runner.terminal.keys import TerminalKeys


class Typed:
    """Reads answers in a thread. ``ended`` turns true once no answer can come any more; ``ring`` wakes the reader."""

    def __init__(self, ring: Callable[[], None]) -> None:
        self._ring = ring
        self._answers: SimpleQueue[str] = SimpleQueue()
        self._keys = TerminalKeys(lambda key, at_ns: self.put(key))
        self._by_key = False
        self._no_more = False

    @property
    def ended(self) -> bool:
        """Whether the input has ended and all of it was taken."""
        return self._no_more and self._answers.empty()

    def start(self) -> None:
        """Begin to read. Without a terminal each line is an answer."""
        self._by_key = self._keys.start()
        if self._by_key:
            return
        if sys.stdin is None or sys.stdin.isatty():
            self._no_more = True               # in the background, where reading would suspend the whole process
            return
        LineReader(sys.stdin.fileno(), self._line, self._end, "answers")

    def stop(self) -> None:
        """End reading and restore the terminal."""
        self._keys.stop()

    def put(self, answer: str) -> None:
        """Add an answer from elsewhere, such as a key in the window."""
        self._answers.put(answer)
        self._ring()

    def take(self) -> str | None:
        """Return the next answer, or None if there is none yet."""
        return None if self._answers.empty() else self._answers.get()

    def forget(self) -> None:
        """Forget keys pressed before a question; lines of a pipe stay, since they answer the questions to come."""
        while self._by_key and not self._answers.empty():
            self._answers.get()

    def _line(self, line: bytes) -> None:
        if answer := line.decode("utf-8", "replace").strip().lower():
            self.put(answer)

    def _end(self) -> None:
        self._no_more = True
        self._ring()
