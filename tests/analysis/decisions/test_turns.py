"""Where advice ends: asked again a little beyond each turn, the program no longer gives it; a little before it does."""

import numpy as np
import pytest
from msgspec.structs import replace

from tests.analysis.decisions.test_choice import GOOD, KNOWN, season, times_of
from tocsin.analysis.decisions.choice import LEAST_GAIN, Advice, choose, unknown_of
from tocsin.analysis.decisions.turns import turns_of
from tocsin.analysis.decisions.words import no_longer, rule

STEP = {"second": 0.03, "pushes": 0.02, "lag": 0.03}
LONG = replace(KNOWN, lead_s=6.0, second=(0.75, 1.0))                    # a call that may well come later
SHORT = replace(KNOWN, lead_s=2.0, second=(0.5, 1.0), pushes=(0.4, 0.5))


def asked(question, turn, value):
    if turn.number == "lag":
        return replace(question, lag=replace(question.lag, low_s=value, high_s=value))
    return replace(question, **{turn.number: (value, value), "pushes_seen": None})


@pytest.mark.parametrize(
    ("question", "times", "expected"),
    [
        (LONG, season(), {("second", True)}),
        (replace(SHORT, contact=6), season(), {("second", False), ("pushes", True)}),
        (replace(LONG, pushes_seen=(10, 20)), season(), {("second", True)}),
        (SHORT, season(by_scribe=True), {("pushes", True), ("lag", False)}),
    ],
)  # fmt: skip
def test_beyond_each_turn_the_program_no_longer_advises_it(question, times, expected):
    found = choose(question, times, GOOD, seed=1)
    assert isinstance(found, Advice)
    turns = turns_of(found.lead_s, unknown_of(question, times, 1))
    assert {(turn.number, turn.below) for turn in turns} >= expected
    for turn in turns:
        off = -STEP[turn.number] if turn.below else STEP[turn.number]
        beyond = choose(asked(question, turn, turn.at + off), times, GOOD, seed=1)
        before = choose(asked(question, turn, turn.at - off), times, GOOD, seed=1)
        assert not (isinstance(beyond, Advice) and beyond.lead_s == found.lead_s)
        assert isinstance(before, Advice)


def test_it_ends_where_the_gain_is_too_small_not_where_there_is_none():
    """A later call of a second that costs no contact at all: a second has to be worth a quarter of a point."""
    times = times_of(np.full(72, 1.0), np.repeat(np.arange(9), 8).tolist())
    question = replace(KNOWN, lead_s=8.0)
    assert choose(question, times, GOOD, seed=1).lead_s == 7.0
    (turn,) = turns_of(7.0, unknown_of(question, times, 1))
    assert (turn.number, turn.below, turn.at) == ("second", True, pytest.approx(LEAST_GAIN, abs=0.02))
    assert no_longer(turn) == f"A second is worth less than {turn.at:.2f} points."
    assert rule() == "Advice takes a gain of at least 0.25 points a match, sure 9 times in 10."
