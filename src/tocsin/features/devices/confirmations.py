"""When a person last confirmed each device of a rig, and which should be tried again. Pure."""

from collections.abc import Iterator
from datetime import date

import msgspec

from tocsin.model.rig import Pad, Rig

STALE_DAYS = 30                        # cables, pads and ports change about that often (common practice, no source)


class Confirmation(msgspec.Struct, frozen=True, kw_only=True):
    """The day, as ISO 8601 writes it, on which a person last felt, saw or heard a device; empty for never.
    ``advice`` says why to try it again, or is empty."""

    device: str
    on: str
    advice: str = ""


def confirmations(rig: Rig, today: date) -> tuple[Confirmation, ...]:
    """Return for each device of a rig, in the order in which they are tried, when it was last confirmed."""
    return tuple(Confirmation(device=name, on=on, advice=_advice(on, today)) for name, on in _days(rig))


def pad_title(pads: tuple[Pad, ...], slot: int) -> str:
    """Return what a pad of a rig is called: by its role, with a number where several have that role."""
    role = pads[slot].role
    same = [number for number, pad in enumerate(pads) if pad.role == role]
    return f"{role}'s pad" + (f" {same.index(slot) + 1}" if len(same) > 1 else "")


def _days(rig: Rig) -> Iterator[tuple[str, str]]:
    for slot, pad in enumerate(rig.pads):
        yield pad_title(rig.pads, slot), pad.confirmed
    for name, device in (("strip", rig.light), ("screen", rig.screen), ("loudspeaker", rig.sound)):
        if device is not None:
            yield name, device.confirmed


def _advice(on: str, today: date) -> str:
    if not on:
        return "never confirmed"
    days = (today - date.fromisoformat(on)).days
    return f"{days} days ago" if days > STALE_DAYS else ""
