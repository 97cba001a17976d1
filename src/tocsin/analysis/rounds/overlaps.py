"""Compare marks with windows on the shared clock: how far a push reached into a window, and how sure that is.

Inside, outside, unclear
    A time that a person noted may be off by up to the error, either way, and each end of a span by itself. A mark is
    *inside* a window if it is inside for every true time within the error, *outside* if it is outside for every one,
    and else *unclear*: it lies within the error of an edge, and only a video can tell.

    * A point at p is inside [begin, end) if p - error >= begin and p + error < end; outside if p + error < begin or
      p - error >= end.
    * A span [b, e) is inside if it overlaps for certain: b + error < end and e - error > begin; outside if it cannot:
      e + error <= begin or b - error >= end. So an overlap or a gap of no more than the error is unclear.
    * A push whose end nobody noted, or that a key noted which tells no key up, reaches to when it was over at the
      latest. Its true end is unknown: it is inside only if its begin, as a point, is.

    Where two spans of one window touch, there is no edge between them.

The overlap itself comes from the noted times, in real nanoseconds, without the error.
"""

from collections.abc import Iterable, Sequence
from typing import Literal

import msgspec

from tocsin.model.clock.origins import CALL, MARK, Origin
from tocsin.model.mark import SCRIBE_ERROR_NS as SCRIBE_ERROR_NS
from tocsin.model.mark import Mark
from tocsin.model.timeline.point import Point
from tocsin.model.timeline.timeline import Timeline

Where = Literal["inside", "outside", "unclear"]

_NEVER_NS = (1 << 63) - 1              # behind every time of the shared clock


class Interval(msgspec.Struct, frozen=True):
    """Real time ``[begin_ns, end_ns)`` on the shared clock."""

    begin_ns: int
    end_ns: int


class WindowTime(msgspec.Struct, frozen=True, kw_only=True):
    """When span ``n`` (from 1) of the window ``id`` was open: ``[begin_ns, end_ns)`` on the shared clock."""

    id: str
    n: int
    title: str
    begin_ns: int
    end_ns: int


class Tap(Mark, frozen=True, kw_only=True):
    """A contact whose end no key told: it had ended at ``over_ns`` at the latest. ``is_over``: a later mark says so,
    and not only the run's end."""

    over_ns: int
    is_over: bool

    @property
    def plain(self) -> Mark:
        """The mark as it was noted."""
        return Mark(**{name: getattr(self, name) for name in Mark.__struct_fields__})


class Meeting(msgspec.Struct, frozen=True, kw_only=True):
    """The position of a mark against spans of a window taken together.

    ``overlap_ns`` is exact, in real nanoseconds, 0 for a point; of a push without an end the most that it can be.
    ``where`` allows for the error of the noted times.
    """

    mark: Mark
    overlap_ns: int
    where: Where


def window_times(timeline: Timeline, origins: Iterable[Origin]) -> tuple[WindowTime, ...]:
    """Return the times at which each window was open, in the game's order, then in time.

    A span is open exactly while ``timeline.at`` says so. A span on an unknown anchor has not come and is left out; one
    that ends at an unknown anchor stays open until the end of everything (or for good). A period begun by hand ends
    what came before it; a window that begins with a mark opens anew with each such mark. Nothing before the start of a
    clock that began in mid-match took place. The origins count for the whole run: of a run that was held they describe
    the time after the hold.
    """
    clock = _PassTimes(timeline, origins)
    times: list[WindowTime] = []
    for span in timeline.windows:
        found = _minus(clock.passed(span.begin), clock.passed(span.end))
        for stretch in _minus(found, clock.closed()):
            times.append(
                WindowTime(
                    id=span.id, n=span.n, title=span.title, begin_ns=stretch.begin_ns, end_ns=stretch.end_ns
                )
            )
    return tuple(times)


def passes_ns(timeline: Timeline, origins: Iterable[Origin], point: Point) -> int | None:
    """Return the shared time at which a point of the match is first passed, or None while it is unknown."""
    passed = _PassTimes(timeline, origins).passed(point)
    return passed[0].begin_ns if passed else None


def meeting(
    mark: Mark, times: Sequence[WindowTime], *, ended_ns: int, error_ns: int = SCRIBE_ERROR_NS
) -> Meeting:
    """Return how a mark lies to spans of a window together: the overlap is their sum.

    ``ended_ns`` is the run's end; ``error_ns`` is the error of a mark that carries none of its own.
    """
    together = stretches(times)
    own_ns = error_ns if mark.error_ns is None else mark.error_ns
    noted = Interval(mark.begin_ns, end_of(mark, ended_ns))
    reach = Interval(mark.begin_ns, mark.over_ns) if isinstance(mark, Tap) else noted
    held = _held(mark, ended_ns)
    return Meeting(
        mark=mark.plain if isinstance(mark, Tap) else mark,
        overlap_ns=sum(_overlap_ns(held, stretch) for stretch in together),
        where=_where(reach, mark.open or isinstance(mark, Tap), together, own_ns),
    )


def together_ns(marks: Iterable[Mark], times: Sequence[WindowTime], *, ended_ns: int) -> int:
    """Return how long spans of a window were met by any of these marks, in real nanoseconds: where two scribes
    disagree, marks overlap, and no time counts twice."""
    held = _joined(_held(mark, ended_ns) for mark in marks)
    return sum(_overlap_ns(stretch, window) for stretch in held for window in stretches(times))


def _held(mark: Mark, ended_ns: int) -> Interval:
    if isinstance(mark, Tap) and mark.open:
        return Interval(mark.begin_ns, mark.over_ns)
    return Interval(mark.begin_ns, end_of(mark, ended_ns))


def stretches(times: Iterable[WindowTime]) -> list[Interval]:
    """Return when any of these spans was open, in order; spans that touch or overlap are one."""
    return _joined(Interval(time.begin_ns, time.end_ns) for time in times)


def end_of(mark: Mark, ended_ns: int) -> int:
    """Return when a mark ended, in nanoseconds: a point at its begin, an open one at ``ended_ns``, never before its
    begin."""
    end_ns = ended_ns if mark.open and mark.end_ns is None else mark.end_ns
    return mark.begin_ns if end_ns is None else max(mark.begin_ns, end_ns)


def _where(noted: Interval, is_open: bool, windows: Sequence[Interval], error_ns: int) -> Where:
    is_point = noted.begin_ns == noted.end_ns
    inside = _point_is_inside if is_point or is_open else _span_is_inside
    outside = _point_is_outside if is_point else _span_is_outside
    if any(inside(noted, window, error_ns) for window in windows):
        return "inside"
    return "outside" if all(outside(noted, window, error_ns) for window in windows) else "unclear"


def _point_is_inside(noted: Interval, window: Interval, error_ns: int) -> bool:
    return noted.begin_ns - error_ns >= window.begin_ns and noted.begin_ns + error_ns < window.end_ns


def _point_is_outside(noted: Interval, window: Interval, error_ns: int) -> bool:
    return noted.begin_ns + error_ns < window.begin_ns or noted.begin_ns - error_ns >= window.end_ns


def _span_is_inside(noted: Interval, window: Interval, error_ns: int) -> bool:
    return noted.begin_ns + error_ns < window.end_ns and noted.end_ns - error_ns > window.begin_ns


def _span_is_outside(noted: Interval, window: Interval, error_ns: int) -> bool:
    return noted.end_ns + error_ns <= window.begin_ns or noted.begin_ns - error_ns >= window.end_ns


class _PassTimes:
    """When points of a timeline were passed, by the origins that are known."""

    def __init__(self, timeline: Timeline, origins: Iterable[Origin]) -> None:
        self._anchors = [segment.anchor for segment in timeline.segments]
        self._segments: dict[str, Origin] = {}
        self._instances: dict[str, dict[int, Origin]] = {}
        for origin in origins:
            if origin.anchor.startswith((CALL, MARK)):
                self._instances.setdefault(origin.anchor, {})[origin.instance] = origin
            else:
                self._segments[origin.anchor] = origin
        self._last_end = timeline.last_end()

    def passed(self, point: Point) -> list[Interval]:
        """Return the stretches in which a point counts as passed: for good, or until a mark is made anew."""
        if point.anchor not in self._anchors:
            return self._passed_from_instances(point)
        later = self._anchors[self._anchors.index(point.anchor) + 1 :]
        known = [self._segments[anchor].origin_ns for anchor in later if anchor in self._segments]
        if point.anchor in self._segments:
            known.append(self._segments[point.anchor].real_ns(point.offset_ns))
        return [Interval(min(known), _NEVER_NS)] if known else []

    def closed(self) -> list[Interval]:
        """Return the stretches in which nothing can hold: before the match or its start, and after the end."""
        known = [origin for anchor, origin in self._segments.items() if anchor in self._anchors]
        if not known:
            return [Interval(-_NEVER_NS, _NEVER_NS)]
        starts_ns = [origin.starts_ns for origin in known if origin.starts_ns]
        begin_ns = max([min(origin.origin_ns for origin in known), *starts_ns])
        return [Interval(-_NEVER_NS, begin_ns), *self.passed(self._last_end)]

    def _passed_from_instances(self, point: Point) -> list[Interval]:
        known = self._instances.get(point.anchor, {})
        instances = [known[instance] for instance in sorted(known)]
        ends_ns = [*(origin.origin_ns for origin in instances[1:]), _NEVER_NS]
        pairs = zip(instances, ends_ns, strict=False)
        return _joined(Interval(origin.real_ns(point.offset_ns), end_ns) for origin, end_ns in pairs)


def _overlap_ns(one: Interval, other: Interval) -> int:
    return max(0, min(one.end_ns, other.end_ns) - max(one.begin_ns, other.begin_ns))


def _joined(loose: Iterable[Interval]) -> list[Interval]:
    """Return the stretches in order, those that touch or overlap as one, empty ones left out."""
    joined: list[Interval] = []
    for stretch in sorted(loose, key=lambda stretch: stretch.begin_ns):
        if stretch.end_ns <= stretch.begin_ns:
            continue
        if joined and stretch.begin_ns <= joined[-1].end_ns:
            joined[-1] = Interval(joined[-1].begin_ns, max(joined[-1].end_ns, stretch.end_ns))
        else:
            joined.append(stretch)
    return joined


def _minus(whole: Iterable[Interval], taken: Iterable[Interval]) -> list[Interval]:
    """Return what is left of the stretches where none of ``taken`` lies."""
    left = list(whole)
    for gone in taken:
        before = [Interval(part.begin_ns, min(part.end_ns, gone.begin_ns)) for part in left]
        behind = [Interval(max(part.begin_ns, gone.end_ns), part.end_ns) for part in left]
        left = _joined([*before, *behind])
    return left
