"""Compute means over evenings, with Student's t: an evening counts once, since its rounds are alike. Pure.

From ``FEWEST_TO_DRAW`` evenings on whole evenings can be drawn anew instead, which supposes no normal distribution;
with fewer such limits are far too narrow.
"""

import math
import statistics
from collections.abc import Hashable, Sequence
from typing import NamedTuple

import numpy as np

from tocsin.analysis.shares import CONFIDENCE

FEWEST_TO_DRAW = 8
_DRAWS = 2000


class Mean(NamedTuple):
    """The mean of ``n`` evenings in their unit, and its 95 % limits, infinite for a single one; ``t`` is how many
    standard errors it lies from 0."""

    n: int
    value: float
    low: float
    high: float
    t: float


def mean_of(values: Sequence[float]) -> Mean:
    """Return the mean of values, one an evening, with the limits of Student's t. Raises ValueError for none."""
    # Loaded here: it takes a while, and a match has no use for it.
    from scipy.special import stdtrit

    if not values:
        raise ValueError("no evening has no mean")
    n, value = len(values), statistics.fmean(values)
    if n == 1:
        return Mean(1, value, -math.inf, math.inf, 0.0)
    error = statistics.stdev(values) / math.sqrt(n)
    off = float(stdtrit(n - 1, (1 + CONFIDENCE) / 2)) * error
    return Mean(n, value, value - off, value + off, value / error if error else math.copysign(math.inf, value))


def round_mean(values: Sequence[float], evenings: Sequence[Hashable], *, seed: int) -> Mean:
    """Return the mean of values, one a round, with limits by evenings: drawn anew from eight evenings on, by the t of
    evenings below. Raises ValueError for none, or evenings of another number."""
    if len(values) != len(evenings):
        raise ValueError("each value has its evening")
    groups: dict[Hashable, list[float]] = {}
    for value, evening in zip(values, evenings, strict=True):
        groups.setdefault(evening, []).append(value)
    if len(groups) < FEWEST_TO_DRAW:
        by_evening = mean_of([statistics.fmean(group) for group in groups.values()])
        apart = statistics.fmean(values) - by_evening.value
        return by_evening._replace(
            value=by_evening.value + apart, low=by_evening.low + apart, high=by_evening.high + apart
        )
    sums = np.array([math.fsum(group) for group in groups.values()])
    sizes = np.array([len(group) for group in groups.values()])
    drawn = np.random.default_rng(seed).integers(len(groups), size=(_DRAWS, len(groups)))
    means = sums[drawn].sum(axis=1) / sizes[drawn].sum(axis=1)
    low, high = np.quantile(means, ((1 - CONFIDENCE) / 2, (1 + CONFIDENCE) / 2)).tolist()
    value, error = statistics.fmean(values), float(np.std(means))
    return Mean(len(groups), value, low, high, value / error if error else math.copysign(math.inf, value))
