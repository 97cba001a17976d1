"""Which leads rounds have shown to be needed: pushes that end after the call, and the way home."""

import statistics

import pytest
from hypothesis import given
from hypothesis import strategies as st
from msgspec.structs import replace
from rehearsal_games import ENDED_NS, STARTED, TIMELINE, held_on, ns, push, touch, undo

from tocsin.model.clock import Origin
from tocsin.rehearsal.needed_leads import LEAST_ROUNDS, Answer, answer_of, needed
from tocsin.rehearsal.result import Round
from tocsin.units import NS_PER_MS as MS
from tocsin.units import NS_PER_S as S

CALLED = Round(marks=(), origins=STARTED, ended_ns=ENDED_NS, home_call_ns=ns(134), error_ms=60)


def answer(*marks, **rest):
    return answer_of(TIMELINE, replace(CALLED, marks=marks, **rest))


@pytest.mark.parametrize(
    ("marks", "took_s"),
    [
        ([push(130, 137)], 3.0),
        ([push(134, 137)], 3.0),                                  # the call landed as they touched
        ([push(130, 134)], None),                                 # had let go already
        ([push(135, 137)], None),                                 # touched after the call: no push to break off
        ([push(120, 135), push(130, 136.5)], 2.5),                # the last of two to end
        ([push(130, 137, by="opponent")], None),
        ([push(130, 137, label="blocked")], None),
        ([held_on(130)], None),                                   # nobody knows when it ended
        ([push(130, 137), undo(0)], None),
    ],
)
def test_a_push_that_the_call_found_is_timed_to_its_end(marks, took_s):
    assert answer(*marks).break_off_ns == (None if took_s is None else round(took_s * 1000) * MS)


@pytest.mark.parametrize(
    ("marks", "took_s"),
    [
        ([touch(144, "home")], 10),
        ([touch(144, "home"), touch(150, "home")], 10),
        ([touch(144, "home_half"), touch(150, "home")], 16),
        ([touch(144, "home_half")], None),                        # half home is not home
        ([touch(130, "home")], None),                             # was there before the call
        ([touch(144, "home", by="partner")], None),
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
    assert answer(push(130, 137), **spoilt) is None


def answers(times_s, home_ns=None):
    return [Answer(break_off_ns=round(s * 1000) * MS, home_ns=home_ns) for s in times_s]


def test_a_few_rounds_tell_nothing():
    assert needed(answers([3.0] * (LEAST_ROUNDS - 1))) == {}
    found = needed(answers([2.8, 3.0, 2.9, 3.3, 3.1]))
    assert list(found) == ["break_off"]
    assert (found["break_off"].lead_ns, found["break_off"].rounds) == (3300 * MS, 5)


def test_nine_in_ten_of_the_trades_own_figure():
    """Breaking off takes 2.8 to 3.3 s, nine in ten (common practice, no source): with one in ten far slower."""
    found = needed(answers([2.8, 2.9, 2.9, 3.0, 3.0, 3.1, 3.1, 3.2, 3.3, 5.0], home_ns=9 * S))
    assert found["break_off"].lead_ns == 3300 * MS
    assert found["home"].lead_ns == 9 * S


@given(st.lists(st.integers(0, 10_000), min_size=LEAST_ROUNDS, max_size=60))
def test_nine_in_ten_rounds_were_through_within_the_lead_and_it_is_the_least_such(times_ms):
    """By the definition of the inverse of an empirical distribution (textbooks; from memory)."""
    lead_ns = needed([Answer(break_off_ns=ms * MS, home_ns=None) for ms in times_ms])["break_off"].lead_ns
    within = [ms * MS <= lead_ns for ms in times_ms]
    assert sum(within) * 10 >= 9 * len(times_ms)
    assert sum(ms * MS < lead_ns for ms in times_ms) * 10 < 9 * len(times_ms)
    assert lead_ns <= max(times_ms) * MS
    assert lead_ns >= statistics.median_low(times_ms) * MS
