"""Bind the rig's pads to the plugged-in pads. Pure, on plain data.

A rig entry names a pad by USB ids, GUID, name, order; all given keys must match. An entry without any takes a pad that
is left over. One entry takes one pad; several entries may have the same role (a pad and a pager).

GUID, 16 bytes as 32 hex digits, all numbers little endian (SDL_joystick.c, "SDL joystick GUID", SDL 2.26 on, from
memory): bus, checksum of the name, vendor, 0, product, 0, version (two bytes each), driver letter, driver data. Without
USB ids the bytes from the fifth on hold the name instead. Checksum and driver bytes differ between systems and SDL
versions for the same pad, so they are left out of comparisons.
"""

from collections.abc import Iterable, Mapping, Sequence

import msgspec

from tocsin.model.plan import Role
from tocsin.model.rig import Pad
from tocsin.translation import tr

_ORDINALS = {1: "first", 2: "second", 3: "third"}


class FoundPad(msgspec.Struct, frozen=True, kw_only=True):
    """A plugged-in pad. ``instance_id`` changes with each plugging; ``number`` counts pads as they appeared, from 1.
    ``device`` is the name of a package's shaker, empty for a pad."""

    instance_id: int
    guid: str
    name: str
    number: int
    device: str = ""

    @property
    def usb(self) -> str:
        """The USB ids as ``1209:0001``, or empty if the GUID holds none."""
        return usb_of(self.guid)

    def same_model(self, other: "FoundPad") -> bool:
        """Return whether the two may be one pad plugged in again, or two equal pads."""
        return (guid_core(self.guid), self.name) == (guid_core(other.guid), other.name)


class Binding(msgspec.Struct, frozen=True, kw_only=True):
    """``pads`` maps the index of a rig entry to its pad. ``asks`` holds, for entries whose pad was one of several equal
    ones, the sentence that asks people to check."""

    pads: dict[int, FoundPad]
    asks: dict[int, str]


def usb_of(guid: str) -> str:
    """Return the USB ids in a GUID as ``vvvv:pppp`` in hex, or an empty text.

    >>> usb_of("03000000091200000100000014010000")
    '1209:0001'
    """
    zeros_where_a_name_has_letters = guid[12:16] == guid[20:24] == "0000"
    if len(guid) != 32 or not zeros_where_a_name_has_letters or guid[8:12] == "0000":
        return ""
    return f"{guid[10:12]}{guid[8:10]}:{guid[18:20]}{guid[16:18]}"


def guid_core(guid: str) -> str:
    """Return a GUID without the checksum of the name and the driver's two bytes."""
    return (guid[:4] + guid[8:28]).lower()


def matches(pad: Pad, found: FoundPad) -> bool:
    """Return whether a plugged-in pad matches the rig entry, without regard to its order."""
    return (
        not pad.device
        and (not pad.usb or pad.usb.lower() == found.usb)
        and (not pad.guid or guid_core(pad.guid) == guid_core(found.guid))
        and (not pad.name or pad.name == found.name)
    )


class Numbers:
    """Numbers pads in the order in which they appear; a pad that comes back gets its old number if that is free."""

    def __init__(self) -> None:
        self._pads: dict[int, FoundPad] = {}
        self._gone: list[FoundPad] = []

    @property
    def pads(self) -> tuple[FoundPad, ...]:
        """The plugged-in pads, by number."""
        return tuple(sorted(self._pads.values(), key=lambda pad: pad.number))

    def add(self, instance_id: int, guid: str, name: str) -> FoundPad:
        """Note a pad that was plugged in, and return it with its number."""
        found = FoundPad(instance_id=instance_id, guid=guid, name=name, number=0)
        taken = {pad.number for pad in self._pads.values()}
        former = sorted(pad.number for pad in self._gone if pad.same_model(found) and pad.number not in taken)
        number = former[0] if former else next(n for n in range(1, len(taken) + 2) if n not in taken)
        self._gone = [pad for pad in self._gone if pad.number != number]
        self._pads[instance_id] = msgspec.structs.replace(found, number=number)
        return self._pads[instance_id]

    def remove(self, instance_id: int) -> None:
        """Note that a pad was unplugged."""
        self._gone.append(self._pads.pop(instance_id))


def bind(wanted: Sequence[Pad], found: Sequence[FoundPad], before: Mapping[int, FoundPad]) -> Binding:
    """Return the pad of each rig entry; ``before`` maps entries to the pads that they had last, plugged in or not.

    A pad that is still there stays; one that comes back goes to the entry that had it. The rest go first to the entry
    with the fewest candidates, then to the one that names its pad most closely, then in the file's order. The order in
    a rig entry (from 1) counts the pads that match its other keys, as they appeared.
    """
    bound = {slot: pad for slot, pad in before.items() if pad in found}
    for slot, old in before.items():
        back = [pad for pad in _free(found, bound) if pad.same_model(old) and matches(wanted[slot], pad)]
        if slot not in bound and back:
            bound[slot] = back[0]
    while choices := [choice for slot in range(len(wanted)) if (choice := _choice(slot, wanted, found, bound))]:
        _, _, slot, pad = min(choices, key=lambda choice: choice[:3])
        bound[slot] = pad
    return Binding(pads=dict(sorted(bound.items())), asks=_asks(wanted, found, bound))


def entry_of(pad: FoundPad, found: Sequence[FoundPad], role: Role) -> Pad:
    """Return the rig entry that names a plugged-in pad for a role: by USB ids, or name, and order among equal pads."""
    entry = Pad(role=role, usb=pad.usb, name="" if pad.usb else pad.name)
    equal = [other for other in found if matches(entry, other)]
    return msgspec.structs.replace(entry, order=equal.index(pad) + 1) if len(equal) > 1 else entry


def describe(pad: Pad) -> str:
    """Return in words which pad a rig entry looks for."""
    if pad.device:
        return tr("device {name}", name=pad.device)
    parts = [f"{key} {value}" for key, value in (("usb", pad.usb), ("guid", pad.guid), ("name", pad.name)) if value]
    if pad.order is not None:
        which = _ORDINALS.get(pad.order, tr("{number}th", number=pad.order))
        parts.append(tr("the {which} one", which=which) if parts else tr("the {which} pad", which=which))
    return ", ".join(parts) or tr("any pad")


def listing(found: Iterable[FoundPad]) -> str:
    """Return the plugged-in pads in words, numbered."""
    return "; ".join(f"{pad.number}: {pad.name} ({pad.usb or 'no USB ids'})" for pad in found)


def _free(found: Sequence[FoundPad], bound: Mapping[int, FoundPad]) -> list[FoundPad]:
    return [pad for pad in found if pad not in bound.values()]


def _choice(
    slot: int, wanted: Sequence[Pad], found: Sequence[FoundPad], bound: Mapping[int, FoundPad]
) -> tuple[int, int, int, FoundPad] | None:
    """Return (how many it can choose from, minus how much it names, slot, its first choice), or None."""
    pad = wanted[slot]
    if slot in bound:
        return None
    fitting = [candidate for candidate in found if matches(pad, candidate)]
    if pad.order is not None:
        fitting = fitting[pad.order - 1 : pad.order]
    free = _free(fitting, bound)
    named = sum(map(bool, (pad.usb, pad.guid, pad.name, pad.order)))
    return (len(free), -named, slot, free[0]) if free else None


def _asks(wanted: Sequence[Pad], found: Sequence[FoundPad], bound: Mapping[int, FoundPad]) -> dict[int, str]:
    asks: dict[int, str] = {}
    for slot, pad in bound.items():
        equal = [other for other in found if other.same_model(pad)]
        slots = [s for s, other in sorted(bound.items()) if other in equal]
        roles = [wanted[s].role for s in slots]
        if len(equal) == len(slots) and len(set(roles)) == 1:
            continue
        asks[slot] = (
            tr(
                "{count} equal pads, in the order they appeared ({roles}): is this order right? The preflight shakes "
                "one after another", count=len(equal), roles=", ".join(roles),
            )
        )
    return asks
