"""Means over evenings: against a published sample, another library, and simulated evenings."""

import math

import numpy as np
import pytest
from hypothesis import settings
from scipy import stats

from tocsin.analysis.seasons.evening_means import FEWEST_TO_DRAW, Mean, mean_of, round_mean

# Additional hours of sleep, second drug minus first one, of ten patients.
SLEEP_HOURS = [1.2, 2.4, 1.3, 1.3, 0.0, 1.0, 1.8, 0.8, 4.6, 1.4]


def test_a_published_sample():
    """t 4.0621, 95 % limits .7001 and 2.4599 (Student, Biometrika 6:1, 1908; from memory)."""
    found = mean_of(SLEEP_HOURS)
    assert found.t == pytest.approx(4.0621, abs=5e-5)
    assert (found.low, found.high) == pytest.approx((0.7001, 2.4599), abs=5e-5)


def test_another_library_gives_the_same_limits():
    rng = np.random.default_rng(1)
    for _ in range(100):
        values = rng.normal(rng.normal(), rng.uniform(0.1, 9), int(rng.integers(2, 40))).tolist()
        other = stats.ttest_1samp(values, 0)
        limits = other.confidence_interval(0.95)
        found = mean_of(values)
        assert (found.low, found.high) == pytest.approx((limits.low, limits.high), abs=1e-9)
        assert found.t == pytest.approx(other.statistic, rel=1e-9)


def test_a_single_evening_has_no_limits_and_none_no_mean():
    assert mean_of([2.0]) == Mean(1, 2.0, -math.inf, math.inf, 0.0)
    assert mean_of([2.0, 2.0]).t == math.inf
    with pytest.raises(ValueError, match="no evening"):
        mean_of([])
    with pytest.raises(ValueError, match="its evening"):
        round_mean([1.0], [], seed=1)


def test_each_round_counts_once_and_each_evening_varies_as_one():
    values, evenings = [1.0, 1.0, 1.0, 5.0, 3.0, 3.0], [1, 1, 1, 2, 3, 3]
    found, by_evening = round_mean(values, evenings, seed=1), mean_of([1.0, 5.0, 3.0])
    assert found.value == pytest.approx(14 / 6)
    assert found.high - found.low == pytest.approx(by_evening.high - by_evening.low)
    assert (found.low + found.high) / 2 == pytest.approx(found.value)
    many = round_mean([float(n % 5) for n in range(80)], [n // 8 for n in range(80)], seed=1)
    assert many == round_mean([float(n % 5) for n in range(80)], [n // 8 for n in range(80)], seed=1)
    assert many.n == 10 > FEWEST_TO_DRAW
    assert many.low < many.value == 2.0 < many.high


@pytest.mark.parametrize("evenings", [3, 7, 12])
def test_the_limits_hold_where_evenings_differ(evenings):
    """Costs of rounds: mostly 0, else 20 or 40, with evenings that differ. Asked is 85 %: skewed as they are, drawing
    12 evenings anew holds in 90 %, the t of few evenings in 88 to 95 %."""
    rng, seasons = np.random.default_rng(evenings), 12 * settings.default.max_examples
    held = 0
    for _ in range(seasons):
        shares = rng.beta(0.25 * 9, 0.75 * 9, (evenings, 1))
        costs = 20 * rng.binomial(2, shares, (evenings, 12)).astype(float)
        found = round_mean(costs.ravel().tolist(), np.repeat(np.arange(evenings), 12).tolist(), seed=1)
        held += found.low <= 10 <= found.high
    assert held >= stats.binom.ppf(1 / 6000, seasons, 0.85)
