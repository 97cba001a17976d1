"""Which share is still on after a time, against published figures, two other libraries, and what defines it."""

import itertools
import math
import warnings

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.optimize import nnls
from scipy.stats import CensoredData, ecdf
from statsmodels.duration.survfunc import SurvfuncRight

from tocsin.analysis.survival import curve_of, kaplan_meier

NEVER = math.inf
# Weeks of remission with 6-mercaptopurine, + for at least so long (Freireich et al., Blood 21:699, 1963).
REMISSIONS = "6 6 6 6+ 7 9+ 10 10+ 11+ 13 16 17+ 19+ 20+ 22 23 25+ 32+ 32+ 34+ 35+"


def right_censored(texts):
    lows = [float(text.rstrip("+")) for text in texts]
    return lows, [NEVER if text.endswith("+") else low for text, low in zip(texts, lows, strict=True)]


def test_a_published_curve():
    """The shares and standard errors as textbooks print them (Kleinbaum and Klein; from memory)."""
    curve = curve_of(*right_censored(REMISSIONS.split()))
    assert [fall.begin for fall in curve.falls] == [6, 7, 10, 13, 16, 22, 23]
    shares = [0.857, 0.807, 0.753, 0.690, 0.627, 0.538, 0.448]
    assert [fall.on for fall in curve.falls] == pytest.approx(shares, abs=5e-4)
    errors = [0.0764, 0.0869, 0.0963, 0.1068, 0.1141, 0.1282, 0.1346]
    assert [fall.error for fall in curve.falls] == pytest.approx(errors, abs=5.1e-5)
    assert curve.time_of(0.5) == 23
    assert curve.time_of(0.4) == NEVER


def test_a_published_curve_of_bounds():
    """Fay and Shaw, Journal of Statistical Software 36(2), 2010, table 2 (read): masses 2/7, 2/7, 3/14, 3/14."""
    curve = curve_of([2, 5, 1, 1, 9, 8, 10], [3, 6, 7, 7, 12, 10, 13])
    assert [(fall.begin, fall.end) for fall in curve.falls] == [(2, 3), (5, 6), (9, 10), (10, 12)]
    assert [fall.on for fall in curve.falls] == pytest.approx([5 / 7, 3 / 7, 3 / 14, 0], abs=1e-8)


def random_times(seed):
    """Return times in tenths of a second, as a scribe's marks may be, some of them only longer than that."""
    rng = np.random.default_rng(seed)
    n = int(rng.integers(2, 60))
    lows = rng.lognormal(1.0, 0.4, n).round(1)
    return lows, np.where(rng.random(n) < rng.uniform(0, 0.6), NEVER, lows)


def test_two_other_libraries_give_the_same_curve_and_limits():
    for seed in range(100):
        lows, highs = random_times(seed)
        ended = lows == highs
        curve = curve_of(lows, highs)
        other = ecdf(CensoredData(uncensored=lows[ended], right=lows[~ended])).sf
        with warnings.catch_warnings(), np.errstate(all="ignore"):
            warnings.simplefilter("ignore")                        # it has no limits where all or none are on
            limits = other.confidence_interval(0.95, method="log-log")
        for fall in curve.falls:
            place = int(np.searchsorted(other.quantiles, fall.begin))
            assert fall.on == pytest.approx(other.probabilities[place], abs=1e-9)
            found = curve.interval_at(fall.begin)
            if 0 < fall.on < 1:
                theirs = limits.low.probabilities[place], limits.high.probabilities[place]
                assert found == pytest.approx(theirs, abs=1e-6)
        if len(curve.falls) > 1:
            third = SurvfuncRight(lows, ended)
            keep = third.surv_prob > 0                             # at 0 the other one says 0 times infinity
            errors = [fall.error for fall, kept in zip(curve.falls, keep, strict=True) if kept]
            assert errors == pytest.approx(list(third.surv_prob_se[keep]), abs=1e-9)


def test_em_gives_the_curve_of_kaplan_and_meier_where_nothing_is_bounded():
    """One time with bounds that are all that is behind the last other one: EM is asked, and the curve is theirs."""
    for seed in range(100):
        lows, highs = random_times(seed)
        beyond = max(lows) + 1
        by_em = curve_of([*lows, beyond], [*highs, beyond + 1])
        known = kaplan_meier([*lows, beyond], [*(lows == highs), True])
        for fall in known.falls[:-1]:
            assert by_em.on_at(fall.begin) == pytest.approx(fall.on, abs=1e-6)


def random_bounds(seed):
    rng = np.random.default_rng(seed)
    n = int(rng.integers(3, 60))
    true = rng.lognormal(1.0, 0.4, n).round(1)
    kind = rng.choice(4, n, p=[0.6, 0.2, 0.1, 0.1])
    lows = np.select([kind == 0, kind == 1, kind == 2], [true, np.floor(true * 0.6), 0 * true], (true * 0.7).round(1))
    return lows, np.select([kind == 0, kind == 1, kind == 2], [true, np.ceil(true * 1.5), true + 0.5], NEVER)


def likeliest_masses(members):
    """Return the likeliest masses by another way: a Newton step as non-negative least squares, with a line search (Y.
    Wang, Computational Statistics and Data Analysis 52:2388, 2007)."""
    n, kinds = members.shape
    masses = np.full(kinds, 1 / kinds)
    for _ in range(200):
        scaled = members / (members @ masses)[:, None]
        wanted, _ = nnls(np.vstack([scaled, 1e4 * np.ones(kinds)]), np.append(np.full(n, 2.0), 1e4))
        wanted /= wanted.sum()
        step, now = 1.0, np.log(members @ masses).sum()
        while step > 1e-12:
            tried = members @ (masses + step * (wanted - masses))
            if np.all(tried > 0) and np.log(tried).sum() >= now:
                break
            step /= 2
        moved = step * (wanted - masses)
        masses = masses + moved
        if np.max(np.abs(moved)) < 1e-12:
            break
    return masses


def test_another_way_finds_the_same_curve_and_nothing_is_likelier():
    for seed in range(100):
        lows, highs = random_bounds(seed)
        curve = curve_of(lows, highs)
        begins = np.array([fall.begin for fall in curve.falls])
        ends = np.array([fall.end for fall in curve.falls])
        masses = -np.diff([1.0, *(fall.on for fall in curve.falls)])
        inside = ends[None, :] <= highs[:, None]
        after = np.where((lows == highs)[:, None], begins >= lows[:, None], (begins > lows[:, None]) | (
            (begins == lows[:, None]) & (begins < ends)))
        members = (inside & after).astype(float)
        likelihood = np.log(members @ masses).sum()
        assert np.log(members @ likeliest_masses(members)).sum() == pytest.approx(likelihood, abs=1e-6)
        # No mass that is moved anywhere makes the times likelier: the gradient is nowhere above their number.
        assert np.max((1 / (members @ masses)) @ members) <= len(lows) * (1 + 1e-6)


@given(st.lists(st.tuples(st.integers(0, 30), st.sampled_from([0, 0, 1, 5, NEVER])), min_size=1, max_size=30))
def test_a_curve_falls_from_one_and_no_earlier_than_it_may(bounds):
    lows, highs = [low for low, _ in bounds], [low + more for low, more in bounds]
    curve = curve_of(lows, highs)
    on = [1.0, *(fall.on for fall in curve.falls)]
    assert all(later <= earlier + 1e-12 for earlier, later in itertools.pairwise(on))
    assert curve.on_at(min(lows) - 1) == 1.0
    assert curve.on_at(min(highs) - 0.5) == 1.0
    if NEVER not in highs:
        assert curve.on_at(max(highs)) == 0.0
    assert all(fall.begin <= fall.end for fall in curve.falls)


def test_bounds_that_cross_or_none_are_refused():
    for lows, highs in (([], []), ([2], [1]), ([1, 2], [3]), ([NEVER], [NEVER])):
        with pytest.raises(ValueError, match="bound"):
            curve_of(lows, highs)


def test_where_all_or_none_are_on_the_limits_are_wilsons():
    curve = curve_of([2.0] * 20, [2.0] * 20)
    assert curve.interval_at(1.0) == pytest.approx((0.8389, 1.0), abs=1e-4)       # 1 - .1611: Newcombe 1998
    assert curve.interval_at(2.0) == pytest.approx((0.0, 0.1611), abs=1e-4)
    assert curve_of([1, 1], [2, 3]).interval_at(1.0) is None
