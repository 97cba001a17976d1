"""Say who noted a time, and how late a scribe's key is beside a video of the same push.

A scribe at a key notes what happens some tenths of a second late, a video does not: whoever reckons with times must
know which they are. Where both noted one push, the difference of its ends is the scribe's lag in this very room.
"""

from collections.abc import Iterable, Sequence
from typing import Literal

from tocsin.analysis.rounds.stakes import robot
from tocsin.model.counted import counted_marks, sources
from tocsin.model.mark import CONTACT, LATER, OBSERVED, VIDEO, Mark, standing
from tocsin.units import NS_PER_S

#: A scribe at a key or button as it happened; somebody afterwards; a video. Empty: nobody.
NotedBy = Literal["", "key", "later", "video"]
# A key that was pressed so much later than a video has it may still mean that push, one pressed earlier does not.
_LATE_NS = 2 * NS_PER_S


def noted_by(mark: Mark) -> NotedBy:
    """Return who noted a mark."""
    if LATER in sources(mark):
        return "later"
    return "video" if mark.source in (VIDEO, OBSERVED) else "key"


def time_noted_by(marks: Iterable[Mark], at_ns: int) -> NotedBy:
    """Return who noted our mark that begins or ends at ``at_ns``; empty if none does."""
    at_this = (mark for mark in marks if robot(mark) == "us" and at_ns in (mark.begin_ns, mark.end_ns))
    return next((noted_by(mark) for mark in at_this), "")


def scribe_lags_ns(marks: Sequence[Mark]) -> tuple[int, ...]:
    """Return of each push that both a key and a video noted from begin to end how much later the key noted its end, in
    nanoseconds, in the order of time. ``marks`` are all marks of a run.

    Of pushes so close together that nobody can tell which of them a key meant there is none. The error of the run's
    clock against its video is in each of them, and the same in all of one run. Of several scribes the latest counts, as
    in a result.
    """
    pushes = [mark for mark in standing(marks) if mark.label == CONTACT and mark.end_ns is not None]
    by_video = [mark for mark in pushes if mark.source == VIDEO]
    by_key = counted_marks([mark for mark in pushes if noted_by(mark) == "key"])
    found = []
    for seen in sorted(by_video, key=lambda mark: mark.begin_ns):
        keyed = [mark for mark in by_key if _may_be_one(seen, mark)]
        if len(keyed) == 1 and sum(_may_be_one(other, keyed[0]) for other in by_video) == 1:
            found.append((keyed[0].end_ns or 0) - (seen.end_ns or 0))
    return tuple(found)


def _may_be_one(seen: Mark, keyed: Mark) -> bool:
    if robot(seen) != robot(keyed) or seen.end_ns is None or keyed.end_ns is None:
        return False
    error_ns = seen.error_ns or 0
    return keyed.begin_ns < seen.end_ns + _LATE_NS and keyed.end_ns > seen.begin_ns - error_ns
