"""Convert sound patterns for robots and small chips: steps of one pitch, or of one that glides."""

from collections.abc import Iterator
from typing import NamedTuple

import msgspec

from tocsin.model.pattern import SoundPattern
from tocsin.units import NS_PER_MS


class ToneStep(NamedTuple):
    """A tone from ``hz`` to ``to_hz`` (0: silence), its loudness in percent, up to ``end_ms`` after the begin."""

    hz: int
    to_hz: int
    percent: int
    end_ms: int


class Tune(msgspec.Struct, frozen=True, kw_only=True):
    """A sound pattern: all its repeats in a row. Soft edges are left out: a buzzer has none."""

    name: str
    steps: tuple[ToneStep, ...]


def tune(name: str, pattern: SoundPattern, lasts_ns: int) -> Tune:
    """Return a pattern cut after ``lasts_ns``."""
    return Tune(name=name, steps=tuple(_unrolled(pattern, lasts_ns)) or (ToneStep(0, 0, 0, 1),))


def _unrolled(pattern: SoundPattern, lasts_ns: int) -> Iterator[ToneStep]:
    at_ns = end_ms = 0
    for step in pattern.steps * pattern.times:
        at_ns += step.lasts_ns
        begin_ms, end_ms = end_ms, min(at_ns, lasts_ns) // NS_PER_MS
        if end_ms > begin_ms:
            sounds = step.hz > 0 and step.level > 0
            hz = round(step.hz) if sounds else 0
            to_hz = round(step.to_hz or step.hz) if sounds else 0
            yield ToneStep(hz, to_hz, max(round(step.level * 100), 1) if sounds else 0, end_ms)
