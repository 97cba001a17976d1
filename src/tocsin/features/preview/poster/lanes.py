"""A cue as it is felt and heard: pulses and tones over time, to scale, and when its word is spoken. Pure.

All cues of a poster have one scale of time, so that a long pulse looks longer than a short one, wherever it stands.
"""

import math
from collections.abc import Iterator
from itertools import groupby

import msgspec

from tocsin.export.drawing.fitting import Type, fitted
from tocsin.export.drawing.shapes import (
    BLACK,
    DIM,
    PALE,
    Area,
    Label,
    OutlinedBox,
    Parts,
    Pen,
    ShapeRow,
    Stroke,
    joined,
    middle,
)
from tocsin.export.source import Source
from tocsin.features.preview.poster.cues import PosterCue
from tocsin.features.preview.poster.seen import firing_on
from tocsin.features.preview.poster.style import PosterStyle
from tocsin.model.pattern import RumblePattern, SoundPattern, SoundStep, lasts_ns
from tocsin.model.rig import Sound
from tocsin.model.safety import BLACK as INK
from tocsin.model.spoken import has_coach, spoken_words, word_begins_ns
from tocsin.translation import tr
from tocsin.units import NS_PER_S

_LETTER_NS = NS_PER_S // 12            # a spoken letter (own estimate, no source): how long the word's box is
_LEAST_SPAN_NS = 2 * NS_PER_S
_LOW_HZ, _HIGH_HZ = 500.0, 2500.0      # where small loudspeakers are loud: what a cue's sound should keep to
_FELT_SHARE = 0.42                     # of the room for both lanes
_MOST_PULSES = 4                       # whose lengths are told one by one
_LABELLED = 8                          # seconds beside which a number has room


class Senses(msgspec.Struct, frozen=True, kw_only=True):
    """What hands and ears notice of a cue: each None if it is nothing, or nothing that is known. ``spoken`` is whether
    the laptop says the word."""

    rumble: RumblePattern | None
    sound: SoundPattern | None
    spoken: bool
    felt: str
    heard: str
    word: str

    @property
    def span_ns(self) -> int:
        """How long it takes."""
        ends_ns = [lasts_ns(pattern) for pattern in (self.rumble, self.sound) if pattern is not None]
        if self.sound is not None and self.spoken:
            ends_ns.append(word_begins_ns(self.sound) + len(self.word) * _LETTER_NS)
        return max(ends_ns, default=0)


def senses(source: Source, item: PosterCue) -> Senses:
    """Return what is felt and heard of a cue, as patterns and in words."""
    patterns = source.plan.patterns
    rumble, sound = firing_on(item, "rumble"), firing_on(item, "sound")
    felt = patterns.rumble.get(rumble.pattern) if rumble is not None else None
    heard = patterns.sound.get(sound.pattern) if sound is not None else None
    spoken = item.cue.id in spoken_words(source.plan, Sound())
    said = "tells" if spoken else ""
    if heard is not None and item.cue.say and not spoken and has_coach(source.plan):
        said = "coach"
    return Senses(
        rumble=felt, sound=heard, spoken=spoken and heard is not None, word=item.word,
        felt=_felt_in_words(felt) if rumble is not None else tr("nothing in the hands"),
        heard=_heard_in_words(heard, said) if sound is not None else tr("no sound"),
    )  # fmt: skip


def scale_of(all_senses: list[Senses]) -> int:
    """Return the time that all lanes show, in nanoseconds: whole seconds, two at least."""
    longest_ns = max((item.span_ns for item in all_senses), default=0)
    return max(_LEAST_SPAN_NS, -(-longest_ns // NS_PER_S) * NS_PER_S)


def lanes(of: Senses, span_ns: int, width_mm: float, height_mm: float, style: PosterStyle, pen: Pen) -> ShapeRow:
    """Return both lanes one below the other, with their words above and the seconds beneath."""
    kind = Type(style.about_em, 0.6 * style.about_em, lines=2, rather=0.75)
    captions = [
        pen.written(fitted(f"{name}: {words}", width_mm, kind, pen.letters), "lane")
        for name, words in ((tr("Felt"), of.felt), (tr("Heard"), of.heard))
    ]
    ticks_mm = 1.2 * style.tick_em
    rooms = _rooms(of, height_mm - ticks_mm - sum(caption.height_mm for caption in captions) - 4 * _pad(style))
    drawn = (_pulses(of.rumble, span_ns, width_mm, rooms[0]), _tones(of, span_ns, width_mm, rooms[1], style, pen))
    y_mm, parts = 0.0, []
    for caption, lane, lane_mm in zip(captions, drawn, rooms, strict=True):
        parts.append(caption.parts.moved(0.0, y_mm))
        y_mm += caption.height_mm + _pad(style)
        if lane_mm:
            parts += [lane.moved(0.0, y_mm), _grid(span_ns, width_mm, lane_mm).moved(0.0, y_mm)]
        y_mm += lane_mm + _pad(style)
        if lane_mm and (lane is drawn[-1] or not rooms[-1]):
            parts.append(_seconds(span_ns, width_mm, style, pen).moved(0.0, y_mm - _pad(style)))
            y_mm += ticks_mm
    return ShapeRow(joined(parts), height_mm)


def _rooms(of: Senses, room_mm: float) -> tuple[float, float]:
    """Return how tall each lane is: none where nothing is felt or heard, and then the other has its room."""
    if of.rumble is None or of.sound is None:
        return (0.0 if of.rumble is None else room_mm), (0.0 if of.sound is None else room_mm)
    return _FELT_SHARE * room_mm, (1 - _FELT_SHARE) * room_mm


def _pad(style: PosterStyle) -> float:
    return 0.25 * style.gap_mm


# -- felt -------------------------------------------------------------------------------------------------------------


def _pulses(pattern: RumblePattern | None, span_ns: int, width_mm: float, height_mm: float) -> Parts:
    """Return a bar for each step of the motors, as tall as the stronger one turns."""
    if pattern is None:
        return Parts()
    boxes, at_ns = [], 0
    for step in pattern.steps * pattern.times:
        strength = max(step.strong, step.weak)
        if strength:
            tall_mm = strength * height_mm
            boxes.append(
                OutlinedBox(x_mm=at_ns / span_ns * width_mm, y_mm=height_mm - tall_mm, height_mm=tall_mm,
                            width_mm=step.lasts_ns / span_ns * width_mm, kind="step", fill=BLACK)
            )  # fmt: skip
        at_ns += step.lasts_ns
    return Parts(boxes=tuple(boxes))


def _felt_in_words(pattern: RumblePattern | None) -> str:
    if pattern is None:
        return tr("a pattern that is not known here")
    steps = pattern.steps * pattern.times
    groups = groupby(steps, lambda step: max(step.strong, step.weak) > 0)
    pulses = [sum(step.lasts_ns for step in together) for shaken, together in groups if shaken]
    if not pulses:
        return tr("nothing in the hands")
    if len(pulses) == 1:
        return tr("one pulse of {length}", length=_length(pulses[0]))
    if len(set(pulses)) == 1:
        return tr("{count} pulses of {length}", count=len(pulses), length=_length(pulses[0]))
    if len(pulses) > _MOST_PULSES:
        return tr("{count} pulses", count=len(pulses))
    return tr("{count} pulses: {length}", count=len(pulses), length=", ".join(_length(pulse) for pulse in pulses))


def _length(ns: int) -> str:
    return f"{ns / NS_PER_S:.2f}".rstrip("0").rstrip(".") + " s"


# -- heard ------------------------------------------------------------------------------------------------------------


def _tones(of: Senses, span_ns: int, width_mm: float, height_mm: float, style: PosterStyle, pen: Pen) -> Parts:
    """Return a bar for each tone, higher for higher pitch, by octaves; and a box where the word is spoken."""
    if of.sound is None:
        return Parts()
    tones = list(_sounding(of.sound))
    low_hz = min([_LOW_HZ, *(min(tone.hz, tone.to_hz or tone.hz) for _, tone in tones)])
    high_hz = max([_HIGH_HZ, *(max(tone.hz, tone.to_hz) for _, tone in tones)])
    thick_mm = 0.14 * height_mm

    def y_mm(hz: float) -> float:
        share = math.log(hz / low_hz) / math.log(high_hz / low_hz)
        return height_mm - thick_mm / 2 - share * (height_mm - thick_mm)

    areas = []
    for at_ns, tone in tones:
        left_mm, right_mm = (ns / span_ns * width_mm for ns in (at_ns, at_ns + tone.lasts_ns))
        begin_mm, end_mm = y_mm(tone.hz), y_mm(tone.to_hz or tone.hz)
        corners = (
            (left_mm, begin_mm - thick_mm / 2), (right_mm, end_mm - thick_mm / 2), (right_mm, end_mm + thick_mm / 2),
            (left_mm, begin_mm + thick_mm / 2),
        )  # fmt: skip
        areas.append(Area(points=corners, colour=INK))
    spoken = _spoken(of, span_ns, width_mm, height_mm, style, pen) if of.spoken else Parts()
    return joined([Parts(areas=tuple(areas)), spoken])


def _sounding(pattern: SoundPattern) -> Iterator[tuple[int, SoundStep]]:
    """Yield the tones and when they begin."""
    at_ns = 0
    for step in pattern.steps * pattern.times:
        if step.hz and step.level:
            yield at_ns, step
        at_ns += step.lasts_ns


def _spoken(of: Senses, span_ns: int, width_mm: float, height_mm: float, style: PosterStyle, pen: Pen) -> Parts:
    """Return the box of the spoken word, and the word in it where there is room."""
    assert of.sound is not None
    x_mm = word_begins_ns(of.sound) / span_ns * width_mm
    long_mm = len(of.word) * _LETTER_NS / span_ns * width_mm
    box = OutlinedBox(x_mm=x_mm, y_mm=0.15 * height_mm, width_mm=long_mm, height_mm=0.7 * height_mm, kind="plate",
                      line_mm=0.3, fill=1.0)  # fmt: skip
    text = f"“{of.word}”"
    em_mm = min(style.about_em, 0.6 * height_mm, 0.9 * long_mm / pen.width(text, 1.0))
    labels: tuple[Label, ...] = ()
    if em_mm >= style.tick_em:
        left_mm = x_mm + (long_mm - pen.width(text, em_mm)) / 2
        labels = (pen.label(text, left_mm, middle(0.0, height_mm, em_mm), em_mm, "lane"),)
    return Parts(boxes=(box,), labels=labels)


def _heard_in_words(pattern: SoundPattern | None, said: str) -> str:
    if pattern is None:
        return tr("a pattern that is not known here")
    tones = [tone for _, tone in _sounding(pattern)]
    after = {"tells": tr(", then the laptop says it"), "coach": tr("; the coach says it")}.get(said, "")
    if not tones:
        return tr("no sound")
    one, first, last = len(tones) == 1, tones[0], tones[-1]
    glides = {(tone.to_hz > tone.hz) - (tone.to_hz < tone.hz) if tone.to_hz else 0 for tone in tones}
    if glides == {0}:
        end_hz = last.hz
        moves = "" if end_hz == first.hz else (tr(", going up") if end_hz > first.hz else tr(", going down"))
        text = (
            tr("one steady tone") if one
            else tr("{count} tones{moves}", count=len(tones), moves=moves or tr(" of one pitch"))
        )
    elif len(glides) == 1:
        way = tr("rising") if glides == {1} else tr("falling")
        text = tr("one {way} tone", way=way) if one else tr("{count} {way} tones", count=len(tones), way=way)
    else:
        text = tr("{count} tones", count=len(tones))
    return text + after


# -- time -------------------------------------------------------------------------------------------------------------


def _grid(span_ns: int, width_mm: float, height_mm: float) -> Parts:
    """Return the line of time below a lane, and a mark a second."""
    strokes = [Stroke(points=((0.0, height_mm), (width_mm, height_mm)), kind="row", line_mm=0.25, grey=DIM)]
    strokes += [
        Stroke(points=((x_mm, 0.0), (x_mm, height_mm)), kind="row", line_mm=0.15, grey=PALE)
        for _, x_mm in _marks(span_ns, width_mm)
    ]
    return Parts(strokes=tuple(strokes))


def _seconds(span_ns: int, width_mm: float, style: PosterStyle, pen: Pen) -> Parts:
    """Return the numbers of the marks; the first and last stand inside of the lane's edges."""
    labels = []
    for second, x_mm in _marks(span_ns, width_mm):
        text = f"{second} s"
        wide_mm = pen.width(text, style.tick_em)
        left_mm = min(max(0.0, x_mm - wide_mm / 2), width_mm - wide_mm)
        labels.append(pen.label(text, left_mm, 1.05 * style.tick_em, style.tick_em, "lane", grey=DIM))
    return Parts(labels=tuple(labels))


def _marks(span_ns: int, width_mm: float) -> list[tuple[int, float]]:
    seconds = span_ns // NS_PER_S
    step = -(-seconds // _LABELLED)
    return [(second, second / seconds * width_mm) for second in range(0, seconds + 1, step)]
