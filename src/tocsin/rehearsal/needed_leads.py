"""How long drivers really need after the call: to break off a push, and to be home.

A scribe notes the end of a push 0.3 to 0.8 s late (common practice, no source), which makes these times longer by as
much. It is left in: a lead has to cover the error of the match clock too, which is of that size.
"""

import math
from collections.abc import Iterable, Sequence

import msgspec

from tocsin.model.mark import standing
from tocsin.model.timeline import Timeline
from tocsin.rehearsal.result import CONTACT, Round, uncounted
from tocsin.rehearsal.stakes_home import HOME, robot, settled

BREAK_OFF, TRAVEL = "break_off", "home"        # the names of the leads in a plan
NINE_IN_TEN = 0.9
LEAST_ROUNDS = 5                       # fewer tell too little (own estimate, no source)


class Answer(msgspec.Struct, frozen=True, kw_only=True):
    """How long after the call home a round's own contact ended that was on as it landed, and our robot was home; in
    real nanoseconds. None: there was no such thing, or nobody noted it."""

    break_off_ns: int | None
    home_ns: int | None


class Needed(msgspec.Struct, frozen=True, kw_only=True):
    """The lead that was enough nine times in ten, and in how many rounds that shows."""

    lead_ns: int
    rounds: int


def answer_of(timeline: Timeline, played: Round) -> Answer | None:
    """Return how a round's drivers answered the call home; None where it did not come or the round does not count."""
    call_ns = played.home_call_ns
    if call_ns is None or any(uncounted(timeline, played)):
        return None
    marks = standing(played.marks)
    ends_ns = [
        mark.end_ns
        for mark in marks
        if mark.label == CONTACT and mark.is_ours and mark.end_ns is not None and mark.begin_ns <= call_ns < mark.end_ns
    ]
    home_ns = [
        mark.begin_ns
        for mark in settled(marks, played.ended_ns)
        if mark.label == HOME and robot(mark) == "us" and mark.begin_ns > call_ns
    ]
    return Answer(
        break_off_ns=max(ends_ns) - call_ns if ends_ns else None,
        home_ns=home_ns[0] - call_ns if home_ns else None,
    )


def needed(answers: Iterable[Answer]) -> dict[str, Needed]:
    """Return the leads that rounds have shown to be needed, by the names that plans use.

    Each is the least time within which nine of ten rounds were through (the inverse of the empirical distribution),
    where there are ``LEAST_ROUNDS`` or more.
    """
    known = list(answers)
    times = {
        BREAK_OFF: [one.break_off_ns for one in known if one.break_off_ns is not None],
        TRAVEL: [one.home_ns for one in known if one.home_ns is not None],
    }
    return {
        lead: Needed(lead_ns=_nine_in_ten(found), rounds=len(found))
        for lead, found in times.items()
        if len(found) >= LEAST_ROUNDS
    }


def _nine_in_ten(times_ns: Sequence[int]) -> int:
    return sorted(times_ns)[math.ceil(NINE_IN_TEN * len(times_ns)) - 1]
