"""Write marks of runs that have ended, in a thread: a board was out of reach, and the next match may be on."""

import threading
from collections.abc import Callable
from pathlib import Path
from queue import SimpleQueue
from typing import NamedTuple

from tocsin.errors import TocsinError
from tocsin.journal import records
from tocsin.model.mark import Mark
from tocsin.runner.outcome import Done, Outcome, Refused
from tocsin.runner.programme import LateWriter


class Written(NamedTuple):
    """What became of a late mark: the id by which it was sent, the outcome, the run's records then."""

    id: str
    outcome: Outcome
    run: tuple[records.Record, ...]


class LateMarks:
    """A thread that writes one late mark after another; ``wake`` is called after each."""

    def __init__(self, wake: Callable[[], None]) -> None:
        self._wake = wake
        self._wanted: SimpleQueue[tuple[str, LateWriter, Path, Mark]] = SimpleQueue()
        self._written: SimpleQueue[Written] = SimpleQueue()
        self._thread: threading.Thread | None = None

    def want(self, id: str, write: LateWriter, folder: Path, mark: Mark) -> None:
        """Have a mark written; never blocks."""
        self._wanted.put((id, write, folder, mark))
        if self._thread is None:
            self._thread = threading.Thread(target=self._work, name="late-marks", daemon=True)
            self._thread.start()

    def take(self) -> list[Written]:
        """Return those that were written since the last call."""
        return [self._written.get() for _ in range(self._written.qsize())]

    def _work(self) -> None:
        while True:
            id, write, folder, mark = self._wanted.get()
            self._written.put(written(id, write, folder, mark))
            self._wake()


def written(id: str, write: LateWriter, folder: Path, mark: Mark) -> Written:
    """Write a late mark."""
    try:
        text, run = write(folder, mark)
    except TocsinError as error:
        return Written(id, Refused(error.line), ())
    return Written(id, Done(text), run)
