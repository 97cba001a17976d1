"""Define the JSON lines between conductor and workers, one typed message each.

Down: ``Hello``, ``Load``, ``NewOrigins``, ``Give``, ``ShowStatus``, ``Command``, ``Steer``, ``Arm``, ``Safe``. The end
of the pipe means that the conductor is gone. Up: ``Opened``, ``TimelineLoaded``, ``Heartbeat``, ``Busy``, ``Fired``,
``Granted``, and a channel's ``Event``.
"""

from typing import Literal

import msgspec

from tocsin.channels.device import Event
from tocsin.model.clock.origins import Origin
from tocsin.model.display.status import Status
from tocsin.model.pattern import Patterns
from tocsin.model.rig import Priority, Rig
from tocsin.model.timeline.timeline import Timeline
from tocsin.pipe import line_of, message_of

FiringOutcome = Literal["played", "resumed", "skipped", "failed"]
UNSAFE = 75                            # exit code of a worker whose device could not be reached to be made safe


class Hello(msgspec.Struct, frozen=True, tag="hello"):
    """First line: the rig to open, and the conductor's time, which the worker answers with its own. ``inherited`` says
    that an earlier worker may have left motors or LEDs on: the device is made safe before anything else."""

    rig: Rig
    now_ns: int
    inherited: bool = False


class SpokenWords(msgspec.Struct, frozen=True):
    """Spoken words: ``files`` by cue. ``note`` says why words are not spoken, or is empty."""

    files: dict[str, str] = {}
    note: str = ""


class Load(msgspec.Struct, frozen=True, tag="load"):
    """A timeline to prepare; ``done`` are (number, instance) pairs that this run has recorded already. ``words`` are
    for the sound only. ``run`` tells the runs of a conductor apart: origins, numbers and reports belong to one of them.
    """

    timeline: Timeline
    patterns: Patterns
    run: int = 0
    done: tuple[tuple[int, int], ...] = ()
    words: SpokenWords = SpokenWords()


class NewOrigins(msgspec.Struct, frozen=True, tag="origins"):
    """All present origins of a run, and the variant; none while held and after the end."""

    origins: tuple[Origin, ...]
    variant: str
    run: int = 0


class Give(msgspec.Struct, frozen=True, tag="give"):
    """Firings of a run that count as given by hand."""

    numbers: tuple[int, ...]
    run: int = 0


class ShowStatus(msgspec.Struct, frozen=True, tag="show"):
    """The status to show; only the screen uses it."""

    status: Status


class Command(msgspec.Struct, frozen=True, tag="command"):
    """A key's command for the device: mute, louder, softer, preflight."""

    verb: str


class Steer(msgspec.Struct, frozen=True, tag="steer"):
    """Begin the steering task of a reaction test on the window; ``seed`` sets the marker's drift."""

    seed: int


class Arm(msgspec.Struct, frozen=True, tag="arm"):
    """A run begins (raise the priority, stop garbage collection) or, with None, is over."""

    priority: Priority | None


class Safe(msgspec.Struct, frozen=True, tag="safe"):
    """Make the device safe now."""


Down = Hello | Load | NewOrigins | Give | ShowStatus | Command | Steer | Arm | Safe


class Opened(msgspec.Struct, frozen=True, tag="opened"):
    """The device is open or known to be absent; ``now_ns`` is this process's reading of the shared clock."""

    now_ns: int


class TimelineLoaded(msgspec.Struct, frozen=True, tag="loaded"):
    """The timeline is ready to fire."""


class Heartbeat(msgspec.Struct, frozen=True, tag="alive"):
    """A sign of life, ten times a second."""

    now_ns: int


class Busy(msgspec.Struct, frozen=True, tag="busy"):
    """A driver call that may block everything begins (``on``), or has ended."""

    on: bool


class Fired(msgspec.Struct, frozen=True, tag="fired"):
    """The outcome of a firing of a run. ``late_ns`` is None without a device call.

    ``begin_ns`` is when the device call was due: latency is off already.
    """

    no: int
    instance: int
    outcome: FiringOutcome
    why: str
    begin_ns: int
    late_ns: int | None
    took_ns: int | None
    by: tuple[str, ...] = ()
    run: int = 0


class Granted(msgspec.Struct, frozen=True, tag="granted"):
    """The priority that the system granted, and why not more."""

    priority: Priority
    why: str = ""


Up = Opened | TimelineLoaded | Heartbeat | Busy | Fired | Event | Granted

_down: msgspec.json.Decoder[Down] = msgspec.json.Decoder(Down)
_up: msgspec.json.Decoder[Up] = msgspec.json.Decoder(Up)

_URGENT = tuple(b'{"type":"%s"' % tag for tag in (b"origins", b"give", b"safe"))


def encode(message: Down | Up) -> bytes:
    """Return one line of JSON."""
    return line_of(message)


def decode_down(line: bytes) -> Down:
    """Return the message of a line to a worker. Raises MessageError for any line that is none."""
    return message_of(_down, line)


def decode_up(line: bytes) -> Up:
    """Return the message of a line from a worker. Raises MessageError for any line that is none."""
    return message_of(_up, line)



def is_urgent(line: bytes) -> bool:
    """Return whether a line to a worker must not wait: a hold, a scrap, a call.

    >>> is_urgent(encode(Safe())), is_urgent(encode(Arm(None)))
    (True, False)
    """
    return line.startswith(_URGENT)
