"""Compute limits of percent points between ordered values, for any distribution. Pure.

The r-th smallest of n values exceeds the point below which a share of all values lies with the binomial probability
that fewer than r of the n lie below it: the sign test's interval (W. R. Thompson, Annals of Mathematical Statistics
7:122, 1936). It allows only certain confidences, so the limit is interpolated between two values: Hettmansperger and
Sheather 1986 (Statistics and Probability Letters 4:75) for the median, Nyblom 1992 (the same, 14:301) for any point.
References from memory, checked by simulation in tests/rehearsal.
"""

import itertools
import math
from functools import lru_cache
from typing import Any

import numpy as np

Values = np.ndarray[tuple[Any, ...], np.dtype[np.float64]]

CONFIDENCE = 0.95
_PARTS = 16                            # into which a step is divided


def fewest_for_both_sides(share: float) -> int:
    """Return the fewest values with which the 95 % interval of a percent point has both limits: 6 for the median."""
    outer = max(share, 1 - share)
    return math.ceil(math.log((1 - CONFIDENCE) / 2) / math.log(outer))


def fewest_for_bound(share: float, confidence: float) -> int:
    """Return the fewest values whose largest bounds a ``share`` of all values from above with a ``confidence``.

    The largest of n is below the point with the probability share**n, whatever the distribution: a tolerance bound (S.
    S. Wilks, Annals of Mathematical Statistics 12:91, 1941). Both arguments lie between 0 and 1; else ValueError.

    >>> fewest_for_bound(0.9, 0.9), fewest_for_bound(0.95, 0.95)
    (22, 59)
    """
    if not (0 < share < 1 and 0 < confidence < 1):
        raise ValueError("a share and a confidence lie between 0 and 1")
    hair = 1e-12                           # what a power is off by at most, so that 0.1 is found in one and not in two
    return next(n for n in itertools.count(1) if share**n <= (1 - confidence) * (1 + hair))


def bound_place(n: int, share: float, confidence: float) -> int | None:
    """Return the rank, from 1, of the smallest of n ordered values that bounds a ``share`` of all from above with a
    ``confidence``; None below ``fewest_for_bound``. With few values it is the largest, with many a lower one."""
    # Loaded here: it takes a while, and a match has no use for it.
    from scipy.special import bdtr

    exceeds = bdtr(np.arange(n, dtype=float), n, share)            # of the 1st, 2nd, ... n-th smallest
    place = int(np.searchsorted(exceeds, confidence)) + 1
    return place if place <= n else None


@lru_cache(maxsize=100)
def low_place(n: int, share: float, error: float) -> float | None:
    """Return the rank, from 1 and with a fraction, of a percent point's lower limit among n ordered values; None if n
    is too small for this error. The upper limit is the lower one of the values in reverse order."""
    # Loaded here: it takes a while, and a match has no use for it.
    from scipy.special import bdtr

    exceeds = bdtr(np.arange(n, dtype=float), n, share)            # of the 1st, 2nd, ... n-th smallest
    r = int(np.searchsorted(exceeds, error, side="right"))         # so many may be the limit; the r-th is the last
    if r == 0:
        return None
    if r == n or exceeds[r - 1] == error:
        return float(r)
    inner, outer = float(exceeds[r - 1]), float(exceeds[r])
    return r + 1 / (1 + r * (1 - share) * (outer - error) / ((n - r) * share * (error - inner)))


def at_place(ordered: Values, place: float) -> float:
    """Return the value at a rank, from 1, of ``ordered`` (shape (values,), rising), in their unit; linear between
    two."""
    below = int(place)
    value = float(ordered[below - 1])
    # So written, two equal values give just that value, to the last bit; beside one that is infinite it stays so.
    if place == below or math.isinf(value):
        return value
    return value + float(ordered[below] - ordered[below - 1]) * (place - below)


def median_limits(ordered: Values) -> tuple[float, float] | None:
    """Return the 95 % limits of the median behind ``ordered`` (shape (values,), rising), in their unit; None for fewer
    than six."""
    place = low_place(len(ordered), 0.5, (1 - CONFIDENCE) / 2)
    return None if place is None else (at_place(ordered, place), -at_place(-ordered[::-1], place))


def spread_evenly(values: Values, step: float) -> Values:
    """Return ``values`` (any shape) as shape (values * 16,), in their unit: each spread evenly over half a ``step``
    around it.

    It is the usual reading of grouped data (as in ``statistics.median_grouped``), and keeps a median between the steps.
    """
    if not step:
        return values
    within = (np.arange(_PARTS) + 0.5) / _PARTS - 0.5
    return np.add.outer(values, step * within).ravel()
