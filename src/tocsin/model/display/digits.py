"""Compute the official display's reading of the remaining time."""

from typing import Literal

from tocsin.translation import tr
from tocsin.units import NS_PER_S

Rounding = Literal["ceil", "floor"]


def official(left_ns: int, digits: Rounding) -> str:
    """Return minutes and seconds as the official display shows ``left_ns`` nanoseconds, at least 0:00.

    ``rounding`` says in words how each way rounds.

    >>> official(19_500_000_000, "ceil"), official(19_500_000_000, "floor")
    ('0:20', '0:19')
    """
    whole_s = -(-left_ns // NS_PER_S) if digits == "ceil" else left_ns // NS_PER_S
    minutes, seconds = divmod(max(0, whole_s), 60)
    return f"{minutes}:{seconds:02d}"


def rounding(digits: Rounding) -> str:
    """Return in words how the official display rounds, by the example of 0:20.

    >>> rounding("ceil")
    'shows 0:20 while more than 19.0 and at most 20.0 s are left'
    """
    left = tr("more than 19.0 and at most 20.0 s") if digits == "ceil" else tr("at least 20.0 and less than 21.0 s")
    return tr("shows 0:20 while {left} are left", left=left)
