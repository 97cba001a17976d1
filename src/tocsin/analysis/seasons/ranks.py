"""Compute the median of times, and a bound of nine in ten, with limits that suppose no distribution. Pure.

A time lies within (``low``, ``high``], both equal where it was noted, ``high`` infinite where it was only longer. Lower
limits are taken from the lower bounds and upper limits from the upper ones: they hold whatever lies between, and
whyever some times were lost. They are wide if many are bounded: then ``survival.py`` says more, and supposes more.

Of one evening the limits are those between ordered values (``order_statistics.py``). Rounds of an evening are alike:
for a season, a value is below the median's limit if the share of times at most so long, by ``season_share.py``, lies
surely below a half.
"""

import math
from collections.abc import Callable, Hashable, Sequence
from typing import Any, NamedTuple

import numpy as np

from tocsin.analysis.order_statistics import (
    Values,
    bound_place,
    fewest_for_both_sides,
    fewest_for_bound,
    median_limits,
)
from tocsin.analysis.seasons.season_share import season_share
from tocsin.analysis.shares import ShareInterval
from tocsin.analysis.survival import Curve, curve_of

NINE_IN_TEN = 0.9
BOUND_CONFIDENCE = 0.9
FEWEST = fewest_for_both_sides(0.5)                                # 6
FEWEST_FOR_NINE = fewest_for_bound(NINE_IN_TEN, BOUND_CONFIDENCE)  # 22

Groups = np.ndarray[tuple[Any, ...], np.dtype[np.int64]]


class Median(NamedTuple):
    """The median of ``n`` times in their unit, by their lower and their upper bounds (equal where none is bounded), and
    its 95 % limits: None with too few times, infinite where too many have no upper bound."""

    n: int
    at_least: float
    at_most: float
    low: float | None
    high: float | None


class Bound(NamedTuple):
    """What nine in ten of all times do not exceed, with a confidence of 90 %, from ``n`` times in their unit. None
    while ``missing`` more are needed, infinite where too many have no upper bound."""

    n: int
    value: float | None
    missing: int


def median_of(lows: Sequence[float], highs: Sequence[float], evenings: Sequence[Hashable]) -> Median:
    """Return the median of times within (``lows``, ``highs``] that were played on these ``evenings``, with its limits.

    Raises ValueError for no time.
    """
    low, high, groups = _ordered(lows, highs, evenings)
    n, apart = len(low), int(groups.max()) + 1
    at_least, at_most = float(np.median(low)), float(np.sort(high)[[(n - 1) // 2, n // 2]].mean())
    if n < FEWEST:
        return Median(n, at_least, at_most, None, None)
    if apart == 1:
        below, above = median_limits(np.sort(low)), median_limits(np.sort(high))
        assert below is not None
        assert above is not None
        return Median(n, at_least, at_most, below[0], above[1])
    # Upwards, the first value that is not surely below the median; downwards likewise: both may be the median.
    below_at = _first(np.unique(low), lambda value: _share(low, groups, value).high >= 0.5)
    above_at = _first(np.unique(-high), lambda value: _share(-high, groups, value).high >= 0.5)
    return Median(n, at_least, at_most, below_at, -above_at)


def nine_in_ten(highs: Sequence[float]) -> Bound:
    """Return the bound that nine in ten of times like these, with these upper bounds, do not exceed (Wilks 1941; see
    ``order_statistics.py``). It holds in nine of ten cases while evenings differ little: with a correlation of 0.15 in
    88 to 94 % (simulated)."""
    n = len(highs)
    place = bound_place(n, NINE_IN_TEN, BOUND_CONFIDENCE) if n else None
    if place is None:
        return Bound(n, None, FEWEST_FOR_NINE - n)
    return Bound(n, float(sorted(highs)[place - 1]), 0)


def still_on_at(
    lows: Sequence[float], highs: Sequence[float], evenings: Sequence[Hashable], times: Sequence[float]
) -> tuple[ShareInterval, ...]:
    """Return the 95 % intervals of the shares that are still on after ``times``, over evenings.

    A round whose bounds leave it open counts as on by the chance that the curve gives it (``survival.py``), and all
    rounds weigh as much less as are open.
    """
    low, high, groups = _ordered(lows, highs, evenings)
    curve = curve_of(lows, highs)
    return tuple(_still_on(low, high, groups, curve, time) for time in times)


def _still_on(low: Values, high: Values, groups: Groups, curve: Curve, time: float) -> ShareInterval:
    on = curve.on_at(time)
    chances = []
    for at_least, at_most in zip(low.tolist(), high.tolist(), strict=True):
        if at_most <= time or at_least > time or at_least == time < at_most:
            chances.append(float(at_most > time))
        else:
            before, behind = curve.on_at(at_least), 0.0 if math.isinf(at_most) else curve.on_at(at_most)
            chances.append(min(1.0, max(0.0, (on - behind) / (before - behind))) if before > behind else 1.0)
    open_ones = np.mean((low < time) & (time < high))
    weight = max(1 - float(open_ones), 1 / len(low))
    counts = np.bincount(groups, weights=chances) * weight
    rounds = np.bincount(groups) * weight
    found = season_share(list(zip(np.minimum(counts, rounds).tolist(), rounds.tolist(), strict=True)))
    return ShareInterval(found.low, found.high)


def _ordered(
    lows: Sequence[float], highs: Sequence[float], evenings: Sequence[Hashable]
) -> tuple[Values, Values, Groups]:
    if not len(lows) == len(highs) == len(evenings) or not len(lows):
        raise ValueError("each time has two bounds and an evening, and there is one at least")
    numbers = {name: number for number, name in enumerate(dict.fromkeys(evenings))}
    groups: Groups = np.array([numbers[name] for name in evenings], dtype=np.int64)
    return np.asarray(lows, dtype=float), np.asarray(highs, dtype=float), groups


def _share(values: Values, groups: Groups, value: float) -> ShareInterval:
    counts = np.bincount(groups, weights=values <= value)
    found = season_share(list(zip(counts.tolist(), np.bincount(groups).tolist(), strict=True)))
    return ShareInterval(found.low, found.high)


def _first(values: Values, holds: Callable[[float], bool]) -> float:
    """Return the first of rising values from which on something ``holds``; the last one if it never does."""
    first, last = 0, len(values) - 1
    while first < last:
        middle = (first + last) // 2
        if holds(float(values[middle])):
            last = middle
        else:
            first = middle + 1
    return float(values[first])
