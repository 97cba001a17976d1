"""What a channel has to do, and when: examples on both sides of each edge, then properties."""

import pytest
from hypothesis import example, given
from hypothesis import strategies as st
from msgspec.structs import replace

from tocsin.model.clock.origins import Origin
from tocsin.model.clock.schedule import Order, Schedule
from tocsin.model.timeline.timeline import Firing, Point
from tocsin.units import NS_PER_MS as MS
from tocsin.units import NS_PER_S as S

LIMIT = 150 * MS


def firing(no=0, at=10 * S, until=None, channel="light", anchor="match", role=None, when="", lasts=S):
    return Firing(
        no=no, cue=f"cue{no}", n=0, channel=channel, role=role, begin=Point(anchor, at),
        until=None if until is None else Point("match", until), sustained=until is not None and channel != "rumble",
        pattern="p", word="Home", late_limit_ns=LIMIT, priority=5, when=when, match_ns=at, lasts_ns=lasts,
    )  # fmt: skip


def schedule(*firings, latency=0, done=(), segments=("match", "driver")):
    return Schedule(firings, segments, latency_ns=latency, done=done)


def start(plan, origin=100 * S, rate=1.0, sent=0, anchor="match", instance=0):
    plan.set_origin(Origin(anchor=anchor, origin_ns=origin, rate=rate, sent_ns=sent, instance=instance))


def said(orders: list[Order]):
    return [(o.verb, o.shot.firing.no, o.why) for o in orders]


def test_a_firing_begins_at_its_moment_and_not_before():
    plan = schedule(firing())
    start(plan)
    assert said(plan.due(110 * S - 1)) == []
    assert plan.next_ns() == 110 * S
    assert said(plan.due(110 * S)) == [("begin", 0, "")]
    assert said(plan.due(110 * S + 1)) == []


def test_latency_is_taken_off_so_that_it_lands_on_time():
    plan = schedule(firing(), latency=80 * MS)
    start(plan)
    assert said(plan.due(110 * S - 80 * MS - 1)) == []
    assert said(plan.due(110 * S - 80 * MS)) == [("begin", 0, "")]


def test_latency_is_taken_off_the_end_too_so_that_it_lasts_as_long_as_its_pattern():
    plan = schedule(firing(lasts=2 * S), latency=80 * MS)
    start(plan)
    (order,) = plan.due(110 * S - 80 * MS)
    assert order.shot.end_ns == 112 * S - 80 * MS


def test_a_rate_scales_match_time_but_no_pattern():
    plan = schedule(firing(lasts=2 * S))
    start(plan, rate=20.0)
    (order,) = plan.due(100 * S + 500 * MS)
    assert order.shot.begin_ns == 100 * S + 500 * MS
    assert order.shot.end_ns == 102 * S + 500 * MS


def test_a_struck_firing_within_its_late_limit_is_played_and_beyond_it_skipped():
    for late, verb, why in ((LIMIT, "begin", ""), (LIMIT + 1, "skip", "late")):
        plan = schedule(firing())
        start(plan)
        assert said(plan.due(110 * S + late)) == [(verb, 0, why)]


def test_a_clock_set_past_a_firing_crosses_it():
    plan = schedule(firing())
    start(plan, sent=111 * S)
    assert said(plan.due(111 * S)) == [("skip", 0, "crossed")]


def test_a_held_firing_that_begins_late_is_resumed_while_anything_of_it_is_left():
    plan = schedule(firing(until=14 * S))
    start(plan)
    assert said(plan.due(113 * S)) == [("resume", 0, "")]
    assert said(plan.due(114 * S)) == [("end", 0, "")]
    late = schedule(firing(until=14 * S))
    start(late)
    assert said(late.due(114 * S)) == [("skip", 0, "late")]


def test_a_hold_ends_what_shows_and_a_resume_shows_the_rest_without_repeating_what_was_struck():
    plan = schedule(firing(0, until=14 * S), firing(1, channel="sound"))
    start(plan)
    assert said(plan.due(110 * S)) == [("begin", 0, ""), ("begin", 1, "")]
    plan.withdraw()
    assert sorted(said(plan.due(111 * S))) == [("end", 0, ""), ("end", 1, "")]
    assert said(plan.due(200 * S)) == []
    start(plan, origin=190 * S, sent=201 * S)
    assert said(plan.due(201 * S)) == [("resume", 0, "")]


def test_a_clock_set_back_takes_a_state_away_until_its_moment_comes_again():
    plan = schedule(firing(until=14 * S))
    start(plan)
    plan.due(110 * S)
    start(plan, origin=102 * S, sent=111 * S)
    assert said(plan.due(111 * S)) == [("end", 0, "")]
    assert said(plan.due(112 * S)) == [("resume", 0, "")]


def test_a_struck_pattern_runs_on_when_the_clock_is_set_back():
    plan = schedule(firing(channel="rumble", role="driver"))
    start(plan)
    plan.due(110 * S)
    start(plan, origin=101 * S, sent=110 * S)
    assert said(plan.due(110 * S + 1)) == []
    assert said(plan.due(111 * S)) == []


def test_an_end_that_moves_is_shown_and_an_unknown_end_waits():
    plan = schedule(
        replace(firing(), until=Point("mark.swap", 0)), firing(1, at=50 * S)
    )
    start(plan)
    (order,) = plan.due(110 * S)
    assert order.shot.end_ns is None
    start(plan, origin=115 * S, anchor="mark.swap")
    assert said(plan.due(112 * S)) == [("change", 0, "")]
    assert said(plan.due(115 * S)) == [("end", 0, "")]


def test_a_pad_that_restarts_in_the_interval_gives_one_pulse_more():
    again = schedule(firing(until=14 * S, channel="rumble", role="driver"), done=[(0, 0)])
    start(again)
    assert said(again.due(111 * S)) == [("resume", 0, "")]
    assert said(again.due(112 * S)) == []
    assert said(again.due(114 * S)) == []


def test_what_an_earlier_life_recorded_is_not_struck_again():
    again = schedule(firing(), done=[(0, 0)])
    start(again)
    assert said(again.due(110 * S)) == []


def test_a_later_segment_crosses_what_the_earlier_one_still_had_ahead():
    plan = schedule(firing(0, until=30 * S), firing(1, at=20 * S))
    start(plan)
    plan.due(110 * S)
    start(plan, origin=118 * S, anchor="driver", sent=115 * S)
    plan.due(115 * S)
    assert said(plan.due(118 * S)) == [("end", 0, ""), ("skip", 1, "crossed")]


def test_what_holds_on_into_the_second_segment_ends_where_the_third_begins():
    plan = schedule(
        replace(firing(0, at=10 * S), until=Point("driver", 60 * S), sustained=True),
        replace(firing(1, at=0, anchor="call.home"), until=Point("driver", 60 * S), sustained=True),
        segments=("match", "driver", "last"),
    )
    start(plan)
    assert said(plan.due(110 * S)) == [("begin", 0, "")]
    start(plan, origin=115 * S, anchor="driver")
    start(plan, origin=120 * S, anchor="call.home")
    assert said(plan.due(120 * S)) == [("change", 0, ""), ("begin", 1, "")]
    start(plan, origin=130 * S, anchor="last", sent=125 * S)
    assert said(plan.due(125 * S)) == [("change", 0, ""), ("change", 1, "")]
    assert said(plan.due(130 * S - 1)) == []
    assert said(plan.due(130 * S)) == [("end", 0, ""), ("end", 1, "")]


def test_each_call_fires_anew_and_ends_the_one_before():
    plan = schedule(firing(at=0, anchor="call.home", until=14 * S))
    start(plan)
    start(plan, origin=105 * S, anchor="call.home", instance=0)
    assert said(plan.due(105 * S)) == [("begin", 0, "")]
    start(plan, origin=107 * S, anchor="call.home", instance=1)
    assert said(plan.due(107 * S)) == [("end", 0, ""), ("begin", 0, "")]


def test_a_call_after_the_moment_it_holds_until_shows_its_own_length():
    plan = schedule(firing(at=0, anchor="call.home", until=4 * S, lasts=2 * S))
    start(plan)
    start(plan, origin=105 * S, anchor="call.home")
    (order,) = plan.due(105 * S)
    assert order.verb == "begin"
    assert order.shot.end_ns == 107 * S


def test_a_given_firing_is_recorded_and_not_played():
    plan = schedule(firing())
    start(plan)
    plan.give([0])
    assert plan.upcoming(200 * S) == []
    assert said(plan.due(110 * S)) == [("skip", 0, "given")]


def test_a_firing_of_another_variant_stays_away_and_comes_with_its_variant():
    plan = schedule(firing(when="north_first", until=14 * S))
    plan.choose("we_second")
    start(plan)
    assert said(plan.due(111 * S)) == []
    plan.choose("north_first")
    assert said(plan.due(112 * S)) == [("resume", 0, "")]
    plan.choose("we_second")
    assert said(plan.due(113 * S)) == [("end", 0, "")]


def test_a_count_in_to_a_moment_in_mid_match_begins_nothing_of_what_lies_before_it():
    """The clock starts at 12 s of match time: what lies 1 ns before is left out, what lies on it comes."""
    plan = schedule(
        firing(0, at=10 * S), firing(1, at=12 * S - 1), firing(2, at=12 * S), firing(3, at=9 * S, until=13 * S)
    )
    plan.set_origin(Origin(anchor="match", origin_ns=100 * S, sent_ns=107 * S, starts_ns=112 * S))
    assert said(plan.due(110 * S)) == []
    assert said(plan.due(112 * S)) == [
        ("skip", 0, "crossed"), ("skip", 1, "crossed"), ("begin", 2, ""), ("resume", 3, ""),
    ]  # fmt: skip
    assert said(plan.due(113 * S)) == [("end", 2, ""), ("end", 3, "")]


def test_roles_may_have_pads_of_their_own_delay():
    plan = schedule(firing(0, channel="rumble", role="driver"), firing(1, channel="rumble", role="operator"))
    plan.set_role_latency({"driver": 80 * MS})
    start(plan)
    assert said(plan.due(110 * S - 80 * MS)) == [("begin", 0, "")]
    assert said(plan.due(110 * S)) == [("begin", 1, "")]


moments = st.integers(0, 40).map(lambda tenths: tenths * S // 10)


@st.composite
def firings(draw):
    result = []
    for no in range(draw(st.integers(1, 6))):
        at = draw(moments)
        until = draw(st.none() | st.integers(1, 30).map(lambda t, at=at: at + t * S // 10))
        result.append(firing(no, at=at, until=until, channel=draw(st.sampled_from(["light", "sound", "screen"]))))
    return result


@pytest.mark.parametrize(("late_ms", "verb"), [(99, "begin"), (100, "skip")])
def test_a_state_that_is_over_before_it_could_show_is_never_shown(late_ms, verb):
    """Its late limit is longer than it lasts; its interval is half open."""
    plan = schedule(firing(0, at=10 * S, until=10 * S + 100 * MS))
    start(plan)
    (order,) = plan.due(110 * S + late_ms * MS)
    assert (order.verb, order.why) == (verb, "" if verb == "begin" else "late")
    assert said(plan.due(110 * S + 100 * MS)) == ([("end", 0, "")] if verb == "begin" else [])


@example([firing(0, at=6 * S // 10, until=7 * S // 10)], [(100, -8)])
@example([firing(0, at=0, until=29 * S // 10, channel="sound")], [(1, -19), (99, 0)])
@given(firings(), st.lists(st.tuples(st.integers(1, 900), st.integers(-20, 20)), max_size=12))
def test_whatever_the_clock_does_nothing_is_struck_twice_and_states_show_exactly_in_their_interval(plan_firings, moves):
    """Sleep for a while, then nudge by tenths of a second, again and again."""
    plan = schedule(*plan_firings)
    now, origin = 0, S
    start(plan, origin=origin)
    begun: list[int] = []
    showing: set[int] = set()
    for sleep_ms, nudge in [*moves, (9000, 0)]:
        for _ in range(2):
            for order in plan.due(now):
                no = order.shot.firing.no
                if order.verb in ("begin", "skip"):
                    assert no not in begun
                    begun.append(no)
                if order.verb in ("begin", "resume"):
                    showing.add(no)
                if order.verb == "end":
                    showing.discard(no)
            for one in plan_firings:
                if one.until is not None and one.channel != "sound":           # which ends by itself
                    inside = origin + one.begin.offset_ns <= now < origin + one.until.offset_ns
                    assert (one.no in showing) == inside
            if nudge:
                origin += nudge * S // 10
                start(plan, origin=origin, sent=now)
        now += sleep_ms * MS
