"""What goes into a rig of what people confirmed: the days, whose pad is whose, where the strip was found. Pure."""

from collections.abc import Sequence
from datetime import date
from typing import Any

import msgspec

from tocsin.app.plugged_rig import light_at
from tocsin.app.probed import Ports
from tocsin.app.tryout_result import Tried
from tocsin.config.rig_edit import Place, Value
from tocsin.model.plan import ROLES, ChannelName, Role
from tocsin.model.rig import Pad, Rig

_TABLES: tuple[ChannelName, ...] = ("light", "screen", "sound")


def places_of(tried: Sequence[Tried], today: date) -> dict[Place, Value]:
    """Return the values for a rig's file: today for each device that was confirmed."""
    places: dict[Place, Value] = {}
    for one in tried:
        if one.verdict == "confirmed":
            place: Place = (one.channel, "confirmed") if one.number is None else ("pad", one.number, "confirmed")
            places[place] = today
    return places


def confirmed_rig(rig: Rig, ports: Ports, tried: Sequence[Tried], today: str) -> Rig:
    """Return a rig that was made of what is plugged in, with what trying it told."""
    days = {one.channel: today for one in tried if one.verdict == "confirmed" and one.number is None}
    found = {channel: _on(getattr(rig, channel), days.get(channel, "")) for channel in _TABLES}
    port = next((one.port for one in tried if one.port and one.verdict == "confirmed"), "")
    if port:
        found["light"] = msgspec.structs.replace(light_at(port, ports), confirmed=today)
    return msgspec.structs.replace(rig, pads=_pads(rig.pads, tried, today), **found)


def _on(device: Any, day: str) -> Any:
    return msgspec.structs.replace(device, confirmed=day) if device is not None and day else device


def _pads(pads: Sequence[Pad], tried: Sequence[Tried], today: str) -> tuple[Pad, ...]:
    """Return the pads with the roles of those who hold them, the driver's first."""
    by_slot = {one.number: one for one in tried if one.number is not None}
    held = {slot: one.role for slot, one in by_slot.items() if one.held and one.role}
    free: list[Role] = [role for role in ROLES if role not in held.values()]
    found: list[Pad] = []
    for slot, pad in enumerate(pads):
        role = held.get(slot) or (pad.role if pad.role in free else free[0])
        if role in free:
            free.remove(role)
        confirmed = slot in by_slot and by_slot[slot].verdict == "confirmed"
        found.append(msgspec.structs.replace(pad, role=role, confirmed=today if confirmed else pad.confirmed))
    return tuple(sorted(found, key=lambda pad: ROLES.index(pad.role)))
