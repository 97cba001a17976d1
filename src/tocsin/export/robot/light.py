"""Convert light patterns for robots and small chips, and compute what their code shows: whole numbers only.

The forms are those of the strip's own channel (``channels.light.forms``), to a step of 1 in 255 where a colour fades,
and to one LED where a width lies just between two whole numbers.
"""

import math
from typing import get_args

import msgspec

from tocsin.model.pattern import LightForm, LightPattern, Rgb
from tocsin.model.safety import BLACK
from tocsin.units import NS_PER_MS

FORMS: tuple[LightForm, ...] = ("plain", "swell", "on_off", "shuttle", "queue", "ebb", "bands", "apart")
if set(FORMS) != set(get_args(LightForm)):
    raise AssertionError("each form has a number in robot code")
FULL_WIDTH = 10_000                    # of a strip
SWELL_FULL = 16_384
SWELL_PLACES = 32                      # of half a cycle
MOST_LEDS = 2000                       # as in a rig: products of them fit into 32 bits
_LONGEST_MS = 1_000_000                # of what is counted in LEDs
# 0.6 + 0.4 cos over half a cycle; the last entry stands twice, so that what lies between two can always be read.
SWELL = tuple(
    round(SWELL_FULL * (0.6 + 0.4 * math.cos(math.pi * min(place, SWELL_PLACES) / SWELL_PLACES)))
    for place in range(SWELL_PLACES + 2)
)


class Look(msgspec.Struct, frozen=True, kw_only=True):
    """A light pattern with its ``level`` in its colours, cut where a firing near the match's end has to end.

    ``form`` is a place in FORMS, ``width`` is in ten-thousandths of the strip.
    """

    name: str
    form: int
    first: Rgb
    second: Rgb
    cycle_ms: int
    width: int
    lasts_ms: int


def look(name: str, pattern: LightPattern, lasts_ns: int) -> Look:
    """Return a pattern cut after ``lasts_ns``."""
    first, second = (*pattern.colours, BLACK)[:2]
    return Look(
        name=name,
        form=FORMS.index(pattern.form),
        first=_scaled(first, pattern.level),
        second=_scaled(second, pattern.level),
        cycle_ms=max(1, round(pattern.cycle_ns / NS_PER_MS)),
        width=round(pattern.width * FULL_WIDTH),
        lasts_ms=max(1, lasts_ns // NS_PER_MS),
    )


def colours(shown: Look, leds: int, ago_ms: int, left_ms: int, whole_ms: int) -> list[Rgb]:
    """Return what robot code shows on each LED ``ago_ms`` after a look's begin, with ``left_ms`` of ``whole_ms`` left.

    The same steps as in the templates.
    """
    phase_ms = ago_ms % shown.cycle_ms
    width = max(1, rounded(shown.width * leds, FULL_WIDTH))
    on, off = shown.first, shown.second
    match FORMS[shown.form]:
        case "plain":
            return [on] * leds
        case "swell":
            return [_times(on, swell(phase_ms, shown.cycle_ms))] * leds
        case "on_off":
            return [on if 2 * phase_ms < shown.cycle_ms else off] * leds
        case "shuttle":
            there_and_back_ms = min(2 * phase_ms, 2 * (shown.cycle_ms - phase_ms))
            return _block(rounded(there_and_back_ms * (leds - width), shown.cycle_ms), width, leds, on, off)
        case "queue":
            moved = phase_ms * 2 * width // shown.cycle_ms
            return [on if (led - moved) % (2 * width) < width else off for led in range(leds)]
        case "ebb":
            lit = _lit(leds, left_ms, whole_ms)
            return _block((leds - lit) // 2, lit, leds, on, off)
        case "bands":
            return [on if led % (2 * width) < width else off for led in range(leds)]
    width = min(width, max(1, (leds - 1) // 2))
    return _block(width, leds - 2 * width, leds, off, on)


def rounded(a: int, b: int) -> int:
    """Return ``a / b``, both from 0 on, rounded to the nearest whole number, halves to the even one.

    >>> [rounded(a, 2) for a in (1, 3, 5, 6)]
    [0, 2, 2, 3]
    """
    whole, rest = divmod(a, b)
    return whole + 1 if 2 * rest > b or (2 * rest == b and whole % 2) else whole


def swell(phase_ms: int, cycle_ms: int) -> int:
    """Return how bright a swell is, of SWELL_FULL."""
    half_ms = phase_ms if 2 * phase_ms <= cycle_ms else cycle_ms - phase_ms
    place, part = divmod(half_ms * 2 * SWELL_PLACES * 64 // cycle_ms, 64)
    low, high = SWELL[place : place + 2]
    return low - (low - high) * part // 64


def _lit(leds: int, left_ms: int, whole_ms: int) -> int:
    while whole_ms > _LONGEST_MS:
        whole_ms //= 2
        left_ms //= 2
    return -(-min(left_ms, whole_ms) * leds // whole_ms)


def _block(begin: int, width: int, leds: int, inside: Rgb, outside: Rgb) -> list[Rgb]:
    return [inside if begin <= led < begin + width else outside for led in range(leds)]


def _scaled(colour: Rgb, level: float) -> Rgb:
    return (round(colour[0] * level), round(colour[1] * level), round(colour[2] * level))


def _times(colour: Rgb, share: int) -> Rgb:
    red, green, blue = ((value * share + SWELL_FULL // 2) // SWELL_FULL for value in colour)
    return red, green, blue
