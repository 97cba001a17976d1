"""Define this laptop's pads, strip, screen, loudspeaker, keys and their delays, as read from a rig file."""

import string
from typing import Literal

import msgspec

from tocsin.model.plan import CHANNELS, ChannelName, Role

StartBy = Literal["count_in", "countdown", "horn", "press"]
Priority = Literal["ordinary", "raised", "realtime"]
Protocol = Literal["tpm2", "adalight"]
ColourOrder = Literal["RGB", "RBG", "GRB", "GBR", "BRG", "BGR"]

# What a USB port gives, in mA. USB 2.0, 7.2.1 (read): five unit loads of 100 mA once a device has been configured, one
# on each port of a hub without its own supply. USB 3: six of 150 mA, and one (from memory).
USB_PORT_MA, USB_3_PORT_MA = 500, 900
BUS_POWERED_PORT_MA, BUS_POWERED_PORT_3_MA = 100, 150

# What a LED draws, in mA: each colour at full light (WS2812B datasheet), and its chip, lit or not (others measured just
# under it).
MA_A_COLOUR, IDLE_LED_MA = 20.0, 1.0

# Prior error of the origin in ms, median and spread as ``Start`` means them (estimates from practice, no source).
START_ERROR_MS: dict[StartBy, tuple[int, int]] = {
    "count_in": (0, 60),
    "countdown": (0, 100),
    "horn": (250, 100),
    "press": (250, 250),
}

# What may be pressed beside a program that drives a robot. Such programs start and stop robots on keys of the other
# kinds, some whichever window is in front; on these they do nothing there, or only write (common practice, no source).
KEYS_BESIDE_ROBOT = frozenset([
    *string.ascii_lowercase, *string.digits, "left", "right", "up", "down", "page_up", "page_down",
])  # fmt: skip


class Start(msgspec.Struct, frozen=True, kw_only=True):
    """How the clock is started, which sets how late its origin is, and with which ±.

    ``late_ms`` and ``spread_ms`` are measured from the person who presses; None means the estimate. The first is a
    median. The second says how far two presses usually lie apart: half of all pairs are nearer to each other than 0.954
    of it, as for a normal curve with this standard deviation.
    """

    by: StartBy = "count_in"
    count_in_ns: int = 5_000_000_000
    late_ms: int | None = None
    spread_ms: int | None = None

    @property
    def error_ms(self) -> tuple[int, int]:
        """The press's lateness, median and spread in milliseconds."""
        late_ms, spread_ms = START_ERROR_MS[self.by]
        return (
            late_ms if self.late_ms is None else self.late_ms,
            spread_ms if self.spread_ms is None else self.spread_ms,
        )


# A scribe watches the robots: three keys beside each other, in the order of what happens. Digits lie alike on all
# Latin layouts, in the row and as the top row of a number block; no key around these does anything in a match.
SCRIBE_KEYS = {"contact": "7", "turned": "8", "home": "9"}
# Default keys that came later than the first rigs: the first one of which a rig file makes no other use. So a key that
# a team has given away stays theirs. Undo lies far from the scribe's keys, also where z and y are exchanged.
LATER_KEYS: dict[str, tuple[str, ...]] = {
    "undo": ("a", "z"),
    "mute": ("m", "u"),
    "all_keys": ("k", "l", "o", "j", "c", "0", "5", "4"),
    "display": ("c", "j", "o", "l", "0", "5", "4"),
    "details": ("i", "o", "l", "j", "c", "0", "5", "4"),
    "phones": ("h", "u", "l", "o", "j", "0", "5", "4"),
    "phones_off": ("l", "j", "u", "o", "0", "5", "4"),      # no key beside the scribe's takes rights back
}


class Keys(msgspec.Struct, frozen=True, kw_only=True):
    """Keys by their action. Names are lower case: ``a``, ``7``, ``page_down``, ``left``, ``plus``, ``f5``."""

    start: tuple[str, ...] = ("page_down", "s")
    scrap: tuple[str, ...] = ("x",)
    hold: tuple[str, ...] = ("p",)                 # holds, and resumes
    begin: tuple[str, ...] = ("b",)                # begins the next period that waits for a person
    variant: tuple[str, ...] = ("v",)              # the next variant
    earlier: tuple[str, ...] = ("left",)           # the match began earlier: the clock goes on by 0.2 s
    later: tuple[str, ...] = ("right",)
    preflight: tuple[str, ...] = ("t",)
    mute: tuple[str, ...] = ("m",)
    louder: tuple[str, ...] = ("up",)
    softer: tuple[str, ...] = ("down",)
    leave: tuple[str, ...] = ("q",)                # leaves standby
    clear: tuple[str, ...] = ("f",)                # in a drill: the field is clear
    yes: tuple[str, ...] = ("y",)                  # answers a safety question
    no: tuple[str, ...] = ("n",)
    repeat: tuple[str, ...] = ("r",)               # plays the round again
    drop: tuple[str, ...] = ("d",)                 # does not count the round, with a reason
    crew: tuple[str, ...] = ("w",)                 # the next crew
    battery: tuple[str, ...] = ("e",)              # the battery was changed
    details: tuple[str, ...] = ("i",)              # of a result: its picture, or its sentences
    undo: tuple[str, ...] = ("a",)                 # takes the newest mark back
    sync: tuple[str, ...] = ("g",)                 # an official moment is now: the clock is put right by it
    display: tuple[str, ...] = ("c",)              # pressed twice: what the official display shows is typed
    all_keys: tuple[str, ...] = ("k",)             # shows all keys, not only the five that are needed most
    phones: tuple[str, ...] = ("h",)               # a code by which a phone may mark; again: by which it may steer
    phones_off: tuple[str, ...] = ("l",)           # takes back what phones were given
    call: dict[str, tuple[str, ...]] = {}          # cue id to keys
    marks: dict[str, tuple[str, ...]] = {}         # label to keys


class Pad(msgspec.Struct, frozen=True, kw_only=True):
    """A role's pad: by USB ids, GUID, name, or order (from 1); all given keys must match. ``buttons`` maps a button
    number (as text) to an action of the keys, ``call.<cue>`` or ``mark.<label>``. ``confirmed`` is the day, in ISO
    8601, on which a person last felt it. ``device`` names a shaker that an installed package brings, in place of all
    that tells pads apart."""

    role: Role
    usb: str = ""
    guid: str = ""
    name: str = ""
    order: int | None = None
    strength: float = 1.0
    latency_ns: int = 0
    buttons: dict[str, str] = {}
    confirmed: str = ""
    device: str = ""
    hidapi: bool = False           # opt-in: other programs may lose this pad's input until it is switched off and on


class Light(msgspec.Struct, frozen=True, kw_only=True):
    """The strip's controller: ``port`` "auto" looks it up by ``usb``; else a port (``serial_port.is_port``).
    ``confirmed`` is the day on which a person last saw it. ``device`` names a strip that an installed package brings:
    no port, protocol and baud then."""

    device: str = ""
    port: str = "auto"
    usb: str = ""
    protocol: Protocol = "tpm2"
    leds: int = 30
    baud: int = 115_200
    order: ColourOrder = "RGB"
    max_ma: int = 400
    brightness: float = 1.0
    latency_ns: int = 0
    confirmed: str = ""

    @property
    def dark_ma(self) -> float:
        """What the LEDs draw while they are dark."""
        return self.leds * IDLE_LED_MA

    @property
    def never_lit(self) -> bool:
        """Whether ``max_ma`` leaves no light: dark LEDs draw all of it, or all but less than one step of white."""
        return 255 * (self.max_ma - self.dark_ma) < self.leds * 3 * MA_A_COLOUR


class Sound(msgspec.Struct, frozen=True, kw_only=True):
    """The loudspeaker: mixer block in frames, volume 0 to 1. ``speech`` says whether words are spoken; None leaves it
    to ``model.spoken``. ``voice`` names one of this laptop's voices, empty any that speaks the plan's language."""

    buffer: int = 512
    volume: float = 0.8
    latency_ns: int = 0
    speech: bool | None = None
    voice: str = ""
    confirmed: str = ""


class Screen(msgspec.Struct, frozen=True, kw_only=True):
    """Which display, from 0; ``fullscreen`` False opens a window of ``width`` x ``height`` pixels."""

    display: int = 0
    fullscreen: bool = False
    width: int = 1280
    height: int = 720
    latency_ns: int = 0
    confirmed: str = ""


class BoardPlace(msgspec.Struct, frozen=True, kw_only=True):
    """Where phones may see and steer a run. ``beside_robot``: also in a network where a robot may be, since people made
    sure that it is not the robot's own. ``port`` None leaves it to the program."""

    beside_robot: bool = False
    port: int | None = None


class Rig(msgspec.Struct, frozen=True, kw_only=True):
    """A whole rig. A device that is None is not part of it."""

    name: str
    drives_robot: bool = True
    priority: Priority = "raised"
    start: Start = Start()
    keys: Keys = Keys()
    pads: tuple[Pad, ...] = ()
    light: Light | None = None
    sound: Sound | None = None
    screen: Screen | None = None
    board: BoardPlace = BoardPlace()

    @property
    def channels(self) -> tuple[ChannelName, ...]:
        """The channels for which the rig has a device."""
        devices = {"rumble": self.pads, "light": self.light, "screen": self.screen, "sound": self.sound}
        return tuple(channel for channel in CHANNELS if devices[channel])

    @property
    def longest_latency_ns(self) -> int:
        """The longest delay of the rig's devices, in nanoseconds."""
        devices = (*self.pads, *(device for device in (self.light, self.sound, self.screen) if device is not None))
        return max((device.latency_ns for device in devices), default=0)
