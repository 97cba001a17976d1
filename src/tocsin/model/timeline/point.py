"""Define points of match time, and the segments, periods and windows made of them.

A point is an offset of match time from an anchor. Anchors of the match are ``match`` and the id of each period that is
begun by hand or follows an open one; each carries a segment of periods.
"""

from typing import Literal

import msgspec

from tocsin.model.game import PeriodKind

MATCH = "match"
RING_OUT_NS = 2_000_000_000          # firings may ring out this long after the last period that is no settle


class Point(msgspec.Struct, frozen=True):
    """``offset_ns`` of match time after the origin of ``anchor``."""

    anchor: str
    offset_ns: int


class Segment(msgspec.Struct, frozen=True, kw_only=True):
    """Consecutive periods on one anchor. ``match_ns`` is where it begins if nothing is late and open periods take no
    time; ``lasts_ns`` is None if its last period is open."""

    anchor: str
    match_ns: int
    lasts_ns: int | None


class PeriodSlot(msgspec.Struct, frozen=True, kw_only=True):
    """A period placed in its segment, at ``[begin_ns, end_ns)`` of the segment; end None is open."""

    id: str
    kind: PeriodKind
    title: str
    anchor: str
    begin_ns: int
    end_ns: int | None


class WindowSpan(msgspec.Struct, frozen=True, kw_only=True):
    """One span, ``n`` from 1, of a window: ``[begin, end)``."""

    id: str
    n: int
    title: str
    begin: Point
    end: Point


Edge = Literal["begin", "end"]
