"""Within which times something happened that nobody noted exactly: by hand-made marks around a call at 114 s."""

import pytest

from tests.analysis.rounds.test_result import result
from tests.support.analysis.rehearsal_games import ENDED_NS, held_on, ns, push, touch
from tocsin.analysis.rounds.bounds import Bounds
from tocsin.model.drill import Clean
from tocsin.units import NS_PER_S as S

CALL_S, WINDOW_S, END_S = 114, 118, 136
TURN = Clean(keep_off=("no_contact",), turned_ns=2 * S)


def tap(at_s):
    return touch(at_s, pointlike=True)


def within(low_s, high_s):
    return Bounds(at_least_ns=round(low_s * S), at_most_ns=None if high_s is None else round(high_s * S))


@pytest.mark.parametrize(
    ("marks", "expected"),
    [
        ([push(110, 116)], within(2, 2)),
        ([held_on(110), touch(117, "turned")], within(0, 3)),
        ([held_on(110), touch(123, "home")], within(0, 9)),
        ([held_on(110)], within(0, None)),
        ([tap(110), touch(117, "turned")], within(0, 3)),
        ([tap(110)], within(0, None)),
        ([tap(100), touch(112, "turned")], None),          # over before the call
        ([push(110, 113)], None),
        ([push(115, 119)], None),                          # begun after it
        ([push(110, 116), tap(113)], within(2, None)),     # of two the last
        ([], None),
    ],
)
def test_a_push_at_the_call_broke_off_within(marks, expected):
    found = result(*marks).bounds
    assert found.break_off == expected
    assert found.push_at_call is (expected is not None)


def test_without_a_call_or_anybody_who_watched_nobody_knows_whether_a_push_was_on():
    assert result(push(110, 116), home_call_ns=None).bounds.push_at_call is None
    assert result(watched=False).bounds.push_at_call is None


@pytest.mark.parametrize(
    ("marks", "expected"),
    [
        ([push(110, 116)], within(2, 2)),
        ([push(110, 120)], within(-2, -2)),
        ([held_on(110), touch(115, "turned")], within(3, 8)),
        ([tap(110), touch(115, "turned")], within(3, 8)),
        ([touch(110)], within(8, 8)),                      # a key that went up at once
        ([push(120, 121)], None),
    ],
)
def test_a_margin_lies_within(marks, expected):
    assert result(*marks).bounds.margin == expected


def test_a_push_that_nothing_ended_has_a_margin_down_to_the_runs_end():
    found = result(held_on(110)).bounds.margin
    assert (found.at_least_ns, found.at_most_ns) == (ns(WINDOW_S) - ENDED_NS, 8 * S)


def test_a_turn_is_exact_or_before_home_or_later_than_anybody_looked_out_for_it():
    assert result(touch(116, "turned"), touch(123, "home")).bounds.turn == within(2, 2)
    assert result(touch(123, "home")).bounds.turn == within(0, 9)
    assert result(touch(130, "home_half")).bounds.turn == within(0, 16)
    assert result(push(110, 116)).bounds.turn is None, "nobody was asked to look out for it"
    asked = result(push(110, 116), rule=TURN).bounds.turn
    assert (asked.at_least_ns, asked.at_most_ns) == (ENDED_NS - ns(CALL_S), None)
    assert result(rule=TURN, watched=False).bounds.turn is None


def test_a_way_is_exact_or_no_longer_than_from_the_call_or_longer_than_the_match():
    assert result(touch(116, "turned"), touch(123, "home")).bounds.way == within(7, 7)
    assert result(touch(123, "home")).bounds.way == within(0, 9)
    assert result(touch(116, "turned"), touch(135, "home_none")).bounds.way == within(END_S - 116, None)
    assert result(touch(116, "turned")).bounds.way is None, "nobody said whether it came home"


def test_a_push_that_never_ended_but_whose_robot_turned_before_the_window_is_no_contact():
    """It was charged as held to the end of the run: a key whose going up was lost, as where a window lost the focus."""
    found = result(held_on(110), touch(115, "turned"))
    assert (found.contacts, found.points.cost_at_most, found.unclear) == (0, 0, ())
    assert result(held_on(110)).points.cost_at_most == 9
