"""Compute when a cue occurs: its moments, its repeats, its calls, as points of the clock."""

from collections.abc import Sequence

import msgspec

from tocsin.model import diagnostics as code
from tocsin.model.compiler.pairs import MomentList, PlacedMoment, pair, place
from tocsin.model.diagnostics import Diagnostics
from tocsin.model.moment import format
from tocsin.model.plan import Cue
from tocsin.model.timeline.ground import Ground
from tocsin.model.timeline.locator import Locator
from tocsin.model.timeline.point import RING_OUT_NS, Point
from tocsin.units import format_clock

SHORTEST_REPEAT_NS = 20_000_000        # 50 a second
MOST_REPEATS = 10_000                  # of one cue


class Occurrence(msgspec.Struct, frozen=True, kw_only=True):
    """One occurrence of a cue: at ``begin``, and if it is sustained, until ``until``."""

    begin: Point
    until: Point | None = None


class CueMoments:
    """Computes the occurrences of one cue, ``index`` in the plan."""

    def __init__(self, cue: Cue, index: int, ground: Ground, locator: Locator, found: Diagnostics) -> None:
        self._cue = cue
        self._path = ("cue", index)
        self._ground = ground
        self._locator = locator
        self._found = found
        self._at = MomentList(file="plan", path=("cue", index, "at"), moments=cue.at)
        self._until = MomentList(file="plan", path=("cue", index, "until"), moments=cue.until)

    def occurrences(self) -> list[Occurrence]:
        """Return the occurrences in the order in which they come, the call (at an anchor of its own) last."""
        begins = place(self._at, self._locator, self._ground.match_end(), self._ground, self._found)
        untils = place(self._until, self._locator, self._latest(), self._ground, self._found)
        if not self._may_occur():
            return []
        self._refuse_same(begins)
        if self._cue.every_ns is not None:
            given = self._repeated(begins, untils, self._cue.every_ns)
        elif self._cue.at:
            given = self._single(begins, untils)
        else:
            given = []
        given.sort(key=lambda occurrence: self._ground.order(occurrence.begin))
        return [*given, *self._called(untils)]

    def _latest(self) -> Point | None:
        """Return the last point that an ``until`` may name: the end of everything, or of the ringing out."""
        last, match_end = self._ground.last_end(), self._ground.match_end()
        if last is None or match_end is None:
            return None
        rung_out = Point(match_end.anchor, match_end.offset_ns + RING_OUT_NS)
        return max(last, rung_out, key=self._ground.order)

    def _may_occur(self) -> bool:
        cue = self._cue
        if not cue.at and (not cue.callable or cue.every_ns is not None):
            self._found.add(code.NO_MOMENT, "plan", self._path, name=cue.id)
            return False
        if not cue.at and len(cue.until) > 1:
            self._found.add(code.UNTIL_WITHOUT_AT, "plan", self._until.path, name=cue.id)
            return False
        return True

    def _refuse_same(self, begins: Sequence[PlacedMoment]) -> None:
        seen: dict[Point, PlacedMoment] = {}
        for item in begins:
            if item.point is None:
                continue
            if item.point in seen:
                self._found.add(code.SAME_MOMENT, "plan", item.path,
                                name=format(item.moment), other=format(seen[item.point].moment))  # fmt: skip
            seen.setdefault(item.point, item)

    def _single(self, begins: Sequence[PlacedMoment], untils: Sequence[PlacedMoment]) -> list[Occurrence]:
        if not self._cue.until:
            return [Occurrence(begin=item.point) for item in begins if item.point is not None]
        pairs = pair(begins, untils, self._at, self._until, self._ground, self._found)
        return [
            Occurrence(begin=begin.point, until=self._rung_out(until.point))
            for begin, until in pairs
            if begin.point is not None and until.point is not None
        ]

    def _repeated(
        self, begins: Sequence[PlacedMoment], untils: Sequence[PlacedMoment], every_ns: int
    ) -> list[Occurrence]:
        if not self._cue.until:
            self._found.add(code.REPEAT_WITHOUT_UNTIL, "plan", (*self._path, "every"), name=self._cue.id)
        if every_ns <= 0:
            self._found.add(code.REPEAT_NEVER_ENDS, "plan", (*self._path, "every"), name=self._cue.id)
            return []
        if every_ns < SHORTEST_REPEAT_NS:
            self._found.add(code.REPEAT_TOO_FAST, "plan", (*self._path, "every"), name=self._cue.id,
                            every=format_clock(every_ns), expected=format_clock(SHORTEST_REPEAT_NS))  # fmt: skip
            return []
        if not self._cue.until:
            return []
        given: list[Occurrence] = []
        for begin, until in pair(begins, untils, self._at, self._until, self._ground, self._found):
            given += self._strikes(begin.point, until, every_ns)
            if len(given) > MOST_REPEATS:
                self._too_many(len(given))
                return []
        return given

    def _strikes(self, begin: Point | None, until: PlacedMoment, every_ns: int) -> list[Occurrence]:
        """Return the strikes at begin + k x every before until, which must hang on the same anchor."""
        if begin is None or until.point is None:
            return []
        if begin.anchor != until.point.anchor:
            self._found.add(code.REPEAT_ACROSS, "plan", until.path,
                            name=format(until.moment), anchor=until.point.anchor)  # fmt: skip
            return []
        last = self._ground.match_end()
        stop_ns = until.point.offset_ns
        if last is not None and last.anchor == begin.anchor:
            stop_ns = min(stop_ns, last.offset_ns + 1)
        count = -((begin.offset_ns - stop_ns) // every_ns)
        if count > MOST_REPEATS:
            self._too_many(count)
            return []
        offsets_ns = range(begin.offset_ns, stop_ns, every_ns)
        return [Occurrence(begin=Point(begin.anchor, offset_ns)) for offset_ns in offsets_ns]

    def _too_many(self, count: int) -> None:
        self._found.add(code.TOO_MANY, "plan", (*self._path, "every"),
                        name=self._cue.id, count=str(count), most=str(MOST_REPEATS))  # fmt: skip

    def _called(self, untils: Sequence[PlacedMoment]) -> list[Occurrence]:
        """Return the call: it holds until the cue's own end if that is a single point of the match."""
        if not self._cue.callable:
            return []
        until = untils[0].point if len(untils) == 1 and self._cue.every_ns is None else None
        if until is not None and self._ground.rank(until.anchor) is None:
            until = None
        call = Point(f"call.{self._cue.id}", 0)
        return [Occurrence(begin=call, until=None if until is None else self._rung_out(until))]

    def _rung_out(self, until: Point) -> Point:
        """Return the end of a hold, at the latest where the ringing out ends."""
        last = self._ground.match_end()
        if last is None or self._ground.rank(until.anchor) is None:
            return until
        rung_out = Point(last.anchor, last.offset_ns + RING_OUT_NS)
        return min(until, rung_out, key=self._ground.order)
