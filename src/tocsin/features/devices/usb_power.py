"""Add up what plugged-in USB devices may draw, and compare it with what their ports give. Pure."""

from collections.abc import Iterator, Sequence
from typing import NamedTuple

import msgspec

from tocsin.channels.light.protocol import BOARD_MA, most_ma
from tocsin.features.devices.probed import Usb, UsbDevice
from tocsin.features.devices.usb_tree import above
from tocsin.model.rig import BUS_POWERED_PORT_3_MA, BUS_POWERED_PORT_MA, USB_3_PORT_MA, USB_PORT_MA, Light
from tocsin.translation import tr


class Load(msgspec.Struct, frozen=True, kw_only=True):
    """A plugged-in device: what it may draw, as it says itself (``own_supply``: from its port, that is), and for a
    strip's board ``strip_ma`` with the strip, None where that is fed otherwise or is no strip. ``gives_ma`` is what its
    port gives; ``why`` says what is wrong, or is empty."""

    place: str
    usb: str
    name: str
    hub: bool
    own_supply: bool
    asks_ma: int
    strip_ma: int | None = None
    gives_ma: int
    why: str = ""


class PortLoad(msgspec.Struct, frozen=True, kw_only=True):
    """A port of this laptop and all devices behind it; those that live on its current draw ``sum_ma`` of ``gives_ma``.
    ``why`` says what is wrong, or is empty."""

    place: str
    sum_ma: int
    gives_ma: int
    why: str = ""
    devices: tuple[Load, ...] = ()


class UsbPower(msgspec.Struct, frozen=True, kw_only=True):
    """The current at each port of the laptop that something is plugged into. ``why`` says why nothing is known here."""

    why: str = ""
    ports: tuple[PortLoad, ...] = ()


class StripBoard(NamedTuple):
    """A rig's strip, and the USB ids of its board."""

    light: Light
    usb: str


def usb_power(found: Usb, strip: StripBoard | None) -> UsbPower:
    """Return what is drawn at each port of the laptop, with the strip behind the board that has its USB ids.

    A hub with a supply of its own feeds what is plugged into it; one without passes on what its own port gives. Ports
    with nothing but hubs and what is built in are left out.
    """
    by_place = {device.place: device for device in found.found}
    ports: dict[str, list[UsbDevice]] = {}
    for device in found.found:
        root = [device.place, *above(device.place)][-1]
        ports.setdefault(root, []).append(device)
    return UsbPower(why=found.why, ports=tuple(
        _port(by_place, root, devices, strip) for root, devices in ports.items()
        if not all(device.fixed or device.hub for device in devices)
    ))  # fmt: skip


def _port(
    by_place: dict[str, UsbDevice], root: str, devices: Sequence[UsbDevice], strip: StripBoard | None
) -> PortLoad:
    loads = tuple(_load(by_place, device, strip) for device in devices)
    fed = [load for load in loads if not any(_feeds(by_place, place) for place in above(load.place))]
    total_ma = sum(_draws(load) for load in fed)
    gives_ma = _of_laptop(by_place.get(root))
    why = "" if total_ma <= gives_ma else tr(
        "more than a port gives: plug some into other ports, or all into a hub that has its own supply"
    )
    return PortLoad(place=root, sum_ma=total_ma, gives_ma=gives_ma, why=why, devices=loads)


def _load(by_place: dict[str, UsbDevice], device: UsbDevice, strip: StripBoard | None) -> Load:
    hub = by_place.get(next(above(device.place), ""))
    gives_ma = _of_laptop(device)
    if hub is not None and not hub.own_supply:
        gives_ma = BUS_POWERED_PORT_3_MA if hub.fast else BUS_POWERED_PORT_MA
    load = Load(
        place=device.place, usb=device.usb, name=device.name, hub=device.hub, own_supply=device.own_supply,
        asks_ma=device.asks_ma, strip_ma=_with_strip(device, strip), gives_ma=gives_ma,
    )  # fmt: skip
    return msgspec.structs.replace(load, why=" ".join(_wrong(load, hub)))


def _wrong(load: Load, hub: UsbDevice | None) -> Iterator[str]:
    if _draws(load) > load.gives_ma and hub is not None and not hub.own_supply:
        yield tr(
            "a port of a hub without its own supply gives {gives} mA: plug it into the laptop, or give the hub one",
            gives=load.gives_ma,
        )
    elif _draws(load) > load.gives_ma and hub is not None:
        yield tr("a port of this hub gives {gives} mA", gives=load.gives_ma)


def _with_strip(device: UsbDevice, strip: StripBoard | None) -> int | None:
    """Return what a strip's board may draw with the strip behind it; None for other devices, and where it is more than
    any port gives: such a strip has a supply of its own, or `tocsin check` has warned."""
    if strip is None or device.usb != strip.usb:
        return None
    all_in_ma = round(most_ma(strip.light) + BOARD_MA)
    return all_in_ma if all_in_ma <= USB_3_PORT_MA else None


def _draws(load: Load) -> int:
    return max(load.asks_ma, load.strip_ma or 0)


def _feeds(by_place: dict[str, UsbDevice], place: str) -> bool:
    return place in by_place and by_place[place].own_supply


def _of_laptop(device: UsbDevice | None) -> int:
    return USB_3_PORT_MA if device is not None and device.fast else USB_PORT_MA
