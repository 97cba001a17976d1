"""What is known of times: against integrals by scipy's own distributions, and simulated evenings."""

import math

import numpy as np
import pytest
from hypothesis import settings
from scipy import stats

from tests.support.analysis.seasons import evening_times
from tocsin.analysis.decisions.posterior import (
    DRAWS,
    FAMILIES,
    LAPSES,
    PRACTICE,
    Drawn,
    Lag,
    Times,
    design_effect,
    drawn_from,
    lag_of,
)

NEVER = math.inf


def times_of(lows, highs=None, evenings=None, *, by_scribe=False):
    lows = [float(low) for low in lows]
    return Times(
        lows_s=tuple(lows), highs_s=tuple(lows if highs is None else highs),
        evenings=tuple(range(len(lows)) if evenings is None else evenings), by_scribe=(by_scribe,) * len(lows),
    )  # fmt: skip


def scipys(family, centre, spread):
    """Return a family as scipy has it."""
    if family == "log-normal":
        return stats.lognorm(spread, scale=centre)
    return stats.gamma(1 / spread**2, scale=centre * spread**2)


@pytest.mark.parametrize("family", FAMILIES)
def test_draws_are_those_of_the_integral(family):
    """Mean and spread of both parameters, by a grid of ten times as many places with scipy's densities, for exact,
    bounded and right-censored times."""
    rng = np.random.default_rng(1)
    exact = rng.lognormal(math.log(2.6), 0.25, 30)
    lows, highs = [*exact, 0.0, 1.0, 2.0, 3.0], [*exact, 3.5, 4.0, NEVER, NEVER]
    times = times_of(lows, highs, [n % 6 for n in range(34)])
    found = drawn_from(times, family, seed=2)
    axes = np.linspace(math.log(1.5), math.log(4.5), 220), np.geomspace(0.04, 0.9, 180)
    logs, spreads = np.meshgrid(*axes, indexing="ij")
    weights = 0
    for lapse, likely in zip(LAPSES, (0.4, 0.3, 0.2, 0.1), strict=True):
        of, slow = scipys(family, np.exp(logs), spreads), scipys(family, 1.8 * np.exp(logs), spreads)
        likelihood = sum(np.log((1 - lapse) * of.pdf(time) + lapse * slow.pdf(time)) for time in exact)
        for low, high in zip(lows[30:], highs[30:], strict=True):
            inside = [one.sf(low) - (0 if high == NEVER else one.sf(high)) for one in (of, slow)]
            likelihood = likelihood + np.log((1 - lapse) * inside[0] + lapse * inside[1])
        expected = likelihood / design_effect(times) - ((spreads - 0.2) / 0.12) ** 2 / 2 + np.log(spreads)
        weights = weights + likely * np.exp(expected)
    weights /= weights.sum()
    for drawn, axis in ((np.log(found.centres_s), logs), (found.spreads, spreads)):
        mean = (weights * axis).sum()
        spread = math.sqrt((weights * (axis - mean) ** 2).sum())
        assert drawn.mean() == pytest.approx(mean, abs=4 * spread / math.sqrt(DRAWS))
        assert drawn.std() == pytest.approx(spread, rel=0.2)


@pytest.mark.parametrize("family", FAMILIES)
def test_the_chance_to_be_longer_is_scipys_and_the_clocks_error_is_summed(family):
    rng = np.random.default_rng(3)
    for _ in range(100):
        centre, spread, wait = rng.uniform(1, 6), rng.uniform(0.08, 0.6), rng.uniform(0.5, 8)
        lapse = rng.choice(LAPSES)
        of, slow = scipys(family, centre, spread), scipys(family, 1.8 * centre, spread)
        drawn = Drawn(family=family, rounds=10, **{
            name: np.array([value]) for name, value in (("centres_s", centre), ("spreads", spread), ("lapses", lapse))
        })
        expected = (1 - lapse) * of.sf(wait) + lapse * slow.sf(wait)
        assert drawn.beyond([wait])[0, 0] == pytest.approx(expected, abs=1e-6)
    # With a clock: the mean over simulated errors.
    waits = wait - rng.normal(0.1, 0.2, 400_000)
    expected = np.mean((1 - lapse) * of.sf(waits) + lapse * slow.sf(waits))
    assert drawn.beyond([wait], late_s=0.1, spread_s=0.2)[0, 0] == pytest.approx(expected, abs=2e-3)


def test_a_scribes_lag_is_taken_off_and_a_videos_time_is_none():
    rng = np.random.default_rng(4)
    true = rng.lognormal(math.log(2.6), 0.2, 60)
    late = true + 0.55
    evenings = [n % 6 for n in range(60)]
    plain = drawn_from(times_of(true, evenings=evenings), "log-normal", seed=1)
    summed = drawn_from(times_of(late, evenings=evenings, by_scribe=True), "log-normal", seed=1)
    held = drawn_from(times_of(late, evenings=evenings, by_scribe=True), "log-normal", seed=1, lag_s=0.55)
    assert held.centres_s.mean() == pytest.approx(plain.centres_s.mean(), abs=0.03)
    assert summed.centres_s.mean() == pytest.approx(plain.centres_s.mean(), abs=0.15)
    assert summed.centres_s.std() > 1.2 * held.centres_s.std()     # which lag, nobody knows
    ends = [
        drawn_from(times_of(late, evenings=evenings, by_scribe=True), "log-normal", seed=1, lag_s=lag).centres_s.mean()
        for lag in (0.3, 0.8)
    ]
    assert ends[0] - ends[1] == pytest.approx(0.5, abs=0.05)


def test_a_scribes_lag_by_pairs_has_students_limits():
    """Of the differences: scipy's t."""
    lags = np.random.default_rng(3).normal(0.45, 0.2, 12)
    found = lag_of(lags.tolist())
    limits = stats.t.interval(0.95, 11, lags.mean(), stats.sem(lags))
    assert (found.low_s, found.high_s) == pytest.approx(limits)
    assert found.values_s == pytest.approx(np.linspace(*limits, 5))
    assert lag_of(lags[:7].tolist()) == PRACTICE
    assert PRACTICE.values_s == pytest.approx([0.3, 0.425, 0.55, 0.675, 0.8])
    assert lag_of([0.5] * 8).spread_s > 0


def test_a_lag_that_is_known_leaves_less_open():
    rng = np.random.default_rng(4)
    late = rng.lognormal(math.log(2.6), 0.2, 60) + 0.4
    times = times_of(late, evenings=[n % 6 for n in range(60)], by_scribe=True)
    usual, known = (
        drawn_from(times, "gamma", seed=1, lag=lag).centres_s
        for lag in (PRACTICE, Lag(middle_s=0.4, spread_s=0.02, low_s=0.36, high_s=0.44, pushes=20))
    )
    assert known.std() < 0.75 * usual.std()
    assert abs(known.mean() - 2.6) < abs(usual.mean() - 2.6)


def test_each_draw_may_be_asked_for_times_of_its_own():
    drawn = drawn_from(times_of([2.0, 2.5, 3.0]), "gamma", seed=7)
    waits = np.linspace(1, 4, len(drawn.centres_s))
    own = drawn.beyond(waits[:, None], spread_s=0.2)[:, 0]
    assert own == pytest.approx(np.diag(drawn.beyond(waits, spread_s=0.2)))


def test_rounds_that_are_alike_tell_less():
    rng = np.random.default_rng(5)
    alike = evening_times(rng, 6, 10, 0.5).ravel()
    apart = evening_times(rng, 6, 10, 0.0).ravel()
    evenings = np.repeat(np.arange(6), 10)
    assert design_effect(times_of(alike, evenings=evenings)) > 2
    assert design_effect(times_of(apart, evenings=evenings)) < 2
    assert design_effect(times_of(apart[:20], evenings=evenings[:20])) == pytest.approx(2.5)         # 1.5 + 0.1 * 10
    assert design_effect(times_of([2.0, 2.0, 3.0, 3.0, 4.0, 4.0], evenings=[0, 0, 1, 1, 2, 2])) == 2
    assert design_effect(times_of([2.0, 3.0, 4.0])) == pytest.approx(1.6)
    assert drawn_from(times_of(apart, evenings=evenings), "gamma", seed=1).rounds <= 60 / 1.2
    with pytest.raises(ValueError, match="upper bound"):
        drawn_from(times_of([1.0], [NEVER]), "gamma", seed=1)


def test_equal_inputs_give_equal_draws():
    times = times_of([2.0, 2.5, 3.0])
    one = drawn_from(times, "gamma", seed=7)
    drawn_from.cache_clear()
    two = drawn_from(times, "gamma", seed=7)
    assert one is not two
    assert np.array_equal(one.centres_s, two.centres_s)
    assert not np.array_equal(one.centres_s, drawn_from(times, "gamma", seed=8).centres_s)


@pytest.mark.parametrize("family", FAMILIES)
def test_the_chance_of_contact_is_held_where_evenings_differ(family):
    """95 % of draws hold the true chance that a push is still on after 3.6 s, log-normal with r = .05 over 6 evenings;
    asked is 90 %, for gamma is not the truth."""
    rng, seasons = np.random.default_rng(6), 6 * settings.default.max_examples
    truth, held = stats.lognorm.sf(3.6, 0.25, scale=math.e), 0
    for _ in range(seasons):
        times = evening_times(rng, 6, 8, 0.05).ravel()
        drawn = drawn_from(times_of(times, evenings=np.repeat(np.arange(6), 8)), family, seed=1)
        low, high = np.quantile(drawn.beyond([3.6])[:, 0], (0.025, 0.975))
        held += low <= truth <= high
    assert held >= stats.binom.ppf(1 / 6000, seasons, 0.90)
