"""Whatever people do in whatever order: the chart's settled states equal what the timeline says of match time.

Match time is kept here a second time, as plain sums, so that the origins are checked as well.
"""

from typing import Any

import hypothesis.strategies as st
from hypothesis import settings
from hypothesis.stateful import RuleBasedStateMachine, initialize, invariant, precondition, rule

from tests.support.model.lifecycle_games import GAMES
from tocsin.model.clock.lifecycle import Lifecycle, Transition
from tocsin.model.timeline.timeline import Point, Timeline
from tocsin.units import NS_PER_MS, NS_PER_S

EDGE_NS = (-1, 0, 1)
times_ns = st.integers(0, 10 * NS_PER_S) | st.sampled_from([1, NS_PER_MS, 30 * NS_PER_S, 200 * NS_PER_S])
nudges_ns = st.integers(-9 * NS_PER_S, 9 * NS_PER_S) | st.sampled_from([-1, 1, 200 * NS_PER_MS])


def said_by(timeline: Timeline, elapsed_ns: dict[str, int]) -> tuple[str, ...]:
    """Return the leaf states that a timeline's reading stands for, told anew rather than by the chart's own words."""
    reading = timeline.at(elapsed_ns)
    if reading.ended:
        return ("over",)
    period = "before"
    if reading.period:
        period = f"period.{reading.period}"
    elif reading.awaits:
        period = f"awaits.{reading.awaits}"
    windows = [
        f"running.{span.id}.{span.n}.{'open' if f'{span.id}.{span.n}' in reading.windows else 'closed'}"
        for span in timeline.windows
    ]
    return tuple(sorted([f"running.{period}", *windows]))


class People(RuleBasedStateMachine):
    """People at the keys of one match at the rate 1, where sums of match time are exact."""

    def __init__(self) -> None:
        super().__init__()
        self.now_ns = 0
        self.phase = "standby"
        self.elapsed_ns: dict[str, int] = {}
        self.until_start_ns = 0
        self.started_with: set[str] = set()        # the segments that are known by the start alone

    # A computer's clock is past zero by the time that it is asked.
    @initialize(data=st.data(), name=st.sampled_from(sorted(GAMES)), now_ns=st.integers(10**12, 10**15))
    def sit_down(self, data: st.DataObject, name: str, now_ns: int) -> None:
        self.timeline = GAMES[name]
        self.now_ns = now_ns
        self.life = Lifecycle(self.timeline)
        if data.draw(st.booleans(), "start at once"):
            self.start(data, 0)

    def settle(self) -> None:
        """Let the second account follow time: out of the count-in, and into the end."""
        if self.phase == "waiting" and self.until_start_ns <= 0:
            self.phase = "running"
        if self.phase == "running" and self.timeline.at(self.elapsed_ns).ended:
            self.phase = "over"

    def took(self, step: Transition, *phases: str) -> bool:
        """Check that an event was taken in these phases only; return whether it was."""
        assert (step.refused == "") == (self.phase in phases), step
        return not step.refused

    @property
    def latest(self) -> str:
        return [segment.anchor for segment in self.timeline.segments if segment.anchor in self.elapsed_ns][-1]

    @rule(by_ns=times_ns)
    def time_passes(self, by_ns: int) -> None:
        self.pass_time(by_ns)
        self.life.boundary(self.now_ns)

    @rule(off_ns=st.sampled_from(EDGE_NS), boundary=st.booleans())
    def time_passes_to_the_next_edge(self, off_ns: int, boundary: bool) -> None:
        due_ns = self.life.next_boundary_ns()
        if due_ns is None or due_ns + off_ns < self.now_ns:
            return
        before, at_ns = self.life.states, self.now_ns
        self.pass_time(due_ns + off_ns - self.now_ns)
        if off_ns < 0 and self.now_ns > at_ns:
            assert self.life.boundary(self.now_ns).states == before
        elif boundary:
            self.life.boundary(self.now_ns)
        else:
            self.life.mark(self.now_ns, "contact", self.now_ns)     # people's events settle what lies behind, too
            self.life.boundary(self.now_ns)

    def pass_time(self, by_ns: int) -> None:
        self.now_ns += by_ns
        if self.phase == "held":
            return
        self.until_start_ns -= by_ns
        self.elapsed_ns = {anchor: ns + by_ns for anchor, ns in self.elapsed_ns.items()}
        self.settle()

    @rule(data=st.data(), ahead_ns=st.integers(-NS_PER_S, 6 * NS_PER_S))
    def start(self, data: st.DataObject, ahead_ns: int) -> None:
        own = data.draw(st.sampled_from(self.timeline.segments))
        edges_ns = self.timeline.boundaries()[own.anchor]
        at_ns = data.draw(st.sampled_from(edges_ns) | st.integers(0, edges_ns[-1] - 1)) + data.draw(
            st.sampled_from(EDGE_NS)
        )
        elapsed_ns = {
            s.anchor: own.match_ns + at_ns - s.match_ns - min(ahead_ns, 0)
            for s in self.timeline.segments[: self.timeline.segments.index(own) + 1]
        }
        ended = self.timeline.at(elapsed_ns).ended
        step = self.life.start(self.now_ns, self.now_ns + ahead_ns, at=Point(own.anchor, at_ns))
        assert (step.refused == "") == (self.phase == "standby" and not ended)
        if not step.refused:
            self.elapsed_ns = {anchor: ns - max(ahead_ns, 0) for anchor, ns in elapsed_ns.items()}
            self.until_start_ns = ahead_ns
            self.started_with = set(elapsed_ns)
            self.phase = "waiting"
            self.settle()

    @rule()
    def hold(self) -> None:
        if self.took(self.life.hold(self.now_ns), "running"):
            self.phase = "held"

    @rule()
    def resume(self) -> None:
        calls = {origin.anchor: origin for origin in self.life.origins if origin.anchor.startswith("call.")}
        held_ns = self.life.held_ns
        if self.took(self.life.resume(self.now_ns), "held"):
            assert held_ns is not None
            for anchor, origin in calls.items():
                if origin.origin_ns <= held_ns:                     # a call runs in real time
                    self.elapsed_ns[anchor] = self.now_ns - origin.origin_ns
            self.phase = "running"
            self.settle()

    @rule(by_ns=nudges_ns)
    def nudge(self, by_ns: int) -> None:
        if self.took(self.life.nudge(self.now_ns, by_ns), "waiting", "running", "held"):
            for anchor in self.started_with if self.latest in self.started_with else {self.latest}:
                self.elapsed_ns[anchor] += by_ns
            self.until_start_ns -= by_ns
            self.settle()

    @precondition(lambda self: self.phase == "running")
    @rule(off_ns=st.sampled_from(EDGE_NS))
    def nudge_back_to_an_edge(self, off_ns: int) -> None:
        edges_ns = self.timeline.boundaries()[self.latest]
        behind = [self.elapsed_ns[self.latest] - edge_ns for edge_ns in edges_ns]
        near = [by_ns for by_ns in behind if 0 <= by_ns < 9 * NS_PER_S]
        if near:
            self.nudge(off_ns - near[-1])

    @rule(by_ns=st.integers(-20 * NS_PER_S, 0))
    def sleep(self, by_ns: int) -> None:
        if self.took(self.life.shift(self.now_ns, by_ns), "waiting", "running", "held") and self.phase != "held":
            self.elapsed_ns = {anchor: ns - by_ns for anchor, ns in self.elapsed_ns.items()}
            self.until_start_ns += by_ns
            self.settle()

    @rule(ahead_ns=st.integers(-500 * NS_PER_MS, 3 * NS_PER_S))
    def begin(self, ahead_ns: int) -> None:
        awaited, may = self.awaited(ahead_ns)
        step = self.life.begin(self.now_ns, origin_ns=self.now_ns + ahead_ns)
        assert (step.refused == "") == may, step
        if may:
            self.elapsed_ns[awaited] = -ahead_ns
            self.settle()

    def awaited(self, ahead_ns: int) -> tuple[str, bool]:
        """Return the next segment, and whether it may begin: the period before it is on, or it is waited for."""
        if self.phase != "running":
            return "", False
        anchors = [segment.anchor for segment in self.timeline.segments]
        rank = anchors.index(self.latest) + 1
        if rank == len(anchors):
            return "", False
        reading = self.timeline.at(self.elapsed_ns)
        ids = [slot.id for slot in self.timeline.periods]
        near = reading.awaits == anchors[rank] or reading.period == ids[ids.index(anchors[rank]) - 1]
        return anchors[rank], near and self.elapsed_ns[self.latest] >= -ahead_ns

    @rule(variant=st.sampled_from(["north_first", "south_first"]))
    def choose(self, variant: str) -> None:
        if self.took(self.life.choose(self.now_ns, variant), "standby", "waiting", "running", "held"):
            assert self.life.variant == variant

    @rule(label=st.sampled_from(["swap", "contact"]), ago_ns=st.integers(0, 8 * NS_PER_S))
    def mark(self, label: str, ago_ns: int) -> None:
        held_ns = self.life.held_ns
        if not self.took(self.life.mark(self.now_ns, label, self.now_ns - ago_ns), "running", "held", "over"):
            return
        if any(span.begin.anchor == f"mark.{label}" for span in self.timeline.windows):
            stood_ns = 0 if held_ns is None else self.now_ns - held_ns
            self.elapsed_ns[f"mark.{label}"] = max(ago_ns - stood_ns, 0)
            self.settle()

    @rule()
    def call(self) -> None:
        if self.took(self.life.call(self.now_ns, "home", self.now_ns), "running"):
            self.elapsed_ns["call.home"] = 0

    @rule(sure=st.integers(0, 3))
    def scrap(self, sure: int) -> None:
        if sure != 3:
            return                                                  # seldom, so that most matches get far
        if self.took(self.life.scrap(self.now_ns), "waiting", "running", "held"):
            self.phase = "scrapped"
            self.elapsed_ns = {}

    @rule()
    def begin_anew(self) -> None:
        if self.took(self.life.again(self.now_ns), "over", "scrapped"):
            self.phase = "standby"
            self.elapsed_ns = {}

    @rule()
    def crash_and_resume_the_run(self) -> None:
        """Go on with a life that was built from what a journal holds."""
        if self.phase == "scrapped":
            return
        old = self.life
        self.life = Lifecycle.restore(
            self.timeline, old.origins, old.variant, old.held_ns, self.now_ns, starts_ns=old.starts_ns
        )

    @invariant()
    def the_chart_says_what_the_timeline_says(self) -> None:
        if not hasattr(self, "life"):
            return
        assert self.life.phase == self.phase
        assert self.life.elapsed_ns(self.now_ns) == self.elapsed_ns
        expected: Any = said_by(self.timeline, self.elapsed_ns) if self.phase == "running" else (self.phase,)
        assert self.life.states == expected

    @invariant()
    def nothing_is_missed_until_the_next_boundary(self) -> None:
        if self.phase != "running":
            return
        due_ns = self.life.next_boundary_ns()
        for ahead_ns in (NS_PER_MS, 7 * NS_PER_S, 100 * NS_PER_S):
            by_ns = ahead_ns if due_ns is None else min(ahead_ns, due_ns - 1 - self.now_ns)
            later_ns = {anchor: ns + by_ns for anchor, ns in self.elapsed_ns.items()}
            assert said_by(self.timeline, later_ns) == self.life.states


TestPeople = People.TestCase
TestPeople.settings = settings(stateful_step_count=40)
