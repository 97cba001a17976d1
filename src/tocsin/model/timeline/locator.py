"""Locate moments: turn what people write into points of match time."""

from collections.abc import Callable, Iterable, Mapping, Sequence

import msgspec

from tocsin.model import diagnostics as code
from tocsin.model.diagnostics import listed
from tocsin.model.moment import Moment, base_text, format, is_mark, respelt
from tocsin.model.timeline.ground import Ground
from tocsin.model.timeline.point import MATCH, Edge, Point
from tocsin.units import format_clock

# One point for each span that a moment stands for; None where a mistake elsewhere has been reported already.
Places = Sequence[Point | None]
EdgeOf = Callable[[str, Edge], Places]
_MOST_OPTIONS = 6                      # more are no help to somebody who reads them


class MomentProblem(msgspec.Struct, frozen=True, kw_only=True):
    """Why a moment has no place: a code of ``diagnostics``, the columns in the moment or None for all, the facts."""

    code: str
    span: tuple[int, int] | None
    facts: dict[str, str]


class Locator:
    """Turns moments into points. ``edge_of`` gives the points of a window's begins or ends, one for each span."""

    def __init__(self, ground: Ground, leads: Mapping[str, int], windows: Iterable[str], edge_of: EdgeOf) -> None:
        self._ground = ground
        self._leads = leads
        self._periods = {slot.id: place for place, slot in reversed(list(enumerate(ground.periods)))}
        self._windows = tuple(windows)
        self._edge_of = edge_of

    def points(self, moment: Moment) -> tuple[Places, list[MomentProblem]]:
        """Return the points that a moment means, and all that is wrong with it."""
        bases, problems = self._bases(moment)
        offset_ns = self._offset_ns(moment, problems)
        if offset_ns is None:
            return [None] * len(bases), problems
        placed: list[Point | None] = []
        for base in bases:
            point = None if base is None else Point(base.anchor, base.offset_ns + offset_ns)
            problem = None if point is None else self.misplaced(format(moment), point)
            if problem is not None and problem not in problems:
                problems.append(problem)
            placed.append(point if problem is None else None)
        return placed, problems

    def _bases(self, moment: Moment) -> tuple[Places, list[MomentProblem]]:
        if is_mark(moment):
            return [Point(moment.base, 0)], []
        if moment.base == MATCH:
            return [Point(MATCH, 0) if moment.edge == "begin" else self._ground.match_end()], self._no_span(moment)
        if moment.base in self._periods:
            return [self._ground.period_edge(self._periods[moment.base], moment.edge)], self._no_span(moment)
        if moment.base in self._windows:
            return self._spans(moment)
        facts = {"name": moment.base, "expected": listed(self._known()), "likely": self._respelt(moment)}
        return [None], [self._at_base(code.UNKNOWN_BASE, moment, **facts)]

    def _respelt(self, moment: Moment) -> str:
        return respelt(format(moment), self._known(), self._leads)

    def _known(self) -> list[str]:
        return [MATCH, *self._periods, *self._windows]

    def _spans(self, moment: Moment) -> tuple[Places, list[MomentProblem]]:
        places = self._edge_of(moment.base, moment.edge)
        if moment.span is None:
            return places, []
        if moment.span <= len(places):
            return [places[moment.span - 1]], []
        facts = {"name": moment.base, "count": str(len(places)), "options": spans_of(moment, len(places))}
        return [None], [self._at_base(code.SPAN_OUT_OF_RANGE, moment, **facts)]

    def _no_span(self, moment: Moment) -> list[MomentProblem]:
        if moment.span is None:
            return []
        likely = format(msgspec.structs.replace(moment, span=None)) if moment.span == 1 else ""
        return [self._at_base(code.SPAN_OF_PERIOD, moment, name=moment.base, likely=likely)]

    def _at_base(self, what: str, moment: Moment, **facts: str) -> MomentProblem:
        return MomentProblem(code=what, span=(0, len(base_text(moment))), facts=facts)

    def _offset_ns(self, moment: Moment, problems: list[MomentProblem]) -> int | None:
        if not moment.lead:
            return moment.offset_ns
        if moment.lead in self._leads:
            return moment.lead_sign * self._leads[moment.lead]
        facts = {"name": moment.lead, "likely": self._respelt(moment), "expected": listed(self._leads)}
        problems.append(MomentProblem(code=code.UNKNOWN_LEAD, span=None, facts=facts))
        return None

    def misplaced(self, name: str, point: Point) -> MomentProblem | None:
        """Return why no cue can fire at a point that people know by a name: unknown ahead of time, or it never comes.
        """
        rank = self._ground.rank(point.anchor)
        if point.offset_ns < 0:
            if point.anchor == MATCH:
                by = format_clock(-point.offset_ns)
                return MomentProblem(code=code.BEFORE_MATCH, span=None, facts={"name": name, "by": by})
            before = code.BEFORE_MARK if rank is None else code.BEFORE_BY_HAND
            return MomentProblem(code=before, span=None, facts={"name": name, "anchor": point.anchor})
        if rank is None or rank + 1 == len(self._ground.segments):
            return None
        lasts_ns = self._ground.segments[rank].lasts_ns
        if lasts_ns is None or point.offset_ns <= lasts_ns:
            return None
        facts = {
            "name": name,
            "anchor": self._ground.segments[rank + 1].anchor,
            "by": format_clock(point.offset_ns - lasts_ns),
        }
        return MomentProblem(code=code.BEYOND_SEGMENT, span=None, facts=facts)


def spans_of(moment: Moment, count: int) -> str:
    """Return a moment with each of its possible span numbers, a line each; an empty text if there are many."""
    if count > _MOST_OPTIONS:
        return ""
    return "\n".join(format(msgspec.structs.replace(moment, span=span)) for span in range(1, count + 1))
