"""Keep the service alive that boards talk to: start it, notice its silence, start it anew with all it must know.

It drives no device, so nothing here waits for it and nothing of a run depends on it. One that ends, or says nothing for
three seconds, is killed and started anew; the third time within ten seconds, or without ever having come so far as to
listen, it stays off. Time is an argument, and so is the function that makes the process.
"""

from collections import deque
from collections.abc import Callable
from queue import SimpleQueue
from typing import Literal, NamedTuple, Protocol
from urllib.parse import urlsplit

import msgspec

from tocsin.errors import reason
from tocsin.pipe import line_of
from tocsin.service.messages import (
    Alive,
    Away,
    Board,
    Connected,
    Down,
    Grant,
    Granted,
    Open,
    Opened,
    Play,
    Record,
    Show,
    Up,
    decode_up,
)
from tocsin.translation import tr
from tocsin.units import NS_PER_MS, NS_PER_S
from tocsin.workers.process import LineProcess

SILENCE_NS = 3 * NS_PER_S
STARTING_NS = 15 * NS_PER_S            # on a busy laptop Python and its libraries take their time
# A turn of this process that took longer was late itself: then nobody knows who was silent.
TURN_COUNTS_NS = 200 * NS_PER_MS
DEATHS = 3
DEATHS_WITHIN_NS = 10 * NS_PER_S
RETRY_NS = 30 * NS_PER_S               # where the system starts no process
MOST_A_TURN = 50                       # messages; a service gone wild must not hold up who reads it
MOST_WAITING = 1000
MOST_ALIVE = 5                         # signs of life that wait: in an evening nobody reads them between two drills
END_S = 3.0                            # longer than its last word may take to reach boards
_TOLD_LINES = 3                        # of its stderr: the last ones say why it ended

Said = Up | str | None


class Process(Protocol):
    """A service's process as its supervision needs it."""

    def send_line(self, line: bytes, *, droppable: bool = False) -> None:
        """Queue a line; never blocks."""

    def gone(self) -> bool:
        """Return whether the process has ended."""

    def exit_text(self) -> str:
        """Return how the process ended, in words."""

    def kill(self) -> None:
        """End the process at once."""

    def leave(self) -> None:
        """Tell the process that it is no longer needed; never blocks."""

    def ended(self, timeout_s: float) -> int | None:
        """Wait for the process's end, kill it after a limit; return its exit code, None if killed."""


Maker = Callable[[Callable[[Said], None]], Process]
"""Starts a service; its argument is called with whatever it says. Raises OSError."""


def service_process(hear: Callable[[Said], None]) -> LineProcess[Up]:
    """Start ``python -m tocsin.service``."""
    return LineProcess("tocsin.service", name="service", decode=decode_up, hear=hear)


class Note(NamedTuple):
    """What became of the service: started ``again``, ``silent`` towards the network, or ``off``, and why."""

    kind: Literal["again", "silent", "off"]
    why: str


class Service:
    """The service of a run. Its threads call ``wake`` for each message that is more than a sign of life."""

    def __init__(self, wake: Callable[[], None], make: Maker = service_process) -> None:
        self.wake = wake
        self._make = make
        self._inbox: SimpleQueue[tuple[int, Said]] = SimpleQueue()
        self._process: Process | None = None
        self._life = 0                             # which process it is
        self._opened = False
        self._silent_ns = 0
        self._checked_ns: int | None = None
        self._deaths: deque[int] = deque()
        self._in_vain = 0                          # lives one after another in which it never tried to listen
        self._retry_ns: int | None = None
        self._told: deque[str] = deque(maxlen=_TOLD_LINES)
        self._opening: Open | None = None
        self._play: bytes | None = None
        self._records: list[bytes] = []
        self._show: bytes | None = None
        self._grant: Grant | None = None
        self.on = False
        self.address = ""                          # where it listens, empty while it does not
        self.programs = 0                          # how many streams were open that are no boards'

    @property
    def port(self) -> int:
        """The port that it listens on, or is to listen on."""
        return self._opening.port if self._opening is not None else 0

    @property
    def boards(self) -> tuple[Board, ...]:
        """The boards that a successor is told of."""
        return self._opening.boards if self._opening is not None else ()

    def start(self, opening: Open, now_ns: int) -> list[Note]:
        """Start the service; return what came of it if it could not be started."""
        self._opening, self.on, self._checked_ns = opening, True, now_ns
        return self._fill(now_ns)

    def send(self, message: Down) -> None:
        """Send a message, and keep it for a successor if that has to know it."""
        line = line_of(message)
        match message:
            case Open():
                self._opening = message
            case Play():
                self._play, self._records, self._show = line, [], None
            case Record():
                self._records.append(line)
            case Show():
                self._show = line
            case Grant():
                self._grant = message if message.secret else None
        if self._process is not None:
            self._process.send_line(line, droppable=isinstance(message, Show))

    def know(self, boards: tuple[Board, ...]) -> None:
        """Let a successor know these boards."""
        if self._opening is not None:
            self._opening = msgspec.structs.replace(self._opening, boards=boards)

    def receive(self) -> list[Up]:
        """Return what the service has said since the last call, at most so much as one turn has time for."""
        said: list[Up] = []
        while not self._inbox.empty() and len(said) < MOST_A_TURN:
            life, message = self._inbox.get()
            if life != self._life or message is None:
                continue
            if isinstance(message, str):
                self._told.append(message)
                continue
            self._silent_ns = 0
            match message:
                case Alive():
                    continue
                case Opened():
                    self._take_address(message)
                case Granted():
                    self._grant = None
                case Connected():
                    self.programs = message.programs
            said.append(message)
        return said

    def check(self, now_ns: int) -> list[Note]:
        """Start the service anew if it has ended or says nothing; return what people and journal should know."""
        passed_ns = now_ns - (now_ns if self._checked_ns is None else self._checked_ns)
        self._checked_ns = now_ns
        if not self.on:
            return []
        if self._process is None:
            return self._fill(now_ns) if self._retry_ns is not None and now_ns >= self._retry_ns else []
        self._silent_ns += min(passed_ns, TURN_COUNTS_NS)
        if self._process.gone():
            return self._after_death(": ".join([self._process.exit_text(), *list(self._told)[-1:]]), now_ns)
        if self._silent_ns > (SILENCE_NS if self._opened else STARTING_NS):
            why = tr("silent for {silent:.1f} s: killed", silent=self._silent_ns / NS_PER_S)
            self._process.kill()
            return self._after_death(why, now_ns)
        return []

    def leave(self, text: str) -> None:
        """Tell the service that it is no longer needed, and boards why, in the sentence ``text``; never blocks."""
        self.on = False
        self.send(Away(text, ends=True))
        if self._process is not None:
            self._process.leave()

    def ended(self) -> None:
        """Wait a moment for its end, then kill it."""
        if self._process is not None:
            self._process.ended(END_S)
            self._process = None

    def _hear(self, life: int, message: Said) -> None:
        if self._inbox.qsize() > (MOST_ALIVE if isinstance(message, Alive) else MOST_WAITING):
            return
        self._inbox.put((life, message))
        # A turn of the conductor for each sign of life would cost more than it tells.
        if not isinstance(message, Alive | str):
            self.wake()

    def _take_address(self, opened: Opened) -> None:
        self.address, self._opened = opened.address, True      # one that cannot listen tries again by itself
        if opened.address and self._opening is not None:
            # A successor takes the port that boards know by now.
            port = urlsplit(opened.address).port or self._opening.port
            self._opening = msgspec.structs.replace(self._opening, port=port)

    def _after_death(self, why: str, now_ns: int) -> list[Note]:
        self._end()
        self._in_vain = 0 if self._opened else self._in_vain + 1
        self._deaths.append(now_ns)
        while now_ns - self._deaths[0] > DEATHS_WITHIN_NS:
            self._deaths.popleft()
        if max(len(self._deaths), self._in_vain) >= DEATHS:
            self.on = False
            return [Note("off", why)]
        return [Note("again", why), *self._fill(now_ns)]

    def _end(self) -> None:
        if self._process is not None:
            self._process.leave()
            if not self._process.gone():
                self._process.kill()
        self._process, self.address = None, ""

    def _fill(self, now_ns: int) -> list[Note]:
        self._life += 1
        life = self._life
        self._retry_ns, self._silent_ns, self._opened = None, 0, False
        self._told.clear()
        try:
            self._process = self._make(lambda message: self._hear(life, message))
        except OSError as error:                   # no memory, no handles, too many processes
            self._process, self._retry_ns = None, now_ns + RETRY_NS
            return [Note("silent", tr("it could not be started: {reason}", reason=reason(error)))]
        assert self._opening is not None           # it was started with it
        grant = line_of(self._grant) if self._grant is not None and self._grant.until_ns > now_ns else None
        told = (line_of(self._opening), self._play, *self._records, self._show, grant)
        # As one: of a long run's records, line by line, a writer would leave out those that its reader is behind with.
        self._process.send_line(b"".join(line for line in told if line is not None))
        return []
