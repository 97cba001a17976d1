"""Where points of a match lie on a picture: the whole match, its last part larger, marks and calls apart. Pure.

Each anchor has a stretch of its own: periods that are begun by hand do not follow at a time that is known, and marks
and calls not at all. Within a stretch a millimetre is the same time everywhere.
"""

from collections.abc import Iterable, Mapping, Sequence
from typing import NamedTuple

import msgspec

from tocsin.model.timeline.point import Point
from tocsin.model.timeline.timeline import Firing, Timeline
from tocsin.units import NS_PER_S

LAST_NS = 45 * NS_PER_S                # how much of the match's end may be shown larger
_AHEAD_NS = NS_PER_S                   # shown before the first call of the larger panel
_LEAST_GAIN = 1.3                      # a larger panel is drawn if it is so much larger
_OPEN_NS = 5 * NS_PER_S                # drawn of a period of open length beyond what is known of it
_BEYOND_NS = NS_PER_S                  # drawn after a mark or a call beyond what hangs on it
_BREAK_MM = 5.0                        # between stretches of the match
_APART_MM = 7.0                        # before the first mark or call, and half of it between them
_APART_MM_PER_S = 4.0
_APART_LEAST_MM, _APART_MOST_MM = 18.0, 30.0
_APART_SHARE = 0.4                     # of a panel's width, at most


class AxisInterval(msgspec.Struct, frozen=True, kw_only=True):
    """``[from_ns, to_ns]`` after the origin of an anchor, at ``x_mm`` and ``width_mm`` wide."""

    anchor: str
    from_ns: int
    to_ns: int
    x_mm: float
    width_mm: float

    @property
    def end_mm(self) -> float:
        """Its right end."""
        return self.x_mm + self.width_mm

    @property
    def mm_per_ns(self) -> float:
        """How long a nanosecond is."""
        return self.width_mm / (self.to_ns - self.from_ns)

    def x(self, offset_ns: int) -> float:
        """Return where an offset lies, at the nearer end if it lies outside."""
        inside_ns = min(max(offset_ns, self.from_ns), self.to_ns) - self.from_ns
        return self.x_mm + inside_ns * self.mm_per_ns


class AxisPiece(NamedTuple):
    """A piece of a panel, and whether what it stands for goes on to the left or the right of it."""

    begin_mm: float
    end_mm: float
    open_left: bool
    open_right: bool


class Axis(msgspec.Struct, frozen=True, kw_only=True):
    """The stretches of a panel from the left: those of the match, then marks and calls, of which nobody knows when."""

    match: tuple[AxisInterval, ...]
    apart: tuple[AxisInterval, ...]
    ranks: dict[str, int]
    larger: bool

    @property
    def begin_mm(self) -> float:
        """Where the match begins."""
        return self.match[0].x_mm

    @property
    def end_mm(self) -> float:
        """Where the match ends."""
        return self.match[-1].end_mm

    @property
    def last_mm(self) -> float:
        """Where the panel ends."""
        return (self.apart or self.match)[-1].end_mm

    def stretch(self, anchor: str) -> AxisInterval | None:
        """Return the stretch of an anchor, None if it is not on this panel."""
        return next((item for item in (*self.match, *self.apart) if item.anchor == anchor), None)

    def x(self, point: Point) -> float | None:
        """Return where a point lies, None if it is not on this panel."""
        found = self.stretch(point.anchor)
        if found is None or not found.from_ns <= point.offset_ns <= found.to_ns:
            return None
        return found.x(point.offset_ns)

    def span(self, begin: Point, end: Point | None) -> AxisPiece | None:
        """Return the piece between two points, None if it is not on this panel; ``end`` None: nobody knows."""
        if begin.anchor not in self.ranks:
            return self._span_apart(begin, end)
        first = (self.ranks[self.match[0].anchor], self.match[0].from_ns)
        last = (self.ranks[self.match[-1].anchor], self.match[-1].to_ns)
        begins = (self.ranks[begin.anchor], begin.offset_ns)
        known = end is not None and end.anchor in self.ranks
        ends = (self.ranks[end.anchor], end.offset_ns) if end is not None and known else last
        if begins > last or ends < first or (ends == first and begins < first):
            return None
        begin_mm = self.begin_mm if begins < first else self._at(begin)
        end_mm = self.end_mm if ends >= last or end is None else self._at(end)
        return AxisPiece(begin_mm, max(begin_mm, end_mm), begins < first, not known or ends > last)

    def _span_apart(self, begin: Point, end: Point | None) -> AxisPiece | None:
        found = self.stretch(begin.anchor)
        if found is None:
            return None
        begin_mm = found.x(begin.offset_ns)
        if end is None or end.anchor != begin.anchor:
            return AxisPiece(begin_mm, found.end_mm, False, True)
        return AxisPiece(begin_mm, max(begin_mm, found.x(end.offset_ns)), False, False)

    def _at(self, point: Point) -> float:
        found = self.stretch(point.anchor)
        return self.begin_mm if found is None else found.x(point.offset_ns)


def finish(firing: Firing) -> Point:
    """Return the point at which a firing is over: its ``until`` if it is held, else the end of its pattern."""
    if firing.sustained and firing.until is not None:
        return firing.until
    return Point(firing.begin.anchor, firing.begin.offset_ns + firing.lasts_ns)


def axes(timeline: Timeline, left_mm: float, right_mm: float) -> tuple[Axis, ...]:
    """Return the axis of the whole match, and that of its last part if that gains by being shown larger.

    Marks and calls stand at the right of the last one.
    """
    reach = _reach(timeline)
    ranks = {segment.anchor: rank for rank, segment in enumerate(timeline.segments)}
    whole = [(segment.anchor, 0, reach[segment.anchor]) for segment in timeline.segments]
    apart = [(anchor, 0, reach[anchor]) for anchor in reach if anchor not in ranks]
    start = _larger_from(timeline)
    larger = [] if start is None else _after(whole, start, ranks)
    if larger and _length(whole) >= _LEAST_GAIN * _length(larger) and _gains(whole, larger, apart, left_mm, right_mm):
        first = Axis(match=_laid(whole, left_mm, right_mm, _BREAK_MM), apart=(), ranks=ranks, larger=False)
        return first, _with_apart(larger, apart, ranks, left_mm, right_mm, True)
    return (_with_apart(whole, apart, ranks, left_mm, right_mm, False),)


_Piece = tuple[str, int, int]          # anchor, from_ns, to_ns


def _gains(
    whole: Sequence[_Piece], larger: Sequence[_Piece], apart: Sequence[_Piece], left_mm: float, right_mm: float
) -> bool:
    """Return whether a second of the last part is that much longer, marks and calls beside it."""
    first = _laid(whole, left_mm, right_mm, _BREAK_MM)
    second = _with_apart(larger, apart, {}, left_mm, right_mm, True)
    return second.match[-1].mm_per_ns >= _LEAST_GAIN * first[-1].mm_per_ns


def _with_apart(
    match: Sequence[_Piece], apart: Sequence[_Piece], ranks: dict[str, int], left_mm: float, right_mm: float,
    larger: bool,
) -> Axis:  # fmt: skip
    if not apart:
        return Axis(match=_laid(match, left_mm, right_mm, _BREAK_MM), apart=(), ranks=ranks, larger=larger)
    widths = [
        min(max((to - begin) / NS_PER_S * _APART_MM_PER_S, _APART_LEAST_MM), _APART_MOST_MM) for _, begin, to in apart
    ]
    gaps_mm = _APART_MM + (len(apart) - 1) * _APART_MM / 2
    shrink = min(1.0, _APART_SHARE * (right_mm - left_mm) / (sum(widths) + gaps_mm))
    at_mm = right_mm - shrink * (sum(widths) + gaps_mm)
    laid = _laid(match, left_mm, at_mm, _BREAK_MM)
    at_mm += shrink * _APART_MM
    stretches = []
    for (anchor, begin, to), width in zip(apart, widths, strict=True):
        stretches.append(AxisInterval(anchor=anchor, from_ns=begin, to_ns=to, x_mm=at_mm, width_mm=shrink * width))
        at_mm += shrink * (width + _APART_MM / 2)
    return Axis(match=laid, apart=tuple(stretches), ranks=ranks, larger=larger)


def _laid(pieces: Sequence[_Piece], left_mm: float, right_mm: float, gap_mm: float) -> tuple[AxisInterval, ...]:
    """Return pieces side by side, a second as wide in each."""
    gap_mm = min(gap_mm, 0.3 * (right_mm - left_mm) / len(pieces))
    mm_per_ns = (right_mm - left_mm - gap_mm * (len(pieces) - 1)) / _length(pieces)
    stretches, at_mm = [], left_mm
    for anchor, begin, to in pieces:
        width_mm = (to - begin) * mm_per_ns
        stretches.append(AxisInterval(anchor=anchor, from_ns=begin, to_ns=to, x_mm=at_mm, width_mm=width_mm))
        at_mm += width_mm + gap_mm
    return tuple(stretches)


def _length(pieces: Iterable[_Piece]) -> int:
    return sum(to - begin for _, begin, to in pieces)


def _after(pieces: Sequence[_Piece], start: Point, ranks: Mapping[str, int]) -> list[_Piece]:
    rank = ranks[start.anchor]
    return [
        (anchor, start.offset_ns if ranks[anchor] == rank else begin, to)
        for anchor, begin, to in pieces if ranks[anchor] >= rank
    ]  # fmt: skip


def _reach(timeline: Timeline) -> dict[str, int]:
    """Return how much after the origin of each anchor is drawn, those of the match first."""
    reach = {segment.anchor: segment.lasts_ns or 0 for segment in timeline.segments}
    for point in _points(timeline):
        reach[point.anchor] = max(reach.get(point.anchor, 0), point.offset_ns)
    for segment in timeline.segments:
        if segment.lasts_ns is None:
            begun_ns = max(slot.begin_ns for slot in timeline.periods if slot.anchor == segment.anchor)
            reach[segment.anchor] = max(reach[segment.anchor], begun_ns) + _OPEN_NS
    known = {segment.anchor for segment in timeline.segments}
    return {anchor: ns if anchor in known else ns + _BEYOND_NS for anchor, ns in reach.items()}


def _points(timeline: Timeline) -> list[Point]:
    firings = timeline.firings
    ends = [point for span in timeline.windows for point in (span.begin, span.end)]
    tails = [firing.until for firing in firings if firing.until is not None]
    patterns = [Point(f.begin.anchor, f.begin.offset_ns + f.lasts_ns) for f in firings if not f.sustained]
    holds = [Point(f.begin.anchor, f.begin.offset_ns + f.lasts_ns) for f in firings if f.sustained and _is_unknown(f)]
    return [*(firing.begin for firing in firings), *ends, *tails, *patterns, *holds]


def _is_unknown(firing: Firing) -> bool:
    """Return whether a hold's end is not known from its begin: it is drawn as long as its pattern, at least."""
    return firing.until is not None and firing.until.anchor != firing.begin.anchor and "." in firing.begin.anchor


def _larger_from(timeline: Timeline) -> Point | None:
    """Return where the last part begins: a little before the first call or window that begins within 45 s of the end.

    Only what follows the last period of open length counts: before that nobody knows how long it is to the end.
    """
    end = timeline.match_end()
    matches = {segment.anchor: segment.match_ns for segment in timeline.segments}
    opens = [rank for rank, segment in enumerate(timeline.segments) if segment.lasts_ns is None]
    segments = timeline.segments[opens[-1] + 1 if opens else 0 :]
    known = {segment.anchor for segment in segments}
    if end.anchor not in known:
        return None
    since_ns = matches[end.anchor] + end.offset_ns - LAST_NS
    begins = [firing.begin for firing in timeline.firings] + [span.begin for span in timeline.windows]
    late = [p for p in begins if p.anchor in known and matches[p.anchor] + p.offset_ns >= since_ns]
    if not late:
        return None
    first = min(late, key=lambda p: (matches[p.anchor] + p.offset_ns, p.offset_ns))
    return Point(first.anchor, max(0, first.offset_ns - _AHEAD_NS))
