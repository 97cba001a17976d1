"""Estimate how far two readings of one quantity usually differ, scaled to a standard deviation. Pure.

The measure is the median of the differences of all pairs (M. I. Shamos, "Geometry and statistics", 1976; as a measure
of spread: Bickel and Lehmann 1979), times ``TO_DEVIATION``: for a normal curve that is its standard deviation. For a
skewed one it is less (for the usual ex-Gaussian answers by about a fifth), since a long tail weighs little. That is
wanted: with one answer in twenty far too late, half of the samples of a dozen contain no such answer at all, so none
can tell the plain standard deviation.

The interval lies between two of the pairs' differences, like that of a median between two values. The share of pairs
that differ by less than the true median is a U statistic (Hoeffding, Annals of Mathematical Statistics 19:293, 1948)
with the mean 1/2 and the variance (4 (n - 2) ``SHARED`` + 1/2) / (n (n - 1)), where ``SHARED`` alone depends on the
distribution: 0.027 for the normal, 0.042 (1/24) for the exponential, up to 0.048 with 5 % of lapses behind an
ex-Gaussian. One value serves for all, chosen for nearly the worst: the interval holds in 93 to 99 %, and is 1.0 to 1.4
times as wide as a percentile bootstrap's; 1.6 times for nine values where lapses occur (tests/rehearsal/
test_coverage.py, tests/benchmarks/coverage.py). References from memory; figures computed.
"""

import math
from collections.abc import Sequence
from typing import NamedTuple

import numpy as np

from tocsin.analysis.order_statistics import Values, fewest_for_both_sides, spread_evenly

FEWEST = fewest_for_both_sides(0.5)
TO_DEVIATION = 1.0483                  # a normal curve's: 1 / (sqrt(2) * 0.67449)
SHARED = 0.045                         # variance of the share of all values that lie nearer to one than the median
_SPREADS = 1.96                        # a normal curve's ± that holds 95 %
_MOST = 400                            # values whose pairs are looked at: so many tell the median to some 0.3 %


class Spread(NamedTuple):
    """A spread in milliseconds, and the interval that holds it in at least 95 of 100 cases: None with fewer than six
    values. A ``low_ms`` of 0 means no lower limit."""

    ms: float
    low_ms: float | None
    high_ms: float | None


def spread_of(values_ms: Sequence[float], *, step_ms: float = 0.0) -> Spread:
    """Return the spread of values in milliseconds; that of a single value is its step. Raises ValueError for none.

    ``step_ms`` is the resolution of the values: a spread below one step has no lower limit, and the upper limit is at
    least one step.
    """
    n = len(values_ms)
    if not n:
        raise ValueError("no value has no spread")
    if n == 1:
        # A single value may be off by half a step either way, and what it is taken from as well.
        return Spread(step_ms / math.sqrt(6), None, None)
    pairs_ms = _differences(np.sort(np.asarray(values_ms, dtype=float)), step_ms)
    ms = TO_DEVIATION * float(np.median(pairs_ms))
    if n < FEWEST:
        return Spread(ms, None, None)
    pairs = n * (n - 1) / 2
    off = _SPREADS * math.sqrt((4 * (n - 2) * SHARED + 0.5) / (n * (n - 1)))
    below = max(1, math.floor(pairs * (0.5 - off) + 0.5))          # the place of the lower limit among the pairs
    share = (below - 0.5) / pairs
    low_ms, high_ms = (TO_DEVIATION * np.quantile(pairs_ms, (share, 1 - share), method="hazen")).tolist()
    return Spread(ms, 0.0 if low_ms < step_ms else low_ms, max(high_ms, step_ms))


def _differences(ordered: Values, step_ms: float) -> Values:
    """Return the differences of all pairs of ``ordered`` (shape (values,), ms) in ms, shape (differences,); each
    difference is spread evenly over the step around it."""
    if len(ordered) > _MOST:
        ordered = np.quantile(ordered, (np.arange(_MOST) + 0.5) / _MOST, method="hazen")
    first, second = np.triu_indices(len(ordered), 1)
    return np.abs(spread_evenly(ordered[second] - ordered[first], step_ms))
