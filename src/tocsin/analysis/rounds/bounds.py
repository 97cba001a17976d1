"""Say within which times something happened that nobody noted exactly: a push without an end, a turn, a way home.

What a row of runs holds for those who estimate from many of them: exact times, times between two that are known
(interval-censored), and times that are only known to be longer (right-censored). Leaving the last two out would leave
the worst runs out.
"""

from collections.abc import Iterable, Sequence

import msgspec

from tocsin.analysis.rounds.overlaps import Interval, Tap, end_of
from tocsin.model.mark import Mark


class Bounds(msgspec.Struct, frozen=True, kw_only=True):
    """A time in nanoseconds that lies in ``(at_least_ns, at_most_ns]``: exact where both are equal, without an upper
    bound where ``at_most_ns`` is None."""

    at_least_ns: int
    at_most_ns: int | None

    @classmethod
    def exact(cls, ns: int) -> "Bounds":
        """Return the bounds of a time that was noted."""
        return cls(at_least_ns=ns, at_most_ns=ns)


class TimeBounds(msgspec.Struct, frozen=True, kw_only=True):
    """What is known of a round's times; None: it cannot be told, or there was none.

    ``break_off`` is from the call home until the end of our push that it found, ``push_at_call`` whether it found one
    (None: there was no call, or nobody watched). ``margin`` is from the end of our last push before a guarded window
    until that began, below 0 if it held on; the least over several windows. ``turn`` is from the call until our robot
    turned, ``way`` from there until it was home or half home.
    """

    break_off: Bounds | None = None
    push_at_call: bool | None = None
    margin: Bounds | None = None
    turn: Bounds | None = None
    way: Bounds | None = None


def break_off(contacts: Iterable[Mark], call_ns: int, ended_ns: int) -> Bounds | None:
    """Return how long after a call at ``call_ns`` our push that was on then ended; None if none was on.

    A push without a noted end had one at the latest when the same robot turned or was home; if that lies before the
    call, it found none. Of several the last counts.
    """
    found: list[Bounds] = []
    for mark in contacts:
        if mark.begin_ns > call_ns:
            continue
        if isinstance(mark, Tap):
            if not mark.is_over:
                found.append(Bounds(at_least_ns=0, at_most_ns=None))
            elif mark.over_ns > call_ns:
                found.append(Bounds(at_least_ns=0, at_most_ns=mark.over_ns - call_ns))
        elif end_of(mark, ended_ns) > call_ns:
            found.append(Bounds.exact(end_of(mark, ended_ns) - call_ns))
    if not found:
        return None
    at_most = [one.at_most_ns for one in found if one.at_most_ns is not None]
    return Bounds(
        at_least_ns=max(one.at_least_ns for one in found),
        at_most_ns=max(at_most) if len(at_most) == len(found) else None,
    )


def margin(contacts: Sequence[Mark], windows: Iterable[Interval], ended_ns: int) -> Bounds | None:
    """Return how long before the begin of a window our last push before it ended, the least over these windows; None
    without a push before one. A push without an end ended when it was over at the latest, which is at the run's end if
    no mark says so before."""
    found = []
    for window in windows:
        before = [mark for mark in contacts if mark.begin_ns < window.begin_ns]
        if before:
            latest_ns = max(mark.over_ns if isinstance(mark, Tap) else end_of(mark, ended_ns) for mark in before)
            earliest_ns = max(mark.begin_ns if isinstance(mark, Tap) else end_of(mark, ended_ns) for mark in before)
            found.append((window.begin_ns - latest_ns, window.begin_ns - earliest_ns))
    if not found:
        return None
    return Bounds(at_least_ns=min(low for low, _ in found), at_most_ns=min(high for _, high in found))


def turn(turn_ns: int | None, home_after_ns: int | None, watched_for_ns: int | None) -> Bounds | None:
    """Return how long after the call our robot turned: ``turn_ns`` where that was noted; else before it was home, which
    was ``home_after_ns`` the call; else later than ``watched_for_ns``, so long somebody looked out for it. Each may be
    None."""
    if turn_ns is not None:
        return Bounds.exact(turn_ns)
    if home_after_ns is not None and home_after_ns >= 0:
        return Bounds(at_least_ns=0, at_most_ns=home_after_ns)
    return None if watched_for_ns is None else Bounds(at_least_ns=watched_for_ns, at_most_ns=None)


def way(turn_ns: int | None, home_after_ns: int | None, end_after_ns: int | None, *, missed: bool) -> Bounds | None:
    """Return how long the way home took, times from the call: from the turn on, or if that was not noted, no longer
    than from the call on. ``missed``: our robot was not home at the end of the match, ``end_after_ns`` the call."""
    if home_after_ns is not None:
        if turn_ns is None:
            return Bounds(at_least_ns=0, at_most_ns=home_after_ns) if home_after_ns >= 0 else None
        return Bounds.exact(home_after_ns - turn_ns) if home_after_ns >= turn_ns else None
    if not missed or end_after_ns is None:
        return None
    return Bounds(at_least_ns=0 if turn_ns is None else max(0, end_after_ns - turn_ns), at_most_ns=None)
