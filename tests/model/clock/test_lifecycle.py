"""The life of a match: what people may do when, and where that leaves it."""

import msgspec
import pytest

from tests.support.model.lifecycle_games import BY_KEY, GAMES, MARKED, OPEN_PAUSE, OVERLAPPING, SIMPLE
from tocsin.model.clock.lifecycle import MAX_NUDGE_NS, Lifecycle, Transition
from tocsin.model.clock.origins import Origin
from tocsin.model.timeline.timeline import Point, Timeline
from tocsin.units import NS_PER_S as S

T0 = 1_000 * S                      # when the match begins, on the shared clock


def started(timeline: Timeline = SIMPLE, at_s: float = 0.0) -> Lifecycle:
    """Return a match that began at T0 and was settled ``at_s`` later."""
    life = Lifecycle(timeline)
    life.start(T0, T0)
    life.boundary(T0 + round(at_s * S))
    return life


def at(seconds: float) -> int:
    return T0 + round(seconds * S)


def in_phase(phase: str) -> Lifecycle:
    """Return a simple match in a phase, at 10 s of match time where there is one."""
    life = Lifecycle(SIMPLE)
    if phase == "standby":
        return life
    life.start(T0 - 5 * S, T0)
    if phase == "waiting":
        return life
    life.boundary(at(10))
    if phase == "held":
        life.hold(at(10))
    if phase == "over":
        life.boundary(at(140))
    if phase == "scrapped":
        life.scrap(at(10))
    return life


def state_of(life: Lifecycle) -> tuple[object, ...]:
    """Return everything that can be seen of a match."""
    return (
        life.phase, life.states, life.origins, life.variant, life.rate, life.held_ns, life.starts_ns,
        life.next_boundary_ns(), life.reading(at(10)),
    )  # fmt: skip


EVENTS = {
    "start": lambda life: life.start(at(10), at(10)),
    "boundary": lambda life: life.boundary(at(10)),
    "hold": lambda life: life.hold(at(10)),
    "resume": lambda life: life.resume(at(10)),
    "nudge": lambda life: life.nudge(at(10), S),
    "shift": lambda life: life.shift(at(10), -S),
    "begin": lambda life: life.begin(at(10)),
    "choose": lambda life: life.choose(at(10), "south_first"),
    "mark": lambda life: life.mark(at(10), "contact", at(9)),
    "call": lambda life: life.call(at(10), "home", at(10)),
    "scrap": lambda life: life.scrap(at(10)),
    "again": lambda life: life.again(at(10)),
}
TAKEN = {
    "standby": {"start", "choose"},
    "waiting": {"boundary", "nudge", "shift", "choose", "scrap"},
    "running": {"boundary", "hold", "nudge", "shift", "choose", "mark", "call", "scrap"},
    "held": {"resume", "nudge", "shift", "choose", "mark", "scrap"},
    "over": {"mark", "again"},
    "scrapped": {"again"},
}


class TestWhatApplies:
    @pytest.mark.parametrize("phase", TAKEN)
    @pytest.mark.parametrize("event", EVENTS)
    def test_an_event_that_does_not_apply_changes_nothing_and_says_why(self, phase: str, event: str) -> None:
        life = in_phase(phase)
        # The count-in has run out by the time of the events; what is at home in it is tried before that.
        if phase == "waiting":
            return
        before = state_of(life)
        step = EVENTS[event](life)
        assert step.event == event
        assert step.states == life.states
        if event in TAKEN[phase]:
            assert step.refused == ""
        else:
            assert step.refused.startswith("cannot ")
            assert state_of(life) == before

    @pytest.mark.parametrize("event", EVENTS)
    def test_what_applies_in_the_count_in(self, event: str) -> None:
        life = Lifecycle(SIMPLE)
        life.start(at(10), at(15))
        before = state_of(life)
        step = EVENTS[event](life)
        if event in TAKEN["waiting"]:
            assert step.refused == ""
        else:
            assert step.refused.startswith("cannot ")
            assert state_of(life) == before

    @pytest.mark.parametrize(
        ("event", "phase", "sentence"),
        [
            ("hold", "standby", "cannot hold the clock: no match is on"),
            ("start", "running", "cannot start: the match is running"),
            ("resume", "running", "cannot resume: the match is running"),
            ("begin", "held", "cannot begin a period: the clock is held"),
            ("call", "held", "cannot give a call: the clock is held"),
            ("scrap", "over", "cannot cancel: the match is over"),
            ("choose", "scrapped", "cannot choose a variant: the match was cancelled"),
            ("mark", "standby", "cannot mark: no match is on"),
        ],
    )
    def test_the_sentence_says_where_the_match_stands(self, event: str, phase: str, sentence: str) -> None:
        assert EVENTS[event](in_phase(phase)).refused == sentence

    def test_no_sentence_and_no_state_of_the_match_uses_a_word_that_robots_are_stopped_or_started_by(self) -> None:
        said = [EVENTS[event](in_phase(phase)).refused for event in EVENTS for phase in TAKEN]
        words = {word for sentence in said for word in sentence.replace(":", "").split()}
        assert not words & {"stop", "clear", "go", "ready", "set", "safe"}


class TestStart:
    def test_a_count_in_waits_until_the_match_begins(self) -> None:
        life = Lifecycle(SIMPLE)
        assert life.states == ("standby",)
        assert life.start(at(-5), at(0)) == Transition(event="start", states=("waiting",))
        assert life.phase == "waiting"
        assert life.next_boundary_ns() == at(0)
        assert life.boundary(at(0) - 1).states == ("waiting",)
        assert life.boundary(at(0)).states == ("running.no_contact.1.closed", "running.period.auto")

    def test_a_start_that_lies_behind_runs_at_once(self) -> None:
        life = Lifecycle(SIMPLE)
        step = life.start(at(0.25), at(0))
        assert step.states == ("running.no_contact.1.closed", "running.period.auto")
        assert life.elapsed_ns(at(0.25)) == {"match": S // 4}

    def test_a_moment_in_mid_match_falls_on_the_origin(self) -> None:
        life = Lifecycle(SIMPLE)
        life.start(at(-5), at(0), at=Point("match", 114 * S))
        assert life.states == ("waiting",)
        assert life.boundary(at(0)).states == ("running.no_contact.1.closed", "running.period.driver")
        assert life.elapsed_ns(at(0)) == {"match": 114 * S}
        assert life.boundary(at(4)).states == ("running.no_contact.1.open", "running.period.driver")

    def test_a_moment_after_an_anchor_gives_the_segments_before_it_their_nominal_origins(self) -> None:
        life = Lifecycle(OPEN_PAUSE)
        life.start(at(0), at(0), at=Point("driver", 5 * S))
        assert life.elapsed_ns(at(0)) == {"match": 33 * S, "driver": 5 * S}
        assert life.states == ("running.furnace.1.open", "running.no_contact.1.closed", "running.period.driver")
        assert life.boundary(at(5)).states[0] == "running.furnace.1.closed"

    @pytest.mark.parametrize("rate", [0.1, 0.3, 1.0, 7.0, 33.3, 100.0])
    def test_at_any_rate_the_moment_has_come_at_the_origin_and_not_before(self, rate: float) -> None:
        life = Lifecycle(SIMPLE)
        life.start(at(-5), at(0), at=Point("match", 118 * S), rate=rate)
        assert life.rate == rate
        assert life.boundary(at(0)).states == ("running.no_contact.1.open", "running.period.driver")
        assert life.elapsed_ns(at(0) - 101)["match"] < 118 * S

    @pytest.mark.parametrize("rate", [0.0, 0.099, 100.1, -1.0, float("nan"), float("inf")])
    def test_other_rates_are_refused(self, rate: float) -> None:
        life = Lifecycle(SIMPLE)
        assert life.start(at(0), at(0), rate=rate).refused == "cannot start: the rate must be 0.1 to 100"
        assert life.phase == "standby"

    def test_a_mark_is_no_moment_to_start_at(self) -> None:
        step = Lifecycle(MARKED).start(at(0), at(0), at=Point("mark.swap", 0))
        assert step.refused == "cannot start: a match starts at a moment of its own, not at 'mark.swap'"

    def test_a_moment_after_the_end_is_refused(self) -> None:
        life = Lifecycle(SIMPLE)
        assert life.start(at(-5), at(0), at=Point("match", 140 * S)).refused == (
            "cannot start: that moment is after the end"
        )
        assert life.start(at(140), at(0)).refused == "cannot start: that moment is after the end"
        assert life.start(at(-5), at(0), at=Point("match", 140 * S - 1)).refused == ""


EDGES = [
    (SIMPLE, 28, "running.period.auto", "running.period.pause"),
    (SIMPLE, 39, "running.period.pause", "running.period.driver"),
    (SIMPLE, 118, "running.no_contact.1.closed", "running.no_contact.1.open"),
    (SIMPLE, 136, "running.period.driver", "running.period.settle"),
    (SIMPLE, 140, "running.period.settle", "over"),
    (OPEN_PAUSE, 16, "running.furnace.1.closed", "running.furnace.1.open"),
    (OPEN_PAUSE, 28, "running.period.auto", "running.period.pause"),
    (BY_KEY, 39, "running.period.pause", "running.awaits.driver"),
    (OVERLAPPING, 19, "running.door.1.closed", "running.door.1.open"),
    (OVERLAPPING, 53, "running.door.1.open", "running.door.1.closed"),
    (OVERLAPPING, 53, "running.no_contact.1.closed", "running.no_contact.1.open"),
    (OVERLAPPING, 73, "running.door.2.closed", "running.door.2.open"),
    (OVERLAPPING, 99, "running.no_contact.1.open", "running.no_contact.1.closed"),
    (OVERLAPPING, 134, "running.endgame.1.open", "over"),
]


class TestEdges:
    @pytest.mark.parametrize(("timeline", "edge_s", "before", "after"), EDGES)
    def test_each_edge_is_crossed_at_its_nanosecond(
        self, timeline: Timeline, edge_s: int, before: str, after: str
    ) -> None:
        life = started(timeline)
        last = life.boundary(at(edge_s) - 1)
        assert before in last.states
        assert after not in last.states
        assert life.next_boundary_ns() == at(edge_s)
        for now_ns in (at(edge_s), at(edge_s) + 1):
            reached = life.boundary(now_ns)
            if reached.refused:
                assert life.phase == "over"
                continue
            assert after in reached.states
            assert before not in reached.states

    @pytest.mark.parametrize(("timeline", "edge_s", "before", "after"), [e for e in EDGES if e[3] != "over"])
    def test_each_edge_is_crossed_backwards_at_its_nanosecond_too(
        self, timeline: Timeline, edge_s: int, before: str, after: str
    ) -> None:
        life = started(timeline, edge_s)
        assert after in life.states
        assert before in life.nudge(at(edge_s), -1).states
        assert after in life.nudge(at(edge_s), 1).states

    def test_the_boundaries_are_asked_for_one_after_the_other(self) -> None:
        life = started()
        seen = []
        while (due_ns := life.next_boundary_ns()) is not None:
            seen.append((due_ns - T0) // S)
            life.boundary(due_ns)
        assert seen == [28, 39, 118, 136, 140]
        assert life.phase == "over"

    @pytest.mark.parametrize("rate", [0.1, 0.7, 3.0, 99.9])
    def test_at_any_rate_a_boundary_is_due_when_it_is_crossed_and_not_before(self, rate: float) -> None:
        life = Lifecycle(OVERLAPPING)
        life.start(T0, T0, rate=rate)
        while (due_ns := life.next_boundary_ns()) is not None:
            before = life.states
            assert life.boundary(due_ns - 1).states == before
            assert life.boundary(due_ns).states != before
        assert life.phase == "over"

    def test_a_missed_boundary_stays_due(self) -> None:
        life = started()
        assert life.next_boundary_ns() == at(28)
        life.boundary(at(200))
        assert life.states == ("over",)
        assert life.next_boundary_ns() is None

    def test_a_boundary_between_edges_changes_nothing(self) -> None:
        life = started(at_s=5)
        assert life.boundary(at(6)) == Transition(event="boundary", states=life.states)

    def test_before_a_match_that_was_nudged_back_nothing_is_on(self) -> None:
        life = started()
        assert life.nudge(at(0), -1).states == ("running.before", "running.no_contact.1.closed")
        assert life.boundary(at(0) + 1).states == ("running.no_contact.1.closed", "running.period.auto")

    def test_people_meet_the_match_where_its_time_is_even_if_no_boundary_was_sent(self) -> None:
        life = started()
        assert life.hold(at(140)).refused == "cannot hold the clock: the match is over"
        assert life.phase == "over"


class TestHold:
    def test_the_match_stands_still_and_goes_on_from_there(self) -> None:
        life = started(at_s=118)
        assert life.hold(at(120)).states == ("held",)
        assert life.held_ns == at(120)
        assert life.next_boundary_ns() is None
        assert life.elapsed_ns(at(999)) == {"match": 120 * S}
        assert life.reading(at(999)).windows == ("no_contact.1",)
        assert life.resume(at(150)).states == ("running.no_contact.1.open", "running.period.driver")
        assert life.held_ns is None
        assert life.elapsed_ns(at(150)) == {"match": 120 * S}
        assert life.next_boundary_ns() == at(166)             # the match ends 136 s on its clock, and was held for 30 s

    def test_origins_move_by_the_time_held_and_say_when(self) -> None:
        life = started(at_s=10)
        life.hold(at(10))
        life.resume(at(13))
        assert life.origins == (Origin(anchor="match", origin_ns=at(3), sent_ns=at(13)),)

    def test_a_call_that_was_given_stays_and_one_that_lies_ahead_moves(self) -> None:
        life = started(at_s=10)
        life.call(at(10), "home", at(10))
        life.hold(at(11))
        life.resume(at(14))
        assert {o.anchor: o.origin_ns for o in life.origins} == {"match": at(3), "call.home": at(10)}
        life.call(at(15), "home", at(15) + 30)
        life.hold(at(15))
        life.resume(at(16))
        assert {o.anchor: o.origin_ns for o in life.origins} == {"match": at(4), "call.home": at(16) + 30}

    def test_a_nudge_while_held_counts_when_the_clock_goes_on(self) -> None:
        life = started(at_s=117)
        life.hold(at(117))
        assert life.nudge(at(140), S).states == ("held",)
        assert life.resume(at(150)).states == ("running.no_contact.1.open", "running.period.driver")

    def test_a_match_that_was_nudged_to_its_end_while_held_is_over_when_it_goes_on(self) -> None:
        life = started(at_s=139)
        life.hold(at(139))
        life.nudge(at(139), S)
        assert life.resume(at(170)).states == ("over",)

    def test_what_another_scribe_has_noted_moves_nothing(self) -> None:
        life = started(MARKED, at_s=60)
        life.mark(at(60), "swap", at(60))
        before = life.origins
        assert life.mark(at(61), "swap", at(60.4), again=True).refused == ""
        assert life.origins == before

    def test_a_mark_while_held_falls_on_the_moment_of_the_hold(self) -> None:
        life = started(MARKED, at_s=60)
        life.hold(at(60))
        life.mark(at(65), "swap", at(65))
        assert life.elapsed_ns(at(65)) == {"match": 60 * S, "mark.swap": 0}
        life.resume(at(70))
        assert life.elapsed_ns(at(70)) == {"match": 60 * S, "mark.swap": 0}
        assert "running.swap.1.open" in life.states

    def test_sleep_while_held_costs_no_match_time(self) -> None:
        life = started(at_s=10)
        life.hold(at(10))
        life.shift(at(20), -5 * S)
        assert life.elapsed_ns(at(20)) == {"match": 10 * S}
        life.resume(at(20))
        assert life.elapsed_ns(at(20)) == {"match": 10 * S}


class TestNudge:
    def test_the_clock_goes_on_if_the_match_began_earlier(self) -> None:
        life = started(at_s=38)
        assert life.nudge(at(38), S).states == ("running.no_contact.1.closed", "running.period.driver")
        assert life.elapsed_ns(at(38)) == {"match": 39 * S}
        assert life.nudge(at(38), -S).states == ("running.no_contact.1.closed", "running.period.pause")

    def test_only_the_latest_segment_moves(self) -> None:
        life = started(OPEN_PAUSE, at_s=40)
        life.begin(at(40))
        life.nudge(at(41), S)
        assert life.elapsed_ns(at(41)) == {"match": 41 * S, "driver": 2 * S}

    def test_a_period_that_was_begun_can_be_nudged_before_its_begin_and_back(self) -> None:
        life = started(BY_KEY, at_s=40)
        life.begin(at(40))
        assert "running.period.driver" in life.states
        assert "running.period.driver" not in life.nudge(at(40), -S).states
        assert "running.period.driver" in life.boundary(at(41)).states
        assert life.elapsed_ns(at(41)) == {"match": 41 * S, "driver": 0}

    def test_a_count_in_can_be_nudged(self) -> None:
        life = Lifecycle(SIMPLE)
        life.start(at(-5), at(0))
        assert life.nudge(at(-4), 2 * S).states == ("waiting",)
        assert life.next_boundary_ns() == at(-2)
        assert life.nudge(at(-3), 2 * S).states == ("running.no_contact.1.closed", "running.period.auto")
        assert life.elapsed_ns(at(-3)) == {"match": S}

    @pytest.mark.parametrize("by_ns", [MAX_NUDGE_NS + 1, -MAX_NUDGE_NS - 1])
    def test_more_than_ten_seconds_is_no_nudge(self, by_ns: int) -> None:
        life = started(at_s=20)
        before = state_of(life)
        assert life.nudge(at(20), by_ns).refused == "cannot correct the clock: at most 10s at a time"
        assert state_of(life) == before
        assert life.nudge(at(20), MAX_NUDGE_NS).refused == ""

    def test_a_nudge_over_the_end_ends_the_match_for_good(self) -> None:
        life = started(at_s=139)
        assert life.nudge(at(139), S).states == ("over",)
        assert life.nudge(at(139), -S).refused == "cannot correct the clock: the match is over"
        assert life.boundary(at(139)).states == ("over",)

    def test_a_correction_for_sleep_moves_everything(self) -> None:
        life = started(MARKED, at_s=60)
        life.mark(at(60), "swap", at(59))
        life.call(at(60), "home", at(60))
        assert life.shift(at(61), -70 * S).states == (
            "running.period.driver", "running.swap.1.open", "running.truce.1.closed"
        )  # fmt: skip
        assert [o.origin_ns for o in life.origins] == [at(-70), at(-11), at(-10)]
        assert all(o.sent_ns == at(61) for o in life.origins)

    def test_a_correction_for_sleep_moves_the_count_in(self) -> None:
        life = Lifecycle(SIMPLE)
        life.start(at(-5), at(0))
        life.shift(at(-4), -3 * S)
        assert life.next_boundary_ns() == at(-3)


class TestBegin:
    def test_a_period_that_waits_is_begun_by_a_person(self) -> None:
        life = started(BY_KEY, at_s=50)
        assert "running.awaits.driver" in life.states
        assert "running.period.driver" in life.begin(at(50)).states
        assert life.elapsed_ns(at(51)) == {"match": 51 * S, "driver": S}

    def test_it_may_be_named(self) -> None:
        life = started(BY_KEY, at_s=50)
        assert life.begin(at(50), "second").refused == (
            "cannot begin a period: the next one is 'driver', not 'second'"
        )
        assert life.begin(at(50), "driver").refused == ""

    def test_it_may_be_begun_early_while_the_pause_is_on_and_not_before(self) -> None:
        life = started(BY_KEY)
        refused = "cannot begin a period: 'driver' comes after 'pause', which is not on"
        assert life.begin(at(28) - 1).refused == refused
        assert "running.period.driver" in life.begin(at(28)).states

    def test_an_open_period_ends_with_the_next_ones_begin(self) -> None:
        life = started(OPEN_PAUSE, at_s=300)
        assert "running.period.pause" in life.states
        assert life.begin(at(300)).states == (
            "running.furnace.1.open", "running.no_contact.1.closed", "running.period.driver"
        )  # fmt: skip
        assert life.next_boundary_ns() == at(310)

    def test_a_begin_may_lie_ahead_or_behind(self) -> None:
        life = started(OPEN_PAUSE, at_s=40)
        assert "running.period.driver" not in life.begin(at(40), origin_ns=at(43)).states
        assert life.next_boundary_ns() == at(43)
        assert "running.period.driver" in life.boundary(at(43)).states
        late = started(OPEN_PAUSE, at_s=40)
        late.begin(at(40), origin_ns=at(39))
        assert late.elapsed_ns(at(40)) == {"match": 40 * S, "driver": S}

    def test_a_second_press_begins_nothing(self) -> None:
        life = started(BY_KEY, at_s=50)
        life.begin(at(50))
        assert life.begin(at(50)).refused == ""             # the second driver period may begin while the first is on
        assert life.begin(at(50)).refused == "cannot begin a period: no more periods begin by hand"

    def test_a_begin_cannot_lie_before_the_segment_ahead_of_it(self) -> None:
        life = started(BY_KEY, at_s=50)
        assert life.begin(at(50), origin_ns=at(0) - 1).refused == (
            "cannot begin a period: 'driver' comes after 'match'"
        )

    def test_a_game_whose_periods_begin_by_themselves_has_nothing_to_begin(self) -> None:
        assert started(at_s=30).begin(at(30)).refused == (
            "cannot begin a period: no more periods begin by hand"
        )


class TestChoose:
    def test_the_default_stands_until_another_is_chosen_and_comes_back_with_a_new_match(self) -> None:
        life = Lifecycle(SIMPLE)
        assert life.variant == "north_first"
        life.choose(at(0), "south_first")
        life.start(at(0), at(0))
        assert life.variant == "south_first"
        life.scrap(at(1))
        life.again(at(2))
        assert life.variant == "north_first"

    def test_an_unknown_one_is_refused(self) -> None:
        life = Lifecycle(SIMPLE)
        assert life.choose(at(0), "nobody_first").refused == (
            "cannot choose a variant: there is no variant 'nobody_first'"
        )
        assert life.variant == "north_first"


class TestMarksAndCalls:
    def test_each_call_is_a_new_instance(self) -> None:
        life = started(at_s=50)
        for second in (50, 51, 52):
            assert life.call(at(second), "home", at(second)).refused == ""
        assert life.origins[-1] == Origin(anchor="call.home", origin_ns=at(52), instance=2, sent_ns=at(52))

    def test_only_callable_cues_can_be_called(self) -> None:
        life = started(at_s=50)
        refused = life.call(at(50), "over", at(50)).refused
        assert refused == "cannot give a call: the cue 'over' cannot be called by hand"
        assert life.call(at(50), "swap", at(50)).refused == (
            "cannot give a call: the cue 'swap' belongs to another variant"
        )
        life.choose(at(50), "south_first")
        assert life.call(at(50), "swap", at(50)).refused == ""

    def test_a_window_that_begins_with_a_mark_opens_with_it(self) -> None:
        life = started(MARKED, at_s=60)
        assert "running.swap.1.closed" in life.states
        assert "running.swap.1.open" in life.mark(at(60), "swap", at(59)).states
        assert life.next_boundary_ns() == at(61)
        assert "running.truce.1.open" in life.boundary(at(61)).states
        assert "running.truce.1.closed" in life.boundary(at(66)).states
        assert "running.truce.1.open" in life.mark(at(80), "swap", at(78)).states
        assert life.origins[-1].instance == 1

    def test_a_mark_that_nothing_hangs_on_is_only_noted(self) -> None:
        life = started(at_s=60)
        assert life.mark(at(60), "contact", at(59)).refused == ""
        assert [o.anchor for o in life.origins] == ["match"]

    def test_marks_are_noted_after_the_end_and_lead_nowhere(self) -> None:
        life = started(MARKED, at_s=140)
        assert life.mark(at(141), "swap", at(135)) == Transition(event="mark", states=("over",))


class TestScrapAndAgain:
    def test_a_scrapped_match_leaves_nothing_behind(self) -> None:
        life = started(at_s=60)
        assert life.scrap(at(60)).states == ("scrapped",)
        assert life.origins == ()
        assert life.again(at(61)).states == ("standby",)
        assert state_of(life) == state_of(Lifecycle(SIMPLE))

    @pytest.mark.parametrize("name", GAMES)
    def test_the_next_match_runs_like_the_first(self, name: str) -> None:
        life, fresh = started(GAMES[name], at_s=24), Lifecycle(GAMES[name])
        life.call(at(24), "home", at(24))
        life.hold(at(25))
        life.scrap(at(26))
        life.again(at(27))
        for one in (life, fresh):
            one.start(at(100), at(105))
            one.boundary(at(150))
            one.call(at(150), "home", at(150))
        assert state_of(life) == state_of(fresh)


class TestRestore:
    def recorded(self, life: Lifecycle, now_ns: int) -> Lifecycle:
        origins = msgspec.json.decode(msgspec.json.encode(life.origins), type=tuple[Origin, ...])
        return Lifecycle.restore(
            SIMPLE if len(life.origins) < 2 else MARKED, origins, life.variant, life.held_ns, now_ns,
            starts_ns=life.starts_ns,
        )  # fmt: skip

    @pytest.mark.parametrize("phase", ["standby", "waiting", "running", "held", "over"])
    def test_a_match_is_found_again_where_it_was(self, phase: str) -> None:
        life = in_phase(phase)
        now_ns = at({"waiting": -3, "over": 140}.get(phase, 10))
        assert state_of(self.recorded(life, now_ns)) == state_of(life)

    def test_time_that_passed_meanwhile_counts(self) -> None:
        life = started(at_s=10)
        found = self.recorded(life, at(120))
        assert found.states == ("running.no_contact.1.open", "running.period.driver")
        assert found.next_boundary_ns() == at(136)

    def test_a_held_match_stays_where_it_was_held_and_can_go_on(self) -> None:
        life = started(at_s=10)
        life.hold(at(10))
        found = self.recorded(life, at(500))
        assert found.phase == "held"
        assert found.resume(at(500)).states == ("running.no_contact.1.closed", "running.period.auto")
        assert found.elapsed_ns(at(500)) == {"match": 10 * S}

    def test_marks_count_on(self) -> None:
        life = started(MARKED, at_s=60)
        life.mark(at(60), "swap", at(60))
        found = self.recorded(life, at(62))
        assert "running.truce.1.open" in found.states
        found.mark(at(63), "swap", at(63))
        assert found.origins[-1].instance == 1

    def test_without_a_recorded_start_of_the_count_in_the_first_origin_is_it(self) -> None:
        origins = (Origin(anchor="match", origin_ns=at(0)),)
        assert Lifecycle.restore(SIMPLE, origins, "north_first", None, at(-1)).states == ("waiting",)
        assert Lifecycle.restore(SIMPLE, origins, "north_first", None, at(0)).phase == "running"
        assert Lifecycle.restore(SIMPLE, (), "north_first", None, at(0)).phase == "standby"
