"""Which leads rounds have shown to be needed: pushes that end after the call, and the way home."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from msgspec.structs import replace
from scipy import stats

from tests.support.analysis.rehearsal_games import ENDED_NS, STARTED, TIMELINE, held_on, ns, push, touch, undo
from tocsin.analysis.rounds.leads import CallResponse, Needed, answer_of, needed
from tocsin.analysis.rounds.result import PlayedRound
from tocsin.analysis.seasons.ranks import FEWEST_FOR_NINE
from tocsin.model.clock.origins import Origin
from tocsin.units import NS_PER_MS as MS
from tocsin.units import NS_PER_S as S

CALLED = PlayedRound(marks=(), origins=STARTED, ended_ns=ENDED_NS, home_call_ns=ns(114), error_ms=60)


def answer(*marks, **rest):
    return answer_of(TIMELINE, replace(CALLED, marks=marks, **rest))


@pytest.mark.parametrize(
    ("marks", "took_s"),
    [
        ([push(110, 117)], 3.0),
        ([push(114, 117)], 3.0),                                  # the call landed as they touched
        ([push(110, 114)], None),                                 # had let go already
        ([push(115, 117)], None),                                 # touched after the call: no push to break off
        ([push(100, 115), push(110, 116.5)], 2.5),                # the last of two to end
        ([push(110, 117, by="opponent")], None),
        ([push(110, 117, label="blocked")], None),
        ([held_on(110)], None),                                   # nobody knows when it ended
        ([push(110, 117), undo(0)], None),
    ],
)
def test_a_push_that_the_call_found_is_timed_to_its_end(marks, took_s):
    assert answer(*marks).break_off_ns == (None if took_s is None else round(took_s * 1000) * MS)


@pytest.mark.parametrize(
    ("marks", "took_s"),
    [
        ([touch(124, "home")], 10),
        ([touch(124, "home"), touch(130, "home")], 10),
        ([touch(124, "home_half"), touch(130, "home")], 16),
        ([touch(124, "home_half")], None),                        # half home is not home
        ([touch(110, "home")], None),                             # was there before the call
        ([touch(124, "home", by="partner")], None),
    ],
)
def test_the_way_home_is_timed_from_the_call(marks, took_s):
    assert answer(*marks).home_ns == (None if took_s is None else took_s * S)


@pytest.mark.parametrize(
    "spoilt",
    [
        {"home_call_ns": None}, {"half_speed": True}, {"disturbed": True}, {"error_ms": 900}, {"origins": ()},
        {"origins": (Origin(anchor="match", origin_ns=STARTED[0].origin_ns, rate=2.0),)},
    ],
)  # fmt: skip
def test_rounds_that_do_not_count_tell_nothing(spoilt):
    assert answer(push(110, 117), **spoilt) is None


def answers(times_s, home_ns=None):
    return [CallResponse(break_off_ns=round(s * 1000) * MS, home_ns=home_ns) for s in times_s]


def test_without_a_round_nothing_is_known():
    assert needed([]) == {}
    assert needed([CallResponse(break_off_ns=None, home_ns=None)]) == {}


def test_twenty_two_rounds_are_needed_for_nine_in_ten_and_a_confidence_of_nine_in_ten():
    """As tables print it (Wilks 1941; from memory). The share of all rounds that lies below the longest of n has the
    beta distribution of n and 1: scipy's word on it."""
    assert FEWEST_FOR_NINE == 22
    assert stats.beta(22, 1).sf(0.9) >= 0.9 > stats.beta(21, 1).sf(0.9)


@pytest.mark.parametrize("rounds", [1, 5, 21])
def test_too_few_rounds_give_the_longest_seen_and_how_many_are_missing(rounds):
    found = needed(answers([2.8] * (rounds - 1) + [3.3]))
    assert found == {"break_off": Needed(lead_ns=3300 * MS, rounds=rounds, missing=22 - rounds)}


@pytest.mark.parametrize(("rounds", "aside"), [(22, 0), (37, 0), (38, 1), (51, 1), (52, 2), (100, 5)])
def test_of_many_rounds_the_longest_may_be_left_aside(rounds, aside):
    """So many of n may be left aside that the share below the rest's longest, of the beta distribution of n - k and
    k + 1, is at least nine in ten with a confidence of 90 %: scipy's word on it."""
    found = needed(answers([n / 10 for n in range(1, rounds + 1)], home_ns=9 * S))
    assert found["break_off"] == Needed(lead_ns=(rounds - aside) * 100 * MS, rounds=rounds)
    assert found["home"] == Needed(lead_ns=9 * S, rounds=rounds)
    assert stats.beta(rounds - aside, aside + 1).sf(0.9) >= 0.9 > stats.beta(rounds - aside - 1, aside + 2).sf(0.9)


@pytest.mark.parametrize("rounds", [22, 40])
def test_the_bound_covers_nine_in_ten_rounds_as_often_as_it_says(rounds):
    """Ex-Gaussian times, in tenths of a second as a scribe's marks may be: rounding can only make it more."""
    rng, draws = np.random.default_rng(rounds), 600
    world = stats.exponnorm(2.0, loc=2.5, scale=0.3)
    bounds = [needed(answers(times.round(1)))["break_off"].lead_ns / S for times in world.rvs((draws, rounds), rng)]
    covers = sum(world.cdf(bound) >= 0.9 for bound in bounds)
    assert covers >= stats.binom.ppf(0.001, draws, 0.9)
    longest_of_five = world.rvs((draws, 5), rng).max(axis=1)
    assert sum(world.cdf(longest_of_five) >= 0.9) < stats.binom.ppf(0.001, draws, 0.5)         # 41 % (computed)


@given(st.lists(st.integers(0, 10_000), min_size=1, max_size=100), st.randoms(use_true_random=False))
def test_a_lead_is_one_of_the_times_and_their_order_does_not_matter(times_ms, chance):
    found = needed(answers([ms / 1000 for ms in times_ms]))["break_off"]
    assert found.lead_ns // MS in times_ms
    assert sum(ms * MS <= found.lead_ns for ms in times_ms) * 10 >= 9 * len(times_ms)
    mixed = chance.sample(times_ms, len(times_ms))
    assert needed(answers([ms / 1000 for ms in mixed]))["break_off"] == found
