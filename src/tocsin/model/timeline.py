"""All firings of a plan in a game, in order, and what holds at any moment of it.

The timeline speaks in *points*: an offset of match time from an anchor. An anchor is ``match``, the id of a period that
is begun by hand (or follows an open one), ``mark.<id>`` or ``call.<cue>``. Origins of anchors become known in a run.
"""

from collections.abc import Mapping
from typing import Literal

import msgspec

from tocsin.model.game import PeriodKind
from tocsin.model.plan import ChannelName, Role

MATCH = "match"
RING_OUT_NS = 2_000_000_000          # firings may ring out this long after the last period that is no settle


class Point(msgspec.Struct, frozen=True):
    """``offset_ns`` of match time after the origin of ``anchor``."""

    anchor: str
    offset_ns: int


class Segment(msgspec.Struct, frozen=True, kw_only=True):
    """A run of periods that hang on one anchor. ``match_ns`` is where it begins if nothing is late and open periods
    take no time; ``lasts_ns`` is None if its last period is open."""

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


class Firing(msgspec.Struct, frozen=True, kw_only=True):
    """One channel's share of one occurrence of a cue.

    ``no`` is its place in the timeline, ``n`` the occurrence from 0. ``held`` firings are states that show whatever is
    left of ``[begin, until)``; struck ones happen at an instant. A struck rumble firing may have an ``until`` too:
    inside the interval a pad that comes back gets one catch-up pulse. ``match_ns`` is the due time on the nominal match
    clock, None for marks and calls. ``lasts_ns`` is the pattern's own length.
    """

    no: int
    cue: str
    n: int
    channel: ChannelName
    role: Role | None
    begin: Point
    until: Point | None
    held: bool
    pattern: str
    word: str
    late_limit_ns: int
    priority: int
    when: str
    match_ns: int | None
    lasts_ns: int


class Reading(msgspec.Struct, frozen=True, kw_only=True):
    """What holds at a moment.

    ``period`` is empty before the match, between a fixed period's end and the next one's begin by hand, and after the
    end; ``awaits`` is then the id of the period that waits for a person. ``windows`` holds ``id.n`` of the open spans
    in the game's order. ``match_ns`` is nominal match time; ``left_ns`` what the official display counts down (this
    period, or the match), None in a period of open length. ``over`` is true from the end of the last period that is no
    settle on; ``ended`` from the end of everything on.
    """

    period: str
    awaits: str
    windows: tuple[str, ...]
    match_ns: int
    left_ns: int | None
    over: bool
    ended: bool


class Timeline(msgspec.Struct, frozen=True, kw_only=True):
    """A compiled plan. ``firings`` in order of due time, the cue's place in the file, channel, role; those that hang
    on marks and calls stand last."""

    game: str
    plan: str
    digits: Literal["ceil", "floor"]
    counts: Literal["period", "match"]
    segments: tuple[Segment, ...]
    periods: tuple[PeriodSlot, ...]
    windows: tuple[WindowSpan, ...]
    variants: tuple[str, ...]
    default_variant: str
    firings: tuple[Firing, ...]

    def at(self, elapsed_ns: Mapping[str, int]) -> Reading:
        """Return what holds when ``elapsed_ns[anchor]`` of match time has passed since each known origin.

        Anchors that are absent are unknown; a negative elapsed time means that the origin lies ahead.
        """
        raise NotImplementedError
