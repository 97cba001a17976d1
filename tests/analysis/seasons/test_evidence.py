"""Evidence at any time: against published figures, what defines it, and seasons in which nothing differs."""

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import stats
from scipy.integrate import quad
from scipy.optimize import brentq

from tocsin.analysis.seasons.evidence import (
    FAR_S,
    NEEDED,
    RHO_S2,
    Dealt,
    Pairs,
    evidence_of_seconds,
    evidence_of_yes,
    log_mixture,
    log_robbins,
    needed_beside,
    pairs_for,
    pairs_of,
)

SPREAD_S = 0.6 * math.sqrt(2)          # of a pair, of rounds that vary by 0.6 s


def test_published_figures_of_the_normal_mixture():
    """Best at 100, level .05: rho 12.60056, ln M(S 10, V 100) -.6510052, bound at 100 30.35209 (unit tests of the
    library of Howard et al. 2021; read)."""
    rho = 100 / (2 * math.log(20) + math.log(1 + 2 * math.log(20)))
    assert rho == pytest.approx(12.60056, abs=5e-6)
    assert log_mixture(10, 100, rho) == pytest.approx(-0.6510052, abs=5e-8)
    assert log_mixture(30.35209, 100, rho) == pytest.approx(math.log(20), abs=1e-6)
    assert pytest.approx(2.722, abs=5e-4) == RHO_S2


def test_both_are_mixtures_of_bets():
    """What defines them, integrated by scipy: bets exp(bS - b² V / 2) with b normal of the variance 1 / rho, and bets
    of a coin's chance by Jeffreys' prior; 100 random inputs."""
    rng = np.random.default_rng(1)
    for _ in range(100):
        total, squares, rho = rng.normal(0, 5), rng.uniform(0.1, 40), rng.uniform(0.5, 20)

        def bet(b, total=total, squares=squares, rho=rho):
            return math.exp(b * total - b * b * squares / 2) * stats.norm.pdf(b, scale=rho**-0.5)

        middle, width = total / (squares + rho), 12 / math.sqrt(squares + rho)
        whole, _ = quad(bet, middle - width, middle + width, points=[middle])
        assert log_mixture(total, squares, rho) == pytest.approx(math.log(whole), abs=1e-6)
        more, fewer = (int(n) for n in rng.integers(0, 30, 2))
        # The binomial with a beta prior, scipy's own, against the fair coin.
        mixed = stats.betabinom.logpmf(more, more + fewer, 0.5, 0.5) - stats.binom.logpmf(more, more + fewer, 0.5)
        assert log_robbins(more, fewer) == pytest.approx(mixed, abs=1e-9)


def test_all_ways_that_a_fair_coin_may_fall_are_a_fair_bet():
    """The mean over all signs of the same sizes is at most 1 after each pair: that is all that it rests on."""
    sizes = [0.3, 1.2, 0.7, 0.1, 2.0, 0.4, 0.9, 0.5]
    for count in range(1, len(sizes) + 1):
        squares = sum(size**2 for size in sizes[:count])
        signs = np.array(np.meshgrid(*[[-1, 1]] * count)).reshape(count, -1)
        totals = np.array(sizes[:count]) @ signs
        assert np.mean([math.exp(log_mixture(total, squares)) for total in totals]) <= 1
        heads = np.sum(signs > 0, axis=0)
        assert np.mean([math.exp(log_robbins(int(n), count - int(n))) for n in heads]) == pytest.approx(1)


@given(st.lists(st.floats(-3, 3), min_size=1, max_size=60))
def test_the_interval_is_what_the_evidence_speaks_not_against_and_only_shrinks(differences):
    found = evidence_of_seconds(differences)
    before = evidence_of_seconds(differences[:-1])
    assert found.low >= before.low
    assert found.high <= before.high
    values, count = np.array(differences), len(differences)
    low, high = evidence_of_seconds(differences[:1]).low, evidence_of_seconds(differences[:1]).high
    assert (low, high) == (-math.inf, math.inf)
    if found.high < before.high:                                   # the last look set it
        for beyond in np.geomspace(1e-6, 1, 20) * (values.mean() + FAR_S - found.high):
            left = values - found.high - beyond
            assert log_mixture(left.sum(), (left**2).sum()) >= math.log(NEEDED) - 1e-5
        just = values - found.high + 1e-6
        assert log_mixture(just.sum(), (just**2).sum()) <= math.log(NEEDED) + 1e-5
    assert found.evidence >= found.now
    assert found.evidence >= before.evidence
    assert found.pairs == count


def test_verdicts():
    assert evidence_of_seconds([]).verdict == "not yet"
    assert (evidence_of_seconds([]).evidence, evidence_of_seconds([]).sign) == (1.0, 0)
    quicker = evidence_of_seconds([-1.0] * 24)
    assert (quicker.verdict, quicker.sign) == ("surely better", -1)
    first = next(n for n in range(1, 20) if evidence_of_seconds([-1.0] * n).evidence >= 20)
    assert evidence_of_seconds([-1.0] * first).verdict == "better"
    # Two others shown beside the one question that was named: each of them needs 40.
    assert evidence_of_seconds([-1.0] * first, needed=needed_beside(2)).verdict == "not yet"
    # What was once found stays found, however it goes on.
    later = evidence_of_seconds([*[-1.0] * 24, *[1.0] * 24])
    assert (later.verdict, later.sign) == ("surely better", -1)
    assert later.now < 20
    equal = [0.3, -0.3] * 40
    assert evidence_of_seconds(equal[:60]).verdict == "not yet"
    assert evidence_of_seconds(equal).verdict == "no difference that matters"
    assert evidence_of_seconds([0.9, -0.9] * 40).verdict == "not yet"
    assert (evidence_of_yes([1, 0, 1, 1, 0, 1, 1, 1, 1, 1]).verdict, evidence_of_yes([1] * 12).sign) == ("better", 1)
    assert evidence_of_yes([1, -1] * 100).verdict == "not yet"


def test_published_pairs_are_evidence():
    """150 and 86 of 1600 pairs differ (Agresti's approval ratings; from memory): McNemar's test is sure (chi squared
    17.36), and so is ours. Equal numbers of pairs never are."""
    assert log_robbins(150, 86) > math.log(100)
    assert log_robbins(118, 118) < 0


def test_pairs_are_complete_blocks_in_the_order_in_which_they_began():
    rounds = [
        Dealt(1, "calls", 2.0), Dealt(1, "silent", 2.5),
        Dealt(2, "silent", 4.0), Dealt(2, "calls", 3.0),
        Dealt(3, "calls", None), Dealt(3, "silent", 1.0),              # does not count
        Dealt(4, "calls", 1.0), Dealt(4, "calls", 1.0), Dealt(4, "silent", 1.0),         # repeated
        Dealt(5, "calls", 1.0),                                        # cut short
        Dealt(6, "other", 1.0), Dealt(6, "silent", 2.0), Dealt(6, "calls", 2.25),
    ]  # fmt: skip
    assert pairs_of(rounds, "calls", "silent") == Pairs((0.5, 1.0, -0.25), 3)
    assert pairs_of(rounds, "silent", "calls").differences == (-0.5, -1.0, 0.25)
    assert pairs_of([], "a", "b") == Pairs((), 0)


@pytest.mark.parametrize(("true_s", "pairs"), [(1.0, 16), (0.5, 33), (0.3, 73), (0.2, 157)])
def test_about_so_many_pairs_show_a_difference(true_s, pairs):
    """The medians of simulated seasons, by tests/benchmarks/season_coverage.py."""
    assert pairs_for(true_s, SPREAD_S) == pytest.approx(pairs, rel=0.12)
    rng = np.random.default_rng(3)
    drawn = rng.normal(true_s, SPREAD_S, (1000, 3 * pairs))
    totals, squares = np.cumsum(drawn, axis=1), np.cumsum(drawn**2, axis=1)
    shown = (np.log(RHO_S2 / (RHO_S2 + squares)) + totals**2 / (RHO_S2 + squares)) / 2 >= math.log(NEEDED)
    first = np.where(shown.any(axis=1), np.argmax(shown, axis=1) + 1, math.inf)
    assert np.median(first) == pytest.approx(pairs, rel=0.12)


def test_what_cannot_come_has_no_number():
    assert pairs_for(0.0, SPREAD_S) is None
    assert pairs_for(0.01, SPREAD_S) is None


@pytest.mark.parametrize("world", ["normal", "skewed", "heavy", "yes"])
def test_in_seasons_in_which_nothing_differs_hardly_any_finds_something(world):
    """Looked at after each pair of 200; asked is at most 5 %. A t test at each look finds something in a third."""
    rng, seasons = np.random.default_rng(11), 8 * settings.default.max_examples
    shape = (seasons, 200, 2)
    rounds = {
        "normal": lambda: rng.normal(0, 0.6, shape), "skewed": lambda: rng.exponential(0.6, shape),
        "heavy": lambda: 0.4 * rng.standard_t(3, shape), "yes": lambda: (rng.random(shape) < 0.3).astype(float),
    }[world]()  # fmt: skip
    of = evidence_of_yes if world == "yes" else evidence_of_seconds
    found = [of((season[:, 1] - season[:, 0]).tolist()) for season in rounds]
    false = sum(one.verdict in ("better", "surely better") for one in found)
    assert false <= stats.binom.ppf(1 - 1 / 6000, seasons, 0.05)
    if world != "yes":
        assert sum(one.low <= 0 <= one.high for one in found) >= stats.binom.ppf(1 / 6000, seasons, 0.95)


def test_why_no_t_test_at_each_look():
    """With 2 and 5 looks at 5 % a test is false in .083 and .142 (Armitage, McPherson and Rowe, Journal of the Royal
    Statistical Society A 132:235, 1969; from memory), by the means of normal values of a known spread."""
    rng = np.random.default_rng(2)
    sums = np.cumsum(rng.standard_normal((200_000, 5)), axis=1) / np.sqrt(np.arange(1, 6))
    for looks, false in ((2, 0.083), (5, 0.142)):
        assert np.mean(np.any(np.abs(sums[:, :looks]) > 1.96, axis=1)) == pytest.approx(false, abs=0.003)


def test_limits_are_where_the_evidence_is_just_what_is_needed():
    """So one of several questions, which needs more, has wider limits, and they leave 0 out only with a verdict."""
    drawn = np.random.default_rng(8).normal(0.4, SPREAD_S, 80)
    wide, narrow = (evidence_of_seconds(drawn.tolist(), needed=needed) for needed in (160, 20))
    assert wide.low < narrow.low < narrow.high < wide.high
    for found, needed in ((narrow, 20), (wide, 160)):
        lows = []
        for count in range(1, 81):
            left = drawn[:count]
            # A second way: what scipy finds as the root below the mean; few pairs speak against nothing.
            def of(one, left=left, needed=needed):
                return log_mixture((left - one).sum(), ((left - one) ** 2).sum()) - math.log(needed)

            if of(left.mean() - FAR_S) > 0:
                lows.append(brentq(of, left.mean() - FAR_S, left.mean()))
        assert found.low == pytest.approx(max(lows), abs=1e-6)
        assert (found.low > 0 or found.high < 0) == ("better" in found.verdict)
