"""Within which times something happened that nobody noted exactly: by hand-made marks around a call at 134 s."""

import pytest

from tests.analysis.rounds.test_result import result
from tests.support.analysis.rehearsal_games import ENDED_NS, held_on, ns, push, touch
from tocsin.analysis.rounds.bounds import Bounds
from tocsin.model.drill import Clean
from tocsin.units import NS_PER_S as S

CALL_S, WINDOW_S, END_S = 134, 138, 158
TURN = Clean(keep_off=("no_contact",), turned_ns=2 * S)


def tap(at_s):
    return touch(at_s, pointlike=True)


def within(low_s, high_s):
    return Bounds(at_least_ns=round(low_s * S), at_most_ns=None if high_s is None else round(high_s * S))


@pytest.mark.parametrize(
    ("marks", "expected"),
    [
        ([push(130, 136)], within(2, 2)),
        ([held_on(130), touch(137, "turned")], within(0, 3)),
        ([held_on(130), touch(143, "home")], within(0, 9)),
        ([held_on(130)], within(0, None)),
        ([tap(130), touch(137, "turned")], within(0, 3)),
        ([tap(130)], within(0, None)),
        ([tap(120), touch(132, "turned")], None),          # over before the call
        ([push(130, 133)], None),
        ([push(135, 139)], None),                          # begun after it
        ([push(130, 136), tap(133)], within(2, None)),     # of two the last
        ([], None),
    ],
)
def test_a_push_at_the_call_broke_off_within(marks, expected):
    found = result(*marks).bounds
    assert found.break_off == expected
    assert found.push_at_call is (expected is not None)


def test_without_a_call_or_anybody_who_watched_nobody_knows_whether_a_push_was_on():
    assert result(push(130, 136), home_call_ns=None).bounds.push_at_call is None
    assert result(watched=False).bounds.push_at_call is None


@pytest.mark.parametrize(
    ("marks", "expected"),
    [
        ([push(130, 136)], within(2, 2)),
        ([push(130, 140)], within(-2, -2)),
        ([held_on(130), touch(135, "turned")], within(3, 8)),
        ([tap(130), touch(135, "turned")], within(3, 8)),
        ([touch(130)], within(8, 8)),                      # a key that went up at once
        ([push(140, 141)], None),
    ],
)
def test_a_margin_lies_within(marks, expected):
    assert result(*marks).bounds.margin == expected


def test_a_push_that_nothing_ended_has_a_margin_down_to_the_runs_end():
    found = result(held_on(130)).bounds.margin
    assert (found.at_least_ns, found.at_most_ns) == (ns(WINDOW_S) - ENDED_NS, 8 * S)


def test_a_turn_is_exact_or_before_home_or_later_than_anybody_looked_out_for_it():
    assert result(touch(136, "turned"), touch(143, "home")).bounds.turn == within(2, 2)
    assert result(touch(143, "home")).bounds.turn == within(0, 9)
    assert result(touch(150, "home_half")).bounds.turn == within(0, 16)
    assert result(push(130, 136)).bounds.turn is None, "nobody was asked to look out for it"
    asked = result(push(130, 136), rule=TURN).bounds.turn
    assert (asked.at_least_ns, asked.at_most_ns) == (ENDED_NS - ns(CALL_S), None)
    assert result(rule=TURN, watched=False).bounds.turn is None


def test_a_way_is_exact_or_no_longer_than_from_the_call_or_longer_than_the_match():
    assert result(touch(136, "turned"), touch(143, "home")).bounds.way == within(7, 7)
    assert result(touch(143, "home")).bounds.way == within(0, 9)
    assert result(touch(136, "turned"), touch(157, "home_none")).bounds.way == within(END_S - 136, None)
    assert result(touch(136, "turned")).bounds.way is None, "nobody said whether it came home"


def test_a_push_that_never_ended_but_whose_robot_turned_before_the_window_is_no_contact():
    """It was charged as held to the end of the run: a key whose going up was lost, as where a window lost the focus."""
    found = result(held_on(130), touch(135, "turned"))
    assert (found.contacts, found.points.cost_at_most, found.unclear) == (0, 0, ())
    assert result(held_on(130)).points.cost_at_most == 15
