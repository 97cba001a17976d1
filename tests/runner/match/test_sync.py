"""A tap in a match: the clock goes to where it belongs, every cue is given once, and all of it is recorded."""

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from msgspec.structs import replace

from tests.support.runner.match_stand import (
    AUTO_S,
    BELFRY_S,
    DRIVER_S,
    END_S,
    LATENCY_NS,
    PRESS_NS,
    TIMELINE,
    TURN_NS,
    WARNING_S,
    Stand,
    own,
)
from tocsin.journal import records
from tocsin.model.clock.sync import EARLY_TAP_MS, Sync
from tocsin.model.display.status import Status
from tocsin.model.display.view_model import ViewModelMaker
from tocsin.model.rig import Start
from tocsin.model.timeline.timeline import MATCH, Point
from tocsin.runner.outcome import Done, Refused
from tocsin.units import NS_PER_MS as MS
from tocsin.units import NS_PER_S as S


@pytest.fixture
def stand(tmp_path):
    return Stand(tmp_path)


def official_ns(stand, seconds, late_ms):
    """Return when a moment really comes of a match that began earlier than the clock at first had it."""
    return stand.first_ns - round(late_ms * MS) + round(seconds * S)


def test_a_late_start_is_put_right_and_every_cue_comes_once_and_on_time(stand):
    late_ms = 400
    assert isinstance(stand.tap(official_ns(stand, AUTO_S, late_ms)), Done)
    assert isinstance(stand.tap(official_ns(stand, DRIVER_S, late_ms)), Done)
    stand.go_on(official_ns(stand, 145, late_ms))
    assert sorted(stand.begun()) == own()
    assert {g.verb for g in stand.given} <= {"begin", "change", "end"}
    for g in (g for g in stand.given if g.verb == "begin" and g.firing.match_ns > 29 * S):
        land_ns = g.at_ns + LATENCY_NS[g.firing.channel]
        assert abs(land_ns - official_ns(stand, g.firing.match_ns / S, late_ms)) < 60 * MS


def test_a_tap_is_recorded_with_the_move_that_followed_and_its_error(stand):
    tapped = stand.tap(official_ns(stand, DRIVER_S, 400))
    moves = [o for o in stand.noted(records.OriginRecord) if o.cause == "sync"]
    assert moves[0].origin_ns == stand.first_ns
    assert moves[-1].origin_ns == pytest.approx(stand.first_ns - 400 * MS, abs=10 * MS)
    assert moves[-1].error_ms == stand.match.error_ms <= EARLY_TAP_MS + 75
    assert [n.text for n in stand.noted(records.Note)] == ["Hands on begins: 0.40 s earlier than by the clock"]
    assert tapped.told.endswith(f"which is now ± {stand.match.error_ms / 1000:.2f} s")
    assert stand.noted(records.State)[-1].event in ("sync", "boundary")


def test_a_tap_near_no_official_moment_is_refused_and_changes_nothing(stand):
    stand.go_on(PRESS_NS + 20 * S)
    before = stand.match.lifecycle.latest
    said = stand.match.sync(stand.now_ns, stand.now_ns)
    assert said == Refused(
        "cannot use the tap: no official moment within 3 s; next: Robot alone ends in 8 s, "
        "Hands on begins in 19 s"
    )
    assert stand.match.lifecycle.latest == before
    assert stand.match.error_ms == Sync.started(Start(by="press")).error_ms
    assert stand.noted(records.State)[-1].refused == said.why


def test_no_moment_is_named_where_nothing_of_what_comes_is_shown_nor_behind_the_last(stand):
    stand.go_on(PRESS_NS + 20 * S)
    said = stand.match.sync(stand.now_ns, stand.now_ns, tells_ahead=False)
    assert said == Refused("cannot use the tap: no official moment within 3 s")
    stand.go_on(stand.first_ns + (END_S + 4) * S - TURN_NS)
    late_ns = stand.now_ns + S
    said = stand.match.sync(stand.now_ns, late_ns)
    assert said == Refused("cannot use the tap: no official moment within 3 s; none comes any more")


def test_a_tap_is_refused_while_no_clock_goes(stand):
    stand.go_on(PRESS_NS + 30 * S)
    stand.match.hold_or_resume(stand.now_ns)
    assert stand.match.sync(stand.now_ns, stand.now_ns) == Refused("cannot use the tap: the clock is held")
    stand.match.scrap(stand.now_ns)
    assert stand.match.sync(stand.now_ns, stand.now_ns) == Refused("cannot use the tap: the match was cancelled")


def test_a_tap_in_the_count_in_brings_the_begin_forward(tmp_path):
    stand = Stand(tmp_path, by="count_in")
    begin_ns = stand.first_ns - 100 * MS
    assert isinstance(stand.tap(begin_ns), Done)
    stand.go_on(begin_ns + 3 * S)
    assert stand.match.lifecycle.phase == "running"
    assert stand.first_ns - 100 * MS < stand.match.lifecycle.latest.origin_ns < stand.first_ns - 40 * MS


def test_two_taps_that_agree_bring_the_clock_to_where_one_alone_does_not(tmp_path):
    stand = Stand(tmp_path, by="count_in")
    assert isinstance(stand.tap(official_ns(stand, 0, 700)), Done)
    stand.go_on(official_ns(stand, 20, 700))
    assert abs(stand.match.lifecycle.latest.origin_ns - stand.first_ns) < 200 * MS
    assert isinstance(stand.tap(official_ns(stand, AUTO_S, 700)), Done)
    stand.go_on(stand.now_ns + 2 * S)
    assert stand.match.lifecycle.latest.origin_ns == pytest.approx(official_ns(stand, 0, 700), abs=20 * MS)


@pytest.mark.parametrize("late_ms", [200, -200])
def test_a_slew_never_lets_the_display_jump_nor_shows_a_thing_twice(tmp_path, late_ms):
    stand = Stand(tmp_path)
    stand.go_on(PRESS_NS + 26 * S)
    stand.digits.clear()
    stand.tap(official_ns(stand, AUTO_S, late_ms))
    stand.go_on(PRESS_NS + 33 * S + S // 2)
    steps = [after - before for before, after in zip(stand.digits, stand.digits[1:], strict=False)]
    assert max(abs(step - TURN_NS) for step in steps) <= 10 * MS
    assert stand.match.lifecycle.latest.origin_ns == pytest.approx(official_ns(stand, 0, late_ms), abs=10 * MS)
    stand.go_on(PRESS_NS + 145 * S)
    assert sorted(stand.begun()) == own()
    assert "resume" not in {g.verb for g in stand.given}         # nothing is taken away and shown again
    states = [r.states for r in stand.noted(records.State) if r.event in ("boundary", "sync")]
    changes = [one for one, other in zip(states, [(), *states], strict=False) if one != other]
    assert len(changes) == len(set(changes))                     # no period comes back


def with_home_at(seconds, late_limit_ns):
    """Return the timeline with HOME at another moment and with another limit."""
    firings = [
        replace(f, begin=Point(MATCH, round(seconds * S)), until=None, sustained=False, late_limit_ns=late_limit_ns)
        if f.cue == "home" and f.match_ns is not None else f
        for f in TIMELINE.firings
    ]  # fmt: skip
    return replace(TIMELINE, firings=tuple(firings))


@pytest.mark.parametrize(("limit_ms", "moves"), [(1500, 1), (150, 2)])
def test_a_step_past_a_cue_still_gives_it(tmp_path, limit_ms, moves):
    """A second tap agrees that the start was a second late. HOME, which comes early while the clock is unsure, is due
    soon, and past after that step. By a limit
    of 1.5 s it is given at once, for one of 0.15 s the step waits."""
    stand = Stand(tmp_path, timeline=with_home_at(39.3, limit_ms * MS))
    assert isinstance(stand.tap(official_ns(stand, AUTO_S, 1000)), Done)
    stand.go_on(official_ns(stand, DRIVER_S, 1000) - 50 * MS)
    before_ns = stand.match.lifecycle.latest.origin_ns
    assert 0 < before_ns - official_ns(stand, 0, 1000) < 600 * MS
    assert isinstance(stand.tap(official_ns(stand, DRIVER_S, 1000)), Done)
    stand.go_on(stand.now_ns + 400 * MS)
    steps = {o.origin_ns for o in stand.noted(records.OriginRecord) if o.cause == "sync" and o.origin_ns < before_ns}
    assert len(steps) == moves
    assert min(steps) == pytest.approx(stand.first_ns - 1000 * MS, abs=30 * MS)
    home = [g for g in stand.given if g.firing.cue == "home" and g.verb == "begin"]
    assert sorted(g.firing.no for g in home) == [
        f.no for f in TIMELINE.firings if f.cue == "home" and f.match_ns is not None
    ]
    assert max(g.at_ns for g in home) - official_ns(stand, DRIVER_S, 1000) < 300 * MS
    stand.go_on(official_ns(stand, 145, 1000))
    assert sorted(stand.begun()) == own()


@settings(max_examples=settings.default.max_examples // 4)
@given(
    taps=st.lists(
        st.tuples(st.sampled_from([AUTO_S, DRIVER_S, BELFRY_S, WARNING_S, END_S]), st.integers(-2900, 2900)),
        min_size=1, max_size=6,
    )
)  # fmt: skip
def test_whatever_is_tapped_no_cue_comes_twice_and_none_is_lost(tmp_path_factory, taps):
    stand = Stand(tmp_path_factory.mktemp("taps"))
    for at_ns in sorted(stand.first_ns + seconds * S + off_ms * MS for seconds, off_ms in taps):
        if at_ns > stand.now_ns:
            stand.tap(at_ns)
    stand.go_on(PRESS_NS + 155 * S)
    assert sorted(stand.begun()) == own()
    assert [g for g in stand.given if g.verb == "skip"] == []
    assert [g for g in stand.given if g.verb == "resume" and g.firing.channel == "rumble"] == []     # no second pulse


@pytest.mark.parametrize("nudges", [1, 5])
@pytest.mark.parametrize("ahead_ms", [10, 60, 120, 190, 400, 900])
def test_a_nudge_past_a_cue_still_gives_it(tmp_path, nudges, ahead_ms):
    """HOME, with a late limit of 0.15 s, is due in a moment: a nudge of 0.2 s crossed it, and it was never given."""
    stand = Stand(tmp_path, timeline=with_home_at(50, 150 * MS))
    stand.go_on(stand.first_ns + 50 * S - ahead_ms * MS)
    for _ in range(nudges):
        assert isinstance(stand.match.nudge(stand.now_ns, 200 * MS), Done)
    stand.go_on(stand.now_ns + 2 * S)
    assert stand.match.lifecycle.latest.origin_ns == stand.first_ns - nudges * 200 * MS
    assert stand.match.error_ms < 700
    stand.go_on(PRESS_NS + 155 * S)
    assert sorted(stand.begun()) == own()
    assert [g for g in stand.given if g.verb == "skip"] == []


def test_a_nudge_while_held_gives_what_it_would_have_crossed_as_the_clock_goes_on(tmp_path):
    stand = Stand(tmp_path, timeline=with_home_at(50, 150 * MS))
    stand.go_on(stand.first_ns + 49 * S)
    assert isinstance(stand.match.hold_or_resume(stand.now_ns), Done)
    for _ in range(10):
        assert isinstance(stand.match.nudge(stand.now_ns, 200 * MS), Done)
    stand.go_on(stand.now_ns + S)
    assert isinstance(stand.match.hold_or_resume(stand.now_ns), Done)
    stand.go_on(PRESS_NS + 160 * S)
    assert sorted(stand.begun()) == own()
    assert stand.match.lifecycle.latest.origin_ns == pytest.approx(stand.first_ns + S - 2000 * MS, abs=60 * MS)


def test_nudges_there_and_back_take_each_other_away(stand):
    stand.go_on(stand.first_ns + 113 * S + 900 * MS)
    for by_ms in (200, 200, -200, -200):
        assert isinstance(stand.match.nudge(stand.now_ns, by_ms * MS), Done)
    stand.go_on(stand.now_ns + S)
    assert stand.match.lifecycle.latest.origin_ns == stand.first_ns


def test_an_unsure_clock_says_so_and_calls_come_early(tmp_path):
    """A start by itself, and two taps that are 1.6 s apart: which of them is right nobody knows."""
    stand = Stand(tmp_path)
    stand.begin_by_itself()
    assert isinstance(stand.tap(official_ns(stand, AUTO_S, 0)), Done)
    assert stand.match.early_ms == 0
    assert isinstance(stand.tap(official_ns(stand, DRIVER_S, -1600)), Done)
    stand.go_on(stand.now_ns + 8 * S)
    early_ms, clock = stand.match.early_ms, stand.match.lifecycle.latest
    assert stand.match.error_ms > 700
    assert [o.origin_ns for o in stand.match.origins()] == [clock.origin_ns - early_ms * MS]
    assert clock.origin_ns - early_ms * MS < official_ns(stand, 0, 0)
    assert stand.noted(records.Note)[-1].what == "early"
    view = ViewModelMaker(TIMELINE).at(Status(phase="running", origins=(clock,), early_ms=early_ms), stand.now_ns)
    assert view.prompt == f"clock unsure: calls come {early_ms / 1000:.1f} s early"
    stand.go_on(PRESS_NS + 155 * S)
    begun = stand.begun()
    assert len(begun) == len(set(begun))
    assert sorted(begun) == own()
    home = next(g for g in stand.given if g.firing.cue == "home" and g.firing.channel == "light")
    assert home.at_ns == pytest.approx(clock.real_ns(home.firing.match_ns) - early_ms * MS, abs=10 * MS)


def test_a_nudge_ends_a_slew(stand):
    stand.tap(official_ns(stand, DRIVER_S, 200))
    stand.go_on(stand.now_ns + S)
    stand.match.nudge(stand.now_ns, 200 * MS)
    nudged_ns = stand.match.lifecycle.latest.origin_ns
    stand.go_on(stand.now_ns + 5 * S)
    assert stand.match.lifecycle.latest.origin_ns == nudged_ns
    assert stand.match.error_ms > 190


@pytest.mark.parametrize(("late_s", "at_s"), [(3.0, 60), (6.0, 100), (-2.0, 60), (5.0, 115.5), (4.0, 130.5)])
def test_a_reading_of_the_display_and_its_taking_back_lose_no_cue_and_give_none_twice(stand, late_s, at_s):
    """HOME and the warnings lie around the last two moments: the step crosses them."""
    real_ns = stand.first_ns - round(late_s * S)
    shown_s = END_S - int(at_s)
    stand.go_on(real_ns + round(at_s * S))
    at_ns = real_ns + (END_S - shown_s) * S + 250 * MS
    assert isinstance(stand.match.read_display(stand.now_ns, at_ns, shown_s), Done)
    stand.go_on(stand.now_ns + 2 * S)
    assert stand.match.lifecycle.latest.origin_ns == pytest.approx(real_ns, abs=60 * MS)
    if at_s < 128:
        assert isinstance(stand.match.take_back_reading(stand.now_ns), Done)
        stand.go_on(stand.now_ns + 8 * S)
        assert stand.match.lifecycle.latest.origin_ns == pytest.approx(stand.first_ns, abs=10 * MS)
    stand.go_on(PRESS_NS + 160 * S)
    assert sorted(stand.begun()) == own()
    assert [g for g in stand.given if g.verb == "skip"] == []
    assert [g for g in stand.given if g.verb == "resume" and g.firing.channel == "rumble"] == []


@pytest.mark.parametrize(
    ("digits", "counts", "at_s", "shown_s"),
    [
        ("ceil", "period", 100, 36),               # 36 s of the driver period are left
        ("floor", "period", 100, 35),              # it shows 0:35 while at least 35 and less than 36 s are left
        ("ceil", "match", 100, 36),
        ("floor", "match", 100, 35),
        ("ceil", "period", 12, 16),                # of the autonomous period
        ("ceil", "match", 12, 124),
        ("floor", "match", 12, 123),
        ("ceil", "period", DRIVER_S, 97),         # what a period begins with stands there from its begin on
        ("floor", "period", DRIVER_S, 97),
    ],
)  # fmt: skip
def test_the_moment_that_a_reading_means_is_as_the_games_display_rounds_and_counts(
    tmp_path, digits, counts, at_s, shown_s
):
    stand = Stand(tmp_path, timeline=replace(TIMELINE, digits=digits, counts=counts))
    real_ns = stand.first_ns - 3 * S
    stand.go_on(real_ns + at_s * S + 250 * MS)
    told = stand.match.read_display(stand.now_ns, real_ns + at_s * S + 250 * MS, shown_s)
    assert told.told.startswith(f"{shown_s // 60}:{shown_s % 60:02d} of ")
    assert stand.match.lifecycle.latest.origin_ns == pytest.approx(real_ns, abs=60 * MS)


@settings(max_examples=settings.default.max_examples)
@given(
    deeds=st.lists(
        st.tuples(
            st.integers(80, 135), st.sampled_from(["read", "read", "back", "hold", "nudge"]), st.integers(-9000, 9000)
        ),
        min_size=1, max_size=6,
    )
)  # fmt: skip
def test_whatever_is_read_off_the_display_no_cue_comes_twice_and_none_is_lost(tmp_path_factory, deeds):
    """Readings of any wrong second up to where they are believed alone, taken back or not, beside other corrections.

    A state that holds again, since the clock was set back into it, is shown again: that is no second cue."""
    stand = Stand(tmp_path_factory.mktemp("readings"))
    for at_s, deed, off_ms in sorted(deeds):
        stand.go_on(max(stand.now_ns, stand.first_ns + at_s * S))
        match, now_ns = stand.match, stand.now_ns
        if match.lifecycle.phase != "running":
            break
        if deed == "read":
            left_ns = match.lifecycle.reading(now_ns).left_ns or 0
            match.read_display(now_ns, now_ns, max(0, round((left_ns + off_ms * MS) / S)))
        elif deed == "back":
            match.take_back_reading(now_ns)
        elif deed == "nudge":
            match.nudge(now_ns, 200 * MS)
        else:
            match.hold_or_resume(now_ns)
            stand.go_on(now_ns + S)
            stand.match.hold_or_resume(stand.now_ns)
    latest_ns = stand.now_ns + 90 * S
    while stand.match.lifecycle.phase != "over" and stand.now_ns < latest_ns:
        stand.go_on(stand.now_ns + S)
    stand.go_on(stand.now_ns + 3 * S)
    assert stand.match.lifecycle.phase == "over"
    assert sorted(stand.begun()) == own()
    assert [g for g in stand.given if g.verb == "skip"] == []
