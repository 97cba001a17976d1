"""Keep the known origins of one match: set them, move them, and find when the next edge is crossed. Pure."""

import math
from bisect import bisect_right
from collections.abc import Iterable, Mapping
from typing import Literal

import msgspec

from tocsin.model.timeline.timeline import Point, Segment, Timeline

NEVER_NS = 1 << 62                     # behind every time of the shared clock that a run can come to


class Origin(msgspec.Struct, frozen=True, kw_only=True):
    """Where an anchor's match time is zero on the shared clock, and how fast match time runs.

    ``instance`` counts begins of a mark or call anchor from 0, so that each may fire anew; it stays 0 for the match and
    periods. ``sent_ns`` is when the conductor set this origin. ``starts_ns`` is when a clock that begins in mid-match
    is started, else 0; firings due before it belong to a part of the match that is left out.
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
    """Return the shared time from which a segment has passed, since a later one has begun; ``NEVER_NS`` if none is
    known, and for marks and calls. ``ranks`` are the places of the segments in the match by their anchors."""
    rank = ranks.get(anchor)
    if rank is None:
        return NEVER_NS
    later = (origin.origin_ns for other, origin in origins.items() if ranks.get(other, -1) > rank)
    return min(later, default=NEVER_NS)


Phase = Literal["standby", "waiting", "running", "held", "over", "scrapped"]


CALL = "call."
MARK = "mark."


class Origins:
    """The newest origin of each anchor. Marks and calls count their instances; segments have one."""

    def __init__(self, timeline: Timeline, known: Iterable[Origin] = ()) -> None:
        self._segments = timeline.segments
        self._ranks = {segment.anchor: rank for rank, segment in enumerate(timeline.segments)}
        self._edges_ns = timeline.boundaries()
        self._known = {origin.anchor: origin for origin in known}
        first = self.first
        self.rate = 1.0 if first is None else first.rate

    @property
    def known(self) -> tuple[Origin, ...]:
        """All origins, in the order in which their anchors became known."""
        return tuple(self._known.values())

    @property
    def first(self) -> Origin | None:
        """The origin of the first segment that has one."""
        return next((self._known[s.anchor] for s in self._segments if s.anchor in self._known), None)

    @property
    def latest(self) -> Origin | None:
        """The origin of the last segment that has one, even if it lies ahead."""
        return next((self._known[s.anchor] for s in reversed(self._segments) if s.anchor in self._known), None)

    @property
    def awaited(self) -> Segment | None:
        """The segment after the latest."""
        ranks = [rank for rank, segment in enumerate(self._segments) if segment.anchor in self._known]
        return self._segments[ranks[-1] + 1] if ranks and ranks[-1] + 1 < len(self._segments) else None

    @property
    def corrected(self) -> tuple[Origin, ...]:
        """The origins that a correction of the clock moves: the latest segment's. If that began in mid-match, the
        segments before it are known by the same start only, and move with it."""
        latest = self.latest
        if latest is None:
            return ()
        same = (o for o in self._known.values() if o.starts_ns and o.starts_ns == latest.starts_ns and o != latest)
        return (*same, latest)

    def reaches(self, point: Point) -> bool:
        """Return whether the clock will reach a point of the match, as far as is known: not if its segment passes
        before, or if the start leaves it out."""
        origin = self._known.get(point.anchor)
        if origin is None:
            return True
        land_ns = origin.real_ns(point.offset_ns)
        return origin.starts_ns <= land_ns < cut_ns(point.anchor, self._ranks, self._known)

    def elapsed_ns(self, now_ns: int) -> dict[str, int]:
        """Return the match time since each origin, in nanoseconds."""
        return {anchor: origin.elapsed_ns(now_ns) for anchor, origin in self._known.items()}

    def set_start(self, at: Point, origin_ns: int, rate: float, now_ns: int) -> None:
        """Set the moment ``at`` to ``origin_ns``. Segments before its own lie where they would if nothing had been late
        and open periods had taken no time."""
        self.rate = rate
        own = next(segment for segment in self._segments if segment.anchor == at.anchor)
        for segment in self._segments:
            behind_ns = at.offset_ns + own.match_ns - segment.match_ns
            # Rounded up, so that at origin_ns the moment has come, whatever the rate.
            self.set(segment.anchor, origin_ns - math.ceil(behind_ns / rate), now_ns)
            if segment is own:
                break
        if own is self._segments[0] and at.offset_ns == 0:
            return                             # nothing of the match is left out
        starts_ns = self._known[own.anchor].real_ns(at.offset_ns)
        for anchor, origin in self._known.items():
            self._known[anchor] = msgspec.structs.replace(origin, starts_ns=starts_ns)

    def set(self, anchor: str, origin_ns: int, now_ns: int) -> None:
        """Take an origin; for a mark or call it becomes the next instance."""
        old = self._known.get(anchor)
        instance = old.instance + 1 if old is not None and anchor.startswith((CALL, MARK)) else 0
        self._known[anchor] = Origin(
            anchor=anchor, origin_ns=origin_ns, rate=self.rate, instance=instance, sent_ns=now_ns
        )

    def move(self, by_ns: int, now_ns: int, anchors: Iterable[str] | None = None) -> None:
        """Move the origins of these anchors, or all, later by ``by_ns`` of real time."""
        for anchor in list(self._known if anchors is None else anchors):
            old = self._known[anchor]
            self._known[anchor] = msgspec.structs.replace(
                old,
                origin_ns=old.origin_ns + by_ns,
                starts_ns=old.starts_ns + by_ns if old.starts_ns else 0,
                sent_ns=now_ns,
            )

    def next_edge_ns(self, settled_ns: int) -> int | None:
        """Return the first shared time after ``settled_ns`` at which an edge is crossed, or None."""
        crossings = (self._next_crossing_ns(origin, settled_ns) for origin in self._known.values())
        return min((ns for ns in crossings if ns is not None), default=None)

    def _next_crossing_ns(self, origin: Origin, settled_ns: int) -> int | None:
        edges_ns = self._edges_ns.get(origin.anchor, ())
        ahead = bisect_right(edges_ns, origin.elapsed_ns(settled_ns))
        return _crossing_ns(origin, edges_ns[ahead]) if ahead < len(edges_ns) else None


def next_occurrence(
    timeline: Timeline, origins: Origins, elapsed_ns: Mapping[str, int], variant: str, cue: str
) -> list[int]:
    """Return the numbers of the firings of a cue's next scheduled occurrence, empty if there is none: a call by hand
    replaces them. ``elapsed_ns`` is the match time since each known origin."""
    coming = [
        firing
        for firing in timeline.firings
        if firing.cue == cue
        and firing.match_ns is not None
        and firing.when in ("", variant)
        and firing.begin.offset_ns >= elapsed_ns.get(firing.begin.anchor, -1)
        and origins.reaches(firing.begin)
    ]
    return [firing.no for firing in coming if firing.n == min(one.n for one in coming)]


def _crossing_ns(origin: Origin, offset_ns: int) -> int:
    """Return the first shared time at which ``elapsed_ns`` is at least ``offset_ns``: both round, so look around."""
    at_ns = origin.real_ns(offset_ns)
    while origin.elapsed_ns(at_ns) < offset_ns:
        at_ns += 1
    while origin.elapsed_ns(at_ns - 1) >= offset_ns:
        at_ns -= 1
    return at_ns
