"""Ahead or behind: against published chances to win, a computed swing, and simulated matches."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from tocsin.analysis.decisions.swing import points_of, swings, win_chance

FULL, HALF = [(16, 0.7)], [(7, 0.95)]


def test_published_chances():
    """Drift 4.87 and spread 15.82 a match, at half time with a lead of -10, -5, 0, 5, 10: .25 .41 .59 .75 .87 (Stern,
    Journal of the American Statistical Association 89:1128, 1994; from memory)."""
    spread = 15.82 * 0.5**0.5
    found = [win_chance([], lead + 4.87 / 2, spread) for lead in (-10, -5, 0, 5, 10)]
    assert found == pytest.approx([0.25, 0.41, 0.59, 0.75, 0.87], abs=0.0051)


def test_a_computed_swing():
    """16 points with .7 against 7 with .95, spread 12: equal at a lead of 16.9. In points all the way in is better."""
    assert swings(FULL, HALF, 12) == pytest.approx([16.9], abs=0.05)
    assert points_of(FULL) > points_of(HALF)
    assert win_chance(FULL, 10, 12) > win_chance(HALF, 10, 12)
    assert win_chance(FULL, 20, 12) < win_chance(HALF, 20, 12)


def test_simulated_matches_are_won_as_often():
    rng, n = np.random.default_rng(1), 400_000
    for ahead in (-12, 3, 17):
        scored = ahead + rng.normal(0, 12, n) + 16 * (rng.random(n) < 0.7)
        assert np.mean(scored > 0) == pytest.approx(win_chance(FULL, ahead, 12), abs=0.003)


@given(st.floats(1, 40), st.floats(0.05, 0.95), st.floats(1, 40), st.floats(0.05, 0.95), st.floats(2, 30))
def test_at_a_swing_both_win_equally_often_and_between_two_one_is_better(points, chance, other, sure, spread):
    one, two = [(points, chance)], [(other, sure)]
    found = swings(one, two, spread)
    for ahead in found:
        assert win_chance(one, ahead, spread) == pytest.approx(win_chance(two, ahead, spread), abs=1e-7)
    assert list(found) == sorted(found)
    assert swings(one, one, spread) == ()


def test_what_is_no_chance_is_refused():
    with pytest.raises(ValueError, match="sum"):
        win_chance([(3, 0.7), (4, 0.5)], 0)
    with pytest.raises(ValueError, match="spread"):
        win_chance(FULL, 0, 0)
