"""Define the hooks through which a worker drives its device.

The worker's main loop (``tocsin.workers.main``) reads the clock, keeps the schedule, talks to the conductor and calls
the hooks, all on the process's main thread, as SDL demands.
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
from tocsin.translation import tr

__all__ = ["DEAF", "UNANSWERED", "UNHEARD", "Channel", "DeviceState", "Event", "Shot", "ShotResult"]

# Whys of a strip that is ready all the same: many boards never greet, and many never answer a frame.
UNANSWERED = tr("bytes are sent; no answer from a board")
UNHEARD = tr("the board greets and answers no frame: if the strip stays dark, try the other `protocol`")
# Why of a strip that is lost although its port is open: its board answered frames before. A summary has room for 63.
DEAF = tr("the board is deaf, nothing shows: plug it in again, check power")
DeviceState = Literal["ready", "absent", "lost", "failed"]


class ShotResult(msgspec.Struct, frozen=True, kw_only=True):
    """The result of a shot on the device. ``why`` is empty when played, else absent, outranked or a text.

    ``by`` lists the parts that took it (pads of a role), for the journal.
    """

    outcome: Literal["played", "skipped", "failed"]
    why: str = ""
    by: tuple[str, ...] = ()


class Event(msgspec.Struct, frozen=True, kw_only=True, tag="told"):
    """An event that a channel reports by itself, from ``tick``; its worker sends it on as it is.

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
    """One device. Hooks do not raise when a device is unplugged, refused or absent: they report it by events and
    results. An exception that escapes is a bug: the worker ends and is restarted."""

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
        """Prepare bytes, frames or sounds for this channel's firings in the timeline."""

    def take_words(self, words: Mapping[str, bytes], note: str) -> None:
        """Take the spoken words of the timeline that is loaded next, by cue: 16-bit little-endian stereo samples at 48
        kHz. Only the sound channel uses them. ``note`` says why words are not spoken, or is empty."""

    @abstractmethod
    def make_safe(self, now_ns: int) -> bool:
        """Stop motors and sound, turn the strip black, take cues off the screen; end every shot. Return False if a
        device of the rig cannot be reached: a caller that may have left it running tries again."""

    def take_over(self, now_ns: int) -> None:
        """Make safe what an earlier worker may have left driven; called once, after ``open``."""
        self.make_safe(now_ns)

    def prepare(self, shot: Shot, now_ns: int) -> None:
        """Get ready for a shot that is due within about 100 ms. If origins change, no fire follows."""

    @abstractmethod
    def fire(self, shot: Shot, now_ns: int) -> ShotResult:
        """Begin a shot now. The device call comes first, everything else after it.

        A second call with the same firing and instance, with ``resumed`` set, means that its end has moved.
        """

    @abstractmethod
    def end(self, shot: Shot, now_ns: int) -> None:
        """End a shot whose interval is over, or that was withdrawn."""

    def show_status(self, status: Status, now_ns: int) -> None:
        """Show the conductor's status (only the screen uses it)."""

    def command(self, verb: str, now_ns: int) -> list[Event]:
        """Carry out a key's command: "mute", "louder", "softer" for sound; "preflight" (half a second on each part of
        the device) for all. Unknown commands do nothing."""
        return []

    def steer(self, seed: int, now_ns: int) -> None:
        """Begin the steering task of a reaction test (only the screen uses it)."""

    def next_ns(self, now_ns: int) -> int | None:
        """Return when the device needs the next tick (a pattern's step, a frame), in nanoseconds, or None."""
        return None

    @abstractmethod
    def tick(self, now_ns: int) -> Sequence[Event]:
        """Do what the device needs now: pump events, step patterns, write frames, look for devices. Must return
        quickly."""

    @abstractmethod
    def close(self) -> None:
        """Make safe and close; may be called twice."""
