"""Several readings of one quantity."""

import math
import statistics

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import stats

from tocsin.analysis.delays.estimates import FEWEST, reading_of, step_of

# Fine enough to be no grid of their own.
values = st.lists(st.floats(-500, 500).map(lambda ms: round(ms, 3)), min_size=1, max_size=40)
DARWIN = [49, -67, 8, 16, 6, 23, 28, 41, 14, 29, 56, 24, 75, 60, -48]


def test_none_of_no_reading():
    assert reading_of([]) is None


@pytest.mark.parametrize("wrong", [math.nan, math.inf, -math.inf])
def test_what_is_no_number_is_no_reading(wrong):
    with pytest.raises(ValueError, match="finite"):
        reading_of([1.0, wrong])


def test_darwins_differences_have_the_textbook_interval():
    """Darwin's crossed against self-fertilised plants in eighths of an inch, as Fisher gives them (The Design of
    Experiments, 1935, section 17): mean 20.933; from memory. The median of 15 is the 8th, 24. By the binomial of one
    half, 4th to 12th, 8 to 49, holds it in 96.48 %, 5th to 11th, 14 to 41, in 88.15 % (computed): 95 % lies between."""
    found = reading_of(DARWIN)
    assert (found.n, found.refused, found.median_ms) == (15, 0, 24)
    assert found.mean_ms == pytest.approx(20.933, abs=0.001)
    assert 8 < found.low_ms < 14
    assert 41 < found.high_ms < 49
    # Hettmansperger and Sheather's weight of the inner limits, (n - d) I / (d + (n - 2d) I) with d = 4 and
    # I = (.9648 - .95) / (.9648 - .8815) = .178, is .36 (from memory).
    weight = 11 * 0.178 / (4 + 7 * 0.178)
    assert found.low_ms == pytest.approx(8 + 6 * weight, abs=0.05)
    assert found.high_ms == pytest.approx(49 - 8 * weight, abs=0.05)
    assert found.error_ms == pytest.approx(found.high_ms - 24)


@settings(max_examples=25, deadline=None)
@given(st.lists(st.integers(-500_000, 500_000).map(lambda us: us / 1000), min_size=FEWEST, max_size=60, unique=True))
def test_the_interval_lies_within_scipys_which_goes_from_value_to_value(readings):
    """scipy.stats.quantile_test gives the exact interval, which holds in more than 95 % for it knows no between."""
    found = reading_of(readings)
    exact = stats.quantile_test(readings, p=0.5).confidence_interval(0.95)
    assert exact.low - 1e-9 <= found.low_ms <= found.median_ms <= found.high_ms <= exact.high + 1e-9


def test_six_readings_reach_almost_from_the_least_to_the_largest():
    """From the least to the largest of six holds the median in 96.875 %, from the second to the fifth in 78.125 %
    (computed), so I is 0.1 and Hettmansperger and Sheather's weight 5 * 0.1 / (1 + 4 * 0.1) = 0.357."""
    found = reading_of([10.0, 21, 33, 46, 60, 75])
    assert found.low_ms == pytest.approx(10 + 11 * 0.35714, abs=0.001)
    assert found.high_ms == pytest.approx(75 - 15 * 0.35714, abs=0.001)


@pytest.mark.parametrize("n", range(1, FEWEST))
def test_fewer_than_six_have_no_interval(n):
    found = reading_of([80.0 + 7 * k for k in range(n)])
    assert (found.low_ms, found.high_ms, found.error_ms) == (None, None, None)
    assert found.median_ms == 80 + 7 * (n - 1) / 2


def test_a_reading_far_off_hardly_moves_anything():
    steady = [80.0, 82, 81.5, 79, 80.5, 83, 78, 81, 84]
    one_off = reading_of([*steady, 190.0])
    assert abs(one_off.median_ms - reading_of(steady).median_ms) <= 0.5
    assert one_off.high_ms <= max(steady)
    assert one_off.n == 10


@pytest.mark.parametrize(
    ("readings", "step_ms"),
    [
        ([80.0, 81.3, 80.7], 0),
        ([80.0], 0),
        ([250.0, 260, 250, 280], 10),
        ([251.0, 253, 251], 1),                    # whole milliseconds, though none lie so near each other
        ([80.0] * 9 + [190], 10),                  # two places tell no step, their last digit does
        ([250.0] * 6, 10),
        ([12.5] * 6, 0.5),
        ([0.0] * 6, 1),
        ([-250.0, -240, -250], 10),
        ([0.1 + 0.2, 0.3, 0.5], 0.2),              # differs by rounding alone: below a nanosecond
    ],
)
def test_equal_readings_show_their_step(readings, step_ms):
    if readings == [12.5] * 6:
        step_ms = 0.1                              # its last digit
    assert step_of(readings) == pytest.approx(step_ms)


@pytest.mark.parametrize("n", [6, 16, 60, 10_000])
@pytest.mark.parametrize("said_ms", [0, 10])
def test_rounded_readings_are_known_to_no_better_than_their_step(n, said_ms):
    found = reading_of([250.0] * n, step_ms=said_ms)
    assert (found.low_ms, found.median_ms, found.high_ms) == pytest.approx((245, 250, 255))
    mostly = reading_of([250.0] * (n - 2) + [260.0] * 2, step_ms=said_ms)
    assert mostly.high_ms - mostly.low_ms >= 10 - 1e-9


def test_readings_off_at_random_have_their_median_between_the_steps():
    """Seven in ten at 80, three at 90: what is off by up to 10 either way at random then lies at 83 (by hand)."""
    found = reading_of([80.0] * 14 + [90.0] * 6, step_ms=10, dithered=True)
    assert found.median_ms == pytest.approx(83, abs=20 / 16)       # a reading's two steps stand there in 16 parts
    assert reading_of([80.0] * 16, step_ms=10, dithered=True).error_ms == pytest.approx(5)


def test_the_median_of_rounded_readings_is_that_of_grouped_data():
    """Python's statistics.median_grouped does the same by another way, the straight line through the middle class."""
    readings = [240.0] * 3 + [250.0] * 5 + [260.0] * 4 + [300.0]
    found = reading_of(readings, step_ms=10)
    assert found.median_ms == pytest.approx(statistics.median_grouped(readings, interval=10), abs=10 / 16)


def test_two_values_and_ten_thousand_are_read():
    assert reading_of([1.0, 2.0]).median_ms == 1.5
    many = np.random.default_rng(4).normal(80, 6, 10_000).tolist()
    found = reading_of(many)
    # A median's standard error is 1.2533 times that of a mean (textbooks).
    assert found.error_ms == pytest.approx(1.96 * 1.2533 * 6 / 100, rel=0.2)
    assert found.spread_ms == pytest.approx(6, rel=0.03)


@given(values, st.floats(0, 20))
def test_nothing_is_lost_and_figures_are_in_order(readings, step):
    found = reading_of(readings, step_ms=step)
    assert (found.n, found.refused) == (len(readings), 0)
    step = step or step_of(readings)
    assert min(readings) - step / 2 - 1e-6 <= found.median_ms <= max(readings) + step / 2 + 1e-6
    if found.n >= FEWEST:
        assert found.low_ms <= found.median_ms <= found.high_ms
        assert found.high_ms - found.low_ms >= step - 1e-9
        assert found.error_ms == max(found.high_ms - found.median_ms, found.median_ms - found.low_ms)


@given(values, st.randoms(use_true_random=False))
def test_their_order_does_not_matter(readings, chance):
    mixed = chance.sample(readings, len(readings))
    assert figures(reading_of(mixed)) == pytest.approx(figures(reading_of(readings)))


@given(values, st.floats(-200, 200), st.floats(0.1, 10))
def test_shift_and_scale_go_through(readings, shift_ms, scale):
    """With a step, for what the readings' last digit tells is no part of this."""
    found = figures(reading_of(readings, step_ms=0.5))
    moved = figures(reading_of([scale * ms + shift_ms for ms in readings], step_ms=0.5 * scale))
    shifts = [shift_ms] * (len(found) - 1) + [0]
    wanted = [scale * ms + by for ms, by in zip(found, shifts, strict=True)]
    assert moved == pytest.approx(wanted, abs=1e-6)


@given(st.lists(st.floats(-500, 500), min_size=FEWEST, max_size=40))
def test_seen_in_a_mirror_low_and_high_change_places(readings):
    found, mirrored = reading_of(readings, step_ms=1), reading_of([-ms for ms in readings], step_ms=1)
    assert (mirrored.low_ms, mirrored.high_ms) == pytest.approx((-found.high_ms, -found.low_ms), abs=1e-6)


def figures(found):
    """Return what has a place on the axis, then the spread."""
    limits = [] if found.low_ms is None else [found.low_ms, found.high_ms]
    return [found.mean_ms, found.median_ms, *limits, found.spread_ms]
