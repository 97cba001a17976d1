"""Ahead or behind: thresholds of bold and sure choices, where spread and chances come from rows, and their words."""

import itertools

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from msgspec.structs import replace

from tests.support.analysis.advice_rows import home_rows, row
from tocsin.analysis.decisions.close_match import (
    Spread,
    fork_of,
    push_fork,
    return_fork,
    returns_of,
    spread_of,
    threshold,
)
from tocsin.analysis.decisions.swing import SPREAD, win_chance
from tocsin.analysis.decisions.words import fork, fork_rests_on


def test_a_computed_threshold():
    """16 points with .7 against 7 with .95, spread 12: equal at 16.9, so from 17 on the sure half."""
    found = return_fork(16, 7, 0.7, 0.95)
    assert found.turns == pytest.approx((16.9,), abs=0.05)
    assert found.bold_behind
    assert (found.is_bold(10), found.is_bold(20)) == (True, False)
    assert (found.bold_points, found.sure_points) == pytest.approx((11.2, 6.65))
    assert threshold(found.turns[0]) == 17
    assert fork(found) == "All the way in, unless you are ahead by 17 or more: then the sure half."


def test_simulated_matches_turn_there():
    rng, n = np.random.default_rng(1), 400_000
    rest = rng.normal(0, 12, n)
    full, half = 16 * (rng.random(n) < 0.7), 7 * (rng.random(n) < 0.95)
    won = {ahead: (np.mean(ahead + rest + full > 0), np.mean(ahead + rest + half > 0)) for ahead in (8, 26)}
    assert won[8][0] > won[8][1] + 0.01
    assert won[26][0] < won[26][1] - 0.001


def test_a_push_that_costs_more_than_it_brings_is_for_those_who_are_behind():
    """Two points for sure against nine to the opponents in one of five: 0.2 points more, so push on, but ahead by some
    spreads it is not worth the risk; in one of three it costs points on average."""
    bold = push_fork(2, 9, 0.2)
    assert bold.bold_points == pytest.approx(0.2)
    assert bold.bold_behind
    assert bold.turns[0] > 0
    told = threshold(bold.turns[0])
    assert fork(bold) == f"Ahead by {told} or more: let go at once at the call."
    costly = push_fork(2, 9, 1 / 3)
    assert costly.bold_points == pytest.approx(-1)
    assert costly.turns[0] < 0
    last = -threshold(costly.turns[0])
    assert fork(costly) == f"Ahead, level, or behind by at most {last}: let go at once at the call."
    assert costly.is_bold(-100) or costly.is_bold(costly.turns[0] - 1)


def test_without_a_threshold_nothing_is_said_of_pushing_on_and_nobody_is_ever_told_to():
    """Who reads that pushing on pays learns to ignore the call."""
    assert fork(push_fork(2, 9, 0.0)) is None
    assert fork(push_fork(0, 9, 0.9)) is None
    for gain, contact, touched in itertools.product((0.5, 1, 2, 4), (1, 3, 9, 20), np.linspace(0.01, 0.99, 9)):
        text = fork(push_fork(gain, contact, touched)) or ""
        assert not text or text.endswith(": let go at once at the call.")
    swapped = fork_of("push", (), push_fork(2, 9, 0.2).bold, 12)           # the one that is sure lies below
    at = threshold(swapped.turns[0])
    assert fork(swapped) == f"Behind, level, or ahead by at most {at - 1}: let go at once at the call."


@given(st.floats(1, 30), st.floats(0.05, 0.95), st.floats(1, 30), st.floats(0.05, 0.95), st.floats(-30, 30))
def test_the_better_choice_wins_more_often(full, full_chance, half, half_chance, ahead):
    found = return_fork(full, half, full_chance, half_chance)
    one, other = win_chance(found.bold, ahead, SPREAD), win_chance(found.sure, ahead, SPREAD)
    near = any(abs(turn - ahead) < 0.01 for turn in found.turns)
    assert near or abs(one - other) < 1e-7 or found.is_bold(ahead) == (one > other)


def test_a_sure_half_that_brings_more_is_always_taken():
    assert fork(return_fork(9, 9, 0.5, 0.9)) == "At any score, take the sure half."
    assert fork(return_fork(18, 7, 0.9, 0.9)) == "At any score, go all the way in."


def test_spread_and_lead_come_from_scores_or_from_people():
    scores = [(80, 70), (60, 75), (90, 66), (71, 71), (55, 80), (88, 60), (77, 70), (64, 69)]
    rows = [row(n, kind="match", score_us=us, score_them=them) for n, (us, them) in enumerate(scores)]
    gaps = [us - them for us, them in scores]
    found = spread_of(rows)
    assert (found.spread, found.ahead, found.matches) == (
        pytest.approx(np.std(gaps, ddof=1)), pytest.approx(np.mean(gaps)), 8,
    )  # fmt: skip
    assert spread_of(rows[1:]) == Spread(spread=12.0)
    assert spread_of([], spread=20) == Spread(spread=20, said=True)
    assert spread_of(rows, spread=20) == Spread(spread=20, said=True)
    # Only what somebody said is said: whoever says a lead alone did not say by how much one ends up off.
    assert spread_of(rows, ahead=5) == replace(found, ahead=5, ahead_said=True)
    assert spread_of(rows[1:], ahead=5) == Spread(spread=12.0, ahead=5, ahead_said=True)
    assert spread_of(rows, ahead=-5, spread=20) == Spread(spread=20, ahead=-5, said=True, ahead_said=True)
    assert spread_of([row(n, kind="match", score_us=5, score_them=5) for n in range(9)]) == Spread()


def test_how_often_returns_succeeded():
    rows = home_rows(half_at_s=11.0, left_s=11.0) + [row(home="home_none", push_at_call=False)] * 4
    found = returns_of(rows)
    states = [one.home for one in rows]
    assert found.full.rounds == states.count("home") + 4
    assert found.full.low < found.full.value < found.full.high
    assert (found.half.came, found.half.rounds) == (len(states) - 4, len(states))
    assert returns_of(rows[:3]) is None
    said = list(fork_rests_on(return_fork(18, 7, found.full.value, found.half.value), Spread(), found))
    assert said[0].startswith("A lead is taken to end up about 12 points off: note the scores of 8 matches")
    assert "It changes no plan." in said[-1]


def test_words_for_each_side():
    mirrored = fork_of("return", ((7, 0.95),), ((16, 0.7),), 12)
    assert fork(mirrored) == "The sure half, unless you are ahead by 17 or more: then all the way in."
    assert next(fork_rests_on(mirrored, Spread(spread=20, said=True))).startswith("You said")
    assert "scores of 9 matches" in next(fork_rests_on(mirrored, Spread(spread=20, matches=9)))


def test_chances_that_are_none_are_refused():
    with pytest.raises(ValueError, match="chances"):
        return_fork(16, 7, 1.2, 0.9)
    with pytest.raises(ValueError, match="spread"):
        push_fork(1, 9, 0.1, 0)
