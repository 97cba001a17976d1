"""Bound a move of the clock, so that no cue is lost by it and none is seen twice. Pure."""

import msgspec

from tocsin.model.clock.lifecycle import Lifecycle
from tocsin.model.clock.origins import Origin
from tocsin.model.timeline.timeline import Timeline
from tocsin.units import NS_PER_MS

# A cue that a step of the clock would lose is brought to land this long after its device's delay: time for a message.
REACH_AHEAD_NS = 100 * NS_PER_MS


class Reach:
    """What moves the clock of one match can make; ``latency_ns`` is the longest delay of a device."""

    def __init__(self, timeline: Timeline, latency_ns: int) -> None:
        self._timeline = timeline
        self._ahead_ns = latency_ns + REACH_AHEAD_NS

    def within(self, by_ns: int, now_ns: int, life: Lifecycle, early_ms: int, *, slews: bool) -> int:
        """Return how much of a move of the latest origin can be made now so that no cue is lost, and none seen twice in
        a slew. ``early_ms`` is by how much calls come early.

        Earlier: a cue that the move would put further into the past than its late limit allows is brought to land at
        once, and the rest of the move waits for it. Later, by a slew: not across what has just begun or is about to.
        """
        latest = life.latest
        if latest is None or by_ns == 0:
            return 0
        now_ns = now_ns if life.held_ns is None else life.held_ns
        calls, soon_ns = earlier(latest, early_ms * NS_PER_MS), now_ns + self._ahead_ns
        own = [f for f in self._timeline.firings if f.begin.anchor == latest.anchor]
        if by_ns > 0:
            places_ns = [calls.real_ns(firing.begin.offset_ns) for firing in own]
            places_ns += [latest.real_ns(edge_ns) for edge_ns in self._timeline.boundaries()[latest.anchor]]
            return 0 if slews and any(now_ns - by_ns < ns <= soon_ns for ns in places_ns) else by_ns
        lost_ns = [
            land_ns
            for firing in own
            if firing.when in ("", life.variant)
            and max(now_ns + 1, calls.starts_ns) <= (land_ns := calls.real_ns(firing.begin.offset_ns))
            and land_ns + by_ns + firing.late_limit_ns < soon_ns
        ]
        return max(by_ns, min(0, soon_ns - min(lost_ns))) if lost_ns else by_ns


def earlier(origin: Origin, by_ns: int) -> Origin:
    """Return an origin as much earlier."""
    starts_ns = origin.starts_ns - by_ns if origin.starts_ns else 0
    return msgspec.structs.replace(origin, origin_ns=origin.origin_ns - by_ns, starts_ns=starts_ns)
