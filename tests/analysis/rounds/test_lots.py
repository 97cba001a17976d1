"""What the lot did to a round's call is told behind the round, and no driver is scolded for it."""

import pytest

from tests.support.analysis.rehearsal_games import ENDED_NS, FOUNDRY, STARTED, TIMELINE, push
from tocsin.analysis.rounds.lots import is_late_by_lot, lot_text
from tocsin.analysis.rounds.result import PlayedRound, round_result
from tocsin.analysis.rounds.text import lines
from tocsin.analysis.rounds.variation import Condition
from tocsin.model.drill import Clean
from tocsin.units import NS_PER_S as S

RULE = Clean(keep_off=("no_contact",))             # from 118 s on
PLAN_NS = 7 * S // 2
LATER = "By lot the call came 1 s later than in your plan (there 3.5 s ahead)"


def round_of(end_s, shift_s, late_start_s=0):
    """Return the condition and the result of a round whose push ended then."""
    played = PlayedRound(marks=(push(110, end_s),), origins=STARTED, ended_ns=ENDED_NS, error_ms=60)
    dealt = Condition(number=3, half_speed=False, shift_ns=shift_s * S, late_start_ns=late_start_s * S)
    return dealt, round_result(FOUNDRY, TIMELINE, played, RULE)


@pytest.mark.parametrize(
    ("end_s", "shift_s", "text", "is_by_lot"),
    [
        (116, 0, "", False),
        (116, 1, "By lot the call came 1 s earlier than in your plan (there 3.5 s ahead).", False),
        (116, -1, f"{LATER}.", False),
        (118.9, -1, f"{LATER}: the drill was late, not the driver.", True),
        (119.6, -1, f"{LATER}: the drill itself added 1 s.", False),
        (118.9, 1, "By lot the call came 1 s earlier than in your plan (there 3.5 s ahead).", False),
        (118.9, 0, "", False),
    ],
)
def test_the_call_that_was_moved(end_s, shift_s, text, is_by_lot):
    condition, result = round_of(end_s, shift_s)
    assert lot_text(condition, result, PLAN_NS + shift_s * S, 0) == text
    assert is_late_by_lot(condition, result, 0) is is_by_lot


def test_a_verdict_that_the_lot_made_says_so_first():
    condition, result = round_of(118.9, -1)
    dealt = lot_text(condition, result, PLAN_NS - S, 0)
    told = lines(result, dealt=dealt, is_by_lot=is_late_by_lot(condition, result, 0))
    assert told[:2] == (f"Not clean, called late: {result.why[0]}.", dealt)
    assert lines(result)[0] == f"Not clean: {result.why[0]}."


def test_a_late_start_a_call_by_hand_and_a_lead_at_its_least():
    condition, result = round_of(116, -1, 2)
    assert lot_text(condition, result, None, 0) == "By chance it began 2 s after the count."
    told = lot_text(condition, result, 0, 0)
    assert told.startswith("By lot the call came 1 s later than in your plan. By chance it")


def test_what_people_took_out_is_said_first():
    _, result = round_of(116, 0)
    assert lines(result, taken_out="wrong set-up")[:2] == ("NOT COUNTED: wrong set-up.", "Clean.")
