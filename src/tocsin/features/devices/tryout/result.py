"""Hold the result of trying the devices, device by device."""

from collections.abc import Sequence
from datetime import date
from typing import Any

import msgspec

from tocsin.config.write.rig_edit import Place, Value
from tocsin.errors import OVER
from tocsin.features.devices.plugged_rig import light_at
from tocsin.features.devices.probed import Ports
from tocsin.features.devices.tryout.verdict import Verdict
from tocsin.model.plan import ROLES, ChannelName, Role
from tocsin.model.rig import Pad, Rig
from tocsin.translation import tr

VERDICT_WORDS: dict[Verdict, str] = {
    "confirmed": "confirmed",
    "not_confirmed": "not {sense}",
    "swapped": tr("in wrong hands"),
    "absent": tr("not there"),
    "lost": tr("went away"),
    "failed": tr("did not take it"),
    "left_alone": tr("left alone"),
    "left_out": tr("left out"),
}
_SENSES: dict[ChannelName, str] = {"rumble": "felt", "light": "seen", "screen": "seen", "sound": "heard"}


class Tried(msgspec.Struct, frozen=True, kw_only=True):
    """A device and its result. ``why`` says what is wrong, ``fixes`` are likely fixes, the likeliest first; ``number``
    is a pad's place in the rig, from 0, ``role`` its holder; ``port`` is where the strip was looked for."""

    device: str
    channel: ChannelName
    verdict: Verdict
    name: str = ""
    role: Role | None = None
    number: int | None = None
    port: str = ""
    why: str = ""
    fixes: tuple[str, ...] = msgspec.field(default=(), name="mends")

    @property
    def word(self) -> str:
        """The verdict in words."""
        return VERDICT_WORDS[self.verdict].format(sense=_SENSES[self.channel])


class Hub(msgspec.Struct, frozen=True, kw_only=True):
    """The result of two pads at full strength at once: ``why`` says which one dropped out, and the fix."""

    holds: bool
    why: str = ""


class TryoutResult(msgspec.Struct, frozen=True, kw_only=True):
    """The whole result. ``held`` is whose button went down on which pad, by its place in the rig. ``hub`` is None if it
    was not tried, ``written`` the rig file with the new confirmations, with a remark in ``note``; ``left`` is true if
    somebody ended the tryout early."""

    rig: str
    tried: tuple[Tried, ...]
    held: dict[int, Role] = {}
    hub: Hub | None = None
    written: str = ""
    note: str = ""
    left: bool = False
    exit: int = OVER


_TABLES: tuple[ChannelName, ...] = ("light", "screen", "sound")


def places_of(tried: Sequence[Tried], today: date, rig: Rig) -> dict[Place, Value]:
    """Return the values for a rig's file: today for each confirmed device, and by which protocol a strip was seen."""
    places: dict[Place, Value] = {}
    for one in tried:
        if one.verdict == "confirmed":
            place: Place = (one.channel, "confirmed") if one.number is None else ("pad", one.number, "confirmed")
            places[place] = today
            if one.channel == "light" and rig.light is not None and not rig.light.device:
                places["light", "protocol"] = rig.light.protocol
    return places


def confirmed_rig(rig: Rig, ports: Ports, result: TryoutResult, today: str) -> Rig:
    """Return a rig made of the plugged-in devices, with the tryout's results; ``today`` in ISO 8601."""
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
