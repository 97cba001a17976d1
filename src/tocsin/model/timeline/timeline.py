"""Hold all firings of a plan in a game, in order, and say which periods and windows are on at any moment.

Times are *points*: offsets of match time from an anchor. An anchor is ``match``, the id of a period that is begun by
hand (or follows an open one), ``mark.<id>`` or ``call.<cue>``. Origins of anchors become known in a run.

Rules of ``at``:

* Nothing is on before the first known segment has begun, nor after the end of everything.
* Once a segment has begun, all earlier ones and every point in them have passed, whatever their own clocks say.
* Intervals are half open: at its begin a period or window is on, at its end it no longer is.
* A point on an unknown anchor has not come yet.
"""

from collections.abc import Mapping
from functools import cached_property
from typing import Literal

import msgspec

from tocsin.model.moment import Moment, MomentError, format
from tocsin.model.plan import ChannelName, Role
from tocsin.model.timeline.ground import Ground
from tocsin.model.timeline.locator import Locator, spans_of
from tocsin.model.timeline.point import MATCH, RING_OUT_NS, Edge, PeriodSlot, Point, Segment, WindowSpan
from tocsin.translation import tr

__all__ = ["MATCH", "RING_OUT_NS", "Firing", "PeriodSlot", "Point", "Reading", "Segment", "Timeline", "WindowSpan"]


class Firing(msgspec.Struct, frozen=True, kw_only=True):
    """One channel's share of one occurrence of a cue.

    ``no`` is its place in the timeline, ``n`` the occurrence from 0. ``sustained`` firings show the rest of ``[begin,
    until)``; one-shots happen at an instant. A one-shot of rumble may have an ``until`` too: inside the interval a pad
    that comes back gets one catch-up pulse. ``match_ns`` is the due time on the nominal match clock, None for marks and
    calls. ``lasts_ns`` is the pattern's own length, cut at the last time at which a pattern may play after the match's
    end; ``until`` is no later than that either.
    """

    no: int
    cue: str
    n: int
    channel: ChannelName
    role: Role | None
    begin: Point
    until: Point | None
    sustained: bool = msgspec.field(name="held")
    pattern: str
    word: str
    late_limit_ns: int
    priority: int
    when: str
    match_ns: int | None
    lasts_ns: int


class Reading(msgspec.Struct, frozen=True, kw_only=True):
    """The state of the match at a moment.

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


class Timeline(msgspec.Struct, frozen=True, kw_only=True, dict=True):
    """A compiled plan. ``firings`` are in order of due time, the cue's place in the file, channel, role; those on marks
    and calls come last."""

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
    leads: dict[str, int] = {}     # nanoseconds by id, so that moments can be located as in the plan

    def at(self, elapsed_ns: Mapping[str, int]) -> Reading:
        """Return the reading after ``elapsed_ns[anchor]`` nanoseconds of match time since each known origin.

        A missing anchor is unknown; a negative elapsed time means that the origin lies ahead.
        """
        begun = [rank for rank, segment in enumerate(self.segments) if elapsed_ns.get(segment.anchor, -1) >= 0]
        if not begun:
            return self._before(elapsed_ns)
        rank = begun[-1]
        segment = self.segments[rank]
        slot = self._slot(segment, elapsed_ns[segment.anchor])
        waits = slot is None and rank + 1 < len(self.segments)
        at_ns = elapsed_ns[segment.anchor]
        if waits and segment.lasts_ns is not None:
            at_ns = segment.lasts_ns                            # the match clock stands until a person goes on
        match_ns = segment.match_ns + at_ns
        over = self._passed(self.match_end(), rank, elapsed_ns)
        ended = self._passed(self.last_end(), rank, elapsed_ns)
        return Reading(
            period="" if slot is None else slot.id,
            awaits=self.segments[rank + 1].anchor if waits else "",
            windows=() if ended else tuple(
                f"{span.id}.{span.n}" for span in self.windows
                if self._passed(span.begin, rank, elapsed_ns) and not self._passed(span.end, rank, elapsed_ns)
            ),
            match_ns=match_ns,
            left_ns=0 if over else self._left_ns(slot, at_ns, match_ns),
            over=over,
            ended=ended,
        )  # fmt: skip

    def boundaries(self) -> dict[str, tuple[int, ...]]:
        """Return for each anchor, those of the match first, the sorted offsets in ns at which ``at`` may change."""
        offsets: dict[str, set[int]] = {segment.anchor: {0} for segment in self.segments}
        for slot in self.periods:
            offsets[slot.anchor] |= {slot.begin_ns} | (set() if slot.end_ns is None else {slot.end_ns})
        for span in self.windows:
            for point in (span.begin, span.end):
                offsets.setdefault(point.anchor, set()).add(point.offset_ns)
        return {anchor: tuple(sorted(values)) for anchor, values in offsets.items()}

    def match_end(self) -> Point:
        """Return the end of the last period that is no settle. If that is open, it is where the settle begins."""
        return _known(self._ground().match_end())

    def last_end(self) -> Point:
        """Return the end of the last period."""
        return _known(self._ground().last_end())

    def locate(self, moment: Moment) -> Point:
        """Return the point of the match of a moment, with the leads of the plan. Raises MomentError for a mark, an
        unknown id, a moment outside the match, or one that means several points."""
        text = format(moment)
        spans: dict[tuple[str, Edge], list[Point]] = {}
        for span in self.windows:
            spans.setdefault((span.id, "begin"), []).append(span.begin)
            spans.setdefault((span.id, "end"), []).append(span.end)
        windows = dict.fromkeys(span.id for span in self.windows)
        locator = Locator(self._ground(), self.leads, windows, lambda name, edge: spans[name, edge])
        points, problems = locator.points(moment)
        if problems:
            problem = problems[0]
            expected = problem.facts.get("expected", tr("a moment that is known before the match"))
            likely = problem.facts.get("likely") or problem.facts.get("options", "")
            raise MomentError(text, problem.span or (0, len(text)), expected, tuple(likely.splitlines()))
        if len(points) > 1:
            options = tuple(spans_of(moment, len(points)).splitlines())
            raise MomentError(text, (0, len(text)), tr("one of the {count} spans", count=len(points)), options)
        point = points[0]
        ground = self._ground()
        if point is None or ground.rank(point.anchor) is None:
            raise MomentError(text, (0, len(text)), tr("a moment of the match"))
        if ground.order(point) > ground.order(self.last_end()):
            raise MomentError(
                text, (0, len(text)), tr("a moment up to {id}.end, where everything ends", id=self.periods[-1].id),
            )
        return point

    def _ground(self) -> Ground:
        return self._laid_out

    @cached_property
    def _laid_out(self) -> Ground:
        return Ground(segments=self.segments, periods=self.periods)

    def _before(self, elapsed_ns: Mapping[str, int]) -> Reading:
        """Return the reading while no segment has begun: the whole of the one that comes first is left."""
        known = [segment for segment in self.segments if segment.anchor in elapsed_ns]
        segment = max(known, key=lambda s: elapsed_ns[s.anchor], default=self.segments[0])
        match_ns = segment.match_ns + elapsed_ns.get(segment.anchor, 0)
        slot = self._slot(segment, 0)
        left_ns = self._left_ns(slot, 0, segment.match_ns)
        return Reading(
            period="", awaits="", windows=(), match_ns=match_ns, left_ns=left_ns, over=False, ended=False
        )

    def _slot(self, segment: Segment, at_ns: int) -> PeriodSlot | None:
        for slot in self.periods:
            lies_in = slot.begin_ns <= at_ns and (slot.end_ns is None or at_ns < slot.end_ns)
            if slot.anchor == segment.anchor and lies_in:
                return slot
        return None

    def _passed(self, point: Point, current: int, elapsed_ns: Mapping[str, int]) -> bool:
        rank = self._ground().rank(point.anchor)
        if rank is not None and rank != current:
            return rank < current
        return elapsed_ns.get(point.anchor, -1) >= point.offset_ns

    def _left_ns(self, slot: PeriodSlot | None, at_ns: int, match_ns: int) -> int | None:
        if slot is not None and slot.end_ns is None:
            return None
        if self.counts == "match":
            return max(0, (self._ground().match_ns(self.match_end()) or 0) - match_ns)
        return 0 if slot is None or slot.end_ns is None or slot.kind == "settle" else slot.end_ns - at_ns


def _known(point: Point | None) -> Point:
    """Return the end of a compiled match: the compiler accepts none that never ends."""
    if point is None:
        raise ValueError("a match without an end is no compiled timeline")
    return point
