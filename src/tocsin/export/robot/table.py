"""Round the rumble firings of a plan to whole numbers, in one table for all languages of robot code.

Rules of rounding:

* A firing's ``due_ms`` is rounded up and its ``last_ms`` down, so that nothing comes early or beyond its late limit.
* A period's begin is rounded down to whole milliseconds, for the same reason (games are hardly ever finer than that).
* Positions are milliseconds in a *segment*: a run of periods on one anchor. 32 bits hold them with room for sums.
"""

from bisect import bisect_left

import msgspec

from tocsin.errors import MistakeError
from tocsin.export.robot.pattern import Shaking, shaking
from tocsin.export.source import Source
from tocsin.model.pattern import RumblePattern, RumbleStep
from tocsin.model.plan import DEFAULT_ROLES, ROLES, Role
from tocsin.model.timeline.point import PeriodSlot, Point
from tocsin.model.timeline.timeline import Firing, Timeline
from tocsin.translation import tr
from tocsin.units import NS_PER_MS

FOREVER_MS = (1 << 31) - 1            # of an end that hangs on an anchor which a robot's program never learns
MOST_MS = 500_000_000                 # 5.8 days: twice this and a correction as large still fit into 32 bits
MOST_FIRINGS = 5000                   # what Java's limit of 65535 constants a class holds, and more than any match has
ANY = -1                              # no variant: the firing comes in each
LATE_PRESS_MS = 250                   # a person presses that late (an estimate; in doubt cues come early)

# No id of a plan holds a hyphen, so none can be taken for this one.
CLOCK_LOST = "clock-lost"
_FAINT = RumblePattern(steps=(RumbleStep(weak=0.6, lasts_ns=300 * NS_PER_MS),))
_FAINT_PRIORITY = 5


class PeriodRow(msgspec.Struct, frozen=True, kw_only=True):
    """A period at ``[begin_ms, end_ms)`` of its segment, ``end_ms`` None if open. ``first`` is the number of the first
    firing of the segment that is due at its begin or later.

    The official display reads zero at ``zero_ms`` of the segment (None where it shows nothing that tells the time) and
    tells positions in ``[low_ms, high_ms]``.
    """

    id: str
    title: str
    by_hand: bool
    segment: int
    begin_ms: int
    end_ms: int | None
    first: int
    zero_ms: int | None
    low_ms: int
    high_ms: int


class FiringRow(msgspec.Struct, frozen=True, kw_only=True):
    """A firing, at positions of its segment. ``until_ms`` is 0 for what is only given on time. ``cue``, ``role``,
    ``when`` and ``pattern`` are places in the table's lists; ``when`` is ANY for every variant."""

    due_ms: int
    last_ms: int
    until_ms: int
    cue: int
    n: int
    role: int
    priority: int
    when: int
    pattern: int


class CueRow(msgspec.Struct, frozen=True, kw_only=True):
    """A cue; its call has ``calls`` firings from ``first_call`` on (0 and -1 if it is not callable)."""

    id: str
    word: str
    when: int
    first_call: int
    calls: int


class RobotTable(msgspec.Struct, frozen=True, kw_only=True):
    """All data of a robot's program. Firings stand in this order: those of each segment (``segments`` holds where each
    begins and ends), those of calls, the clock-lost firings (from ``lost`` on, one a role)."""

    periods: tuple[PeriodRow, ...]
    segments: tuple[tuple[int, int], ...]
    firings: tuple[FiringRow, ...]
    lost: int
    cues: tuple[CueRow, ...]
    roles: tuple[Role, ...]
    variants: tuple[str, ...]
    default_variant: int
    patterns: tuple[Shaking, ...]


def table_of(source: Source) -> RobotTable:
    """Return the table of a plan's rumble firings. Raises MistakeError for a match that is longer than 5.8 days, or
    more than 5000 firings."""
    return _Builder(source).build()


def exported(timeline: Timeline) -> tuple[Firing, ...]:
    """Return the firings that robot code holds, in its order: the rumble of the match, then that of calls."""
    rumble = [firing for firing in timeline.firings if firing.channel == "rumble"]
    anchors = {segment.anchor for segment in timeline.segments}
    in_match = [firing for firing in rumble if firing.begin.anchor in anchors]
    called = [firing for firing in rumble if firing.begin.anchor == f"call.{firing.cue}"]
    return (*in_match, *called)


class _Builder:
    def __init__(self, source: Source) -> None:
        self._plan = source.plan
        self._timeline = source.timeline
        self._firings = exported(source.timeline)
        self._anchors = [segment.anchor for segment in self._timeline.segments]
        used = {firing.role for firing in self._firings}
        self._roles = tuple(role for role in ROLES if role in used) or DEFAULT_ROLES
        self._patterns: list[Shaking] = []

    def build(self) -> RobotTable:
        lost = len(self._firings)
        if lost + len(self._roles) > MOST_FIRINGS:
            raise MistakeError(
                tr(
                    "robot code has room for {most_firings} rumble firings, and this plan has {lost}",
                    most_firings=MOST_FIRINGS, lost=lost,
                ),
                hint=tr("let repeats (every) rumble less often, or leave their rumble out"),
            )
        cues = self._cues()
        places = {cue.id: place for place, cue in enumerate(cues)}
        firings = [self._firing(firing, places[firing.cue]) for firing in self._firings]
        return RobotTable(
            periods=tuple(self._period(slot) for slot in self._timeline.periods),
            segments=tuple(self._bounds(anchor) for anchor in self._anchors),
            firings=(*firings, *self._lost(places[CLOCK_LOST])),
            lost=lost,
            cues=cues,
            roles=self._roles,
            variants=self._timeline.variants,
            default_variant=self._variant(self._timeline.default_variant),
            patterns=tuple(self._patterns),
        )

    def _cues(self) -> tuple[CueRow, ...]:
        used = {firing.cue: firing for firing in self._firings}
        ids = [cue.id for cue in self._plan.cues if cue.id in used]
        lost = CueRow(id=CLOCK_LOST, word=tr("Clock lost"), when=ANY, first_call=-1, calls=0)
        return (*(self._cue(used[id]) for id in ids), lost)

    def _cue(self, firing: Firing) -> CueRow:
        calls = [no for no, one in enumerate(self._firings) if one.begin.anchor == f"call.{firing.cue}"]
        return CueRow(
            id=firing.cue, word=firing.word, when=self._variant(firing.when),
            first_call=calls[0] if calls else -1, calls=len(calls),
        )  # fmt: skip

    def _firing(self, firing: Firing, cue: int) -> FiringRow:
        called = firing.begin.anchor not in self._anchors
        begin_ns = firing.begin.offset_ns
        return FiringRow(
            due_ms=0 if called else _up_ms(begin_ns),
            last_ms=0 if called else _down_ms(begin_ns + firing.late_limit_ns),
            until_ms=0 if called else self._until_ms(firing),
            cue=cue,
            n=firing.n,
            role=self._roles.index(firing.role or DEFAULT_ROLES[0]),
            priority=firing.priority,
            when=self._variant(firing.when),
            pattern=self._pattern(firing.pattern, self._plan.patterns.rumble[firing.pattern], firing.lasts_ns),
        )

    def _until_ms(self, firing: Firing) -> int:
        if firing.until is None:
            return 0
        # An end on another anchor is unknown to a program that knows only the segment it is in.
        return _up_ms(firing.until.offset_ns) if firing.until.anchor == firing.begin.anchor else FOREVER_MS

    def _lost(self, cue: int) -> tuple[FiringRow, ...]:
        pattern = self._pattern(CLOCK_LOST, _FAINT, 300 * NS_PER_MS)
        return tuple(
            FiringRow(
                due_ms=0, last_ms=0, until_ms=0, cue=cue, n=0, role=role, priority=_FAINT_PRIORITY, when=ANY,
                pattern=pattern,
            )
            for role in range(len(self._roles))
        )  # fmt: skip

    def _pattern(self, name: str, pattern: RumblePattern, lasts_ns: int) -> int:
        made = shaking(name, pattern, lasts_ns)
        if made not in self._patterns:
            self._patterns.append(made)
        return self._patterns.index(made)

    def _variant(self, name: str) -> int:
        return self._timeline.variants.index(name) if name else ANY

    def _bounds(self, anchor: str) -> tuple[int, int]:
        """Return where the firings of a segment begin and end."""
        rank = self._anchors.index(anchor)
        ranks = [self._rank(firing) for firing in self._firings]
        return bisect_left(ranks, rank), bisect_left(ranks, rank + 1)

    def _rank(self, firing: Firing) -> int:
        anchor = firing.begin.anchor
        return self._anchors.index(anchor) if anchor in self._anchors else len(self._anchors)

    def _period(self, slot: PeriodSlot) -> PeriodRow:
        begin_ms = _down_ms(slot.begin_ns)
        start, end = self._bounds(slot.anchor)
        due_ns = [firing.begin.offset_ns for firing in self._firings[start:end]]
        zero = self._zero(slot)
        low_ns, high_ns = self._told(slot)
        return PeriodRow(
            id=slot.id,
            title=slot.title,
            by_hand=slot.anchor == slot.id,
            segment=self._anchors.index(slot.anchor),
            begin_ms=begin_ms,
            end_ms=None if slot.end_ns is None else _down_ms(slot.end_ns),
            first=start + bisect_left(due_ns, begin_ms * NS_PER_MS),
            zero_ms=None if zero is None else _up_ms(zero.offset_ns),
            low_ms=_down_ms(low_ns),
            high_ms=_up_ms(high_ns),
        )

    def _zero(self, slot: PeriodSlot) -> Point | None:
        """Return where the official display that is read in a period shows zero, as a point of its segment."""
        if slot.end_ns is None or slot.kind == "settle":
            return None
        if self._timeline.counts == "period":
            return Point(slot.anchor, slot.end_ns)
        end = self._timeline.match_end()
        begins_ns = {segment.anchor: segment.match_ns for segment in self._timeline.segments}
        return Point(slot.anchor, begins_ns[end.anchor] + end.offset_ns - begins_ns[slot.anchor])

    def _told(self, slot: PeriodSlot) -> tuple[int, int]:
        """Return the first and the last position that the display can tell in this period: one that counts the match
        goes on while a program stays in the period before."""
        ends_ns = [one.end_ns for one in self._timeline.periods if one.anchor == slot.anchor and one.end_ns is not None]
        if self._timeline.counts == "match" and ends_ns:
            return slot.begin_ns, max(ends_ns)
        return slot.begin_ns, slot.begin_ns if slot.end_ns is None else slot.end_ns


def _up_ms(ns: int) -> int:
    return _bounded(-(-ns // NS_PER_MS))


def _down_ms(ns: int) -> int:
    return _bounded(ns // NS_PER_MS)


def _bounded(ms: int) -> int:
    if ms > MOST_MS:
        raise MistakeError(
            tr("robot code counts 32 bits of milliseconds: {ms} ms are too many", ms=ms),
            hint=tr("let the match last at most {most} s", most=MOST_MS // 1000),
        )
    return ms
