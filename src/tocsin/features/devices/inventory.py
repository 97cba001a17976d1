"""Compare the plugged-in devices with the rig: whose each pad is, which port is the strip's, and what is missing.

Pure: it turns the probes' results into what ``tocsin devices`` shows.
"""

from collections.abc import Iterator
from datetime import date

import msgspec

from tocsin.channels.rumble.pads import Binding, bind, describe, listing
from tocsin.features.devices.probed import Port, ProbeResults, Sdl
from tocsin.features.devices.usb_power import StripBoard, UsbPower, usb_power
from tocsin.model.plan import ChannelName
from tocsin.model.rig import Pad, Rig
from tocsin.speech.voices import Voices
from tocsin.translation import tr

STALE_DAYS = 30                        # cables, pads and ports change about that often (common practice, no source)


class Confirmation(msgspec.Struct, frozen=True, kw_only=True):
    """The day, in ISO 8601, on which a person last felt, saw or heard a device; empty for never. ``advice`` says why to
    try it again, or is empty."""

    device: str
    on: str
    advice: str = ""


def confirmations(rig: Rig, today: date) -> tuple[Confirmation, ...]:
    """Return when each device of a rig was last confirmed, in the order in which they are tried."""
    return tuple(Confirmation(device=name, on=on, advice=_advice(on, today)) for name, on in _days(rig))


def pad_title(pads: tuple[Pad, ...], slot: int) -> str:
    """Return the name of a rig's pad: its role, with a number if several pads have that role."""
    role = pads[slot].role
    same = [number for number, pad in enumerate(pads) if pad.role == role]
    return tr("{role}'s pad", role=role) + (f" {same.index(slot) + 1}" if len(same) > 1 else "")


def _days(rig: Rig) -> Iterator[tuple[str, str]]:
    for slot, pad in enumerate(rig.pads):
        yield pad_title(rig.pads, slot), pad.confirmed
    for name, device in (("strip", rig.light), ("screen", rig.screen), ("loudspeaker", rig.sound)):
        if device is not None:
            yield name, device.confirmed


def _advice(on: str, today: date) -> str:
    if not on:
        return tr("never confirmed")
    days = (today - date.fromisoformat(on)).days
    return tr("{days} days ago", days=days) if days > STALE_DAYS else ""


_UNASKED = Voices()


class PadRow(msgspec.Struct, frozen=True, kw_only=True):
    """A plugged-in pad and its roles in the rig; ``ask`` asks people to check, or is empty."""

    number: int
    name: str
    usb: str
    guid: str
    roles: tuple[str, ...] = ()
    ask: str = ""


class PortRow(msgspec.Struct, frozen=True, kw_only=True):
    """A serial port, and whether the rig's strip is there; ``why`` says why it cannot be opened, or is empty."""

    name: str
    usb: str
    about: str
    strip: bool
    why: str


class NamedRow(msgspec.Struct, frozen=True, kw_only=True):
    """A device that an installed package brings, and what the rig uses it for: "strip", or the role of its pad."""

    name: str
    package: str
    version: str
    used: tuple[str, ...] = ()


class DisplayRow(msgspec.Struct, frozen=True, kw_only=True):
    """A display, and whether the rig's window would be there."""

    number: int
    width: int
    height: int
    screen: bool


class Output(msgspec.Struct, frozen=True, kw_only=True):
    """Whether the loudspeaker can be opened, and the system's names of its outputs."""

    opens: bool
    outputs: tuple[str, ...]


class Missing(msgspec.Struct, frozen=True, kw_only=True):
    """A device that is missing or cannot be opened, and the fix; ``channel`` is the channel that needs it, None for
    several."""

    device: str
    fix: str = msgspec.field(name="mend")
    channel: ChannelName | None = None


class Inventory(msgspec.Struct, frozen=True, kw_only=True):
    """The whole comparison. ``sdl`` is by pads, displays, sound; ``packages`` are the installed packages that bring
    pygame; ``confirmed`` is when people last confirmed the rig's devices."""

    rig: str | None
    pads: tuple[PadRow, ...]
    ports: tuple[PortRow, ...]
    displays: tuple[DisplayRow, ...]
    sound: Output
    sdl: dict[str, Sdl]
    power: str
    packages: tuple[str, ...]
    missing: tuple[Missing, ...]
    confirmed: tuple[Confirmation, ...] = ()
    voices: Voices = Voices()
    devices: tuple[NamedRow, ...] = ()         # of packages
    usb_power: UsbPower = UsbPower()


def take_inventory(
    found: ProbeResults, rig: Rig | None, *, power: str, packages: tuple[str, ...], today: date, pygame_why: str = "",
    voices: Voices = _UNASKED,
) -> Inventory:
    """Return the found devices compared with ``rig``; without a rig, compared with the needs of a first match.

    ``power`` is the battery in words; ``pygame_why`` says what is wrong with the installed pygame, or is empty.
    """
    binding = bind(rig.pads if rig else (), found.pads.found, {})
    missing = [Missing(device="pygame", fix=pygame_why)] if pygame_why else []
    missing += [*_missing_pads(found, rig, binding), *_missing_strip(found, rig)]
    missing += [*_missing_display(found, rig), *_missing_sound(found, rig)]
    return Inventory(
        rig=rig.name if rig else None,
        pads=_pads(found, rig, binding),
        ports=_ports(found),
        displays=_displays(found, rig),
        sound=Output(opens=found.sound.opens, outputs=found.sound.outputs),
        sdl={"pads": found.pads.sdl, "displays": found.displays.sdl, "sound": found.sound.sdl},
        power=power,
        packages=packages,
        missing=tuple(missing),
        confirmed=confirmations(rig, today) if rig else (),
        voices=voices,
        devices=_named(found, rig),
        usb_power=usb_power(found.usb, _strip_board(found, rig)),
    )


def _strip_board(found: ProbeResults, rig: Rig | None) -> StripBoard | None:
    """Return the rig's strip if the port that would be its board's is on USB."""
    if rig is None or rig.light is None or not found.ports.strip:
        return None
    usb = next((port.usb for port in found.ports.found if port.name == found.ports.strip), "")
    return StripBoard(rig.light, usb.lower()) if usb else None


def _named(found: ProbeResults, rig: Rig | None) -> tuple[NamedRow, ...]:
    uses: list[tuple[str, str]] = [(pad.device, pad.role) for pad in rig.pads] if rig else []
    uses += [(rig.light.device, "strip")] if rig and rig.light is not None else []
    return tuple(
        NamedRow(
            name=one.name, package=one.package, version=one.version,
            used=tuple(use for name, use in uses if name == one.name),
        )
        for one in found.packages.found
    )


def _pads(found: ProbeResults, rig: Rig | None, binding: Binding) -> tuple[PadRow, ...]:
    rows = []
    for pad in found.pads.found:
        slots = [slot for slot, bound in binding.pads.items() if bound == pad]
        roles = tuple(rig.pads[slot].role for slot in slots) if rig else ()
        ask = next((binding.asks[slot] for slot in slots if slot in binding.asks), "")
        rows.append(PadRow(number=pad.number, name=pad.name, usb=pad.usb, guid=pad.guid, roles=roles, ask=ask))
    return tuple(rows)


def _ports(found: ProbeResults) -> tuple[PortRow, ...]:
    strip, ports = found.ports.strip, found.ports.found
    if strip and strip not in [port.name for port in ports]:
        # A port that the system does not list, such as a link, or a pseudo-terminal on a test bench.
        ports = (*ports, Port(name=strip, why=found.ports.why))
    return tuple(
        PortRow(name=port.name, usb=port.usb, about=port.about, strip=port.name == strip, why=port.why)
        for port in ports
    )


def _displays(found: ProbeResults, rig: Rig | None) -> tuple[DisplayRow, ...]:
    sizes = found.displays.sizes
    shown = rig.screen.display if rig and rig.screen else None
    if shown is not None and shown >= len(sizes):
        shown = 0                                      # as the window does
    return tuple(
        DisplayRow(number=number, width=width, height=height, screen=number == shown)
        for number, (width, height) in enumerate(sizes)
    )


def _missing_pads(found: ProbeResults, rig: Rig | None, binding: Binding) -> Iterator[Missing]:
    if rig is None and found.pads.why:
        yield Missing(device="pads", fix=found.pads.why, channel="rumble")
    for slot, pad in enumerate(rig.pads if rig else ()):
        if slot in binding.pads or (pad.device and not _unusable(found, pad.device)):
            continue
        fix = found.pads.why
        if pad.device:
            fix = _unusable(found, pad.device)
        elif found.pads.found:
            fix = tr("plug it in, or name another in the rig; plugged in are {found}", found=listing(found.pads.found))
        yield Missing(
            device=tr("pad of the {role} ({describe})", role=pad.role, describe=describe(pad)),
            fix=fix,
            channel="rumble",
        )


def _unusable(found: ProbeResults, name: str) -> str:
    """Return why a device of a package cannot be used and what to do, or nothing."""
    return found.packages.unusable.get(name, found.packages.why)


def _missing_strip(found: ProbeResults, rig: Rig | None) -> Iterator[Missing]:
    if rig is not None and rig.light is not None and rig.light.device:
        if fix := _unusable(found, rig.light.device):
            yield Missing(device=tr("strip (device {name})", name=rig.light.device), fix=fix, channel="light")
    elif rig is not None and rig.light is not None and found.ports.why:
        others = ", ".join(f"{port.name} ({port.usb})" for port in found.ports.found if port.usb)
        plugged = tr("; plugged in are {others}", others=others) if others and not found.ports.strip else ""
        yield Missing(device="strip", fix=f"{found.ports.why}{plugged}", channel="light")
    elif rig is None and found.ports.why:
        yield Missing(device=tr("serial ports"), fix=found.ports.why, channel="light")
    elif rig is None and not any(port.usb for port in found.ports.found):
        fix = tr("plug its controller in, with a cable that carries data: some only charge")
        yield Missing(device="strip", fix=fix, channel="light")


def _missing_display(found: ProbeResults, rig: Rig | None) -> Iterator[Missing]:
    if rig is not None and rig.screen is None:
        return
    sizes = found.displays.sizes
    if not sizes:
        fix = tr("{why}. Without one the countdown is in the terminal", why=found.displays.why)
        yield Missing(device="display", fix=fix, channel="screen")
    elif rig is not None and rig.screen is not None and rig.screen.display >= len(sizes):
        fix = tr("plug it in and extend the desktop to it; until then the window is on display 0")
        yield Missing(device=tr("display {display}", display=rig.screen.display), fix=fix, channel="screen")


def _missing_sound(found: ProbeResults, rig: Rig | None) -> Iterator[Missing]:
    if not found.sound.opens and (rig is None or rig.sound is not None):
        yield Missing(device="loudspeaker", fix=found.sound.why, channel="sound")
