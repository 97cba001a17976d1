"""Convert a rumble pattern for robots: steps in whole milliseconds and percent, or a few short and long pulses."""

from collections.abc import Iterator
from typing import NamedTuple

import msgspec

from tocsin.model.pattern import RumblePattern
from tocsin.units import NS_PER_MS

# For handsets that know no strength, only how long (lengths are our own choice: easily told apart).
SHORT_PULSE_MS = 300
LONG_PULSE_MS = 700
PULSES_APART_MS = 250
MOST_PULSES = 5                        # nobody counts more
_LONG_FROM_MS = (SHORT_PULSE_MS + LONG_PULSE_MS) // 2


class MotorStep(NamedTuple):
    """Both motors in percent, up to ``end_ms`` after the pattern's begin."""

    strong: int
    weak: int
    end_ms: int


class Shaking(msgspec.Struct, frozen=True, kw_only=True):
    """A pattern of the plan: all its repeats in a row, equal neighbours joined. ``pulses`` are milliseconds each."""

    name: str
    steps: tuple[MotorStep, ...]
    pulses: tuple[int, ...]

    @property
    def lasts_ms(self) -> int:
        """The length of the steps in milliseconds."""
        return self.steps[-1].end_ms


def shaking(name: str, pattern: RumblePattern, lasts_ns: int) -> Shaking:
    """Return a pattern cut after ``lasts_ns``, the longest that a firing near the match's end may last."""
    steps = tuple(_joined(_unrolled(pattern, lasts_ns))) or (MotorStep(0, 0, 1),)
    return Shaking(name=name, steps=steps, pulses=tuple(_pulses(steps))[:MOST_PULSES])


def _unrolled(pattern: RumblePattern, lasts_ns: int) -> Iterator[MotorStep]:
    at_ns = end_ms = 0
    for step in pattern.steps * pattern.times:
        at_ns += step.lasts_ns
        begin_ms, end_ms = end_ms, min(at_ns, lasts_ns) // NS_PER_MS
        if end_ms > begin_ms:
            yield MotorStep(_percent(step.strong), _percent(step.weak), end_ms)


def _percent(strength: float) -> int:
    # What turns at all in the plan turns here too.
    return max(round(strength * 100), 1) if strength > 0 else 0


def _joined(steps: Iterator[MotorStep]) -> Iterator[MotorStep]:
    last: MotorStep | None = None
    for step in steps:
        if last is not None and last[:2] != step[:2]:
            yield last
        last = step
    if last is not None:
        yield last


def _pulses(steps: tuple[MotorStep, ...]) -> Iterator[int]:
    """Yield a pulse for each stretch in which a motor turns without a pause."""
    turning_ms = at_ms = 0
    for strong, weak, end_ms in (*steps, MotorStep(0, 0, steps[-1].end_ms)):
        if strong or weak:
            turning_ms += end_ms - at_ms
        elif turning_ms:
            yield LONG_PULSE_MS if turning_ms >= _LONG_FROM_MS else SHORT_PULSE_MS
            turning_ms = 0
        at_ms = end_ms
