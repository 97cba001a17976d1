"""The limit that a crew sets itself: from which rounds, how large, and by which words."""

import pytest
from hypothesis import given
from hypothesis import strategies as st
from msgspec.structs import replace

from tests.support.analysis.rehearsal_games import ENDED_NS, FOUNDRY, STARTED, TIMELINE, ns, touch
from tocsin.analysis.rounds.own_limit import PLACE, ROUNDS, OwnLimit, limit_text, own_limit, round_text, with_own
from tocsin.analysis.rounds.result import PlayedRound, round_result
from tocsin.analysis.rounds.text import lines
from tocsin.model.drill import Clean
from tocsin.units import NS_PER_MS as MS
from tocsin.units import NS_PER_S as S

OWN = Clean(keep_off=("no_contact",), turned_own=True)
CALL_S = 114


def played(turn_s, rule=OWN, **rest):
    marks = () if turn_s is None else (touch(CALL_S + turn_s, "turned"),)
    whole = PlayedRound(marks=marks, origins=STARTED, ended_ns=ENDED_NS, home_call_ns=ns(CALL_S))
    return round_result(FOUNDRY, TIMELINE, replace(whole, **rest), rule)


def limit(*turns_s):
    return own_limit(played(turn_s) for turn_s in turns_s)


def test_the_fourth_of_the_first_five_rounded_up_to_a_tenth():
    assert limit(2.31, 2.1, 9, 2.74, 2.5) == OwnLimit(turned_ns=2800 * MS, rounds=5)
    assert limit(2.31, 2.1, 9, 2.7, 2.5) == OwnLimit(turned_ns=2700 * MS, rounds=5)
    assert limit(2.31, 2.1, 9, 2.74, 2.5, 1, 1, 1).turned_ns == 2800 * MS, "later rounds are judged by it"


def test_until_there_are_five_there_is_none():
    for known in range(ROUNDS):
        assert limit(*[2.5] * known) == OwnLimit(rounds=known)


def test_what_does_not_count_and_what_nobody_noted_sets_no_limit():
    rounds = [played(1, half_speed=True), played(None), played(2), played(1, error_ms=900), *[played(2)] * 3]
    assert own_limit(rounds) == OwnLimit(rounds=4)
    assert own_limit([*rounds, played(3)]).turned_ns == 2 * S


def test_who_turned_before_the_call_is_asked_for_no_more_than_that():
    assert limit(*[-0.5] * 5).turned_ns == 0


@given(st.lists(st.integers(0, 9000), min_size=ROUNDS, max_size=12))
def test_all_but_the_slowest_of_the_first_keep_to_it(turns_ms):
    found = limit(*(ms / 1000 for ms in turns_ms))
    first = sorted(turns_ms[:ROUNDS])
    assert 0 <= found.turned_ns - first[PLACE - 1] * MS < 100 * MS
    assert found.turned_ns % (100 * MS) == 0


def test_a_rule_without_it_is_left_alone_and_one_that_asks_gets_it():
    fixed = Clean(turned_ns=2 * S)
    assert with_own(fixed, OwnLimit(turned_ns=3 * S, rounds=5)) == fixed
    assert with_own(OWN, None) == with_own(OWN, OwnLimit(rounds=3)) == OWN
    assert with_own(OWN, OwnLimit(turned_ns=3 * S, rounds=5)).turned_ns == 3 * S


@pytest.mark.parametrize(
    ("rule", "turn_s", "clean", "line"),
    [
        (OWN, 9, True, "Clean."),
        (OWN, None, True, "Clean."),
        (Clean(turned_own=True), 2, None, "Not judged: this round sets your limit."),
        (with_own(OWN, OwnLimit(turned_ns=2800 * MS, rounds=5)), 2.8, True, "Clean."),
        (with_own(OWN, OwnLimit(turned_ns=2800 * MS, rounds=5)), 2.84, False,
         "Not clean: turned up to 0.1 s too late (limit 2.8 s)."),
        (with_own(OWN, OwnLimit(turned_ns=2800 * MS, rounds=5)), 3.1, False,
         "Not clean: turned 3.1 s after the call, not within 2.8 s."),
        (with_own(OWN, OwnLimit(turned_ns=2800 * MS, rounds=5)), None, None,
         "Not judged: nobody noted when the robot turned."),
    ],
)  # fmt: skip
def test_the_turn_is_judged_once_there_is_a_limit(rule, turn_s, clean, line):
    found = played(turn_s, rule)
    assert (found.clean, lines(found)[0]) == (clean, line)


def test_the_words():
    assert limit_text(OwnLimit(rounds=2)) == "The first 5 rounds set your limit for the turn: 2 of 5 so far."
    known = OwnLimit(turned_ns=2800 * MS, rounds=5)
    assert limit_text(known) == "Your limit: turned within 2.8 s, from your first 5 rounds."
    assert round_text(known, played(2)) == limit_text(known)
    assert round_text(OwnLimit(rounds=2), played(2)) == "These rounds set your limit for the turn: 3 of 5."
    assert round_text(OwnLimit(rounds=2), played(None)) == "Nobody noted the turn: this round sets no limit."
    assert round_text(OwnLimit(rounds=2), played(2, half_speed=True)) == ""
