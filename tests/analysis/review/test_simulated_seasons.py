"""What reviews say of simulated seasons holds: the short form of `python -m tests.benchmarks.season_table`.

Seeds are fixed, and bounds go by the size of the sample: what is right passes with any seeds in 9,999 of 10,000 cases,
and each claim stands beside one that code which says nothing, or the same of everything, would break.
"""

import statistics

import pytest

from tests.support.analysis.season_claims import at_most, coverage, pages, truths_of
from tests.support.analysis.season_teams import season_rows
from tests.support.analysis.season_worlds import PLAIN, WORLDS, Matches
from tocsin.analysis.review.matches import matches_answer
from tocsin.analysis.review.rounds import rounds_of

NULL = PLAIN._replace(points=False)
SEASONS = range(6)


def fewest(of, share):
    """Return the count that so many seasons stay below in one of 10,000 cases, where this share is true."""
    from scipy.stats import binom

    return int(binom.ppf(1e-4, of, share))


@pytest.mark.parametrize("name", ["a plain", "g swapped, repeated"])
def test_nothing_is_better_where_nothing_differs(name):
    found = [pages(WORLDS[name], seed, last=True) for seed in SEASONS]
    assert len(found) - sum(one.named for one in found) >= fewest(len(found), 0.95)
    assert len(found) - sum(one.beside for one in found) >= fewest(len(found), 0.95)
    assert sum(one.held for one in found) >= fewest(len(found), 0.95)


def test_what_is_much_better_is_seen():
    world = NULL._replace(calling_s=1.2, evenings=10)
    found = [pages(world, seed, last=True) for seed in SEASONS]
    # 50 pairs, and a true 1.0 s is seen after 16 of them in half of all seasons.
    assert sum(one.named for one in found) >= fewest(len(found), 0.98)
    assert not any(one.none for one in found)
    assert sum(one.held for one in found) >= fewest(len(found), 0.95)


def test_the_last_page_knows_what_earlier_ones_said():
    world = NULL._replace(calling_s=0.6, evenings=6)
    for seed in range(2):
        every, last = pages(world, seed), pages(world, seed, last=True)
        assert (every.named, every.beside) == (last.named, last.beside)
        assert every.pairs is None or every.pairs <= (last.pairs or 0)


@pytest.mark.parametrize("name", ["b evenings r .05", "f never ended"])
def test_limits_hold_and_are_limits(name):
    world = WORLDS[name]._replace(evenings=4)
    found = coverage(world, SEASONS, true_seasons=60)
    for figure in ("contact", "break_off", "on_at_lead"):
        assert found[figure].told == len(SEASONS)
        assert found[figure].held >= fewest(len(SEASONS), 0.92)
    # Within fifty pushes that spread by a second: limits that say nothing are wider.
    assert found["break_off"].width < 2
    assert found["on_at_lead"].width < 0.6
    truth = truths_of(world, 60)
    assert 2.9 < truth.median_s < 3.6
    assert 0.05 < truth.touched < 0.3


def test_limits_of_a_count():
    assert at_most(0, 59) == pytest.approx(100 * (1 - 0.05 ** (1 / 59)))
    assert at_most(5, 5) == 100


def test_matches_that_are_as_practice_are_not_told_apart():
    """A push is on in half of these matches and in each round, and the lot moves the calls of rounds: that is no
    difference. Three evenings, eight matches on each; the middles of 20 seasons lie around 0."""
    seasons = 20
    world = NULL._replace(evenings=3, matches=tuple(Matches(evening, 8) for evening in range(3)))
    found = []
    for seed in range(seasons):
        answer = matches_answer(rounds_of(season_rows(world, seed)))
        apart = answer.figure("contact", "difference")
        if apart is not None:
            found.append((apart.value, apart.low <= 0 <= apart.high))
    values = [value for value, _ in found]
    assert len(values) > seasons / 2
    assert abs(statistics.mean(values)) < 4 * statistics.stdev(values) / len(values) ** 0.5
    assert sum(held for _, held in found) >= fewest(len(found), 0.95)
