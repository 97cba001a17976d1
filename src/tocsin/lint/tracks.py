"""Lay the firings of a timeline on tracks: one after another on one clock, as the devices would take them.

A track is an anchor in a variant. Firings on a mark or a call, or after a period that a person begins, have a clock of
their own: nobody knows beforehand how it lies to the others, so each such track is checked by itself.
"""

import heapq
from collections.abc import Iterable, Iterator, Sequence

import msgspec

from tocsin.model.moment import Moment, format
from tocsin.model.plan import ChannelName, Role
from tocsin.model.timeline.point import MATCH, Point
from tocsin.model.timeline.timeline import Firing, Timeline
from tocsin.translation import tr
from tocsin.units import format_clock


class PlacedFiring(msgspec.Struct, frozen=True):
    """A firing and its time ``[begin_ns, end_ns)`` in nanoseconds after its anchor's origin."""

    firing: Firing
    begin_ns: int
    end_ns: int


class ShownSpan(msgspec.Struct, frozen=True):
    """A time in which one firing shows, or none."""

    begin_ns: int
    end_ns: int
    placed: PlacedFiring | None


class Track(msgspec.Struct, frozen=True, kw_only=True):
    """All firings of one anchor in one variant (empty: in any), in the order of their begins."""

    anchor: str
    variant: str
    placed: tuple[PlacedFiring, ...]
    channels: dict[ChannelName, tuple[PlacedFiring, ...]]

    @property
    def in_match(self) -> bool:
        """Whether the track is part of the match, rather than a mark or a call."""
        return not self.anchor.startswith(("mark.", "call."))

    def of(self, channel: ChannelName) -> tuple[PlacedFiring, ...]:
        """Return the firings of a channel."""
        return self.channels.get(channel, ())

    def roles(self) -> list[Role]:
        """Return the roles whose pads shake."""
        return list(dict.fromkeys(p.firing.role for p in self.of("rumble") if p.firing.role is not None))

    def pad(self, role: Role) -> tuple[PlacedFiring, ...]:
        """Return the firings on the pads of a role."""
        return tuple(p for p in self.of("rumble") if p.firing.role == role)

    def when(self, at_ns: int) -> str:
        """Return a moment of the track in words, e.g. ``at 114s of the match``."""
        if self.anchor == MATCH:
            return tr("at {at} of the match", at=format_clock(at_ns))
        if self.anchor.startswith("call."):
            return tr("{at} after the call", at=format_clock(at_ns)) if at_ns else tr("at the call")
        return tr("at {format}", format=format(Moment(self.anchor, "begin", offset_ns=at_ns)))


def tracks_of(timeline: Timeline) -> tuple[Track, ...]:
    """Return all tracks: one for each anchor, or one for each variant if variants differ on it."""
    by_anchor: dict[str, list[PlacedFiring]] = {}
    lasts_ns = {segment.anchor: segment.lasts_ns for segment in timeline.segments}
    for firing in timeline.firings:
        by_anchor.setdefault(firing.begin.anchor, []).append(_placed(firing, lasts_ns))
    return tuple(track for anchor, placed in by_anchor.items() for track in _variants(timeline, anchor, placed))


def _variants(timeline: Timeline, anchor: str, placed: list[PlacedFiring]) -> Iterator[Track]:
    differ = any(p.firing.when for p in placed)
    placed.sort(key=lambda p: (p.begin_ns, p.firing.no))
    for variant in timeline.variants if differ else ("",):
        chosen = tuple(p for p in placed if p.firing.when in ("", variant))
        channels: dict[ChannelName, list[PlacedFiring]] = {}
        for p in chosen:
            channels.setdefault(p.firing.channel, []).append(p)
        yield Track(
            anchor=anchor, variant=variant, placed=chosen,
            channels={channel: tuple(those) for channel, those in channels.items()},
        )  # fmt: skip


def _placed(firing: Firing, lasts_ns: dict[str, int | None]) -> PlacedFiring:
    begin = firing.begin
    end_ns = begin.offset_ns + firing.lasts_ns
    if firing.sustained and firing.until is not None:
        end_ns = _held_until(begin, firing.until, end_ns, lasts_ns)
    return PlacedFiring(firing, begin.offset_ns, end_ns)


def _held_until(begin: Point, until: Point, otherwise_ns: int, lasts_ns: dict[str, int | None]) -> int:
    """Return where a hold ends on its own track: at the track's end at the latest, if that is known."""
    if until.anchor == begin.anchor:
        return until.offset_ns
    own_ns = lasts_ns.get(begin.anchor)
    return otherwise_ns if own_ns is None else max(begin.offset_ns, own_ns)


def foremost(placed: Sequence[PlacedFiring]) -> list[ShownSpan]:
    """Return which firing shows when, by the rule of strip and screen: the highest priority, the newest among equals.

    Spans follow each other without gaps from the first begin to the last end.
    """
    edges = sorted({p.begin_ns for p in placed} | {p.end_ns for p in placed})
    waiting = iter(placed)
    coming = next(waiting, None)
    heap: list[tuple[int, int, int, PlacedFiring]] = []
    spans: list[ShownSpan] = []
    for place, at_ns in enumerate(edges):
        while coming is not None and coming.begin_ns <= at_ns:
            heapq.heappush(heap, (-coming.firing.priority, -coming.begin_ns, -coming.firing.no, coming))
            coming = next(waiting, None)
        while heap and heap[0][3].end_ns <= at_ns:
            heapq.heappop(heap)
        top = heap[0][3] if heap else None
        until_ns = edges[place + 1] if place + 1 < len(edges) else at_ns
        if spans and spans[-1].placed is top:
            spans[-1] = ShownSpan(spans[-1].begin_ns, until_ns, top)
        elif until_ns > at_ns:
            spans.append(ShownSpan(at_ns, until_ns, top))
    return spans


class PlayedPattern(msgspec.Struct, frozen=True):
    """The result of a firing on a pad or the loudspeaker: it plays until ``end_ns``; ``by`` cut it there or, if it
    never played, blocked it."""

    placed: PlacedFiring
    end_ns: int
    by: PlacedFiring | None = None


def played(placed: Iterable[PlacedFiring]) -> list[PlayedPattern]:
    """Return the result of each firing on a pad or the loudspeaker: a higher priority that plays blocks it, an equal or
    higher one that begins cuts it. Nothing is resumed."""
    done: list[PlayedPattern] = []
    running: PlacedFiring | None = None
    for p in placed:
        if running is not None and running.end_ns <= p.begin_ns:
            done.append(PlayedPattern(running, running.end_ns))
            running = None
        if running is None:
            running = p
        elif running.firing.priority > p.firing.priority:
            done.append(PlayedPattern(p, p.begin_ns, running))
        else:
            done.append(PlayedPattern(running, p.begin_ns, p))
            running = p
    if running is not None:
        done.append(PlayedPattern(running, running.end_ns))
    return done
