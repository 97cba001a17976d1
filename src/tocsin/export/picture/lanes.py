"""The lanes of a picture: which there are, and every firing as a bar in its lane, overlapping ones in rows. Pure."""

from collections.abc import Iterable, Sequence
from functools import lru_cache
from itertools import pairwise

import msgspec

from tocsin.export.picture.axis import Axis, finish
from tocsin.export.source import Source
from tocsin.model.pattern import Pattern, RumblePattern, SoundPattern
from tocsin.model.plan import CHANNELS, ROLES, ChannelName, Role
from tocsin.model.timeline.timeline import Firing, Timeline
from tocsin.translation import tr

LEAST_MM = 0.5                         # narrower bars would not be seen
_TOGETHER_MM = 0.9                     # repeats that follow closer are one bar
_STEP_MM = 0.25                        # narrower steps of a pattern are not told apart
_TOUCH_MM = 0.01

Steps = tuple[tuple[float, float], ...]


class Lane(msgspec.Struct, frozen=True):
    """A channel's lane; rumble has one for each role."""

    channel: ChannelName
    role: Role | None

    @property
    def name(self) -> str:
        """The lane's name beside it."""
        return f"{tr(self.channel)} {tr(self.role)}" if self.role else tr(self.channel)


class Bar(msgspec.Struct, frozen=True, kw_only=True):
    """A firing in its lane, or repeats that are too close to be told apart (``nos``).

    ``tail_mm`` is where the interval ends in which a pad that comes back gets a pulse; ``tail_open`` if nobody knows.
    ``steps`` are the begin and width of what of its pattern is felt or heard. ``row`` counts from the top of the lane.
    """

    nos: tuple[int, ...]
    cue: str
    x_mm: float
    width_mm: float
    tail_mm: float | None
    tail_open: bool
    sustained: bool
    open_left: bool
    open_right: bool
    priority: int
    when: str
    text: str
    steps: Steps
    row: int = 0

    @property
    def end_mm(self) -> float:
        """Where it ends."""
        return self.x_mm + self.width_mm

    @property
    def last_mm(self) -> float:
        """Where it ends with its tail."""
        return self.end_mm if self.tail_mm is None else max(self.end_mm, self.tail_mm)


def lanes(timeline: Timeline) -> tuple[Lane, ...]:
    """Return a lane for each channel, those of rumble for the roles that feel something."""
    felt = {firing.role for firing in timeline.firings if firing.channel == "rumble"}
    found: list[Lane] = []
    for channel in CHANNELS:
        roles: list[Role | None] = [role for role in ROLES if role in felt] if channel == "rumble" else []
        found += [Lane(channel, role) for role in roles or [None]]
    return tuple(found)


def bars(source: Source, axis: Axis, lane: Lane) -> tuple[Bar, ...]:
    """Return the bars of a lane on a panel, from left to right, those that overlap in different rows."""
    drawn = [
        bar for firing in source.timeline.firings
        if (firing.channel, firing.role) == (lane.channel, lane.role)
        if (bar := _bar(source, axis, firing)) is not None
    ]  # fmt: skip
    return _in_rows(sorted(_together(drawn), key=lambda bar: (bar.x_mm, bar.nos)))


def rows_of(found: Iterable[Bar]) -> int:
    """Return how many rows the bars of a lane take, one at least."""
    return max((bar.row + 1 for bar in found), default=1)


def _bar(source: Source, axis: Axis, firing: Firing) -> Bar | None:
    span = axis.span(firing.begin, finish(firing))
    if span is None:
        return None
    x_mm, end_mm, open_left, open_right = span
    width_mm = max(LEAST_MM, end_mm - x_mm)
    tail = axis.span(firing.begin, firing.until) if firing.until is not None and not firing.sustained else None
    return Bar(
        nos=(firing.no,), cue=firing.cue, x_mm=x_mm, width_mm=width_mm,
        tail_mm=None if tail is None else tail.end_mm, tail_open=tail is not None and tail.open_right,
        sustained=firing.sustained, open_left=open_left, open_right=open_right,
        priority=firing.priority, when=firing.when,
        text=firing.word if firing.channel == "screen" else firing.pattern,
        steps=() if open_left else _steps(source, axis, firing, width_mm),
    )  # fmt: skip


def _steps(source: Source, axis: Axis, firing: Firing, width_mm: float) -> Steps:
    """Return what of a pattern is felt or heard; the whole bar if it is too small for that."""
    stretch = axis.stretch(firing.begin.anchor)
    pattern = _pattern(source, firing)
    if stretch is None or not isinstance(pattern, RumblePattern | SoundPattern):
        return ()
    begin_mm = stretch.x(firing.begin.offset_ns)
    found, at_ns = [], 0
    for loud, lasts_ns in _loudness(pattern):
        until_ns = min(at_ns + lasts_ns, firing.lasts_ns)
        if loud and until_ns > at_ns:
            found.append((begin_mm + at_ns * stretch.mm_per_ns, (until_ns - at_ns) * stretch.mm_per_ns))
        at_ns += lasts_ns
    narrow = min((width for _, width in found), default=0.0)
    gaps = [b - (a + width) for (a, width), (b, _) in pairwise(found)]
    if narrow < _STEP_MM or any(0 < gap < _STEP_MM for gap in gaps):
        return ((begin_mm, width_mm),)
    return tuple(found)


@lru_cache
def _loudness(pattern: RumblePattern | SoundPattern) -> tuple[tuple[bool, int], ...]:
    """Return for each step whether it is felt or heard, and its nanoseconds; steps that follow alike are one."""
    if isinstance(pattern, RumblePattern):
        steps = [(max(step.strong, step.weak) > 0, step.lasts_ns) for step in pattern.steps] * pattern.times
    else:
        steps = [(step.hz > 0, step.lasts_ns) for step in pattern.steps] * pattern.times
    found: list[tuple[bool, int]] = []
    for loud, lasts_ns in steps:
        if found and found[-1][0] == loud:
            found[-1] = (loud, found[-1][1] + lasts_ns)
        else:
            found.append((loud, lasts_ns))
    return tuple(found)


def _pattern(source: Source, firing: Firing) -> Pattern:
    patterns = source.plan.patterns
    match firing.channel:
        case "rumble":
            return patterns.rumble[firing.pattern]
        case "light":
            return patterns.light[firing.pattern]
        case "screen":
            return patterns.screen[firing.pattern]
        case _:
            return patterns.sound[firing.pattern]


def _together(drawn: Sequence[Bar]) -> list[Bar]:
    """Return the bars, repeats of one cue that begin almost at one place put together."""
    by_cue: dict[str, list[Bar]] = {}
    for bar in drawn:
        by_cue.setdefault(bar.cue, []).append(bar)
    found: list[Bar] = []
    for same in by_cue.values():
        same.sort(key=lambda bar: (bar.x_mm, bar.nos))
        runs = [[same[0]]]
        for bar in same[1:]:
            close = bar.x_mm - runs[-1][-1].x_mm < _TOGETHER_MM
            if close and not bar.sustained:
                runs[-1].append(bar)
            else:
                runs.append([bar])
        found += [_one(run) for run in runs]
    return found


def _one(run: Sequence[Bar]) -> Bar:
    if len(run) == 1:
        return run[0]
    x_mm, end_mm = run[0].x_mm, max(bar.end_mm for bar in run)
    return msgspec.structs.replace(
        run[0], nos=tuple(no for bar in run for no in bar.nos), width_mm=end_mm - x_mm,
        tail_mm=max((bar.tail_mm for bar in run if bar.tail_mm is not None), default=None),
        steps=((x_mm, end_mm - x_mm),) if any(bar.steps for bar in run) else (),
        text=f"{run[0].text} ×{len(run)}",
    )  # fmt: skip


def _in_rows(sorted_bars: Sequence[Bar]) -> tuple[Bar, ...]:
    """Return the bars, each in the first row in which nothing is in its way."""
    ends: list[float] = []
    placed: list[Bar] = []
    for bar in sorted_bars:
        row = next((n for n, end_mm in enumerate(ends) if end_mm <= bar.x_mm + _TOUCH_MM), len(ends))
        if row == len(ends):
            ends.append(0.0)
        ends[row] = bar.last_mm
        placed.append(msgspec.structs.replace(bar, row=row))
    return tuple(placed)
