"""Find and open the strip's serial port, write whole frames, and put its failures into words."""

import contextlib
import errno
import sys
from collections.abc import Sequence
from typing import Any

import serial
from serial.tools import list_ports

from tocsin.channels.holders import Holder, holders
from tocsin.channels.light.replies import Replies
from tocsin.devices import DeviceLost
from tocsin.model.rig import Light
from tocsin.model.serial_port import AUTO, is_port, is_stand_in
from tocsin.seam import bench_file
from tocsin.translation import tr
from tocsin.units import NS_PER_MS

WRITE_TIMEOUT_S = 0.15                 # the conductor takes half a second of silence for a hung worker
BOOT_NS = 2_500 * NS_PER_MS            # opening resets many boards, whose boot loader waits about two seconds
_MOST_READ = 4096                      # of one look at what has come: as much as systems keep for a port

try:
    from termios import error as TermiosError  # unplugging raises it, and it is no OSError
except ImportError:                            # Windows has none
    TermiosError = OSError  # type: ignore[misc, assignment, unused-ignore]

# What a port says whose plug was pulled (Linux, macOS; Windows has words of its own).
_GONE = (errno.EIO, errno.ENXIO, errno.ENODEV)
# How pyserial passes that on; the last is what it says of a port that hung up.
_GONE_MARKS = (*(f"errno {number}]" for number in _GONE), "returned no data")
ERRORS = (OSError, ValueError, TermiosError)            # SerialException is an OSError


class PortError(Exception):
    """The port cannot be opened; the text says why and how to fix it."""


class StripPort:
    """An open port to a strip's controller. ``booting`` says whether the board may not listen yet; ``replies`` is what
    has come from it."""

    def __init__(self, light: Light, now_ns: int) -> None:
        self.name = find(light)
        # Only a board behind USB restarts when it is opened; others have nothing to wait for.
        boots = light.port == AUTO or is_listed(self.name)
        self._boot_until_ns = now_ns + BOOT_NS if boots else 0
        self.replies = Replies(greets=boots, acknowledges=light.protocol == "tpm2")
        try:
            self._serial: Any = opened(self.name, light.baud)
        except ERRORS as error:
            raise PortError(reason(self.name, error)) from error

    def booting(self, now_ns: int) -> bool:
        """Return whether the board is still starting: until its greeting, or for 2.5 s. Raises one of ERRORS."""
        if now_ns < self._boot_until_ns:
            self.replies.heard(bytes(self._serial.read(64)))
            if self.replies.greeted:
                self._boot_until_ns = 0
        return now_ns < self._boot_until_ns

    def feel(self) -> None:
        """Check whether the device is still there, and take what has come: a board that greets each second must not
        fill the system's buffer. Never waits. Raises one of ERRORS if the device is gone."""
        if self._serial.in_waiting:
            self.replies.heard(bytes(self._serial.read(_MOST_READ)))

    def write(self, data: bytes) -> None:
        """Write a whole frame. Raises one of ERRORS; after a time-out the whole frame must be sent again."""
        self._serial.write(data)

    def close(self, *, discard: bool = False) -> None:
        """Close the port, after sending the written bytes unless ``discard``; never raises."""
        if discard:
            with contextlib.suppress(AttributeError, *ERRORS):
                self._serial.reset_output_buffer()
        with contextlib.suppress(*ERRORS):
            self._serial.close()


def find(light: Light) -> str:
    """Return the name of the port that the rig means. Raises PortError if it is not there."""
    if light.port != AUTO:
        if not _may_be_opened(light.port):
            raise PortError(tr(
                "{port}: is not a serial port and is not opened; `tocsin devices` lists the ports", port=light.port,
            ))
        return light.port
    found = [port for port in list_ports.comports() if usb_ids(port) == light.usb.lower()]
    if not found:
        raise PortError(tr("no strip with the USB ids {usb}: plug it in, or see `tocsin devices`", usb=light.usb))
    return str(found[0].device)


def usb_ids(port: Any) -> str:
    """Return a port's USB ids as ``1209:0004``, empty for a port that is not on USB."""
    return f"{port.vid:04x}:{port.pid:04x}" if port.vid is not None and port.pid is not None else ""


def reason(name: str, error: BaseException) -> str:
    """Return why a port failed, with the exact command that fixes it if there is one."""
    number = getattr(error, "errno", None)
    if isinstance(error, TermiosError) and error.args:
        number = error.args[0]                         # it is no OSError, and has no number by name
    if isinstance(error, DeviceLost):
        return f"{name}: {error}"
    if number == errno.EACCES or "PermissionError" in str(error):
        if sys.platform == "linux":
            return tr("{name}: not permitted; `sudo usermod -aG dialout $USER`, then log in again", name=name)
        return tr(
            "{name}: in use by another program (a serial monitor, a slicer, another strip tool): close it", name=name,
        )
    if number == errno.EBUSY or "exclusively lock" in str(error):
        return in_use(name, holders([name]))
    if number == errno.ENOENT or "FileNotFoundError" in str(error):
        return tr("{name}: there is no such port; `tocsin devices` lists them", name=name)
    if number in _GONE or any(mark in str(error).lower() for mark in _GONE_MARKS):
        return tr("{name}: unplugged: plug it in again", name=name)
    if isinstance(error, serial.SerialTimeoutException):
        return tr("{name}: the strip does not take what is sent", name=name)
    return f"{name}: {str(error).lower() or type(error).__name__}"


def in_use(name: str, by: Sequence[Holder]) -> str:
    """Return that a port is in use, by which program if known, and what to do."""
    who = " and ".join(map(str, by)) or tr("another program (a serial monitor, a modem service)")
    return tr("{name}: in use by {who}: close it", name=name, who=who)


def _may_be_opened(name: str) -> bool:
    """Return whether a name is a port, by its form or since the system lists it; on a test bench any device."""
    return is_port(name) or is_stand_in(name) or bool(bench_file() and name.startswith("/")) or is_listed(name)


def is_listed(name: str) -> bool:
    """Return whether the system lists a port of this name."""
    return any(port.device == name for port in list_ports.comports())


def opened(name: str, baud: int) -> Any:
    """Return the open port of pyserial, which no other program can open then; reading never waits. Raises one of
    ERRORS."""
    if is_stand_in(name):
        return serial.serial_for_url(name, baudrate=baud, write_timeout=WRITE_TIMEOUT_S, timeout=0)
    # Windows opens every port exclusively anyway.
    exclusive: dict[str, Any] = {} if sys.platform == "win32" else {"exclusive": True}
    return serial.Serial(name, baudrate=baud, write_timeout=WRITE_TIMEOUT_S, timeout=0, **exclusive)
