"""Round the firings of a plan to whole numbers, in one table for all languages of robot code: rumble, light, tones.

Rules of rounding:

* A firing's ``due_ms`` is rounded up and its ``last_ms`` down, so that nothing comes early or beyond its late limit.
* A period's begin is rounded down to whole milliseconds, for the same reason (games are hardly ever finer than that).
* Positions are milliseconds in a *segment*: a run of periods on one anchor. 32 bits hold them with room for sums.
"""

from bisect import bisect_left
from typing import TypeVar

import msgspec

from tocsin.errors import MistakeError
from tocsin.export.robot.light import Look, look
from tocsin.export.robot.pattern import Shaking, shaking
from tocsin.export.robot.tone import Tune, tune
from tocsin.export.source import Source
from tocsin.model.pattern import RumblePattern, RumbleStep
from tocsin.model.plan import DEFAULT_ROLES, ROLES, ChannelName, Role
from tocsin.model.timeline.point import PeriodSlot, Point
from tocsin.model.timeline.timeline import Firing, Timeline
from tocsin.translation import tr
from tocsin.units import NS_PER_MS

FOREVER_MS = (1 << 31) - 1            # of an end that hangs on an anchor which a robot's program never learns
MOST_MS = 500_000_000                 # 5.8 days: twice this and a correction as large still fit into 32 bits
MOST_FIRINGS = 5000                   # what Java's limit of 65535 constants a class holds, and more than any match has
ANY = -1                              # no variant: the firing comes in each
STRIP = -1                            # in place of a role
LATE_PRESS_MS = 250                   # a person presses that late (an estimate; in doubt cues come early)
CHANNELS: tuple[ChannelName, ...] = ("rumble", "light", "sound")       # in the order of their rows

# No id of a plan holds a hyphen, so none can be taken for this one.
CLOCK_LOST = "clock-lost"
_FAINT = RumblePattern(steps=(RumbleStep(weak=0.6, lasts_ns=300 * NS_PER_MS),))
_FAINT_PRIORITY = 5

Triple = tuple[int, int, int]          # a number for each of CHANNELS
_T = TypeVar("_T")


class PeriodRow(msgspec.Struct, frozen=True, kw_only=True):
    """A period at ``[begin_ms, end_ms)`` of its segment, ``end_ms`` None if open. ``first`` holds for each channel the
    number of the first row of the segment that is due at its begin or later.

    The official display reads zero at ``zero_ms`` of the segment (None where it shows nothing that tells the time) and
    tells positions in ``[low_ms, high_ms]``.
    """

    id: str
    title: str
    by_hand: bool
    segment: int
    begin_ms: int
    end_ms: int | None
    first: Triple
    zero_ms: int | None
    low_ms: int
    high_ms: int


class FiringRow(msgspec.Struct, frozen=True, kw_only=True):
    """A firing, at positions of its segment. ``until_ms`` is 0 for what is only given on time. ``cue``, ``role``,
    ``when`` and ``pattern`` are places in the table's lists (the pattern in that of its channel); ``when`` is ANY for
    every variant. ``role`` is STRIP for light, and behind the last role for tones.

    A firing of a call has no moment; of its light ``until_ms`` is that of the match, and ``last_ms`` its segment.
    """

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
    """A cue; its call has ``calls`` firings of rumble from ``first_call`` on (0 and -1 if there is none), and a row of
    light and of tones (-1 if there is none)."""

    id: str
    word: str
    when: int
    first_call: int
    calls: int
    light_call: int
    tone_call: int

    @property
    def callable(self) -> bool:
        """Whether a person may give it."""
        return self.calls > 0 or self.light_call >= 0 or self.tone_call >= 0


class RobotTable(msgspec.Struct, frozen=True, kw_only=True):
    """All data of a robot's program. Firings stand in the order of CHANNELS, and of a channel in this one: those of
    each segment (``segments`` holds where each begins and ends, a pair for each channel), those of calls; of rumble
    also the clock-lost firings (from ``lost`` on, one a role)."""

    periods: tuple[PeriodRow, ...]
    segments: tuple[tuple[int, ...], ...]
    firings: tuple[FiringRow, ...]
    lost: int
    first_tone: int
    cues: tuple[CueRow, ...]
    roles: tuple[Role, ...]
    variants: tuple[str, ...]
    default_variant: int
    main_period: int
    patterns: tuple[Shaking, ...]
    looks: tuple[Look, ...]
    tunes: tuple[Tune, ...]

    @property
    def rumble(self) -> int:
        """How many firings of rumble there are, with those that say that the clock is lost."""
        return self.lost + len(self.roles)


def table_of(source: Source) -> RobotTable:
    """Return the table of a plan's firings of rumble, light and sound. Raises MistakeError for a match that is longer
    than 5.8 days, or more than 5000 firings."""
    return _Builder(source).build()


def exported(timeline: Timeline, channel: ChannelName = "rumble") -> tuple[Firing, ...]:
    """Return the firings of a channel that robot code holds, in its order: those of the match, then those of calls."""
    own = [firing for firing in timeline.firings if firing.channel == channel]
    anchors = {segment.anchor for segment in timeline.segments}
    in_match = [firing for firing in own if firing.begin.anchor in anchors]
    called = [firing for firing in own if firing.begin.anchor == f"call.{firing.cue}"]
    return (*in_match, *called)


def main_period(timeline: Timeline) -> PeriodSlot:
    """Return the last driver period; without one, the last period that is no settle."""
    drivers = [slot for slot in timeline.periods if slot.kind == "driver"]
    return drivers[-1] if drivers else [slot for slot in timeline.periods if slot.kind != "settle"][-1]


class _Builder:
    def __init__(self, source: Source) -> None:
        self._plan = source.plan
        self._timeline = source.timeline
        self._anchors = [segment.anchor for segment in self._timeline.segments]
        self._of = {channel: exported(source.timeline, channel) for channel in CHANNELS}
        used = {firing.role for firing in self._of["rumble"]}
        self._roles = tuple(role for role in ROLES if role in used) or DEFAULT_ROLES
        lost = len(self._of["rumble"])
        light = lost + len(self._roles)
        self._lost_from = lost
        self._from = {"rumble": 0, "light": light, "sound": light + len(self._of["light"])}
        self._patterns: list[Shaking] = []
        self._looks: list[Look] = []
        self._tunes: list[Tune] = []

    def build(self) -> RobotTable:
        count = self._from["sound"] + len(self._of["sound"])
        if count > MOST_FIRINGS:
            raise MistakeError(
                tr(
                    "robot code has room for {most_firings} firings of rumble, light and sound, and this plan has "
                    "{count}",
                    most_firings=MOST_FIRINGS, count=count - len(self._roles),
                ),
                hint=tr("let repeats (every) come less often, or leave a channel of theirs out"),
            )
        cues = self._cues()
        places = {cue.id: place for place, cue in enumerate(cues)}
        rumble, light, sound = (
            [self._firing(firing, places[firing.cue]) for firing in self._of[channel]] for channel in CHANNELS
        )
        slots = list(self._timeline.periods)
        return RobotTable(
            periods=tuple(self._period(slot) for slot in slots),
            segments=tuple(
                tuple(edge for channel in CHANNELS for edge in self._bounds(channel, anchor))
                for anchor in self._anchors
            ),
            firings=(*rumble, *self._lost(places[CLOCK_LOST]), *light, *sound),
            lost=self._lost_from,
            first_tone=self._from["sound"],
            cues=cues,
            roles=self._roles,
            variants=self._timeline.variants,
            default_variant=self._variant(self._timeline.default_variant),
            main_period=slots.index(main_period(self._timeline)),
            patterns=tuple(self._patterns),
            looks=tuple(self._looks),
            tunes=tuple(self._tunes),
        )

    def _cues(self) -> tuple[CueRow, ...]:
        used = {firing.cue: firing for channel in CHANNELS for firing in self._of[channel]}
        ids = [cue.id for cue in self._plan.cues if cue.id in used]
        lost = CueRow(
            id=CLOCK_LOST, word=tr("Clock lost"), when=ANY, first_call=-1, calls=0, light_call=-1, tone_call=-1
        )
        return (*(self._cue(used[id]) for id in ids), lost)

    def _cue(self, firing: Firing) -> CueRow:
        rumble, light, sound = ([
            self._from[channel] + no for no, one in enumerate(self._of[channel])
            if one.begin.anchor == f"call.{firing.cue}"
        ] for channel in CHANNELS)  # fmt: skip
        return CueRow(
            id=firing.cue, word=firing.word, when=self._variant(firing.when),
            first_call=rumble[0] if rumble else -1, calls=len(rumble),
            light_call=light[0] if light else -1, tone_call=sound[0] if sound else -1,
        )  # fmt: skip

    def _firing(self, firing: Firing, cue: int) -> FiringRow:
        called = firing.begin.anchor not in self._anchors
        begin_ns = firing.begin.offset_ns
        row = FiringRow(
            due_ms=0 if called else _up_ms(begin_ns),
            last_ms=0 if called else _down_ms(begin_ns + firing.late_limit_ns),
            until_ms=0 if called else self._until_ms(firing),
            cue=cue,
            n=firing.n,
            role=self._role(firing),
            priority=firing.priority,
            when=self._variant(firing.when),
            pattern=self._pattern(firing),
        )
        until = firing.until
        if called and firing.channel == "light" and until is not None and until.anchor in self._anchors:
            segment = self._anchors.index(until.anchor)
            return msgspec.structs.replace(row, last_ms=segment, until_ms=_up_ms(until.offset_ns))
        return row

    def _role(self, firing: Firing) -> int:
        if firing.channel == "light":
            return STRIP
        return len(self._roles) if firing.channel == "sound" else self._roles.index(firing.role or DEFAULT_ROLES[0])

    def _until_ms(self, firing: Firing) -> int:
        if firing.until is None:
            return 0
        # An end on another anchor is unknown to a program that knows only the segment it is in.
        return _up_ms(firing.until.offset_ns) if firing.until.anchor == firing.begin.anchor else FOREVER_MS

    def _lost(self, cue: int) -> tuple[FiringRow, ...]:
        pattern = _place(self._patterns, shaking(CLOCK_LOST, _FAINT, 300 * NS_PER_MS))
        return tuple(
            FiringRow(
                due_ms=0, last_ms=0, until_ms=0, cue=cue, n=0, role=role, priority=_FAINT_PRIORITY, when=ANY,
                pattern=pattern,
            )
            for role in range(len(self._roles))
        )  # fmt: skip

    def _pattern(self, firing: Firing) -> int:
        name, known = firing.pattern, self._plan.patterns
        if firing.channel == "light":
            return _place(self._looks, look(name, known.light[name], firing.lasts_ns))
        if firing.channel == "sound":
            return _place(self._tunes, tune(name, known.sound[name], firing.lasts_ns))
        return _place(self._patterns, shaking(name, known.rumble[name], firing.lasts_ns))

    def _variant(self, name: str) -> int:
        return self._timeline.variants.index(name) if name else ANY

    def _bounds(self, channel: ChannelName, anchor: str) -> tuple[int, int]:
        """Return where the firings of a channel in a segment begin and end."""
        rank = self._anchors.index(anchor)
        ranks = [self._rank(firing) for firing in self._of[channel]]
        begin = self._from[channel]
        return begin + bisect_left(ranks, rank), begin + bisect_left(ranks, rank + 1)

    def _rank(self, firing: Firing) -> int:
        anchor = firing.begin.anchor
        return self._anchors.index(anchor) if anchor in self._anchors else len(self._anchors)

    def _first(self, channel: ChannelName, slot: PeriodSlot) -> int:
        start, end = self._bounds(channel, slot.anchor)
        own = self._of[channel][start - self._from[channel] : end - self._from[channel]]
        return start + bisect_left([firing.begin.offset_ns for firing in own], _down_ms(slot.begin_ns) * NS_PER_MS)

    def _period(self, slot: PeriodSlot) -> PeriodRow:
        zero = self._zero(slot)
        low_ns, high_ns = self._told(slot)
        rumble, light, sound = (self._first(channel, slot) for channel in CHANNELS)
        return PeriodRow(
            id=slot.id,
            title=slot.title,
            by_hand=slot.anchor == slot.id,
            segment=self._anchors.index(slot.anchor),
            begin_ms=_down_ms(slot.begin_ns),
            end_ms=None if slot.end_ns is None else _down_ms(slot.end_ns),
            first=(rumble, light, sound),
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


def _place(listed: list[_T], made: _T) -> int:
    """Return where something stands in a list; what is new is added."""
    if made not in listed:
        listed.append(made)
    return listed.index(made)


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
