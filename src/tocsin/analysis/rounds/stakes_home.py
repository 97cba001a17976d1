"""Home, half home, not home: states of a robot rather than events."""

from collections.abc import Sequence

from msgspec.structs import replace

from tocsin.model.game import By
from tocsin.model.mark import Mark, standing

HOME, HALF, NOT_HOME = "home", "home_half", "home_none"
STATES = (HOME, HALF, NOT_HOME)


def robot(mark: Mark) -> By:
    """Return whose mark it is; what names nobody is ours."""
    if mark.is_ours:
        return "us"
    return "partner" if mark.by == "partner" else "opponent"


def settled(marks: Sequence[Mark], ended_ns: int) -> tuple[Mark, ...]:
    """Return the marks that hold, in the order of their begins, of each robot only the newest of the ``STATES``.

    That one becomes a span to the run's end. It begins where the robot was first noted so, if nothing else was noted in
    between: a second press says nothing new.
    """
    states: dict[By, Mark] = {}
    events: list[Mark] = []
    for mark in sorted(standing(marks), key=lambda mark: mark.begin_ns):
        if mark.label not in STATES:
            events.append(mark)
        elif robot(mark) not in states or states[robot(mark)].label != mark.label:
            states[robot(mark)] = mark
    held = [replace(mark, end_ns=max(ended_ns, mark.begin_ns), open=False) for mark in states.values()]
    return tuple(sorted((*events, *held), key=lambda mark: mark.begin_ns))
