"""Find where the program would no longer advise a change, one number alone being another. Pure.

A change ends to be advised long before it wins nothing: it is to win enough, and surely. So each number is moved away
from where it lies, the others staying as unknown as they are, and the same rule is asked again.
"""

from collections.abc import Iterator

import msgspec

from tocsin.analysis.decisions.choice import Number, Unknown, turning

# How far a number is moved: a share of matches is never more, a scribe is hardly slower; a second up to so many times
# what it is said to be worth. Common practice, no source.
_MOST_PUSHES, _MOST_LAG_S, _TIMES_SECOND = 1.0, 1.5, 3.0


class Turn(msgspec.Struct, frozen=True, kw_only=True):
    """Where a change is no longer advised: with this number ``below`` a value, or above it: points of a second, a share
    of matches, seconds of the scribe's lag."""

    number: Number
    at: float
    below: bool


def turns_of(lead_s: float, unknown: Unknown) -> tuple[Turn, ...]:
    """Return what alone would end the advice to change to a lead of ``lead_s`` seconds, within what is plausible."""
    return tuple(turn for number in unknown.ends for turn in _turns(lead_s, number, unknown))


def _turns(lead_s: float, number: Number, unknown: Unknown) -> Iterator[Turn]:
    low, high = unknown.ends[number]
    most = {"second": _TIMES_SECOND * high, "pushes": _MOST_PUSHES, "lag": _MOST_LAG_S}[number]

    def holds(value: float) -> bool:
        return unknown.holds(lead_s, number, value)

    if low > 0 and holds(low) and not holds(0.0):
        yield Turn(number=number, at=turning(0.0, low, False, holds), below=True)
    if high < most and holds(high) and not holds(most):
        yield Turn(number=number, at=turning(high, most, True, holds), below=False)
