"""Estimate one quantity from several readings: median, its 95 % interval, and spread. Pure.

The estimate is the **median** of all possible readings. It assumes no normal distribution. A long tail or an outlier (a
lapse, a picture counted wrongly) moves it little: one outlier in twenty, all to one side, by a fifteenth of the spread.
So no reading is left out.

The interval lies between order statistics (``order_statistics.py``). It holds in 94.5 to 95.5 % for any distribution,
in more where readings are rounded, from ``FEWEST`` readings on; there it reaches from nearly the least to nearly the
largest. Fewer readings have no interval. An earlier version used Student's t after refusing outliers: it held in 26 to
91 % for few, skewed or rounded readings.

A rounded reading stands for all values within half a step of it. The interval is never shorter than one step, since all
readings may have been rounded the same way.
"""

import itertools
import math
import statistics
from collections.abc import Sequence

import msgspec
import numpy as np

from tocsin.analysis.order_statistics import fewest_for_both_sides, median_limits, spread_evenly
from tocsin.analysis.spread import spread_of
from tocsin.units import NS_PER_MS

FEWEST = fewest_for_both_sides(0.5)


class Estimate(msgspec.Struct, frozen=True, kw_only=True):
    """The result of ``n`` readings, in milliseconds; ``refused`` readings were left out before.

    ``median_ms`` is the estimate; ``low_ms`` and ``high_ms`` are its 95 % limits, and ``error_ms`` (the ±) is the
    larger distance to one of them: all None with fewer than six readings. ``spread_ms`` is the spread of a single
    reading (``spread.py``), ``mean_ms`` the plain mean.
    """

    mean_ms: float
    median_ms: float
    low_ms: float | None = None
    high_ms: float | None = None
    error_ms: float | None = None
    spread_ms: float
    n: int
    refused: int = 0


def reading_of(
    values_ms: Sequence[float], *, step_ms: float = 0.0, dithered: bool = False, refused: int = 0
) -> Estimate | None:
    """Return the estimate from readings in milliseconds, None for no reading. Raises ValueError for one that is not
    finite.

    ``step_ms`` is the resolution of a reading; without it, equal readings show the step. A reading was rounded to the
    step, or (``dithered``) it is off by up to a whole step either way at random, like the difference of two pictures of
    a film. ``refused`` readings have been left out.
    """
    if not values_ms:
        return None
    if not all(math.isfinite(value) for value in values_ms):
        raise ValueError("a reading is a finite number")
    step_ms = step_ms or step_of(values_ms)
    n = len(values_ms)
    ordered_ms = np.sort(np.asarray(values_ms, dtype=float))
    median_ms = float(np.median(spread_evenly(ordered_ms, 2 * step_ms if dithered else step_ms)))
    low_ms = high_ms = error_ms = None
    limits = median_limits(ordered_ms)
    if limits is not None:
        # Each reading may have been rounded up by half a step, or each down: so the limits hold at a step's edge too.
        # What is off at random has no steps between which the truth could hide.
        hidden_ms = 0.0 if dithered else step_ms / 2
        low_ms, high_ms = limits[0] - hidden_ms, limits[1] + hidden_ms
        low_ms, high_ms = min(low_ms, median_ms - step_ms / 2), max(high_ms, median_ms + step_ms / 2)
        error_ms = max(median_ms - low_ms, high_ms - median_ms)
    return Estimate(
        mean_ms=statistics.fmean(values_ms), median_ms=median_ms, low_ms=low_ms, high_ms=high_ms, error_ms=error_ms,
        spread_ms=spread_of(values_ms, step_ms=step_ms).ms, n=n, refused=refused,
    )  # fmt: skip


def step_of(values_ms: Sequence[float]) -> float:
    """Return the step of readings in milliseconds if some are equal, else 0: a fine clock hardly repeats a reading.

    The step is the least difference of two unequal readings; for whole milliseconds at most the value of their last
    non-zero digit (250 has a step of tens).
    """
    different_ns = sorted({round(value * NS_PER_MS) for value in values_ms})
    if len(different_ns) == len(values_ms):
        return 0.0
    gaps_ns = [later - earlier for earlier, later in itertools.pairwise(different_ns)]
    digit_ns = 1 if any(different_ns) else NS_PER_MS
    while all(value % (10 * digit_ns) == 0 for value in different_ns) and any(different_ns):
        digit_ns *= 10
    if not gaps_ns or digit_ns >= NS_PER_MS:
        gaps_ns.append(digit_ns)
    return min(gaps_ns) / NS_PER_MS
