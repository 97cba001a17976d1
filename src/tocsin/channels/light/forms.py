"""Compute the strip's forms: from a pattern and a time to the colour of each LED. Pure."""

import math
from collections.abc import Callable
from typing import get_args

from tocsin.model.pattern import STANDING, LightForm, LightPattern, Rgb
from tocsin.model.safety import BLACK

Form = Callable[[LightPattern, int, int, float], list[Rgb]]
MOVING: frozenset[LightForm] = frozenset(get_args(LightForm)) - STANDING


def colours_at(pattern: LightPattern, leds: int, elapsed_ns: int, left: float) -> list[Rgb]:
    """Return a colour for each LED ``elapsed_ns`` after the begin; ``left`` (1 to 0) is the remaining share of the
    interval."""
    shown = _FORMS[pattern.form](pattern, leds, elapsed_ns % pattern.cycle_ns, left)
    return [_scaled(colour, pattern.level) for colour in shown]


def jumps_ns(pattern: LightPattern, leds: int) -> list[int]:
    """Return the times of a form's sudden colour changes in its cycle, in nanoseconds from its begin; a shuttle's at
    most 2 ns late. A fading form gives its brightest and darkest times, a form that shows the remaining time none."""
    cycle_ns = pattern.cycle_ns
    match pattern.form:
        case "on_off" | "swell":
            return [0, -(-cycle_ns // 2)]
        case "queue":
            steps = 2 * _width(pattern, leds)
            return [-(-step * cycle_ns // steps) for step in range(steps)]
        case "shuttle":
            places = leds - _width(pattern, leds)
            there = [(2 * place + 1) * cycle_ns // (4 * places) + 1 for place in range(places)]
            return sorted({*there, *(cycle_ns - at_ns + 2 for at_ns in there)})
    return []


def _scaled(colour: Rgb, level: float) -> Rgb:
    return (round(colour[0] * level), round(colour[1] * level), round(colour[2] * level))


def _width(pattern: LightPattern, leds: int) -> int:
    return max(1, round(pattern.width * leds))


def _second(pattern: LightPattern) -> Rgb:
    return pattern.colours[1] if len(pattern.colours) > 1 else BLACK


def _plain(pattern: LightPattern, leds: int, phase_ns: int, left: float) -> list[Rgb]:
    return [pattern.colours[0]] * leds


def _swell(pattern: LightPattern, leds: int, phase_ns: int, left: float) -> list[Rgb]:
    # It begins bright, so that its begin is seen, and never goes out in between.
    swell = 0.6 + 0.4 * math.cos(2 * math.pi * phase_ns / pattern.cycle_ns)
    return [_scaled(pattern.colours[0], swell)] * leds


def _on_off(pattern: LightPattern, leds: int, phase_ns: int, left: float) -> list[Rgb]:
    return [pattern.colours[0] if 2 * phase_ns < pattern.cycle_ns else _second(pattern)] * leds


def _shuttle(pattern: LightPattern, leds: int, phase_ns: int, left: float) -> list[Rgb]:
    width = _width(pattern, leds)
    there_and_back = 1 - abs(1 - 2 * phase_ns / pattern.cycle_ns)
    begin = round(there_and_back * (leds - width))
    return [pattern.colours[0] if begin <= led < begin + width else _second(pattern) for led in range(leds)]


def _queue(pattern: LightPattern, leds: int, phase_ns: int, left: float) -> list[Rgb]:
    width = _width(pattern, leds)
    offset = phase_ns * 2 * width // pattern.cycle_ns
    return [pattern.colours[0] if (led - offset) % (2 * width) < width else _second(pattern) for led in range(leds)]


def _ebb(pattern: LightPattern, leds: int, phase_ns: int, left: float) -> list[Rgb]:
    """Lit around the middle and shrinking from both ends: what is left is what is lit."""
    lit = math.ceil(min(max(left, 0.0), 1.0) * leds)
    begin = (leds - lit) // 2
    return [pattern.colours[0] if begin <= led < begin + lit else _second(pattern) for led in range(leds)]


def _bands(pattern: LightPattern, leds: int, phase_ns: int, left: float) -> list[Rgb]:
    width = _width(pattern, leds)
    return [pattern.colours[0] if led // width % 2 == 0 else _second(pattern) for led in range(leds)]


def _apart(pattern: LightPattern, leds: int, phase_ns: int, left: float) -> list[Rgb]:
    """The first colour at both ends, the second between them: however wide the ends are, a middle stays."""
    width = min(_width(pattern, leds), max(1, (leds - 1) // 2))
    return [_second(pattern) if width <= led < leds - width else pattern.colours[0] for led in range(leds)]


_FORMS: dict[LightForm, Form] = {
    "plain": _plain, "swell": _swell, "on_off": _on_off, "shuttle": _shuttle, "queue": _queue, "ebb": _ebb,
    "bands": _bands, "apart": _apart,
}  # fmt: skip
