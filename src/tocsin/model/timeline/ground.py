"""Lay the periods of a game end to end: segments, the anchor of each, the end of the match."""

from collections.abc import Sequence
from functools import cached_property

import msgspec

from tocsin.model.game import Period
from tocsin.model.timeline.point import MATCH, Edge, PeriodSlot, Point, Segment


class Ground(msgspec.Struct, frozen=True, kw_only=True, dict=True):
    """Segments and the periods in them, both in order of the match. At least one period. Values that every firing of a
    plan needs are computed once."""

    segments: tuple[Segment, ...]
    periods: tuple[PeriodSlot, ...]

    def rank(self, anchor: str) -> int | None:
        """Return the place of a segment's anchor in the match, from 0, or None for a mark or a call."""
        return self._ranks.get(anchor)

    @cached_property
    def _ranks(self) -> dict[str, int]:
        return {segment.anchor: rank for rank, segment in enumerate(self.segments)}

    def order(self, point: Point) -> tuple[int, int]:
        """Return the sort key of a point: its place in the order of the match."""
        rank = self.rank(point.anchor)
        return (len(self.segments) if rank is None else rank, point.offset_ns)

    def match_ns(self, point: Point) -> int | None:
        """Return the point on the nominal match clock, or None for a mark or a call."""
        rank = self.rank(point.anchor)
        return None if rank is None else self.segments[rank].match_ns + point.offset_ns

    def period_edge(self, place: int, edge: Edge) -> Point | None:
        """Return where the period at ``place`` begins or ends; None if it is open and nothing follows."""
        slot = self.periods[place]
        if edge == "begin":
            return Point(slot.anchor, slot.begin_ns)
        if slot.end_ns is not None:
            return Point(slot.anchor, slot.end_ns)
        return Point(self.periods[place + 1].anchor, 0) if place + 1 < len(self.periods) else None

    def match_end(self) -> Point | None:
        """Return the end of the last period that is no settle, None if it never comes."""
        return self._match_end

    @cached_property
    def _match_end(self) -> Point | None:
        places = [place for place, slot in enumerate(self.periods) if slot.kind != "settle"]
        return self.period_edge(places[-1] if places else 0, "end")

    def last_end(self) -> Point | None:
        """Return the end of the last period, None if it never comes."""
        return self.period_edge(len(self.periods) - 1, "end")


def lay_out(periods: Sequence[Period]) -> Ground:
    """Return the periods placed in their segments, in nanoseconds."""
    segments: list[Segment] = []
    slots: list[PeriodSlot] = []
    anchor, match_ns, at_ns, is_open = MATCH, 0, 0, False
    for place, period in enumerate(periods):
        if place and (period.by_hand or is_open):
            segments.append(Segment(anchor=anchor, match_ns=match_ns, lasts_ns=None if is_open else at_ns))
            anchor, match_ns, at_ns = period.id, match_ns + at_ns, 0
        is_open = period.lasts_ns is None
        end_ns = None if period.lasts_ns is None else at_ns + period.lasts_ns
        slots.append(
            PeriodSlot(
                id=period.id, kind=period.kind, title=period.title, anchor=anchor, begin_ns=at_ns, end_ns=end_ns
            )
        )
        at_ns = at_ns if end_ns is None else end_ns
    segments.append(Segment(anchor=anchor, match_ns=match_ns, lasts_ns=None if is_open else at_ns))
    return Ground(segments=tuple(segments), periods=tuple(slots))
