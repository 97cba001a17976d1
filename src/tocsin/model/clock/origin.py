"""The match clock: the origins that are known, and match time from them. Pure; the time is an argument."""

from collections.abc import Mapping
from typing import Literal

import msgspec

NEVER_NS = 1 << 62                     # behind every time of the shared clock that a run can come to


class Origin(msgspec.Struct, frozen=True, kw_only=True):
    """Where an anchor's match time is zero on the shared clock, and how fast match time runs.

    ``instance`` counts begins of a mark or call anchor from 0, so that each may fire anew; it stays 0 for the match and
    periods. ``sent_ns`` is when the conductor set this origin. ``starts_ns`` is when a clock that begins in mid-match
    is started, else 0; what falls due before it belongs to a part of the match that is left out.
    """

    anchor: str
    origin_ns: int
    rate: float = 1.0
    instance: int = 0
    sent_ns: int = 0
    starts_ns: int = 0

    def elapsed_ns(self, now_ns: int) -> int:
        """Return the match time since the origin, in nanoseconds; negative before it."""
        return round((now_ns - self.origin_ns) * self.rate)

    def real_ns(self, offset_ns: int) -> int:
        """Return the shared time at which ``offset_ns`` of match time since the origin has passed."""
        return self.origin_ns + round(offset_ns / self.rate)


def cut_ns(anchor: str, ranks: Mapping[str, int], origins: Mapping[str, Origin]) -> int:
    """Return the shared time from which a segment has passed, since a later one has begun; ``NEVER_NS`` as far as is
    known, and for marks and calls. ``ranks`` are the places of the segments in the match by their anchors."""
    rank = ranks.get(anchor)
    if rank is None:
        return NEVER_NS
    later = (origin.origin_ns for other, origin in origins.items() if ranks.get(other, -1) > rank)
    return min(later, default=NEVER_NS)
Phase = Literal["standby", "waiting", "running", "held", "over", "scrapped"]
