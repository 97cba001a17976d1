"""What goes into a rig of what people confirmed: the days, whose pad is whose, where the strip was found. Pure."""

from collections.abc import Sequence
from datetime import date
from typing import Any

import msgspec

from tocsin.config.write.rig_edit import Place, Value
from tocsin.features.devices.plugged_rig import light_at
from tocsin.features.devices.probed import Ports
from tocsin.features.devices.tryout.result import Tried, TryoutResult
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


def confirmed_rig(rig: Rig, ports: Ports, result: TryoutResult, today: str) -> Rig:
    """Return a rig that was made of what is plugged in, with what trying it told; ``today`` as ISO 8601 writes it."""
    tried = result.tried
    days = {one.channel: today for one in tried if one.verdict == "confirmed" and one.number is None}
    found = {channel: _on(getattr(rig, channel), days.get(channel, "")) for channel in _TABLES}
    port = next((one.port for one in tried if one.port and one.verdict == "confirmed"), "")
    if port:
        found["light"] = msgspec.structs.replace(light_at(port, ports), confirmed=today)
    return msgspec.structs.replace(rig, pads=_pads(rig.pads, result, today), **found)


def _on(device: Any, day: str) -> Any:
    return msgspec.structs.replace(device, confirmed=day) if device is not None and day else device


def _pads(pads: Sequence[Pad], result: TryoutResult, today: str) -> tuple[Pad, ...]:
    """Return the pads with the roles of those who hold them, the driver's first."""
    held = result.held
    confirmed = {one.number for one in result.tried if one.verdict == "confirmed"}
    free: list[Role] = [role for role in ROLES if role not in held.values()]
    found: list[Pad] = []
    for slot, pad in enumerate(pads):
        role = held.get(slot) or (pad.role if pad.role in free else free[0])
        if role in free:
            free.remove(role)
        found.append(msgspec.structs.replace(pad, role=role, confirmed=today if slot in confirmed else pad.confirmed))
    return tuple(sorted(found, key=lambda pad: ROLES.index(pad.role)))
