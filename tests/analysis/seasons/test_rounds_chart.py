"""Odd rounds of a driver: against a published chart and run lengths, and how often the chart cries wolf."""

import math

import numpy as np
import pytest
from scipy import stats

from tests.support.analysis.seasons import evening_times
from tocsin.analysis.seasons.rounds_chart import BASELINE, SPREADS, chance_of_any, chart_of, moving_ranges

FLOW_RATES = [49.6, 47.6, 49.9, 51.3, 47.8, 51.2, 52.6, 52.4, 53.6, 52.1]


def test_a_published_chart():
    """Mean 50.81, mean moving range 1.8778, limits 55.8041 and 45.8159 (NIST e-Handbook 6.3.2.2; from memory). The
    usual chart divides the mean range by 1.128; ours the median one by 0.954, which is what a normal curve's
    neighbours have in common."""
    ranges = moving_ranges(np.array(FLOW_RATES))
    mean = np.mean(FLOW_RATES)
    assert (mean, ranges.mean()) == pytest.approx((50.81, 1.8778), abs=5e-5)
    off = 3 * ranges.mean() / 1.128
    assert (mean + off, mean - off) == pytest.approx((55.8041, 45.8159), abs=5e-5)
    pairs = np.abs(np.diff(np.random.default_rng(1).standard_normal(400_000)))
    assert (pairs.mean(), np.median(pairs)) == pytest.approx((1.128, 0.954), abs=5e-3)


def run_length(states, moves, ends):
    """Return the mean number of values before a signal, of a chain of states from the first one on."""
    matrix = np.zeros((states, states))
    for state in range(states):
        for to, chance in moves(state):
            if not ends(to):
                matrix[state, to] += chance
    return np.linalg.solve(np.eye(states) - matrix, np.ones(states))[0]


def test_published_run_lengths_of_the_usual_rules():
    """A value beyond 3 spreads: one false signal in 370.40 values; with eight in a row on one side, in 152.73 (Champ
    and Woodall, Technometrics 29:393, 1987; from memory). So the second rule costs more than half of the peace."""
    beyond = 2 * stats.norm.sf(3)
    inside = (1 - beyond) / 2
    assert 1 / beyond == pytest.approx(370.40, abs=5e-3)

    def moves(state):
        """States: 0 at first, 1 to 7 in a row above, 8 to 14 below; 15 is the signal."""
        above = state + 1 if 1 <= state <= 7 else 1
        below = state + 1 if 8 <= state <= 14 else 8
        return [(15 if above == 8 else above, inside), (below, inside), (15, beyond)]

    assert run_length(15, moves, lambda state: state == 15) == pytest.approx(152.73, abs=5e-3)


def test_four_rules_together_are_worse():
    """All four rules: 91.75 (as above; simulated here: 4,000 rows, standard error 1.4)."""
    rng = np.random.default_rng(2)
    values = rng.standard_normal((4000, 900))
    signals = np.abs(values) > 3
    for limit, of, window in ((2, 2, 3), (1, 4, 5), (0, 8, 8)):
        for side in (1, -1):
            beyond = np.cumsum(np.pad(side * values > limit, ((0, 0), (1, 0))), axis=1)
            counts = beyond[:, window:] - beyond[:, :-window]
            signals[:, window - 1 :] |= counts >= of
            if window < 8:                                         # shorter rows may have as many already
                for short in range(of, window):
                    signals[:, short - 1] |= beyond[:, short] >= of
    assert np.mean(np.argmax(signals, axis=1) + 1) == pytest.approx(91.75, abs=5)


def test_a_driver_has_a_limit_after_forty_pushes_that_stays():
    times = evening_times(np.random.default_rng(1), 6, 8).ravel().tolist()
    assert chart_of(times[: BASELINE - 1]) is None
    chart = chart_of(times)
    assert chart == chart_of(times[:BASELINE])
    assert chart.centre_s == pytest.approx(np.median(times[:BASELINE]), rel=0.02)
    assert chart.limit_s == pytest.approx(chart.centre_s * math.exp(SPREADS * chart.spread))
    assert chart.spread == pytest.approx(0.25, abs=0.1)
    assert not chart.is_odd(chart.centre_s)
    assert not chart.is_odd(0.01)                                  # the early side is no news
    assert chart.is_odd(1.01 * chart.limit_s)
    with pytest.raises(ValueError, match="above 0"):
        chart_of([0.0, *times])


def test_a_few_pushes_that_never_ended_do_not_hide_the_next_one():
    times = evening_times(np.random.default_rng(1), 5, 8).ravel()
    spoilt = times.copy()
    spoilt[[3, 17, 18]] = math.inf
    assert chart_of(spoilt.tolist()).limit_s < 1.5 * chart_of(times.tolist()).limit_s
    assert 0 <= chance_of_any(chart_of(spoilt.tolist()), 15, seed=1) < 1


@pytest.mark.parametrize(
    ("world", "most"), [("log-normal", 0.04), ("t4", 0.17), ("ex-Gaussian", 0.24), ("lapses", 0.17)]
)
def test_how_often_an_evening_of_fifteen_cries_wolf(world, most):
    """Simulated with 4,000 teams: 2, 13, 20 and 12 %; of the last those are odd rounds. The usual chart from 20 rounds
    does so in a fifth of evenings even in the first world."""
    rng, teams = np.random.default_rng(4), 500
    odd = usual = 0
    for _ in range(teams):
        times = evening_times(rng, 7, 8, world=world).ravel()
        chart = chart_of(times.tolist())
        odd += any(chart.is_odd(time) for time in times[BASELINE : BASELINE + 15])
        first = times[:20]
        off = 3 * moving_ranges(first).mean() / 1.128
        usual += bool(np.any(np.abs(times[20:35] - first.mean()) > off))
    assert odd <= stats.binom.ppf(1 - 1 / 6000, teams, most)
    assert usual > odd


def test_the_chance_that_a_baseline_tells_is_that_of_its_world_on_average():
    """Log-normal: it says 3 % on average, and 2 % come true; a single baseline may say 0 or 10."""
    rng = np.random.default_rng(6)
    said = [chance_of_any(chart_of(evening_times(rng, 5, 8).ravel().tolist()), 15, seed=1) for _ in range(60)]
    assert 0.01 < np.mean(said) < 0.05
    chart = chart_of(evening_times(rng, 5, 8).ravel().tolist())
    assert chance_of_any(chart, 5, seed=1) <= chance_of_any(chart, 60, seed=1)
    assert chance_of_any(chart, 15, seed=1) == chance_of_any(chart, 15, seed=1)
