"""Define the probes' results: plain data that goes as one JSON line from a probe's process to the command."""

from typing import Literal

import msgspec

from tocsin.channels.installed import InstalledDevice
from tocsin.channels.rumble.pads import FoundPad

Kind = Literal["pads", "displays", "sound", "ports", "packages", "usb"]
# Packages are looked through only where the rig names a device of one, or people ask for all devices; USB only then.
KINDS: tuple[Kind, ...] = ("pads", "displays", "sound", "ports")


class Sdl(msgspec.Struct, frozen=True, kw_only=True):
    """The software that drives a device: pygame's and SDL's versions, SDL's driver, and its hints in the
    environment."""

    pygame: str = ""
    sdl: str = ""
    driver: str = ""
    hints: dict[str, str] = {}


class Pads(msgspec.Struct, frozen=True, kw_only=True):
    """The plugged-in pads; ``why`` says in words what prevents reading them, and the fix."""

    found: tuple[FoundPad, ...] = ()
    why: str = ""
    sdl: Sdl = Sdl()


class Displays(msgspec.Struct, frozen=True, kw_only=True):
    """The size of each display in pixels, the first being display 0."""

    sizes: tuple[tuple[int, int], ...] = ()
    why: str = ""
    sdl: Sdl = Sdl()


class Loudspeaker(msgspec.Struct, frozen=True, kw_only=True):
    """Whether the mixer opens as in a match, and the system's names of its outputs."""

    opens: bool = False
    outputs: tuple[str, ...] = ()
    why: str = ""
    sdl: Sdl = Sdl()


class Port(msgspec.Struct, frozen=True, kw_only=True):
    """A serial port; ``usb`` is empty for one that is not on USB, ``why`` says why it cannot be opened."""

    name: str
    usb: str = ""
    about: str = ""
    why: str = ""


class Ports(msgspec.Struct, frozen=True, kw_only=True):
    """The serial ports. ``strip`` is the port of the rig's strip, or empty; ``why`` says what is wrong."""

    found: tuple[Port, ...] = ()
    strip: str = ""
    why: str = ""


class Packages(msgspec.Struct, frozen=True, kw_only=True):
    """The devices that installed packages bring. ``unusable`` says of each device that the rig names and that cannot be
    used, by its name, why and what to do; ``why`` that nothing was found out."""

    found: tuple[InstalledDevice, ...] = ()
    unusable: dict[str, str] = {}
    why: str = ""


class UsbDevice(msgspec.Struct, frozen=True, kw_only=True):
    """A USB device, as it describes itself: ``place`` is bus-port.port, ``asks_ma`` the most that it draws from its
    port, ``fast`` whether it runs at a speed of USB 3, ``fixed`` whether it is built in."""

    place: str
    usb: str
    name: str = ""
    asks_ma: int
    own_supply: bool = False
    hub: bool = False
    fixed: bool = False
    fast: bool = False


class Usb(msgspec.Struct, frozen=True, kw_only=True):
    """The USB devices in the order of their places; ``why`` says why nothing is known of them, or is empty."""

    found: tuple[UsbDevice, ...] = ()
    why: str = ""


class ProbeResults(msgspec.Struct, frozen=True, kw_only=True):
    """The results of all probes. A probe that gave none has only a ``why``."""

    pads: Pads = Pads()
    displays: Displays = Displays()
    sound: Loudspeaker = Loudspeaker()
    ports: Ports = Ports()
    packages: Packages = Packages()
    usb: Usb = Usb()
