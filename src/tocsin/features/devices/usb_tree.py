"""Read what USB devices say of themselves, from the files that Linux shows of them.

From memory of the kernel's documentation (ABI, sysfs-bus-usb): a device is a folder named bus-port.port, with idVendor,
idProduct, speed, bMaxPower ("100mA"), bmAttributes, bDeviceClass, product, removable. USB 2.0, 9.6.3 and 11.23.1 (from
memory): bit 6 of bmAttributes says that a device has a supply of its own; class 9 is a hub.
"""

import re
from collections.abc import Iterator
from pathlib import Path

from tocsin.features.devices.probed import UsbDevice

USB_DEVICES = Path("/sys/bus/usb/devices")
_PLACE = re.compile(r"\d+-\d+(\.\d+)*")                # neither a bus ("usb1") nor an interface ("1-1:1.0")
_SELF_POWERED = 0x40
_HUB = "09"
_SUPER_SPEEDS = ("5000", "10000", "20000")             # megabits a second: USB 3
_BEFORE_CONFIGURED_MA = 100                            # USB 2.0, 7.2.1: what an unconfigured device may draw


def read_devices(root: Path) -> tuple[UsbDevice, ...]:
    """Return the devices below a folder such as ``USB_DEVICES``, those of a hub behind it; none if it is not there."""
    found = (_device(folder) for folder in root.glob("*-*") if _PLACE.fullmatch(folder.name))
    return tuple(sorted((one for one in found if one is not None), key=lambda one: _order(one.place)))


def _device(folder: Path) -> UsbDevice | None:
    """Return a device, or None if it went while it was read."""
    ids = [_text(folder, name) for name in ("idVendor", "idProduct")]
    if not all(ids):
        return None
    return UsbDevice(
        place=folder.name,
        usb=":".join(ids),
        name=_text(folder, "product"),
        asks_ma=_number(_text(folder, "bMaxPower").removesuffix("mA"), 10, _BEFORE_CONFIGURED_MA),
        own_supply=bool(_number(_text(folder, "bmAttributes"), 16, 0) & _SELF_POWERED),
        hub=_text(folder, "bDeviceClass") == _HUB,
        fixed=_text(folder, "removable") == "fixed",
        fast=_text(folder, "speed") in _SUPER_SPEEDS,
    )


def _text(folder: Path, name: str) -> str:
    try:
        return (folder / name).read_text(encoding="utf-8", errors="replace").strip()
    except OSError:                                    # gone by now, or this device says no such thing
        return ""


def _number(text: str, base: int, otherwise: int) -> int:
    try:
        return int(text, base)
    except ValueError:
        return otherwise


def _order(place: str) -> list[int]:
    return [int(number) for number in re.split(r"[-.]", place)]


def above(place: str) -> Iterator[str]:
    """Yield the places of the hubs that lead to a device, the nearest first: of 1-2.3.4 first 1-2.3, then 1-2."""
    while "." in place:
        place = place.rpartition(".")[0]
        yield place
