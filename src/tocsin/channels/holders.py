"""Find the programs that hold a device, so that a message can name the one to close.

Only Linux shows this without a tool of its own, in /proc, and for other users' programs only to root. In all other
cases nothing is known; a program may still hold the device.
"""

import os
import sys
from collections.abc import Iterable
from pathlib import Path
from typing import NamedTuple

from tocsin.translation import tr

_PROCESSES = Path("/proc")             # Linux


class Holder(NamedTuple):
    """A program that has a device open."""

    name: str
    pid: int

    def __str__(self) -> str:
        return tr("{name} (process {pid})", name=self.name, pid=self.pid)


def tellable() -> bool:
    """Return whether this system shows who holds a device."""
    return sys.platform == "linux"


def holders(devices: Iterable[str]) -> tuple[Holder, ...]:
    """Return the other programs that hold one of these devices, as far as the system shows them."""
    if not tellable():
        return ()
    wanted = {os.path.realpath(device) for device in devices}
    numbers = (int(folder.name) for folder in _PROCESSES.iterdir() if folder.name.isdecimal())
    return tuple(Holder(_name(pid), pid) for pid in sorted(numbers) if pid != os.getpid() and _holds(pid, wanted))


def _holds(pid: int, wanted: set[str]) -> bool:
    folder = _PROCESSES / str(pid) / "fd"
    try:
        # The links' texts only: to look at what they lead to may wait for a file server that is gone.
        return any(_target(link) in wanted for link in folder.iterdir())
    except OSError:
        return False                   # it has ended meanwhile, or is another user's


def _target(link: Path) -> str:
    try:
        return str(link.readlink())
    except OSError:
        return ""                      # closed meanwhile


def _name(pid: int) -> str:
    import psutil  # only here: a strip's worker starts without it

    try:
        return str(psutil.Process(pid).name())
    except psutil.Error:
        return "a program"


_DEVICES, _KNOWN = Path("/dev/input"), Path("/sys/class/input")            # Linux


def programs_at_pads() -> tuple[Holder, ...]:
    """Return the programs that have a pad open, as far as the system shows them."""
    devices = pad_devices(_DEVICES, _KNOWN)
    return holders(devices) if devices else ()


def pad_devices(devices: Path, known: Path) -> tuple[str, ...]:
    """Return the device files of all pads: ``js*``, and the ``event*`` of the same device. Others are keyboards and
    mice."""
    pads = sorted(devices.glob("js*"))
    events = [devices / event.name for pad in pads for event in sorted((known / pad.name / "device").glob("event*"))]
    return tuple(map(str, [*pads, *events]))
