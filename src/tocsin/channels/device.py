"""What every channel does for the worker that owns it.

The worker main (``tocsin.workers.main``) reads the clock, keeps the schedule, talks to the conductor and calls these
hooks, all of them on the process's main thread, since SDL wants that.
"""

from abc import ABC, abstractmethod
from collections.abc import Mapping, Sequence
from typing import ClassVar, Literal

import msgspec

from tocsin.model.clock.schedule import Shot
from tocsin.model.display.status import Status
from tocsin.model.pattern import Patterns
from tocsin.model.plan import ChannelName
from tocsin.model.rig import Rig
from tocsin.model.timeline.timeline import Timeline

__all__ = ["UNANSWERED", "Channel", "DeviceState", "Event", "Shot", "ShotResult"]

# Why of a strip that is ready all the same: many boards never greet.
UNANSWERED = "bytes are sent; no answer from a board"
DeviceState = Literal["ready", "absent", "lost", "failed"]


class ShotResult(msgspec.Struct, frozen=True, kw_only=True):
    """What became of a shot on the device. ``why`` is empty when played, else absent, outranked or a text.

    ``by`` lists the parts it went to (pads of a role), for the journal.
    """

    outcome: Literal["played", "skipped", "failed"]
    why: str = ""
    by: tuple[str, ...] = ()


class Event(msgspec.Struct, frozen=True, kw_only=True):
    """Something that a channel tells on its own account, from ``tick``.

    kind "device": ``state`` changed, of the whole channel (``what`` empty) or of one part (``what`` is the pad's role),
    ``name`` names the device, ``why`` says what fixes it; "fault": ``what`` went wrong and ``why``; "press" and
    "release": ``what`` is the key or ``pad.<role>.<button>``; "level": ``what`` is the volume as text; "leave": the
    window was closed; "note": ``what`` a person did on the device, and ``values`` how well, for the journal.
    """

    kind: Literal["device", "fault", "press", "release", "level", "leave", "note"]
    at_ns: int
    what: str = ""
    state: DeviceState | None = None
    name: str = ""
    why: str = ""
    values: dict[str, float] = {}


class Channel(ABC):
    """A device. Hooks raise nothing for what devices do in the field (unplugged, refused, absent): they say so by
    events and outcomes. An exception that escapes is a fault of the program: the worker ends and is started again."""

    name: ClassVar[ChannelName]
    # How long the worker waits with the next tick at the most when nothing is due and no message comes.
    tick_ns = 50_000_000

    def __init__(self, rig: Rig) -> None:
        self.rig = rig

    @abstractmethod
    def open(self, now_ns: int) -> list[Event]:
        """Open the device, or find that it is absent; return at least one "device" event with its state."""

    @abstractmethod
    def load(self, timeline: Timeline, patterns: Patterns) -> None:
        """Make everything ready that the timeline's firings of this channel need: bytes, frames, sounds."""

    def take_words(self, words: Mapping[str, bytes], note: str) -> None:
        """Take the spoken words, as samples by cue, of the timeline that is loaded next; only the sound does something
        with them. ``note`` says why words are not spoken, or is empty."""

    @abstractmethod
    def make_safe(self, now_ns: int) -> bool:
        """Motors off, sound silent, strip black, screen without a cue; whatever was fired has ended. Return False if
        the device is in the rig but cannot be reached: whoever may have left it driven tries again."""

    def prepare(self, shot: Shot, now_ns: int) -> None:
        """Get ready for a shot that is due within about 100 ms. May be followed by no fire, if origins change."""

    @abstractmethod
    def fire(self, shot: Shot, now_ns: int) -> ShotResult:
        """Begin a shot now. The device call comes first, everything else after it.

        Called again with the same firing and instance, with ``resumed`` set, when its end has moved: show that.
        """

    @abstractmethod
    def end(self, shot: Shot, now_ns: int) -> None:
        """End a shot: its interval is over, or it was withdrawn."""

    def show_status(self, status: Status, now_ns: int) -> None:
        """Take what the conductor shows (only the screen does something with it)."""

    def command(self, verb: str, now_ns: int) -> list[Event]:
        """Do what a key asks of the device: "mute", "louder", "softer" for sound, "preflight" for all: half a second
        on each part of the device. Unknown verbs do nothing."""
        return []

    def steer(self, seed: int, now_ns: int) -> None:
        """Begin the load of a reaction test (only the screen does something with it)."""

    def next_ns(self, now_ns: int) -> int | None:
        """Return when the device itself wants the next tick (a pattern's next step, a frame), or None."""
        return None

    @abstractmethod
    def tick(self, now_ns: int) -> Sequence[Event]:
        """Do what is due on the device: pump, step patterns, write frames, look for devices. Must return quickly."""

    @abstractmethod
    def close(self) -> None:
        """Make safe and close; may be called twice."""
