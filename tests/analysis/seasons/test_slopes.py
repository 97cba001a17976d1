"""Slopes over a season and within evenings: against a published example, and simulated fatigue."""

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import stats

from tocsin.analysis.seasons.slopes import Slope, percent_a_doubling, season_slope, slope_within_evenings


def test_a_published_example():
    """Slope 4, 93 % limits 26/7 and 35/8 (Sen, Journal of the American Statistical Association 63:1379, 1968, as
    corrected in a published test; read)."""
    found = season_slope([1, 2, 3, 4, 10, 12, 18], [9, 15, 19, 20, 45, 55, 78], confidence=0.93)
    assert found == pytest.approx((4, 26 / 7, 35 / 8))


def test_it_is_the_median_of_all_pairs_and_kendalls_test_just_does_not_reject_its_limits():
    rng = np.random.default_rng(3)
    for _ in range(100):
        n = int(rng.integers(6, 25))
        places = np.sort(rng.uniform(0, 8, n))
        values = rng.normal(0, 1, n) - rng.uniform(-1, 1) * places
        first, second = np.triu_indices(n, 1)
        found = season_slope(places, values)
        slopes = (values[second] - values[first]) / (places[second] - places[first])
        assert found.value == pytest.approx(np.median(slopes))
        for limit, off in ((found.low, -1e-9), (found.high, 1e-9)):
            left = values - (limit - off) * places
            concordant = np.sum(np.sign(left[second] - left[first]))
            assert abs(concordant) / math.sqrt(n * (n - 1) * (2 * n + 5) / 18) < 1.96 + 2.2 / n
    with pytest.raises(ValueError, match="two places"):
        season_slope([1, 1], [1, 2])


def test_a_slope_of_logarithms_is_percent_a_doubling():
    assert percent_a_doubling(Slope(math.log(0.94), math.log(0.89), math.log(0.99))) == pytest.approx((6, 1, 11))


def evenings_of(rng, evenings, rounds, slope, apart=0.3):
    place = np.tile(np.arange(rounds, dtype=float), evenings)
    which = np.repeat(np.arange(evenings), rounds)
    value = rng.normal(0, apart, evenings)[which] + slope * place + rng.normal(0, 0.6, evenings * rounds)
    return place.tolist(), value.tolist(), which.tolist()


@pytest.mark.parametrize("evenings", [5, 12])
def test_fatigue_is_found_within_evenings_whatever_differs_between_them(evenings):
    rng, seasons = np.random.default_rng(evenings), 12 * settings.default.max_examples
    found = [slope_within_evenings(*evenings_of(rng, evenings, 12, 0.02, apart=3.0)) for _ in range(seasons)]
    held = sum(one.low <= 0.02 <= one.high for one in found)
    assert held >= stats.binom.ppf(1 / 6000, seasons, 0.94)
    assert np.mean([one.value for one in found]) == pytest.approx(0.02, abs=0.02)


@given(st.floats(-5, 5), st.floats(-1, 1))
def test_what_an_evening_has_in_common_makes_no_slope(level, slope):
    places = [*range(9)] * 2
    values = [slope * place + (level if number < 9 else -level) for number, place in enumerate(places)]
    found = slope_within_evenings(places, values, [1] * 9 + [2] * 9)
    assert found.value == pytest.approx(slope, abs=1e-9)


def test_short_evenings_tell_no_slope():
    places = [*range(7)] * 3
    assert slope_within_evenings(places, places, [1] * 7 + [2] * 7 + [3] * 7) is None
    assert slope_within_evenings([*range(8), *[2] * 8], [0.0] * 16, [1] * 8 + [2] * 8) is None
    assert slope_within_evenings([], [], []) is None
