"""Which leads rounds have shown to be needed: pushes that end after the call, and the way home."""

import math

import msgspec
import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats

from tests.support.analysis.advice_rows import push, row
from tocsin.analysis.review.leads import Needed, needed_leads
from tocsin.analysis.review.rounds import rounds_of
from tocsin.analysis.review.times import break_off_answer
from tocsin.analysis.seasons.ranks import FEWEST_FOR_NINE
from tocsin.units import NS_PER_MS as MS
from tocsin.units import NS_PER_S as S

GAME = "Casting Day"


def needed(rows):
    return needed_leads(rows, GAME)


def pushes(times_s, **changed):
    return [push(float(time_s), number // 40, number % 40 + 1, **changed) for number, time_s in enumerate(times_s)]


def unended(count, at_most_s=None):
    """Pushes whose end nobody noted; a later mark says that they were over by then."""
    return [row(9, number, break_off_at_least_s=0.0, break_off_at_most_s=at_most_s) for number in range(1, count + 1)]


def without_push(count, **changed):
    """Rounds whose call found no push."""
    return [
        row(8, number, push_at_call=False, break_off_at_least_s=None, break_off_at_most_s=None, **changed)
        for number in range(1, count + 1)
    ]


def home(turn_s, way_s, count=22):
    return without_push(
        count, call="landed", home="home", turn_s=turn_s, turn_at_least_s=turn_s, turn_at_most_s=turn_s, way_s=way_s,
        way_at_least_s=way_s, way_at_most_s=way_s,
    )  # fmt: skip


def test_without_a_round_nothing_is_known():
    assert needed([]) == {}
    assert needed(without_push(30)) == {}
    assert needed(unended(30)) == {}, "nobody noted a single end"


def test_twenty_two_rounds_are_needed_for_nine_in_ten_and_a_confidence_of_nine_in_ten():
    """As tables print it (Wilks 1941; from memory). The share of all rounds that lies below the longest of n has the
    beta distribution of n and 1: scipy's word on it."""
    assert FEWEST_FOR_NINE == 22
    assert stats.beta(22, 1).sf(0.9) >= 0.9 > stats.beta(21, 1).sf(0.9)


@pytest.mark.parametrize("rounds", [1, 5, 21])
def test_too_few_rounds_give_the_longest_seen_and_how_many_are_missing(rounds):
    found = needed(pushes([2.8] * (rounds - 1) + [3.3]))
    assert found == {"break_off": Needed(lead_ns=3300 * MS, rounds=rounds, missing=22 - rounds)}


@pytest.mark.parametrize(("rounds", "aside"), [(22, 0), (37, 0), (38, 1), (51, 1), (52, 2), (100, 5)])
def test_of_many_rounds_the_longest_may_be_left_aside(rounds, aside):
    """So many of n may be left aside that the share below the rest's longest, of the beta distribution of n - k and
    k + 1, is at least nine in ten with a confidence of 90 %: scipy's word on it."""
    found = needed([*pushes([n / 10 for n in range(1, rounds + 1)]), *home(2.0, 7.0, rounds)])
    assert found["break_off"] == Needed(lead_ns=(rounds - aside) * 100 * MS, rounds=rounds)
    assert found["home"] == Needed(lead_ns=9 * S, rounds=rounds)
    assert stats.beta(rounds - aside, aside + 1).sf(0.9) >= 0.9 > stats.beta(rounds - aside - 1, aside + 2).sf(0.9)


def test_a_push_without_an_end_counts_as_longer_than_all_that_were_noted():
    """It was left out: the longest of 22 was then called enough for nine in ten, however many had held on."""
    assert needed([*pushes([3.0] * 22), *unended(1)]) == {
        "break_off": Needed(lead_ns=3 * S, rounds=23, missing=38 - 23)
    }
    assert needed([*pushes([3.0] * 37), *unended(1)]) == {"break_off": Needed(lead_ns=3 * S, rounds=38)}
    assert needed([*pushes([3.0] * 21), *unended(1, at_most_s=6.5)]) == {
        "break_off": Needed(lead_ns=6500 * MS, rounds=22)
    }


def test_a_robot_that_was_not_home_counts_as_later_and_half_home_is_another_way():
    late = without_push(1, call="landed", home="home_none", way_at_least_s=20.0)
    half = without_push(5, call="landed", home="home_half", way_at_least_s=5.0, way_at_most_s=5.0)
    assert needed([*home(2.0, 7.0), *half]) == {"home": Needed(lead_ns=9 * S, rounds=22)}
    assert needed([*home(2.0, 7.0), *late]) == {"home": Needed(lead_ns=9 * S, rounds=23, missing=15)}
    without_turn = without_push(
        22, call="landed", home="home", turn_at_least_s=0.0, turn_at_most_s=9.5, way_at_least_s=0.0, way_at_most_s=9.5
    )
    assert needed(without_turn) == {"home": Needed(lead_ns=9500 * MS, rounds=22)}


@pytest.mark.parametrize(
    "spoilt",
    [{"half_speed": True}, {"taken_out": "dropped"}, {"counted": False}, {"watched": False}, {"game": "Foundry"}],
    ids=str,
)
def test_rounds_that_do_not_count_tell_nothing(spoilt):
    assert needed([*pushes([2.0] * 5), push(9.0, 3, 1, **spoilt)])["break_off"].rounds == 5


def test_each_lead_is_that_of_the_drill_that_a_review_tells():
    """They were pooled: three late pushes of another drill, or of matches, made check ask for what no review told."""
    rows = pushes([2 + n / 50 for n in range(40)])
    alone = needed(rows)["break_off"]
    for other in ({"drill": "Fork"}, {"drill": "", "kind": "match"}):
        late = [push(9.0, 12, number, **other) for number in range(1, 4)]
        assert needed([*rows, *late])["break_off"] == alone
        told = break_off_answer(rounds_of([*rows, *late])).figure("break_off_nine_in_ten")
        assert alone == Needed(lead_ns=round(told.value * S), rounds=told.rounds)
    # A drill that is played most, but tells nothing of a lead, leaves it to the one that tells most of it.
    ways = [msgspec.structs.replace(one, drill="Turn") for one in home(2.0, 7.0, 60)]
    few = [push(9.0, 12, number, drill="Fork") for number in range(1, 4)]
    assert needed([*rows, *few, *ways]) == {"break_off": alone, "home": Needed(lead_ns=9 * S, rounds=60)}


def test_it_is_what_a_review_tells_of_the_same_rounds():
    rows = [*pushes([2 + n / 50 for n in range(40)]), *unended(1), *without_push(3)]
    told = break_off_answer(rounds_of(rows)).figure("break_off_nine_in_ten")
    assert told is not None
    assert needed(rows)["break_off"] == Needed(lead_ns=round(told.value * S), rounds=told.rounds)
    few = break_off_answer(rounds_of(rows[:10]))
    (lacking,) = (one for one in few.lacking if one.figure == "margin_nine_in_ten")
    assert needed(rows[:10])["break_off"].missing == lacking.more


@pytest.mark.parametrize("rounds", [22, 40])
def test_the_bound_covers_nine_in_ten_rounds_as_often_as_it_says(rounds):
    """Ex-Gaussian times, in tenths of a second as a scribe's marks may be: rounding can only make it more. One in
    twenty has no noted end, and is the longer the likelier so."""
    rng, draws = np.random.default_rng(rounds), 300
    world = stats.exponnorm(2.0, loc=2.5, scale=0.3)
    covers = told = 0
    for times in world.rvs((draws, rounds), rng):
        lost = rng.random(rounds) < 0.02 * (times / 2.5) ** 2
        rows = [*pushes(times[~lost].round(1)), *unended(int(lost.sum()))]
        found = needed(rows)["break_off"]
        told += not found.missing
        covers += bool(found.missing) or world.cdf(found.lead_ns / S) >= 0.9
    assert told > draws / 4
    assert covers >= stats.binom.ppf(0.001, draws, 0.9)
    longest_of_five = world.rvs((600, 5), rng).max(axis=1)
    assert sum(world.cdf(longest_of_five) >= 0.9) < stats.binom.ppf(0.001, 600, 0.5)         # 41 % (computed)


@given(
    st.lists(st.integers(0, 10_000), min_size=1, max_size=100), st.integers(0, 4),
    st.randoms(use_true_random=False),
)  # fmt: skip
def test_a_lead_is_one_of_the_times_and_their_order_does_not_matter(times_ms, lost, chance):
    rows = [*pushes([ms / 1000 for ms in times_ms]), *unended(lost)]
    found = needed(rows)["break_off"]
    assert found.lead_ns // MS in times_ms
    known = [*(ms * MS for ms in times_ms), *[math.inf] * lost]
    assert found.missing or sum(ns <= found.lead_ns for ns in known) * 10 >= 9 * len(known)
    assert needed(chance.sample(rows, len(rows)))["break_off"] == found
