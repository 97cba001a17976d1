"""Build the statechart of a match from a timeline: which state may follow which. It keeps no time.

::

    standby ─start─► waiting ─boundary─► running ◄─resume (deep history)─┐
       ▲                │                   │  └────────hold────────► held
       │                └──────scrap────────┼──────────scrap────────────┤
       └──────────again──── scrapped ◄──────┘◄──────────────────────────┘
       └──────────again──── over ◄─ all regions done

``running`` has a region for the periods and one for each span of a window, in parallel. ``boundary`` moves each region
to the leaf that holds at that match time (``places``), in either direction. When everything has ended each region goes
to its final leaf; then ``running`` is done and the match over. What a state does not list is refused.

Traps of the library that this module avoids: its document order repeats in parallel regions, so the order is numbered
anew; ``done.state.running`` would also match a region's ``done.state.running.period``, so ids are joined by colons and
only the states' values by dots; it runs the action of a transition into history twice, so no transition has an action.
"""

from collections.abc import Iterator
from functools import lru_cache
from typing import Any, NamedTuple, get_args

from statemachine import State, StateChart
from statemachine.exceptions import TransitionNotAllowed
from statemachine.io import create_machine_class_from_definition

from tocsin.model.clock.origins import Phase
from tocsin.model.timeline.timeline import Reading, Timeline

_Definition = dict[str, Any]

_BEFORE = "running:before"
_AFTER = "running:after"
_HISTORY = "running:history"

# What a person may do where it changes no state: variants, nudges, taps, marks, calls, begins.
_STAYS: dict[Phase, tuple[str, ...]] = {
    "standby": ("choose",),
    "waiting": ("choose", "nudge", "sync", "shift"),
    "running": ("choose", "nudge", "sync", "shift", "begin", "mark", "call"),
    "held": ("choose", "nudge", "shift", "mark"),
    "over": ("mark",),
    "scrapped": (),
}
_GOES: dict[Phase, dict[str, str]] = {
    "standby": {"start": "waiting"},
    "waiting": {"scrap": "scrapped"},
    "running": {"hold": "held", "scrap": "scrapped"},
    "held": {"resume": _HISTORY, "scrap": "scrapped"},
    "over": {"again": "standby"},
    "scrapped": {"again": "standby"},
}


class RefusedError(Exception):
    """A person's event is refused for its arguments; carries the sentence for the person."""


class Chart:
    """The chart of one match. ``machine`` is open to listeners."""

    def __init__(self, timeline: Timeline) -> None:
        self.machine: StateChart[Any] = _machine_class(_shape(timeline))()
        self._phase: Phase | None = None           # since the last event; asked for far more often than it changes

    @property
    def values(self) -> frozenset[str]:
        """The values of all active states."""
        return frozenset(self.machine.configuration_values)

    @property
    def phase(self) -> Phase:
        """The one active state at the top."""
        if self._phase is not None:
            return self._phase
        active = self.values
        found: Phase = next(phase for phase in get_args(Phase) if phase in active)
        self._phase = found
        return found

    @property
    def leaves(self) -> tuple[str, ...]:
        """The active states without children, sorted: ``("running.no_contact.1.open", "running.period.driver")``."""
        return tuple(sorted(state.value for state in self.machine.configuration if state.is_atomic))

    def send(self, event: str, *, holds: frozenset[str] = frozenset(), refusal: str = "") -> bool:
        """Take an event; return False, with nothing changed, if no active state lists it.

        ``holds`` are the values of the states that hold at this match time, for ``boundary``. A ``refusal`` raises
        RefusedError with its text, but only if an active state lists the event: the check of the state comes first.
        """
        try:
            self.machine.send(event, holds=holds, refusal=refusal)
        except TransitionNotAllowed:
            return False
        finally:
            self._phase = None
        return True


def places(timeline: Timeline, reading: Reading) -> frozenset[str]:
    """Return the values of the states that hold at a reading: ``running`` and those inside it."""
    spans = [(f"running:{span.id}:{span.n}", f"{span.id}.{span.n}" in reading.windows) for span in timeline.windows]
    if reading.ended:
        ids = [_AFTER, *(f"{region}:past" for region, _ in spans)]
    else:
        ids = [_period_leaf(reading), *(f"{region}:{'open' if opened else 'closed'}" for region, opened in spans)]
    return frozenset(["running", *map(_value, ids)])


def _period_leaf(reading: Reading) -> str:
    if reading.period:
        return f"running:period:{reading.period}"
    return f"running:awaits:{reading.awaits}" if reading.awaits else _BEFORE


class _Shape(NamedTuple):
    """The parts of a timeline that its chart depends on: periods with whether a person begins them, spans of
    windows."""

    periods: tuple[tuple[str, bool], ...]
    spans: tuple[tuple[str, int], ...]


def _shape(timeline: Timeline) -> _Shape:
    periods = ((slot.id, slot.anchor == slot.id) for slot in timeline.periods)
    return _Shape(tuple(periods), tuple((span.id, span.n) for span in timeline.windows))


@lru_cache(maxsize=100)                # the library takes 10 ms and more for one; matches of one game share theirs
def _machine_class(shape: _Shape) -> type[StateChart[Any]]:
    machine = create_machine_class_from_definition(
        "MatchChart",
        {phase: _state(phase, shape) for phase in get_args(Phase)},
        allow_event_without_transition=False,
        catch_errors_as_events=False,
    )
    # The library begins again at the parent's number in each parallel region; leaving in reverse document order needs
    # the numbers of a walk through the tree.
    for order, state in enumerate(_walk(machine.states), start=1):
        state.document_order = order
    return machine


def _walk(states: Any) -> Iterator[State]:
    for state in states:
        yield state
        yield from _walk(state.states)


def _state(phase: Phase, shape: _Shape) -> Any:
    on: dict[str, list[_Definition]] = {
        **{event: [{"target": None, "validators": _admit}] for event in _STAYS[phase]},
        **{event: [{"target": target, "validators": _admit}] for event, target in _GOES[phase].items()},
    }
    if phase == "standby":
        return {"initial": True, "on": on}
    if phase == "waiting":
        return {"on": {**on, "boundary": [{"target": "running", "cond": _holds}, {"target": None}]}}
    if phase != "running":
        return {"on": on}
    return {
        "parallel": True,
        "states": dict(_regions(shape)),
        "history": {_HISTORY: {"type": "deep"}},
        # The regions' own transitions are further in and win; this one takes a boundary that moves no region.
        "on": {**on, "boundary": [{"target": None}], "done.state.running": [{"target": "over"}]},
    }


def _regions(shape: _Shape) -> Iterator[tuple[str, _Definition]]:
    leaves = [_BEFORE]
    for period, by_hand in shape.periods:
        leaves += [f"running:awaits:{period}"] * by_hand + [f"running:period:{period}"]
    yield "running:period", _region("running:period", leaves, _AFTER)
    for span, n in shape.spans:
        region = f"running:{span}:{n}"
        yield region, _region(region, [f"{region}:closed", f"{region}:open"], f"{region}:past")


def _region(region: str, leaves: list[str], final: str) -> _Definition:
    """Return a region whose leaves all lead to each other and to the final one, each where match time says so."""
    states: _Definition = {final: {"value": _value(final), "final": True}}
    for leaf in leaves:
        others = [{"target": other, "cond": _holds} for other in [*leaves, final] if other != leaf]
        states[leaf] = {"value": _value(leaf), "on": {"boundary": others}}
    return {"value": _value(region), "states": {key: states[key] for key in [*leaves, final]}}


def _value(state_id: str) -> str:
    return state_id.replace(":", ".")


def _holds(holds: frozenset[str], target: State) -> bool:
    """Guard: the state that the transition leads to holds at this match time."""
    return target.value in holds


def _admit(refusal: str) -> None:
    """Validator: raise what speaks against the event's arguments."""
    if refusal:
        raise RefusedError(refusal)
