"""The race model: published vectors, races that are races, pairs that are more."""

import numpy as np
import pytest
from hypothesis import HealthCheck, assume, given, settings
from hypothesis import strategies as st
from scipy import stats

from tocsin.analysis.reactions.race_model import (
    LOOKED_AT,
    SHARES,
    bound_ms,
    percent_points_ms,
    race_of,
)
from tocsin.analysis.reactions.scores import WINDOW_MS, Reaction

PAIR = ("rumble", "light")
# Ulrich, Miller and Schroeter, Behavior Research Methods 39:291, 2007: their data and what they print for them.
FIRST_MS = (244, 249, 257, 260, 264, 268, 271, 274, 277, 291)
SECOND_MS = (245, 246, 248, 250, 251, 252, 253, 254, 255, 259, 263, 265, 279, 282, 284, 319)
BOTH_MS = (234, 238, 240, 240, 243, 243, 245, 251, 254, 256, 259, 270, 280)
PRINTED_BOTH_MS = (234.6, 238.6, 240.4, 242.3, 244.1, 248.9, 253.9, 256.8, 265.1, 278.5)
PRINTED_BOUND_MS = (244.0, 245.6, 247.3, 249.3, 250.9, 252.3, 253.6, 254.9, 257.8, 259.8)
ROUNDED_MS = 0.05 + 1e-9                       # half of the last printed digit

PEOPLE = stats.exponnorm(70 / 25, 230, 25)     # invented: ex-Gaussian answers in ms
MANY = settings(deadline=None, suppress_health_check=[HealthCheck.too_slow, HealthCheck.filter_too_much])
times_ms = st.lists(st.integers(100, 600).map(float), min_size=1, max_size=30)


def reactions(first=FIRST_MS, second=SECOND_MS, both=BOTH_MS, *, apart_ms=0.0):
    groups = ((PAIR[:1], first), (PAIR[1:], second), (PAIR, both))
    return [
        Reaction(condition=condition, outcome="answer", ms=float(ms), apart_ms=apart_ms if condition == PAIR else 0.0)
        for condition, times in groups for ms in times
    ]  # fmt: skip


# Percent points and the bound.


@pytest.mark.parametrize(("share", "printed_ms"), list(zip(SHARES, PRINTED_BOTH_MS, strict=True)))
def test_the_published_percent_points(share, printed_ms):
    assert percent_points_ms(BOTH_MS, [share])[0] == pytest.approx(printed_ms, abs=ROUNDED_MS)


@pytest.mark.parametrize(("share", "printed_ms"), list(zip(SHARES, PRINTED_BOUND_MS, strict=True)))
def test_the_published_bound(share, printed_ms):
    assert bound_ms(FIRST_MS, SECOND_MS, [share])[0] == pytest.approx(printed_ms, abs=ROUNDED_MS)
    assert bound_ms(SECOND_MS, FIRST_MS, [share])[0] == pytest.approx(printed_ms, abs=ROUNDED_MS)


def test_ties_sit_at_the_midpoint_of_their_step():
    """Of 1 2 2 3 the step at 2 leads from 1/4 to 3/4, its midpoint is 1/2; halfway up to that from 1/8 lies 5/16."""
    assert percent_points_ms([1, 2, 2, 3], [0.125, 0.3125, 0.5, 0.875]) == pytest.approx([1, 1.5, 2, 3])


@MANY
@given(times_ms)
def test_percent_points_rise_and_stay_within_the_times(times):
    points = percent_points_ms(times, np.linspace(0.01, 0.99, 50))
    assert np.all(np.diff(points) >= 0)
    assert min(times) <= points[0]
    assert points[-1] <= max(times)


@MANY
@given(st.lists(st.integers(100, 600), min_size=2, max_size=30, unique=True).map(lambda t: [float(ms) for ms in t]))
def test_without_ties_percent_points_are_those_between_midpoints(times):
    shares = np.linspace(0.5, len(times) - 0.5, 20) / len(times)
    assert percent_points_ms(times, shares) == pytest.approx(np.quantile(times, shares, method="hazen"))


def sum_at(ms, *groups):
    """Return the sum of distributions at a time, from the definition: straight between midpoints of steps."""
    total = 0.0
    for group in groups:
        values = sorted(set(group))
        heights = [(sum(t < v for t in group) + sum(t <= v for t in group)) / 2 / len(group) for v in values]
        if ms > values[-1]:
            total += 1
        elif ms >= values[0]:
            total += float(np.interp(ms, values, heights))
    return total


@MANY
@given(times_ms, times_ms, st.sampled_from(SHARES))
def test_at_its_percent_point_the_sum_reaches_the_share(first, second, share):
    at_ms = float(bound_ms(first, second, [share])[0])
    assert sum_at(at_ms - 1e-6, first, second) <= share + 1e-6
    assert sum_at(at_ms + 1e-6, first, second) >= share - 1e-6


@MANY
@given(times_ms, times_ms)
def test_two_chances_are_never_slower_than_either(first, second):
    """Percent points below the midpoint of a first step are left out: too few answers to have them."""
    shares = [share for share in SHARES if share * min(len(first), len(second)) >= 0.5]
    least = np.minimum(percent_points_ms(first, shares), percent_points_ms(second, shares))
    assert np.all(bound_ms(first, second, shares) <= least + 1e-9)


@MANY
@given(times_ms)
def test_twice_the_same_signal_is_at_twice_the_share(times):
    """The sum of two equal distributions reaches a share where one reaches half of it."""
    reached = [share for share in SHARES if share / 2 * len(times) >= 0.5]
    assume(reached and len(set(times)) == len(times))
    assert bound_ms(times, times, reached) == pytest.approx(percent_points_ms(times, np.array(reached) / 2))


# One person.


def test_the_published_person_breaks_the_race_at_the_fast_end():
    race = race_of(PAIR, reactions())
    assert race.pair_ms == pytest.approx(PRINTED_BOTH_MS, abs=ROUNDED_MS)
    assert race.bound_ms == pytest.approx(PRINTED_BOUND_MS, abs=ROUNDED_MS)
    assert race.faster_at == (0.05, 0.15, 0.25, 0.35, 0.45, 0.55)     # where the printed ones are below the bound
    # Of 10000 resamples the pair is not ahead in 0.02, 0.2, 1.7, 6.0, 15 %; the limit is 1 % at each of five points.
    assert race.broken_at == (0.05, 0.15)
    assert race.gain_ms == pytest.approx(254.5 - 245)                 # medians: 266, 254.5, both 245
    assert race.gain_interval[0] < race.gain_ms < race.gain_interval[1]
    assert race.fewest == 10


def test_the_same_answers_and_seed_give_the_same_race():
    assert race_of(PAIR, reactions(), seed=5) == race_of(PAIR, reactions(), seed=5)


@pytest.mark.parametrize("short", [(9, 16, 13), (10, 9, 13), (10, 16, 9)])
def test_fewer_than_ten_answers_of_one_kind_are_not_compared(short):
    cut = [times[:most] for times, most in zip((FIRST_MS, SECOND_MS, BOTH_MS), short, strict=True)]
    assert race_of(PAIR, reactions(*cut)) is None


def test_answers_that_do_not_differ_are_no_trouble():
    race = race_of(PAIR, reactions([300] * 10, [300] * 10, [300] * 10))
    assert (race.faster_at, race.broken_at, race.gain_ms, race.gain_interval) == ((), (), 0, (0, 0))


def test_missed_signals_count_as_slow_and_false_starts_not_at_all():
    more = [
        *reactions(),
        *(Reaction(condition=PAIR, outcome="missed") for _ in range(13)),
        *(Reaction(condition=PAIR, outcome="false_start") for _ in range(9)),
    ]
    race = race_of(PAIR, more)
    assert race.pair_ms[SHARES.index(0.95)] == WINDOW_MS
    assert race.pair_ms[0] > race_of(PAIR, reactions()).pair_ms[0]
    assert race.fewest == 10


def test_how_far_apart_a_pair_began_is_told():
    guesses = [Reaction(condition=PAIR, outcome="false_start") for _ in range(30)]
    assert race_of(PAIR, [*guesses, *reactions(apart_ms=34.0)]).apart_ms == 34.0


def person(chance, answers, *, sooner_ms=None):
    """Return one person's race: independent, or with ``sooner_ms`` a pair that beats the best that a race could do."""
    first, second = PEOPLE.rvs(size=(2, answers), random_state=chance)
    if sooner_ms is None:
        both = PEOPLE.rvs(size=(2, answers), random_state=chance).min(axis=0)
    else:
        luck = chance.random(answers)
        both = np.minimum(PEOPLE.ppf(luck), PEOPLE.ppf(1 - luck)) - sooner_ms
    return race_of(PAIR, reactions(first, second, both))


@pytest.fixture(scope="module")
def mere_races():
    return [person(np.random.default_rng(seed), 20) for seed in range(20)]


@pytest.fixture(scope="module")
def more_than_races():
    return [person(np.random.default_rng(seed), 20, sooner_ms=40.0) for seed in range(10)]


def test_a_mere_race_is_seldom_taken_for_more_though_luck_often_crosses_the_bound(mere_races):
    """At an error of 5 % more than five of twenty come less than once in a thousand times."""
    assert sum(bool(race.broken_at) for race in mere_races) <= stats.binom.ppf(0.999, 20, 0.05) == 5
    assert sum(any(share in LOOKED_AT for share in race.faster_at) for race in mere_races) > 10


def test_a_pair_that_is_more_than_a_race_is_found(more_than_races):
    assert sum(bool(race.broken_at) for race in more_than_races) >= 8
    assert all(race.gain_ms > 0 for race in more_than_races)
