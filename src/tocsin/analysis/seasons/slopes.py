"""Compute slopes: of evening medians over a season, and of rounds within evenings. Pure.

Over a season it is the median of the slopes between all pairs of evenings, with the limits of Kendall's test (Theil
1950; P. K. Sen, Journal of the American Statistical Association 63:1379, 1968): one odd evening moves it little. Within
evenings it is one slope an evening, by least squares, and their mean with the t of evenings: so what differs between
evenings, of whatever cause, cannot pass for fatigue.
"""

import math
import statistics
from collections.abc import Hashable, Sequence
from typing import NamedTuple

from tocsin.analysis.seasons.evening_means import Mean, mean_of
from tocsin.analysis.shares import CONFIDENCE

FEWEST_IN_EVENING = 8                  # rounds of an evening that may tell a slope
FEWEST_EVENINGS = 6                    # that have limits over a season; 6 % a doubling show after some 20 (simulated)


class Slope(NamedTuple):
    """A slope in the unit of the values over that of the places, and its 95 % limits."""

    value: float
    low: float
    high: float


def season_slope(places: Sequence[float], values: Sequence[float], *, confidence: float = CONFIDENCE) -> Slope:
    """Return the slope of ``values`` on ``places``, with limits of this ``confidence``. Raises ValueError for places
    that are all the same."""
    # Loaded here since it takes a second: only a review needs it.
    from scipy.stats import theilslopes

    if len(set(places)) < 2:
        raise ValueError("a slope needs two places")
    value, _, low, high = theilslopes(values, places, confidence)
    return Slope(float(value), float(low), float(high))


def percent_a_doubling(slope: Slope) -> Slope:
    """Return by how many percent times become shorter with each doubling, from the slope of their natural logarithm on
    the binary logarithm of the rounds so far."""
    value, high, low = (100 * (1 - math.exp(log)) for log in slope)
    return Slope(value, low, high)


def slope_within_evenings(
    places: Sequence[float], values: Sequence[float], evenings: Sequence[Hashable]
) -> Mean | None:
    """Return the mean slope of ``values`` on ``places`` within evenings, with the limits of Student's t over evenings;
    None without two evenings of eight rounds at different places. Raises ValueError for lists of unequal lengths."""
    groups: dict[Hashable, list[tuple[float, float]]] = {}
    for place, value, evening in zip(places, values, evenings, strict=True):
        groups.setdefault(evening, []).append((place, value))
    slopes = []
    for group in groups.values():
        if len(group) >= FEWEST_IN_EVENING and len({place for place, _ in group}) > 1:
            slopes.append(statistics.linear_regression(*zip(*group, strict=True)).slope)
    return mean_of(slopes) if len(slopes) > 1 else None
