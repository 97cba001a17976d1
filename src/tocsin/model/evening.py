"""Say which runs are of one evening: those less than four hours apart, whatever the calendar says.

Moments are seconds of any wall clock, e.g. since 1970. A clock that was set back meanwhile counts by how far it jumped.
"""

from collections.abc import Iterable

GAP_S = 4 * 3600.0                     # a longer pause ends an evening: common practice, no source


def is_same_evening(one_s: float, other_s: float) -> bool:
    """Return whether two moments with nothing between them are of one evening.

    >>> is_same_evening(0, 4 * 3600), is_same_evening(4 * 3600 - 1, 0)
    (False, True)
    """
    return abs(other_s - one_s) < GAP_S


def evenings(moments_s: Iterable[float]) -> list[list[float]]:
    """Return moments by evening, the oldest first.

    >>> evenings([7200, 0, 90000])
    [[0, 7200], [90000]]
    """
    found: list[list[float]] = []
    for moment_s in sorted(moments_s):
        if found and is_same_evening(found[-1][-1], moment_s):
            found[-1].append(moment_s)
        else:
            found.append([moment_s])
    return found


def evening_began_s(moments_s: Iterable[float], now_s: float) -> float:
    """Return when the evening that is on began: the first of the moments that lead to now without a longer pause, or
    now.

    >>> evening_began_s([0, 20000, 30000], 31000)
    20000
    """
    began_s = now_s
    for moment_s in sorted(moments_s, reverse=True):
        if moment_s <= now_s and not is_same_evening(moment_s, began_s):
            break
        began_s = min(began_s, moment_s)               # of what lies ahead the clock was set back since
    return began_s
