"""Drills that can be won: how often the crew of the table reaches each bundled goal, and what no verdict may pass.

Shares are of 300 evenings, so a share of a half has a standard error of 2.9 %; ``TOCSIN_EXAMPLES`` asks for more.
"""

from functools import cache

import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

from tests.support.analysis.rehearsal_games import ENDED_NS, FOUNDRY, STARTED, TIMELINE, ns
from tests.support.people.table_crew import TABLE_CREW, Crew, PlayedEvening, breaks_in, loaded, play
from tocsin.analysis.rounds.own_limit import PLACE, ROUNDS
from tocsin.analysis.rounds.result import PlayedRound, round_result
from tocsin.config import bundle
from tocsin.model.drill import Clean
from tocsin.model.mark import Mark
from tocsin.units import NS_PER_MS as MS
from tocsin.units import NS_PER_S as S

EVENINGS = 12 * settings.default.max_examples
ERROR = 0.5 / EVENINGS**0.5               # the largest standard error of a share of them
DRILLS = [name for name in bundle.names("drills") if loaded(name).drill.goal is not None]
LATER = TABLE_CREW.slower(1.0)


@cache
def evenings(name: str, crew: Crew, count: int = EVENINGS) -> tuple[PlayedEvening, ...]:
    return tuple(play(name, crew, seed) for seed in range(count))


def reached(played: tuple[PlayedEvening, ...]) -> float:
    return sum(evening.goal == "reached" for evening in played) / len(played)


def test_the_drills_that_have_a_goal():
    assert set(DRILLS) == {"break_off", "missing_signal", "fork", "words"}


@pytest.mark.parametrize("name", DRILLS)
def test_the_table_crew_reaches_each_goal_about_every_other_evening(name):
    assert 0.35 - 2 * ERROR <= reached(evenings(name, TABLE_CREW)) <= 0.65 + 2 * ERROR


@pytest.mark.parametrize("name", DRILLS)
def test_one_a_second_slower_seldom_does(name):
    assert reached(evenings(name, LATER)) <= 0.10


@pytest.mark.parametrize("name", ["break_off", "missing_signal"])
def test_by_the_limit_of_two_seconds_that_drills_once_had_nobody_ever_reached_it(name):
    rule = Clean(keep_off=("no_contact",), turned_ns=2 * S)
    assert {play(name, TABLE_CREW, seed, rule=rule).goal for seed in range(EVENINGS // 8)} == {"lost"}


@pytest.mark.parametrize("name", [name for name in DRILLS if loaded(name).drill.clean.keep_off])
@pytest.mark.parametrize("crew", [TABLE_CREW, LATER], ids=["table", "later"])
def test_a_contact_in_the_window_is_never_clean(name, crew):
    rounds = [one for evening in evenings(name, crew) for one in evening.rounds]
    broken = [one for one in rounds if breaks_in(name, one)]
    assert len(broken) > EVENINGS / 20
    assert not [one for one in broken if one.result.clean]


@pytest.mark.parametrize("crew", [TABLE_CREW, LATER], ids=["table", "later"])
def test_a_crew_stays_within_its_own_limit_as_often_as_its_place_says(crew):
    """A new round is as likely to fall on any of the places among those that set the limit; rounding up adds a bit."""
    judged = [
        one.result.turn_ns <= one.own.turned_ns
        for evening in evenings("break_off", crew)
        for one in evening.rounds
        if one.own.turned_ns is not None and one.result.turn_ns is not None
    ]
    assert len(judged) > 2 * EVENINGS
    assert PLACE / (ROUNDS + 1) - 0.03 < sum(judged) / len(judged) < PLACE / (ROUNDS + 1) + 0.09


def test_turn_reports_what_a_plan_needs():
    """It had as many rounds at half speed as rounds, and those never count."""
    for evening in (play("turn", TABLE_CREW, seed) for seed in range(20)):
        counted = [one.result for one in evening.rounds if one.result.counted]
        assert len(counted) == 8
        assert any(result.turn_ns is not None and result.travel_ns is not None for result in counted)
        assert [one.condition.half_speed for one in evening.rounds] == [True] * 4 + [False] * 8
        for half in (True, False):
            setups = {one.condition.setup for one in evening.rounds if one.condition.half_speed is half}
            assert len(setups) == 4


def test_equal_seeds_give_equal_evenings():
    assert play("fork", TABLE_CREW, 3) == play("fork", TABLE_CREW, 3)
    assert play("fork", TABLE_CREW, 3) != play("fork", TABLE_CREW, 4)


# -- a contact that truly lay inside is never clean -------------------------------------------------------------------

BEGIN_MS, END_MS = 118_000, 140_000        # of the window
LAG_MS = st.integers(*(round(1000 * s) for s in TABLE_CREW.lag))
HELD_MS = 300                          # a key that is held for less is a point


@given(
    begin_ms=st.integers(BEGIN_MS - 8000, END_MS - 1), lasts_ms=st.integers(1, 9000),
    begin_lag_ms=LAG_MS, end_lag_ms=LAG_MS,
)  # fmt: skip
@example(begin_ms=END_MS - 1, lasts_ms=50, begin_lag_ms=800, end_lag_ms=800)
@example(begin_ms=BEGIN_MS - 2000, lasts_ms=2001, begin_lag_ms=300, end_lag_ms=300)
@example(begin_ms=BEGIN_MS - 1, lasts_ms=2, begin_lag_ms=300, end_lag_ms=300)
def test_whatever_the_scribes_lag_a_true_contact_is_never_clean(begin_ms, lasts_ms, begin_lag_ms, end_lag_ms):
    end_ms = begin_ms + lasts_ms
    if end_ms <= BEGIN_MS:
        begin_ms, end_ms = begin_ms + BEGIN_MS - end_ms + 1, BEGIN_MS + 1
    found = result_of(begin_ms + begin_lag_ms, end_ms + end_lag_ms)
    assert found.clean is not True


@given(gap_ms=st.integers(0, 9000), lasts_ms=st.integers(1, 9000), begin_lag_ms=LAG_MS, end_lag_ms=LAG_MS)
@example(gap_ms=0, lasts_ms=5000, begin_lag_ms=300, end_lag_ms=800)
def test_nor_is_a_push_charged_that_truly_ended_before(gap_ms, lasts_ms, begin_lag_ms, end_lag_ms):
    end_ms = BEGIN_MS - gap_ms
    found = result_of(end_ms - lasts_ms + begin_lag_ms, end_ms + end_lag_ms)
    assert found.clean is not False


def result_of(begin_ms, end_ms):
    """Return the result of a round in which a key was pressed at these times of the match."""
    held = end_ms - begin_ms >= HELD_MS
    mark = Mark(label="contact", begin_ns=ns(0) + begin_ms * MS, end_ns=ns(0) + end_ms * MS if held else None)
    played = PlayedRound(marks=(mark,), origins=STARTED, ended_ns=ENDED_NS)
    return round_result(FOUNDRY, TIMELINE, played, Clean(keep_off=("no_contact",)))
