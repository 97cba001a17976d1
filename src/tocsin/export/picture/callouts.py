"""The calls' words above the lanes: a callout at each instant, on a leader that stands where its firings begin. Pure.

Callouts never overlap. They stand as low as they can; a leader that would run through another callout's words is
interrupted there, and such places are avoided. Where there is no room for all, those of the lowest priority go.
"""

from collections.abc import Sequence
from typing import NamedTuple

import msgspec

from tocsin.export.drawing.shapes import BLACK, DIM, Label, Pen
from tocsin.export.occurrences import CueOccurrence, calls
from tocsin.export.picture.axis import Axis
from tocsin.export.picture.style import PictureStyle
from tocsin.export.source import Source
from tocsin.model.plan import DEFAULT_PRIORITY, DEFAULT_ROLES, Cue
from tocsin.model.timeline.point import Point
from tocsin.translation import tr
from tocsin.units import NS_PER_S, format_clock

_MOST = 27.0                           # how wide a callout may be, in ems of its words,
_MOST_SHARE = 0.4                      # and of the page
_LINE = 1.22                           # from line to line, in ems
_BETWEEN = " · "
_BLANK = 0.45                          # behind words, in ems
_LEADER_MM = 0.9                         # from the leader to the words
_GAP_MM = 0.9                          # between callouts
_CROSSING = 5.4                        # how much higher a callout rather stands than that a leader crosses it, in ems
_LEFT = 5.0                            # how much higher it rather stands than at the left of its leader, in ems


class TextPart(msgspec.Struct, frozen=True):
    """Words of one size within a line."""

    string: str
    em_mm: float
    bold: bool = False
    grey: float = BLACK


class Callout(msgspec.Struct, frozen=True, kw_only=True):
    """What is called at one instant: lines of words; ``nos`` are the firings that begin there."""

    x_mm: float
    lines: tuple[tuple[TextPart, ...], ...]
    width_mm: float
    height_mm: float
    priority: int
    nos: tuple[int, ...]
    name: str


class PlacedCallout(msgspec.Struct, frozen=True, kw_only=True):
    """A callout and where it stands: ``low_mm`` above the lanes, at the right or the left of its leader."""

    callout: Callout
    low_mm: float
    left: bool

    @property
    def high_mm(self) -> float:
        """Its upper edge."""
        return self.low_mm + self.callout.height_mm

    @property
    def begin_mm(self) -> float:
        """Its left edge."""
        return self.callout.x_mm - _LEADER_MM - self.callout.width_mm if self.left else self.callout.x_mm

    @property
    def end_mm(self) -> float:
        """Its right edge."""
        return self.callout.x_mm if self.left else self.callout.x_mm + _LEADER_MM + self.callout.width_mm


# -- what stands on a callout ------------------------------------------------------------------------------------------


class _Repeats(msgspec.Struct, frozen=True, kw_only=True):
    """An occurrence of a cue, or repeats of it, on a panel."""

    cue: Cue
    calls: tuple[CueOccurrence, ...]
    begin: Point
    nos: tuple[int, ...]


def callouts(source: Source, axis: Axis, until: Point | None, style: PictureStyle, pen: Pen) -> tuple[Callout, ...]:
    """Return the callouts of a panel from left to right; if ``until`` is given, only those before that point."""
    by_point: dict[Point, list[_Repeats]] = {}
    for run in _runs(source, axis, until):
        by_point.setdefault(run.begin, []).append(run)
    top = max((cue.priority for cue in source.plan.cues), default=DEFAULT_PRIORITY)
    found = [_flag(source, axis, point, runs, top, style, pen) for point, runs in by_point.items()]
    if until is not None:
        found.append(_hint(axis.x(until) or axis.begin_mm, style, pen))
    return tuple(sorted(found, key=lambda callout: callout.x_mm))


def _hint(x_mm: float, style: PictureStyle, pen: Pen) -> Callout:
    """Return the words that stand where another panel has the calls."""
    line = (TextPart(tr("larger below"), style.detail_em, False, DIM),)
    height_mm = _LINE * style.detail_em
    width_mm = _wide_as(line, pen)
    return Callout(x_mm=x_mm, lines=(line,), width_mm=width_mm, height_mm=height_mm, priority=0, nos=(), name="")


def _runs(source: Source, axis: Axis, until: Point | None) -> list[_Repeats]:
    begins = {(firing.cue, firing.n): firing.begin for firing in source.timeline.firings}
    nos: dict[tuple[str, int], list[int]] = {}
    for firing in source.timeline.firings:
        nos.setdefault((firing.cue, firing.n), []).append(firing.no)
    cues = {cue.id: cue for cue in source.plan.cues}
    found: dict[str, list[list[CueOccurrence]]] = {}
    for call in calls(source):
        begin = begins[call.cue, call.n]
        if axis.x(begin) is None or (until is not None and not _is_before(axis, begin, until)):
            continue
        parts, every_ns = found.setdefault(call.cue, []), cues[call.cue].every_ns
        if parts and every_ns and _follows(begins[call.cue, parts[-1][-1].n], begin, every_ns):
            parts[-1].append(call)
        else:
            parts.append([call])
    return [
        _Repeats(
            cue=cues[name], calls=tuple(part), begin=begins[name, part[0].n],
            nos=tuple(no for call in part for no in nos[name, call.n]),
        )
        for name, parts in found.items() for part in parts
    ]  # fmt: skip


def _follows(before: Point, point: Point, every_ns: int) -> bool:
    return point == Point(before.anchor, before.offset_ns + every_ns)


def _is_before(axis: Axis, point: Point, until: Point) -> bool:
    ranks = axis.ranks
    return (ranks[point.anchor], point.offset_ns) < (ranks[until.anchor], until.offset_ns)


def _flag(
    source: Source, axis: Axis, point: Point, runs: Sequence[_Repeats], top: int, style: PictureStyle, pen: Pen
) -> Callout:
    """Return a callout; calls of the priority ``top`` are bold."""
    x_mm = axis.x(point)
    assert x_mm is not None                     # only runs that lie on the panel are here
    ordered = sorted(runs, key=lambda run: -run.cue.priority)
    lines: list[tuple[TextPart, ...]] = []
    for n, run in enumerate(ordered):
        lines += _lines(source, run, runs, n == 0, top, style, pen)
    width_mm = max(_wide_as(line, pen) for line in lines)
    return Callout(
        x_mm=x_mm, lines=tuple(lines), width_mm=width_mm,
        height_mm=sum(_LINE * max(w.em_mm for w in line) for line in lines),
        priority=max(run.cue.priority for run in runs), nos=tuple(no for run in runs for no in run.nos),
        name="/".join(run.calls[0].word for run in ordered),
    )  # fmt: skip


def _lines(
    source: Source, run: _Repeats, runs: Sequence[_Repeats], first: bool, top: int, style: PictureStyle, pen: Pen
) -> list[tuple[TextPart, ...]]:
    """Return the lines of one call: when and what; then, smaller, what else must be known of it."""
    bold = run.cue.priority == top > DEFAULT_PRIORITY
    reading = _reading(run) if first or len(run.calls) > 1 else ""
    line: tuple[TextPart, ...] = (TextPart(reading, style.word_em),) if reading else ()
    most_mm = min(_MOST * style.word_em, _MOST_SHARE * style.inner_mm)
    word = pen.cut(run.calls[0].word, most_mm - _wide_as(line, pen), style.word_em, bold)
    line += (TextPart(word, style.word_em, bold),)
    alone = len(runs) == 1
    room_mm = most_mm if alone else most_mm - _wide_as(line, pen)
    detail = _fitting(_details(source, run, alone, style), room_mm, style, pen)
    if not detail:
        return [line]
    small = TextPart(detail, style.detail_em, False, DIM)
    return [line, (small,)] if alone else [(*line, small)]


def _fitting(details: Sequence[str], room_mm: float, style: PictureStyle, pen: Pen) -> str:
    """Return as many details as have room, what matters most first; the first is cut if not even that has."""
    for count in range(len(details), 0, -1):
        text = _BETWEEN.join(details[:count])
        if count == 1 or pen.width(text, style.detail_em) <= room_mm:
            return pen.cut(text, room_mm, style.detail_em)
    return ""


def _wide_as(line: Sequence[TextPart], pen: Pen) -> float:
    return sum(pen.width(words.string, words.em_mm, words.bold) + _BLANK * words.em_mm for words in line)


def _reading(run: _Repeats) -> str:
    first, last = run.calls[0], run.calls[-1]
    if run.begin.anchor.startswith("call."):
        return ""                               # the band above says that it comes by hand
    if first.shown and last.shown and first.period == last.period:
        return (
            first.shown if first.shown == last.shown
            else tr("{shown} to {shown_2}", shown=first.shown, shown_2=last.shown)
        )
    if first.shown:
        return first.shown
    # To a tenth, which people read off a stop-watch: never later than it is.
    whole_s, tenth = divmod(first.offset_ns // (NS_PER_S // 10), 10)
    return f"+{whole_s}.{tenth} s" if tenth else f"+{whole_s} s"


def _details(source: Source, run: _Repeats, alone: bool, style: PictureStyle) -> list[str]:
    """Return what must be known of a call besides its word, what matters most first."""
    cue, word = run.cue, run.calls[0].word
    titles = {variant.id: variant.title for variant in source.game.variants}
    parts = [tr("only: {when}", when=titles.get(cue.when, cue.when))] if cue.when else []
    if len(run.calls) > 1 and cue.every_ns:
        every = tr("each second") if cue.every_ns == NS_PER_S else tr("each {every}", every=format_clock(cue.every_ns))
        parts.append(f"{every}, {len(run.calls)}×")
    if not style.details:
        return parts
    if "rumble" not in cue.patterns and (alone or cue.roles != DEFAULT_ROLES):
        parts.append(tr("for {roles}", roles=", ".join(map(tr, cue.roles))))
    if alone and not style.wall and cue.id != word.lower().replace(" ", "_"):
        parts.append(cue.id)
    return parts


# -- where callouts stand ----------------------------------------------------------------------------------------------


class Zone(NamedTuple):
    """Where callouts may stand, and the size of their words, which says how far a callout is worth moving."""

    begin_mm: float
    end_mm: float
    most_mm: float
    word_em: float


def placed(found: Sequence[Callout], zone: Zone) -> tuple[tuple[PlacedCallout, ...], tuple[Callout, ...]]:
    """Return the callouts with their places in a zone, and those for which there is no room."""
    going = sorted(found, key=lambda callout: (callout.priority, callout.x_mm))
    low, high = 0, len(going)
    best: tuple[PlacedCallout, ...] = ()
    while low <= high:                          # the least number that must go, by halving
        count = (low + high) // 2 if low else 0
        gone = {id(callout) for callout in going[:count]}
        kept = [callout for callout in found if id(callout) not in gone]
        standing = _standing(kept, zone)
        if standing is None:
            low = count + 1
        else:
            best, high = standing, count - 1
    stand = {id(item.callout) for item in best}
    return best, tuple(callout for callout in found if callout.name and id(callout) not in stand)


def _standing(kept: Sequence[Callout], zone: Zone) -> tuple[PlacedCallout, ...] | None:
    """Return the callouts with their places, from the right to the left, or None if one finds no room."""
    standing: list[PlacedCallout] = []
    for callout in sorted(kept, key=lambda callout: -callout.x_mm):
        best: tuple[float, PlacedCallout] | None = None
        ahead = [other.x_mm for other in kept if other.x_mm < callout.x_mm]
        for option in _options(callout, standing, zone):
            crossings = _crossings(option, standing) + sum(option.begin_mm < x_mm for x_mm in ahead)
            cost = option.low_mm + zone.word_em * (_CROSSING * crossings + (_LEFT if option.left else 0.0))
            if best is None or cost < best[0]:
                best = (cost, option)
        if best is None:
            return None
        standing.append(best[1])
    return tuple(standing)


def _options(callout: Callout, standing: Sequence[PlacedCallout], zone: Zone) -> list[PlacedCallout]:
    """Return the places that are free: on the ground, or on top of another callout."""
    found = []
    for left in (False, True):
        probe = PlacedCallout(callout=callout, low_mm=0.0, left=left)
        if probe.end_mm > zone.end_mm or probe.begin_mm < zone.begin_mm:
            continue
        near = [other for other in standing if _wide(probe, other)]
        lows = sorted({0.0, *(other.high_mm + _GAP_MM for other in near)})
        for low_mm in lows:
            option = PlacedCallout(callout=callout, low_mm=low_mm, left=left)
            if option.high_mm <= zone.most_mm and not any(_tall(option, other) for other in near):
                found.append(option)
    return found


def _wide(a: PlacedCallout, b: PlacedCallout) -> bool:
    return a.begin_mm < b.end_mm + _GAP_MM and b.begin_mm < a.end_mm + _GAP_MM


def _tall(a: PlacedCallout, b: PlacedCallout) -> bool:
    return a.low_mm < b.high_mm + _GAP_MM - 1e-6 and b.low_mm < a.high_mm + _GAP_MM - 1e-6


def _crossings(option: PlacedCallout, standing: Sequence[PlacedCallout]) -> int:
    """Return how many leaders run through words: the others' through this callout's, and its own through theirs."""
    through = sum(
        option.begin_mm < other.callout.x_mm < option.end_mm and other.low_mm > option.low_mm for other in standing
    )
    own = sum(
        other.begin_mm < option.callout.x_mm < other.end_mm and other.low_mm < option.low_mm for other in standing
    )
    return through + own


def written(item: PlacedCallout, ground_mm: float, pen: Pen) -> list[Label]:
    """Return the words of a callout above the ground, which is so far below the top."""
    labels = []
    x_mm = item.begin_mm + (0.0 if item.left else _LEADER_MM)
    top_mm = ground_mm - item.high_mm
    for line in item.callout.lines:
        em_mm = max(words.em_mm for words in line)
        at_mm = x_mm
        if item.left:
            at_mm += item.callout.width_mm - _wide_as(line, pen)
        for words in line:
            if words.string.strip():
                labels.append(pen.label(words.string, at_mm, top_mm + 0.93 * em_mm, words.em_mm, "callout",
                                        bold=words.bold, grey=words.grey))  # fmt: skip
            at_mm += _wide_as((words,), pen)
        top_mm += _LINE * em_mm
    return labels
