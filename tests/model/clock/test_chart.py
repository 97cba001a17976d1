"""The rules of statecharts hold on the chart of a match.

Source of each: W3C SCXML 1.0 (Recommendation, 2015), algorithm and the tests of its implementation report, by number.
"""

import logging

import pytest
from statemachine import State

from tests.support.model.lifecycle_games import BY_KEY, OPEN_PAUSE, OVERLAPPING, SIMPLE
from tocsin.model.clock.chart import Chart, RefusedError, places
from tocsin.model.timeline.timeline import Timeline
from tocsin.units import NS_PER_S as S


class Ways:
    """Listens to a chart: notes what is left, taken and entered, in order."""

    def __init__(self) -> None:
        self.steps: list[str] = []

    def on_exit_state(self, source: State) -> None:
        self.steps.append(f"- {source.value}")

    def on_transition(self, event: str) -> None:
        self.steps.append(f"* {event}")

    def on_enter_state(self, target: State) -> None:
        self.steps.append(f"+ {target.value}")


def running(timeline: Timeline, **elapsed_s: int) -> Chart:
    """Return a chart settled in a match at these match times."""
    chart = Chart(timeline)
    chart.send("start")
    for _ in range(2):
        move(chart, timeline, **elapsed_s)
    return chart


def move(chart: Chart, timeline: Timeline, **elapsed_s: int) -> None:
    elapsed_ns = {anchor: seconds * S for anchor, seconds in elapsed_s.items()}
    assert chart.send("boundary", holds=places(timeline, timeline.at(elapsed_ns)))


def test_leaving_is_in_reverse_document_order_then_comes_the_transition_then_entering_in_order() -> None:
    # W3C SCXML 1.0, tests 404 (leaving, children first), 405 (the transition after it), 406 (entering, parents first)
    chart = running(OVERLAPPING, match=96)
    ways = Ways()
    chart.machine.add_listener(ways)
    assert chart.send("hold")
    assert ways.steps == [
        "- running.no_contact.1.open",
        "- running.no_contact.1",
        "- running.endgame.1.open",
        "- running.endgame.1",
        "- running.door.2.open",
        "- running.door.2",
        "- running.door.1.closed",
        "- running.door.1",
        "- running.period.driver",
        "- running.period",
        "- running",
        "* hold",
        "+ held",
    ]
    ways.steps.clear()
    assert chart.send("resume")
    # The library runs the action of a transition into history twice; this chart has none, so only states are compared.
    assert [step for step in ways.steps if not step.startswith("*")] == [
        "- held",
        "+ running",
        "+ running.period",
        "+ running.period.driver",
        "+ running.door.1",
        "+ running.door.1.closed",
        "+ running.door.2",
        "+ running.door.2.open",
        "+ running.endgame.1",
        "+ running.endgame.1.open",
        "+ running.no_contact.1",
        "+ running.no_contact.1.open",
    ]


def test_regions_move_in_one_step_each_left_in_reverse_order_and_entered_in_order() -> None:
    # W3C SCXML 1.0, tests 404 to 406: at 53 s one span ends and another begins
    chart = running(OVERLAPPING, match=52)
    ways = Ways()
    chart.machine.add_listener(ways)
    move(chart, OVERLAPPING, match=53)
    moved = [step for step in ways.steps if not step.startswith("*")]
    assert moved == [
        "- running.no_contact.1.closed",
        "- running.door.1.open",
        "+ running.door.1.closed",
        "+ running.no_contact.1.open",
    ]


def test_the_innermost_transition_wins() -> None:
    # W3C SCXML 1.0, test 403a: running takes a boundary too, but a leaf that can move goes first
    chart = running(SIMPLE, match=27)
    move(chart, SIMPLE, match=28)
    assert chart.leaves == ("running.no_contact.1.closed", "running.period.pause")
    ways = Ways()
    chart.machine.add_listener(ways)
    move(chart, SIMPLE, match=29)
    assert ways.steps == ["* boundary"]                 # none can move: the outer one takes it, and nothing is left


@pytest.mark.parametrize(
    ("timeline", "elapsed_s"),
    [
        (SIMPLE, {"match": 119}),
        (OPEN_PAUSE, {"match": 300}),
        (OPEN_PAUSE, {"match": 300, "driver": 9}),
        (BY_KEY, {"match": 50}),
        (OVERLAPPING, {"match": 96}),
    ],
)
def test_deep_history_restores_the_whole_configuration(timeline: Timeline, elapsed_s: dict[str, int]) -> None:
    # W3C SCXML 1.0, tests 387 and 388 (deep history, its newest record), 580 (the history itself is never active)
    chart = running(timeline, match=1)
    for seconds in (1, elapsed_s["match"]):
        move(chart, timeline, **{**elapsed_s, "match": seconds})
        before = chart.values
        chart.send("hold")
        assert chart.values == {"held"}
        chart.send("resume")
        assert chart.values == before
        assert not any("history" in value for value in chart.values)


@pytest.mark.parametrize("timeline", [SIMPLE, BY_KEY, OVERLAPPING])
def test_a_parallel_state_is_done_when_all_its_regions_are(timeline: Timeline) -> None:
    # W3C SCXML 1.0, tests 417 and 570: done.state.running comes with the last region's final state and not before
    chart = running(timeline, match=1)
    everything = {segment.anchor: 400 for segment in timeline.segments}
    ends = places(timeline, timeline.at({anchor: ns * S for anchor, ns in everything.items()}))
    leaves = sorted(ends - {"running"})
    for count in range(1, len(leaves)):
        chart.send("boundary", holds=frozenset(leaves[:count]))
        assert chart.phase == "running", leaves[:count]
    chart.send("boundary", holds=ends)
    assert chart.values == {"over"}


def test_each_region_has_exactly_one_leaf() -> None:
    # W3C SCXML 1.0, "Legal State Configurations"
    chart = running(OVERLAPPING, match=96)
    assert chart.leaves == (
        "running.door.1.closed",
        "running.door.2.open",
        "running.endgame.1.open",
        "running.no_contact.1.open",
        "running.period.driver",
    )


def test_what_the_chart_does_not_list_is_refused_and_changes_nothing() -> None:
    # Unlike SCXML, which drops such events: the library's strict setting, asked for by the project's own rules.
    chart = running(SIMPLE, match=1)
    before = chart.values
    for event in ("start", "resume", "again", "no_such_event"):
        assert not chart.send(event)
        assert chart.values == before


def test_what_speaks_against_an_event_is_said_only_where_it_would_be_taken() -> None:
    chart = running(SIMPLE, match=1)
    before = chart.values
    with pytest.raises(RefusedError, match="too much"):
        chart.send("nudge", refusal="too much")
    assert chart.values == before
    assert not chart.send("resume", refusal="too much")
    assert chart.send("nudge")                          # and the chart goes on as if nothing had been


def test_an_exception_is_never_swallowed_and_the_chart_stays_where_it_was(caplog: pytest.LogCaptureFixture) -> None:
    class Faulty:
        def on_enter_state(self, target: State) -> None:
            if target.value == "held":
                raise ZeroDivisionError

    chart = running(SIMPLE, match=1)
    before = chart.values
    chart.machine.add_listener(Faulty())
    with caplog.at_level(logging.WARNING), pytest.raises(ZeroDivisionError):
        chart.send("hold")
    assert chart.values == before
    assert not caplog.records
