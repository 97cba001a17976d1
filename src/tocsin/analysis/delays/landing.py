"""Compute how far apart devices land, by a rig's latencies and by measured ones. Pure.

To land means to be seen, heard or felt. ``device`` is a channel or, for pads, a role. Only the differences between
latencies matter, so all of them may be moved by one amount.
"""

from collections.abc import Iterator, Mapping, Sequence
from typing import Literal, NamedTuple

import msgspec

from tocsin.analysis.delays.estimates import Estimate
from tocsin.translation import tr

Method = Literal["film", "microphone"]

# ITU-R BT.1359-1: sound is noticed to be apart from the picture from 45 ms early to 125 ms late. It speaks of no other
# pair of senses: for those the tighter figure serves as our own yardstick.
EARLY_MS, LATE_MS = 45.0, 125.0


class Delay(msgspec.Struct, frozen=True, kw_only=True):
    """The time from Tocsin's call until a device is seen, heard or felt. ``reference`` marks the one device whose delay
    was known beforehand; all others of the film are measured against it."""

    device: str
    method: Method
    reading: Estimate
    reference: bool = False


class Landing(NamedTuple):
    """How long after its instant a device lands, in milliseconds, by the rig as it is and as it could be."""

    device: str
    now_ms: float
    then_ms: float


def latencies_ms(delays: Sequence[Delay]) -> dict[str, int]:
    """Return the latencies, in whole milliseconds, with which all measured devices land together.

    None is below 0: if a device was faster than the reference allows, all are moved up by ``shift_ms``.
    """
    moved_ms = shift_ms(delays)
    return {delay.device: round(delay.reading.median_ms + moved_ms) for delay in delays}


def shift_ms(delays: Sequence[Delay]) -> float:
    """Return how many milliseconds the latencies lie above the measured delays, so that none is below 0."""
    return max(0.0, -min((delay.reading.median_ms for delay in delays), default=0.0))


def landings(delays: Sequence[Delay], rig_ms: Mapping[str, float]) -> tuple[Landing, ...]:
    """Return where each measured device lands, by the rig's latencies and by the measured ones."""
    measured_ms = latencies_ms(delays)
    return tuple(
        Landing(
            delay.device,
            delay.reading.median_ms - rig_ms[delay.device],
            delay.reading.median_ms - measured_ms[delay.device],
        )
        for delay in delays
    )


def apart_ms(lands_ms: Sequence[float]) -> float:
    """Return the milliseconds between the first landing and the last."""
    return max(lands_ms) - min(lands_ms) if lands_ms else 0.0


def verdict(found: Sequence[Landing]) -> Iterator[str]:
    """Yield sentences: how far apart the devices land now, whether people notice it, and how far after the
    measurement."""
    if len(found) == 1:
        (one,) = found
        way = "after" if one.now_ms >= 0 else "before"
        yield tr(
            "With this rig {device} comes {now:.0f} ms {way} its time.", device=one.device,
            now=abs(one.now_ms), way=way,
        )
        yield tr("Measure the others too, to see what it comes together with.")
        return
    now_ms, then_ms = (apart_ms([getattr(one, when) for one in found]) for when in ("now_ms", "then_ms"))
    first = min(found, key=lambda one: one.now_ms).device
    last = max(found, key=lambda one: one.now_ms).device
    noticed = _noticed({one.device: one.now_ms for one in found})
    yield tr(
        "With this rig they come {now:.0f} ms apart, {first} first, {last} last: {noticed}.", now=now_ms,
        first=first, last=last, noticed=noticed,
    )
    yield tr("With the measured delays they come {then:.0f} ms apart (± as above).", then=then_ms)


def _noticed(lands_ms: Mapping[str, float]) -> str:
    sight = next((lands_ms[name] for name in ("screen", "light") if name in lands_ms), None)
    if sight is not None and "sound" in lands_ms:
        after_ms = lands_ms["sound"] - sight
        if not -EARLY_MS < after_ms < LATE_MS:
            way = "after" if after_ms > 0 else "before"
            return tr(
                "people notice sound {after:.0f} ms {way} light (ITU-R BT.1359: from {limit} ms)", after=abs(after_ms),
                way=way, limit=_limit(after_ms),
            )
    if apart_ms(list(lands_ms.values())) >= EARLY_MS:
        return tr(
            "people may notice that (our limit: {early:.0f} ms, as for sound before its picture)", early=EARLY_MS,
        )
    return tr("hardly anybody notices that")


def _limit(after_ms: float) -> str:
    return f"{LATE_MS if after_ms > 0 else EARLY_MS:.0f}"
