"""Compute how long drivers need after a call: to break off a push, and to be home.

A scribe notes the end of a push 0.3 to 0.8 s late (common practice, no source), which makes these times that much
longer. This is left in: a lead must also cover the error of the match clock, which is of that size.

A lead that is enough in nine of ten rounds cannot be read off a few rounds: the probability that more than one round in
ten exceeds the longest of five is 59 % (0.9**5). From 22 rounds on the longest is a tolerance bound (``nine_in_ten`` of
``seasons/ranks.py``): for any distribution it is enough for nine rounds in ten with a confidence of 90 % (Wilks 1941).
From 38 rounds on the longest may be left out, and so on. All this holds for rounds like those that were played.
"""

from collections.abc import Iterable, Sequence

import msgspec

from tocsin.analysis.rounds.result import CONTACT, PlayedRound, uncounted
from tocsin.analysis.rounds.stakes import HOME, robot, settled
from tocsin.analysis.seasons.ranks import nine_in_ten
from tocsin.model.mark import counted_marks
from tocsin.model.timeline.timeline import Timeline

BREAK_OFF, TRAVEL = "break_off", "home"        # the names of the leads in a plan


class CallResponse(msgspec.Struct, frozen=True, kw_only=True):
    """How long after the call home a round's contact ended, if one was on, and our robot was home; in real nanoseconds.
    None: there was no such contact or return, or nobody noted it."""

    break_off_ns: int | None
    home_ns: int | None


class Needed(msgspec.Struct, frozen=True, kw_only=True):
    """The lead that ``rounds`` show as needed. ``lead_ns`` is the bound that holds in nine of ten rounds; while rounds
    are ``missing`` for a bound, it is only the longest time seen."""

    lead_ns: int
    rounds: int
    missing: int = 0


def answer_of(timeline: Timeline, played: PlayedRound) -> CallResponse | None:
    """Return how a round's drivers answered the call home; None without that call, or if the round does not count."""
    call_ns = played.home_call_ns
    if call_ns is None or any(uncounted(timeline, played)):
        return None
    marks = counted_marks(played.marks)
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
    return CallResponse(
        break_off_ns=max(ends_ns) - call_ns if ends_ns else None,
        home_ns=home_ns[0] - call_ns if home_ns else None,
    )


def needed(answers: Iterable[CallResponse]) -> dict[str, Needed]:
    """Return the leads that rounds show as needed, by the names that plans use."""
    known = list(answers)
    times = {
        BREAK_OFF: [one.break_off_ns for one in known if one.break_off_ns is not None],
        TRAVEL: [one.home_ns for one in known if one.home_ns is not None],
    }
    return {lead: _needed(found) for lead, found in times.items() if found}


def _needed(times_ns: Sequence[int]) -> Needed:
    bound = nine_in_ten(times_ns)
    lead_ns = max(times_ns) if bound.value is None else round(bound.value)
    return Needed(lead_ns=lead_ns, rounds=bound.n, missing=bound.missing)
