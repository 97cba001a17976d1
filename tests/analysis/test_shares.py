"""Intervals of shares and of their differences, against published figures and two other libraries."""

import statistics

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.optimize import brentq
from scipy.stats import binomtest
from statsmodels.stats.contingency_tables import mcnemar
from statsmodels.stats.proportion import confint_proportions_2indep, proportion_confint

from tocsin.analysis.shares import difference, fewest_a_side, jeffreys, wilson

Z = statistics.NormalDist().inv_cdf(0.975)
COUNTS = st.integers(1, 60).flatmap(lambda trials: st.tuples(st.integers(0, trials), st.just(trials)))


def random_counts(seed, most=200):
    """Return 100 counts and their trials."""
    rng = np.random.default_rng(seed)
    trials = rng.integers(1, most, 100)
    return [(int(count), int(n)) for count, n in zip(rng.integers(0, trials + 1), trials, strict=True)]


@pytest.mark.parametrize(
    ("count", "trials", "low", "high"),
    # The worked examples of R. G. Newcombe, Statistics in Medicine 17:857, 1998, table I, method 3 (from memory).
    [(81, 263, 0.2553, 0.3662), (15, 148, 0.0624, 0.1605), (0, 20, 0.0000, 0.1611), (1, 29, 0.0061, 0.1718)],
)
def test_wilsons_published_examples(count, trials, low, high):
    assert wilson(count, trials) == pytest.approx((low, high), abs=5.01e-5)


@pytest.mark.parametrize(
    ("count", "trials", "low", "high"),
    # statsmodels 0.15.0, proportion_confint(method="wilson"), computed.
    [
        (0, 1, 0.0000000000, 0.7934506856), (1, 1, 0.2065493144, 1.0000000000), (0, 3, 0.0000000000, 0.5614970318),
        (2, 3, 0.2076596008, 0.9385080553), (8, 10, 0.4901624715, 0.9433178485), (10, 10, 0.7224672001, 1.0000000000),
        (0, 12, 0.0000000000, 0.2424940067), (9, 12, 0.4676946651, 0.9110583316), (11, 18, 0.3861904160, 0.7969475343),
        (17, 18, 0.7424269922, 0.9901248090),
    ],
)  # fmt: skip
def test_another_library_says_the_same_of_few_rounds(count, trials, low, high):
    assert wilson(count, trials) == pytest.approx((low, high), abs=1e-9)


def test_two_other_libraries_give_wilsons_interval():
    for count, trials in random_counts(1):
        other = binomtest(count, trials).proportion_ci(0.95, method="wilson")
        assert wilson(count, trials) == pytest.approx((other.low, other.high), abs=1e-9)
        assert wilson(count, trials) == pytest.approx(proportion_confint(count, trials, method="wilson"), abs=1e-9)


@given(COUNTS)
def test_the_ends_are_what_a_score_test_just_does_not_reject(drawn):
    """The definition, solved numerically: (share - p) / sqrt(p (1 - p) / n) is z below the share and -z above it."""
    count, trials = drawn
    share = count / trials

    def excess(p, z):
        return share - p - z * (p * (1 - p) / trials) ** 0.5

    low = brentq(excess, 1e-12, min(share, 1 - 1e-12), args=(Z,)) if count else 0.0
    high = brentq(excess, max(share, 1e-12), 1 - 1e-12, args=(-Z,)) if count < trials else 1.0
    assert wilson(count, trials) == pytest.approx((low, high), abs=1e-7)


@given(COUNTS, st.floats(1, 9))
def test_trials_that_are_alike_count_as_fewer(drawn, alike):
    """As many times fewer trials, with the same share: the interval is wider, and holds the other one."""
    count, trials = drawn
    narrow, wide = wilson(count, trials), wilson(count / alike, trials / alike)
    assert wide.low <= narrow.low + 1e-12
    assert narrow.high <= wide.high + 1e-12


@pytest.mark.parametrize("interval", [wilson, jeffreys])
def test_nothing_is_said_of_no_trials(interval):
    with pytest.raises(ValueError, match="n = 0"):
        interval(0, 0)
    with pytest.raises(ValueError, match="k = 3"):
        interval(3, 2)


@pytest.mark.parametrize(
    ("count", "trials", "low", "high"),
    # Brown, Cai and DasGupta, Statistical Science 16:101, 2001, table 5 (from memory).
    [(1, 7, 0.016, 0.501), (2, 7, 0.065, 0.648)],
)
def test_jeffreys_published_examples(count, trials, low, high):
    assert jeffreys(count, trials) == pytest.approx((low, high), abs=5.01e-4)


def test_another_library_gives_jeffreys_interval():
    for count, trials in random_counts(2):
        low, high = proportion_confint(count, trials, method="jeffreys")
        found = jeffreys(count, trials)
        assert found.low == (pytest.approx(low, abs=1e-9) if count else 0.0)
        assert found.high == (pytest.approx(high, abs=1e-9) if count < trials else 1.0)


@pytest.mark.parametrize(
    ("one", "other", "low", "high"),
    # R. G. Newcombe, Statistics in Medicine 17:873, 1998, table II, method 10 (from memory).
    [((56, 70), (48, 80), 0.0524, 0.3339), ((0, 10), (0, 20), -0.1611, 0.2775)],
)
def test_newcombes_published_examples(one, other, low, high):
    assert difference(*one, *other) == pytest.approx((low, high), abs=5.01e-5)


def test_another_library_gives_newcombes_interval():
    for one, other in zip(random_counts(3), random_counts(4), strict=True):
        assert difference(*one, *other) == pytest.approx(
            confint_proportions_2indep(*one, *other, method="newcomb"), abs=1e-9
        )


def test_rounds_a_side_to_tell_two_shares_apart():
    """.30 and .15 need 121 a side, with a correction for continuity 134 (Fleiss, Levin and Paik 2003, chapter 4; from
    memory). Ours is the number without."""
    n = fewest_a_side(0.30, 0.15)
    assert n == 121
    exact = 120.5                                                  # the formula's own figure, before it is rounded up
    assert round(exact / 4 * (1 + (1 + 4 / (exact * 0.15)) ** 0.5) ** 2) == 134
    with pytest.raises(ValueError, match="different"):
        fewest_a_side(0.3, 0.3)


def test_so_many_rounds_a_side_see_it_four_times_in_five():
    rng, n = np.random.default_rng(5), fewest_a_side(0.30, 0.15)
    first, second = rng.binomial(n, 0.30, 20_000) / n, rng.binomial(n, 0.15, 20_000) / n
    both = (first + second) / 2
    seen = np.abs(first - second) > Z * np.sqrt(2 * both * (1 - both) / n)
    assert np.mean(seen) == pytest.approx(0.8, abs=0.015)


def test_paired_shares_are_no_two_samples():
    """150 and 86 of 1600 pairs: chi squared 17.36, a difference of .04 with a standard error of .0095 (Agresti's
    approval ratings; from memory). Two samples of 944 and 880 in 1600 would have one nearly twice as large: whoever
    pairs must not use ``difference``."""
    one, other, n = 150, 86, 1600
    found = mcnemar([[794, one], [other, 570]], exact=False, correction=False)
    assert found.statistic == pytest.approx(17.36, abs=5e-3)
    error = ((one + other) - (one - other) ** 2 / n) ** 0.5 / n
    assert ((one - other) / n, error) == pytest.approx((0.04, 0.0095), abs=5e-5)
    low, high = difference(794 + one, n, 794 + other, n)
    assert (high - low) / 2 / Z > 1.8 * error
