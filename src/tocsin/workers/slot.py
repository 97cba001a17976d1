"""Keep a channel's slot: its worker process, the messages for its successor, and the deadline of its next firing."""

from collections import deque
from collections.abc import Callable, Iterator
from typing import Protocol

import msgspec

from tocsin.channels.device import Event
from tocsin.model.clock.origins import Origin
from tocsin.model.clock.schedule import Key
from tocsin.model.plan import ChannelName
from tocsin.model.rig import Rig
from tocsin.model.timeline.timeline import Firing
from tocsin.units import NS_PER_MS
from tocsin.workers.protocol import (
    Arm,
    Busy,
    Command,
    Down,
    Give,
    Load,
    NewOrigins,
    Opened,
    Safe,
    ShowStatus,
    Steer,
    TimelineLoaded,
    Up,
)
from tocsin.workers.suspicion import Evidence, Suspicion

TAKES_NS = 700 * NS_PER_MS             # a worker's start at the least, until one has taken longer


class Process(Protocol):
    """A worker process as supervision needs it."""

    channel: ChannelName
    pid: int
    hello_ns: int

    @property
    def start_time(self) -> float:
        """When the process was started, in seconds since the epoch."""

    def send(self, message: Down, *, droppable: bool = False) -> None:
        """Queue a message; never blocks."""

    def gone(self) -> bool:
        """Return whether the process has ended."""

    def exit_text(self) -> str:
        """Return how the process ended, in words."""

    def evidence(self) -> Evidence | None:
        """Return the system's data on the process, None if there is none."""

    def kill(self) -> None:
        """End the process at once, even if it is stopped; its device is free again then."""

    def leave(self) -> None:
        """Tell the process that it is no longer needed; never blocks."""

    def ended(self, timeout_s: float) -> int | None:
        """Wait for the process's end, kill it after a limit; return its exit code, None if killed."""


Post = Callable[[Process, "Up | str | None"], None]
"""What a worker's threads call: a message, a line of its stderr, or None at the end of its stdout."""
Maker = Callable[[ChannelName, Rig, int, Post, bool], Process]
"""Starts a worker for a channel of a rig, at a time; the last argument says that a predecessor may have left the device
driven, so that the worker makes it safe first."""


class Slot(msgspec.Struct):
    """One channel's process and its data.

    ``started`` stays true once a process was wanted, ``driven`` once its device was ready. ``loads`` counts timelines
    that the process has not prepared yet, ``withheld`` are its device events meanwhile. ``takes_ns`` is how long a
    start took, with the timeline. ``condemned_ns`` is since when the process counts as hanging.
    """

    process: Process | None = None
    started: bool = False
    driven: bool = False
    opened: bool = False
    loads: int = 0
    busy: bool = False
    failed: bool = False
    retry_ns: int = 0
    restarts: int = 0
    restarted_at: deque[int] = msgspec.field(default_factory=deque)
    suspicion: Suspicion = msgspec.field(default_factory=Suspicion)
    condemned_ns: int | None = None
    filled_ns: int = 0
    starting: bool = False
    takes_ns: int = TAKES_NS
    withheld: list[Event] = msgspec.field(default_factory=list)
    load: Load | None = None
    origins: NewOrigins | None = None
    given: tuple[int, ...] = ()
    show: ShowStatus | None = None
    arm: Arm | None = None

    def fill(self, process: Process, now_ns: int) -> None:
        """Take a new process."""
        self.process = process
        self.filled_ns = now_ns
        self.starting = True
        self.opened = self.busy = False
        self.loads = 0
        self.withheld.clear()
        self.condemned_ns = None
        self.suspicion.heard()

    def empty(self) -> Process | None:
        """Release the process; return it."""
        process, self.process = self.process, None
        return process

    def send(self, message: Down) -> None:
        """Send a message to the process, if there is one, and keep it for a successor if needed."""
        self._keep(message)
        if self.process is not None:
            self.loads += isinstance(message, Load)
            self.process.send(message, droppable=isinstance(message, ShowStatus))

    def hear(self, message: Up | str, now_ns: int) -> list[Up | str]:
        """Take a message of the process; return the messages to pass on now, earlier withheld ones included."""
        self.suspicion.heard()
        self.condemned_ns = None
        match message:
            case Opened():
                self.opened = True
            case Busy():
                self.busy = message.on
            case Event(kind="device"):
                self.withheld = [told for told in self.withheld if told.what != message.what]
                if self.loads and message.state == "ready":
                    self.withheld.append(message)
                    return []
            case TimelineLoaded():
                self.loads = max(0, self.loads - 1)
                if not self.loads:
                    self._note_start(now_ns)
                    withheld, self.withheld = self.withheld, []
                    return [message, *(msgspec.structs.replace(told, at_ns=now_ns) for told in withheld)]
        return [message]

    def brief(self, done: tuple[Key, ...]) -> None:
        """Send a new process everything that the one before it knew; ``done`` are the firings recorded already."""
        if self.process is None or self.load is None:
            return
        self.loads = 1
        self.process.send(msgspec.structs.replace(self.load, done=done))
        given = Give(self.given, self.load.run) if self.given else None
        for message in (self.arm, given, self.origins, self.show):
            if message is not None:
                self.process.send(message)

    def last_chance_ns(self, channel: ChannelName, done: tuple[Key, ...], now_ns: int) -> int | None:
        """Return until when the next unrecorded firing can still be given, in shared nanoseconds, or None if none
        comes."""
        if self.load is None or self.origins is None:
            return None
        origins = {origin.anchor: origin for origin in self.origins.origins}
        chances_ns = [
            chance_ns
            for firing in self.load.timeline.firings
            if firing.channel == channel and firing.when in ("", self.origins.variant)
            for chance_ns in _chances_ns(firing, origins, done)
            if chance_ns > now_ns
        ]
        return min(chances_ns, default=None)

    def _note_start(self, now_ns: int) -> None:
        if self.starting:
            self.starting = False
            self.takes_ns = max(TAKES_NS, now_ns - self.filled_ns)

    def _keep(self, message: Down) -> None:
        match message:
            case Load():
                # What was told of another timeline means nothing to this one.
                self.load, self.given, self.origins = message, (), None
            case NewOrigins():
                self.origins = message
            case Give():
                self.given += message.numbers
            case ShowStatus():
                self.show = message
            case Arm():
                self.arm = message
            case Command() | Steer() | Safe():
                return
            case _:
                raise ValueError(f"{message} is no message for a running worker")


def _chances_ns(firing: Firing, origins: dict[str, Origin], done: tuple[Key, ...]) -> Iterator[int]:
    """Yield the last instant at which a firing can begin, if that is known and it has not begun."""
    origin = origins.get(firing.begin.anchor)
    if origin is None or (firing.no, origin.instance) in done:
        return
    chance_ns = origin.real_ns(firing.begin.offset_ns) + firing.late_limit_ns
    if firing.until is not None and (until := origins.get(firing.until.anchor)) is not None:
        chance_ns = max(chance_ns, until.real_ns(firing.until.offset_ns))      # what is left of it is shown
    yield chance_ns
