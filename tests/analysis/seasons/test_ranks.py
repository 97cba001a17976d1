"""Median and nine in ten of times that are partly known within bounds, over evenings."""

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import stats

from tests.support.analysis.seasons import evening_times
from tocsin.analysis.order_statistics import bound_place, low_place, median_limits
from tocsin.analysis.seasons.ranks import FEWEST_FOR_NINE, Bound, Median, median_of, nine_in_ten, still_on_at
from tocsin.analysis.survival import curve_of

NEVER = math.inf


@pytest.mark.parametrize(("n", "low", "high", "holds"), [(10, 2, 9, 0.9785), (15, 4, 12, 0.9648), (20, 6, 15, 0.9586)])
def test_a_medians_ranks(n, low, high, holds):
    """Computed with the binomial: so the sign test's limits are printed in tables. Ours lie between that rank and the
    next one inwards, for they hold in 95 % and not in more."""
    assert 1 - 2 * stats.binom.cdf(low - 1, n, 0.5) == pytest.approx(holds, abs=5e-5)
    assert int(low_place(n, 0.5, 0.025)) == low
    values = list(range(1, n + 1))
    found = median_of(values, values, ["one"] * n)
    assert low <= found.low < low + 1
    assert high - 1 < found.high <= high
    assert found == Median(n, (n + 1) / 2, (n + 1) / 2, *median_limits(np.array(values, dtype=float)))


def test_two_evenings_are_no_single_one():
    values = [1, 2, 3, 4, 5, 11, 12, 13, 14, 15]
    one, two = median_of(values, values, [1] * 10), median_of(values, values, [1] * 5 + [2] * 5)
    assert two.low <= one.low
    assert one.high <= two.high
    assert two.high - two.low > one.high - one.low


def test_too_few_times_have_no_limits_and_none_no_median():
    assert median_of([1.0] * 5, [2.0] * 5, range(5)) == Median(5, 1.0, 2.0, None, None)
    with pytest.raises(ValueError, match="one at least"):
        median_of([], [], [])


@given(st.lists(st.tuples(st.integers(1, 50), st.integers(0, 3)), min_size=6, max_size=30), st.data())
def test_times_within_bounds_have_wider_limits_than_any_that_they_may_be(drawn, data):
    evenings = [evening for _, evening in drawn]
    true = [value for value, _ in drawn]
    lows = [value - data.draw(st.sampled_from([0, 0, 3])) for value in true]
    highs = [value + data.draw(st.sampled_from([0, 0, 3, NEVER])) for value in true]
    bounded, exact = median_of(lows, highs, evenings), median_of(true, true, evenings)
    assert bounded.low <= exact.low
    assert exact.high <= bounded.high
    assert bounded.at_least <= exact.at_least == exact.at_most <= bounded.at_most


def test_nine_in_ten_counts_the_pushes_that_never_ended():
    """22 and 29 are Wilks' numbers (see tests/analysis/test_order_statistics.py). What has no end is the worst of all,
    not left out."""
    assert nine_in_ten([]) == Bound(0, None, FEWEST_FOR_NINE)
    assert nine_in_ten([3.0] * 21) == Bound(21, None, 1)
    times = [n / 10 for n in range(1, 38)]
    assert nine_in_ten(times) == Bound(37, 3.7, 0)
    assert nine_in_ten([*times, NEVER]) == Bound(38, 3.7, 0)
    assert nine_in_ten([*times, NEVER, NEVER]).value == NEVER
    assert bound_place(39, 0.9, 0.9) == 38


@pytest.mark.parametrize("correlation", [0.0, 0.15])
def test_the_limits_hold_where_evenings_differ(correlation):
    """Asked is 92 % of 12 evenings of 8 log-normal times: median, and share still on after 3.6 s. Limits between
    ordered values alone hold in 87 % there."""
    rng, seasons = np.random.default_rng(7), 4 * settings.default.max_examples
    evenings = np.repeat(np.arange(12), 8)
    on = stats.norm.sf((math.log(3.6) - 1) / 0.25)
    medians = shares = 0
    for _ in range(seasons):
        times = evening_times(rng, 12, 8, correlation).ravel()
        found = median_of(times, times, evenings)
        medians += found.low <= math.e <= found.high
        # One push in ten was never seen to end, some of them had by a later mark.
        lost = rng.random(len(times)) < 0.1
        highs = np.where(lost, np.where(rng.random(len(times)) < 0.6, times + rng.uniform(0.5, 3), NEVER), times)
        low, high = still_on_at(np.where(lost, 0, times), highs, evenings, [3.6])[0]
        shares += low <= on <= high
    assert medians >= stats.binom.ppf(1 / 6000, seasons, 0.92)
    assert shares >= stats.binom.ppf(1 / 6000, seasons, 0.92)


def test_rounds_whose_bounds_leave_it_open_tell_less():
    lows, evenings = [1.0, 2.0, 3.0, 4.0] * 5, [*range(5)] * 4
    (known,) = still_on_at(lows, lows, evenings, [2.5])
    half = [low if place % 2 else 0.0 for place, low in enumerate(lows)]
    (open_too,) = still_on_at(half, [low if place % 2 else 5.0 for place, low in enumerate(lows)], evenings, [2.5])
    assert open_too.high - open_too.low > 1.2 * (known.high - known.low)
    assert known.low < curve_of(lows, lows).on_at(2.5) == 0.5 < known.high
    first, last = still_on_at(lows, lows, evenings, [0.5, 4.5])
    assert (first.high, last.low) == (1.0, 0.0)
