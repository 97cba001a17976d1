"""Find how far another laptop's clock lies off this one's, by exchanges of messages with it, and within which bound.

An exchange is four readings: sent here, received there, answered there, got here. What lies between them is known but
for how the delay fell on the two ways, so the offset ``((T1 - T0) + (T2 - T3)) / 2`` is off by at most half the delay,
however uneven the ways are (Cristian 1989; RFC 5905, without its dispersion). Pure: times are arguments.
"""

from collections import deque

import msgspec

KEPT = 8                               # exchanges, of which the one with the least delay counts (RFC 5905)
# By how much two laptops' clocks drift apart at most: two crystals of 50 parts in a million each (from memory).
DRIFT_PPM = 100


class Exchange(msgspec.Struct, frozen=True, kw_only=True):
    """One exchange: ``sent_ns`` and ``got_ns`` on this laptop's clock, ``received_ns`` and ``answered_ns`` on the
    other's."""

    sent_ns: int
    received_ns: int
    answered_ns: int
    got_ns: int

    @property
    def offset_ns(self) -> int:
        """The other's clock minus this one's, in nanoseconds."""
        return ((self.received_ns - self.sent_ns) + (self.answered_ns - self.got_ns)) // 2

    @property
    def delay_ns(self) -> int:
        """How long both ways took together."""
        return (self.got_ns - self.sent_ns) - (self.answered_ns - self.received_ns)

    @property
    def error_ns(self) -> int:
        """The bound of the offset's error when it was got: half the delay, what the clocks may have drifted meanwhile,
        and what was rounded."""
        return (self.delay_ns + 1) // 2 + drift_ns(self.got_ns - self.sent_ns) + 1

    def error_at_ns(self, now_ns: int) -> int:
        """Return the bound of the offset's error at ``now_ns``: the clocks may have drifted since."""
        return self.error_ns + drift_ns(now_ns - self.got_ns)


class Offset(msgspec.Struct, frozen=True, kw_only=True):
    """How far the other laptop's clock lies ahead of this one's, and the bound of its error, both in nanoseconds."""

    offset_ns: int
    error_ns: int

    def here_ns(self, there_ns: int) -> int:
        """Return a time of the other's clock as this one shows it."""
        return there_ns - self.offset_ns


def drift_ns(since_ns: int) -> int:
    """Return by how much two clocks may have drifted apart in a time, in nanoseconds.

    >>> drift_ns(1_000_000_000)
    100000
    """
    return -(-abs(since_ns) * DRIFT_PPM // 1_000_000)


class OffsetFilter:
    """The last exchanges with another laptop, and the offset that follows."""

    def __init__(self) -> None:
        self._kept: deque[Exchange] = deque(maxlen=KEPT)

    def take(self, exchange: Exchange) -> bool:
        """Take an exchange; return whether a clock has jumped since those before, which then count no more: one of the
        laptops slept, or another one answers now. An exchange that cannot be (answered before it came) is left out."""
        if exchange.delay_ns < 0 or exchange.answered_ns < exchange.received_ns:
            return False
        jumped = any(_apart(old, exchange) for old in self._kept)
        if jumped:
            self._kept.clear()
        self._kept.append(exchange)
        return jumped

    def forget(self) -> None:
        """Leave all exchanges so far: this laptop slept."""
        self._kept.clear()

    def at(self, now_ns: int) -> Offset | None:
        """Return the offset with its bound at ``now_ns``, from the exchange with the least delay; None without one."""
        best = min(self._kept, key=lambda exchange: exchange.delay_ns, default=None)
        return None if best is None else Offset(offset_ns=best.offset_ns, error_ns=best.error_at_ns(now_ns))


def _apart(old: Exchange, new: Exchange) -> bool:
    """Return whether no drift explains how far two exchanges lie apart."""
    return abs(new.offset_ns - old.offset_ns) > new.error_ns + old.error_at_ns(new.got_ns)
