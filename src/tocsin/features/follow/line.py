"""Keep the line to the keeper: exchanges with its clock each second, its records as they are written.

Threads talk; what they heard waits until it is taken. Nobody waits for them: a keeper that is slow, gone or wrong holds
nothing up here.
"""

import threading
from abc import ABC, abstractmethod
from collections.abc import Callable
from queue import SimpleQueue

from tocsin.features.follow.heard import Heard

EACH_S = 1.0                           # between two exchanges
FIRST = 8                              # exchanges after a gap, without a pause
BETWEEN_FIRST_S = 0.05
ANSWER_S = 2.0                         # no answer for so long: it is asked anew


class Line(ABC):
    """The line to one keeper at ``place``. ``wake`` is called from its threads whenever something has been heard."""

    def __init__(self, place: str, wake: Callable[[], None] = lambda: None) -> None:
        self.place = place
        self.wake = wake
        self.heard_ns: int | None = None           # when the keeper was heard last
        self.connected = False                     # whether somebody answers there, the keeper or a broker
        self.failure: Exception | None = None      # why the newest try to connect came to nothing
        self._inbox: SimpleQueue[Heard] = SimpleQueue()
        self._closed = threading.Event()
        self._anew = threading.Event()             # the clock is to be read anew, quickly

    @abstractmethod
    def start(self) -> None:
        """Begin to talk."""

    @abstractmethod
    def fetch_run(self) -> None:
        """Have the whole run fetched, within two seconds."""

    def close(self) -> None:
        """End; does not wait for the threads, which hold nothing that must be given back."""
        self._closed.set()
        self._anew.set()

    def read_clock_anew(self) -> None:
        """Read the keeper's clock several times at once: this laptop slept, or a clock has jumped."""
        self._anew.set()

    def take(self) -> list[Heard]:
        """Return what was heard since the last call."""
        heard = []
        while not self._inbox.empty():
            heard.append(self._inbox.get())
        return heard

    def _put(self, heard: Heard) -> None:
        self._inbox.put(heard)
        self.wake()

    def _pause(self, quick: int) -> int:
        """Wait until the clock is to be read again; return how many readings come without a pause."""
        return FIRST if self._anew.wait(BETWEEN_FIRST_S if quick > 0 else EACH_S) else quick
