"""How far readings lie apart."""

import itertools
import math
import statistics

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats

from tocsin.analysis.spread import FEWEST, SHARED, TO_DEVIATION, spread_of

values = st.lists(st.floats(-500, 500), min_size=2, max_size=40)


@given(values)
def test_it_is_the_median_of_the_differences_of_all_pairs(readings):
    pairs = [abs(one - other) for one, other in itertools.combinations(readings, 2)]
    assert spread_of(readings).ms == pytest.approx(TO_DEVIATION * statistics.median(pairs), abs=1e-9)


def test_of_a_normal_curve_it_is_the_standard_deviation():
    """The difference of two has sqrt(2) times the deviation, and half of a normal curve lies within 0.6745 of it."""
    assert pytest.approx(1 / (math.sqrt(2) * stats.norm.ppf(0.75)), abs=1e-4) == TO_DEVIATION


def share_near(dist):
    """Return the variance, over x, of the share of all that lie nearer to x than half of all pairs do."""
    edges = np.linspace(dist.ppf(1e-9), dist.ppf(1 - 1e-9), 4001)
    middles, weights = (edges[1:] + edges[:-1]) / 2, np.diff(dist.cdf(edges))

    def moment(power, away):
        return float(weights @ (dist.cdf(middles + away) - dist.cdf(middles - away)) ** power)

    low, high = 0.0, 10 * float(dist.std())
    for _ in range(40):
        middle = (low + high) / 2
        low, high = (middle, high) if moment(1, middle) < 0.5 else (low, middle)
    return moment(2, low) - 0.25


@pytest.mark.parametrize(
    ("dist", "shared"),
    [
        (stats.norm(), 0.0265),
        (stats.expon(), 1 / 24),                                   # by hand: 7/24 - 1/4
        (stats.exponnorm(3.0), 0.0377),                            # an ex-Gaussian whose tail is three deviations long
        (stats.uniform(), 0.0094),
    ],
)
def test_the_interval_allows_for_more_than_such_curves_need(dist, shared):
    assert share_near(dist) == pytest.approx(shared, abs=2e-4)
    assert shared < SHARED


@pytest.mark.parametrize("n", range(1, FEWEST))
def test_fewer_than_six_have_no_interval(n):
    found = spread_of([80.0 + 7 * k for k in range(n)])
    assert (found.low_ms, found.high_ms) == (None, None)


def test_no_value_has_no_spread():
    with pytest.raises(ValueError, match="no value"):
        spread_of([])


def test_equal_values_on_a_step_have_a_spread_below_it_that_is_not_nothing():
    found = spread_of([250.0] * 16, step_ms=10)
    assert found.low_ms == 0
    assert 0 < found.ms < 10 <= found.high_ms
    assert spread_of([250.0] * 16) == (0, 0, 0)


def test_a_lapse_hardly_moves_it_where_the_standard_deviation_is_ten_times_as_large():
    steady = [200.0, 214, 221, 230, 236, 241, 249, 255, 262, 268, 277, 285, 290, 300, 311]
    alone, beside = spread_of(steady).ms, spread_of([*steady, 1250.0]).ms
    assert beside < 1.25 * alone
    assert statistics.stdev([*steady, 1250.0]) > 7 * statistics.stdev(steady)


def test_ten_thousand_values_are_told_within_their_own_error():
    many = np.random.default_rng(2).normal(0, 40, 10_000)
    found = spread_of(many)
    assert found.low_ms < 40 < found.high_ms
    assert found.high_ms - found.low_ms < 4
    assert found.ms == pytest.approx(40, rel=0.03)


@given(values, st.floats(-200, 200), st.floats(0.1, 10), st.randoms(use_true_random=False))
def test_it_does_not_shift_and_scales_along(readings, shift, scale, chance):
    found = spread_of(readings, step_ms=0.5)
    moved = spread_of([scale * ms + shift for ms in chance.sample(readings, len(readings))], step_ms=0.5 * scale)
    if found.low_ms is None:
        assert moved.ms == pytest.approx(scale * found.ms, abs=1e-6)
    else:
        # A low limit just at the step may fall to either side of it, by rounding.
        assert (moved.ms, moved.high_ms) == pytest.approx((scale * found.ms, scale * found.high_ms), abs=1e-6)
        assert 0 <= found.low_ms <= found.ms <= found.high_ms
