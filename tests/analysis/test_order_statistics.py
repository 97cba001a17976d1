"""Limits between ordered values, and bounds by the largest of them."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats

from tocsin.analysis.order_statistics import fewest_for_bound, low_place, median_limits


@pytest.mark.parametrize(
    ("share", "confidence", "n"),
    [
        (0.9, 0.9, 22), (0.9, 0.95, 29), (0.9, 0.99, 44), (0.95, 0.9, 45), (0.95, 0.95, 59), (0.95, 0.99, 90),
        (0.99, 0.9, 230), (0.99, 0.95, 299), (0.99, 0.99, 459),
    ],
)  # fmt: skip
def test_so_many_give_a_tolerance_bound(share, confidence, n):
    """One-sided distribution-free tolerance limits as tables print them (Wilks 1941; the 59 of 95/95 is used in nuclear
    safety; all from memory). The share of all that lies below the largest of n has the beta distribution of n and 1:
    that is scipy's word on it."""
    assert fewest_for_bound(share, confidence) == n
    assert stats.beta(n, 1).sf(share) >= confidence > stats.beta(n - 1, 1).sf(share)


@given(st.floats(0.01, 0.995), st.floats(0.01, 0.995))
def test_it_is_the_least_such_number(share, confidence):
    n = fewest_for_bound(share, confidence)
    assert share**n <= 1 - confidence + 1e-9
    assert n == 1 or share ** (n - 1) > 1 - confidence - 1e-9


@pytest.mark.parametrize(("share", "confidence", "n"), [(0.1, 0.9, 1), (0.5, 0.75, 2), (0.5, 0.5, 1)])
def test_a_bound_that_is_just_met_is_met(share, confidence, n):
    assert fewest_for_bound(share, confidence) == n


@pytest.mark.parametrize(("share", "confidence"), [(0, 0.9), (1, 0.9), (0.9, 0), (0.9, 1), (-1, 0.5), (0.5, 2)])
def test_what_is_no_share_is_refused(share, confidence):
    with pytest.raises(ValueError, match="between 0 and 1"):
        fewest_for_bound(share, confidence)


@given(st.integers(1, 200), st.floats(0.05, 0.95))
def test_a_place_lies_between_the_places_that_the_binomial_allows(n, share):
    place = low_place(n, share, 0.025)
    if place is None:
        assert stats.binom.cdf(0, n, share) > 0.025
    else:
        assert stats.binom.cdf(int(place) - 1, n, share) <= 0.025 + 1e-12
        assert int(place) == n or stats.binom.cdf(int(place), n, share) > 0.025 - 1e-12


def test_a_limit_beside_values_that_are_not_known_is_not_known_either():
    """Of 14 values the limits lie at rank 3.95 from either end: the upper one beside six infinite values is infinite,
    beside two it is a number."""
    values = [float(value) for value in range(1, 15)]
    low, high = median_limits(np.array([*values[:8], *[np.inf] * 6]))
    assert (math.isfinite(low), high) == (True, np.inf)
    assert median_limits(np.array([*values[:12], *[np.inf] * 2])) == median_limits(np.array(values))
    assert median_limits(-np.array([*values[:8], *[np.inf] * 6])[::-1]) == (-np.inf, -low)
