"""What the probes tell: plain data that goes as one JSON line from a probe's process to the command."""

from typing import Literal

import msgspec

from tocsin.channels.rumble.pads import FoundPad

Kind = Literal["pads", "displays", "sound", "ports"]
KINDS: tuple[Kind, ...] = ("pads", "displays", "sound", "ports")


class Sdl(msgspec.Struct, frozen=True, kw_only=True):
    """What drives a device: pygame's and SDL's versions, SDL's driver, and its hints in the environment."""

    pygame: str = ""
    sdl: str = ""
    driver: str = ""
    hints: dict[str, str] = {}


class Pads(msgspec.Struct, frozen=True, kw_only=True):
    """The pads that are plugged in; ``why`` says in words what is in the way, and what fixes it."""

    found: tuple[FoundPad, ...] = ()
    why: str = ""
    sdl: Sdl = Sdl()


class Displays(msgspec.Struct, frozen=True, kw_only=True):
    """The size of each display in pixels, the first being display 0."""

    sizes: tuple[tuple[int, int], ...] = ()
    why: str = ""
    sdl: Sdl = Sdl()


class Loudspeaker(msgspec.Struct, frozen=True, kw_only=True):
    """Whether the mixer opens as a match would open it, and what outputs the system names."""

    opens: bool = False
    outputs: tuple[str, ...] = ()
    why: str = ""
    sdl: Sdl = Sdl()


class Port(msgspec.Struct, frozen=True, kw_only=True):
    """A serial port; ``usb`` is empty for one that is not behind USB, ``why`` says why it cannot be opened."""

    name: str
    usb: str = ""
    about: str = ""
    why: str = ""


class Ports(msgspec.Struct, frozen=True, kw_only=True):
    """The serial ports. ``strip`` is the one that the rig's strip would be, or empty; ``why`` says what is amiss."""

    found: tuple[Port, ...] = ()
    strip: str = ""
    why: str = ""


class ProbeResults(msgspec.Struct, frozen=True, kw_only=True):
    """What all the probes told. One that told nothing has only a ``why``."""

    pads: Pads = Pads()
    displays: Displays = Displays()
    sound: Loudspeaker = Loudspeaker()
    ports: Ports = Ports()
