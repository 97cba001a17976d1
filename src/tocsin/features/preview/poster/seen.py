"""A cue as it is seen: the picture that the screen's own composer makes of it, and the strip below. Pure.

Colours are the pattern's. Printed in grey they keep their luminance: parts that would look alike get a thin line
between them, and letters that would be hard to read on black are white, as on the screen.
"""

from collections.abc import Iterable
from functools import cache

from tocsin.channels.light.forms import colours_at
from tocsin.channels.screen.composer import Composer
from tocsin.channels.screen.drawing import Look
from tocsin.channels.screen.field import DARK, REGIONS, Box, Colours, sides_and_middle, stripes
from tocsin.channels.screen.layout import CAP as SCREEN_CAP
from tocsin.channels.screen.layout import Measure
from tocsin.export.drawing.fitting import CAP, Letters, known
from tocsin.export.drawing.shapes import DIM, Area, Label, Parts, Pen, ShapeRow, joined, middle
from tocsin.export.source import Source
from tocsin.features.preview.poster.cues import PosterCue
from tocsin.model.clock.schedule import Shot
from tocsin.model.pattern import LightPattern, Rgb
from tocsin.model.plan import ChannelName
from tocsin.model.safety import BLACK, FlashGuard, contrast
from tocsin.model.timeline.timeline import Firing
from tocsin.translation import tr

SIZE = (1280, 720)                     # of the window that is drawn, in pixels
STRIP_SHARE = 0.09                     # the strip's height, of the screen's
_LEDS = 32
_BETWEEN_SHARE = 0.05                  # between screen and strip
_BEZEL_SHARE = 0.02                    # around the screen, of its height: a white field ends somewhere on white paper
_LEAST_CONTRAST = 3.0                  # of parts that are told apart: WCAG 2.2, 1.4.11 (W3C, 2023)
_LINE_MM = 0.3
_UNCHANGED = tr("the screen does not change")
_WHITE = (255, 255, 255)
_Points = tuple[tuple[float, float], ...]


def seen(source: Source, item: PosterCue, height_mm: float, pen: Pen) -> ShapeRow:
    """Return the screen and the strip as they are when the cue begins; of what shows nothing the outline."""
    screen_mm = height_mm / (1 + 2 * _BEZEL_SHARE + _BETWEEN_SHARE + STRIP_SHARE)
    bezel_mm = _BEZEL_SHARE * screen_mm
    width_mm = width_of(height_mm)
    strip_mm = STRIP_SHARE * screen_mm
    look = _look(source, item, pen)
    size_mm = (width_mm, screen_mm + 2 * bezel_mm)
    if look is None:
        screen = _unchanged(*size_mm, pen)
    else:
        scale = screen_mm / SIZE[1]
        inside = Parts(areas=_areas(look, scale), labels=_labels(look, scale, pen)).moved(bezel_mm, bezel_mm)
        screen = joined([Parts(areas=(Area(points=_rectangle(0.0, 0.0, *size_mm), colour=BLACK),)), inside])
    strip = Parts(areas=tuple(_strip(source, item, width_mm, strip_mm))).moved(0.0, height_mm - strip_mm)
    return ShapeRow(joined([screen, strip]), height_mm)


def width_of(height_mm: float) -> float:
    """Return how wide screen and strip are where they are together so tall."""
    screen_mm = height_mm / (1 + 2 * _BEZEL_SHARE + _BETWEEN_SHARE + STRIP_SHARE)
    return screen_mm * (SIZE[0] / SIZE[1] + 2 * _BEZEL_SHARE)


def firing_on(item: PosterCue, channel: ChannelName) -> Firing | None:
    """Return the cue's firing on a channel, None where it does nothing there."""
    return next((firing for firing in item.firings if firing.channel == channel), None)


def _unchanged(width_mm: float, height_mm: float, pen: Pen) -> Parts:
    """Return the outline of a screen that shows nothing for the cue."""
    em_mm = min(0.12 * height_mm, 0.9 * width_mm / pen.width(_UNCHANGED, 1.0))
    left_mm = (width_mm - pen.width(_UNCHANGED, em_mm)) / 2
    label = pen.label(_UNCHANGED, left_mm, middle(0.0, height_mm, em_mm), em_mm, "lane", grey=DIM)
    return Parts(areas=(_outline(width_mm, height_mm),), labels=(label,))


def _outline(width_mm: float, height_mm: float) -> Area:
    inset_mm = _LINE_MM / 2
    points = _rectangle(inset_mm, inset_mm, width_mm - _LINE_MM, height_mm - _LINE_MM)
    return Area(points=points, colour=_WHITE, line_mm=_LINE_MM)


# -- the screen -------------------------------------------------------------------------------------------------------


def _look(source: Source, item: PosterCue, pen: Pen) -> Look | None:
    """Return what the screen shows of the cue alone, as it begins."""
    firing = firing_on(item, "screen")
    pattern = source.plan.patterns.screen.get(firing.pattern) if firing is not None else None
    if firing is None or pattern is None:
        return None
    composer = Composer(_measure(pen.letters))
    composer.load(source.timeline, source.plan.patterns.screen, {item.cue.id: item.count})
    shot = Shot(firing=firing, instance=0, begin_ns=0, end_ns=pattern.lasts_ns)
    return composer.look(None, shot, FlashGuard(REGIONS), SIZE, 0, 0, focused=True)


@cache
def _measure(letters: Letters) -> Measure:
    """Return how wide the page's letters are, in line heights of the screen, so that capitals are as tall as there."""
    return lambda text: letters.extent(known(text, letters), True).width * SCREEN_CAP / CAP


def _areas(look: Look, scale: float) -> tuple[Area, ...]:
    """Return field, frame and plate, each above the one before, so that no seam shows between parts of one colour."""
    found = [*_filled(look.window, look.field, look.window, look, scale)]
    if look.outline is not None and look.frame != look.field:
        found += _filled(look.outline, look.frame, look.outline, look, scale)
        found += _filled(look.outline.grown(-look.thick), look.field, look.window, look, scale)
    return (*found, *_filled(look.plate, DARK, look.window, look, scale))


def _filled(box: Box, colours: Colours, whole: Box, look: Look, scale: float) -> Iterable[Area]:
    """Yield a part of a field, or of a frame, in its colours: ``whole`` is what has sides and a middle."""
    sides, middle = colours[:2], colours[2:]
    if sides == middle:
        yield from _striped(box, *sides, look, scale)
        return
    line_mm = _line_mm(sides[0], middle[0])
    for part, pair in zip(sides_and_middle(whole), (sides, middle, sides), strict=True):
        yield from _striped(part.within(box), *pair, look, scale, line_mm)


def _striped(box: Box, one: Rgb, other: Rgb, look: Look, scale: float, line_mm: float = 0.0) -> Iterable[Area]:
    """Yield a box in a colour, or in stripes of two."""
    yield _area(_rectangle(*box), one, scale, line_mm)
    if one != other:
        for corners in stripes(look.window.w, look.window.h):
            if len(part := _within(corners, box)) > 2:
                yield _area(part, other, scale, _line_mm(one, other))


def _line_mm(one: Rgb, other: Rgb) -> float:
    """Return how thick a line between two colours is: none where they are told apart without."""
    return _LINE_MM if contrast(one, other) < _LEAST_CONTRAST else 0.0


def _within(corners: _Points, box: Box) -> _Points:
    """Return what of a convex polygon lies in a box."""
    for axis, limit, sign in ((0, box.x, 1), (0, box.right, -1), (1, box.y, 1), (1, box.bottom, -1)):
        kept: list[tuple[float, float]] = []
        for number, point in enumerate(corners):
            before = corners[number - 1]
            here, there = sign * (point[axis] - limit), sign * (before[axis] - limit)
            if here * there < 0:
                share = there / (there - here)
                kept.append((before[0] + share * (point[0] - before[0]), before[1] + share * (point[1] - before[1])))
            if here >= 0:
                kept.append(point)
        corners = tuple(kept)
    return corners


def _labels(look: Look, scale: float, pen: Pen) -> tuple[Label, ...]:
    """Return the screen's texts where its painter writes them."""
    labels = []
    for text in look.texts:
        em_mm = text.line_px * SCREEN_CAP / CAP * scale
        top = text.box.y + (text.box.h - text.pitch * len(text.slices)) / 2
        for number, line in enumerate(text.lines):
            left = text.box.x + text.box.w / 2 - pen.width(line, em_mm, True) / scale / 2
            y = top + number * text.pitch + text.baseline()
            labels.append(pen.label(line, left * scale, y * scale, em_mm, "screen", bold=True, colour=text.colour))
    return tuple(labels)


# -- the strip --------------------------------------------------------------------------------------------------------


def _strip(source: Source, item: PosterCue, width_mm: float, height_mm: float) -> Iterable[Area]:
    """Yield the strip's lights when the cue begins, on a dark strip; its outline if it shows nothing for the cue."""
    firing = firing_on(item, "light")
    pattern: LightPattern | None = source.plan.patterns.light.get(firing.pattern) if firing is not None else None
    if pattern is None:
        yield _outline(width_mm, height_mm)
        return
    yield Area(points=_rectangle(0.0, 0.0, width_mm, height_mm), colour=BLACK)
    pitch_mm, edge_mm = width_mm / _LEDS, 0.18 * height_mm
    for number, colour in enumerate(colours_at(pattern, _LEDS, 0, 1.0)):
        if colour != BLACK:
            place = _rectangle(number * pitch_mm + 0.12 * pitch_mm, edge_mm, 0.76 * pitch_mm, height_mm - 2 * edge_mm)
            yield Area(points=place, colour=colour)


def _area(points: _Points, colour: Rgb, scale: float, line_mm: float = 0.0) -> Area:
    return Area(points=tuple((x * scale, y * scale) for x, y in points), colour=colour, line_mm=line_mm)


def _rectangle(x: float, y: float, width: float, height: float) -> _Points:
    return ((x, y), (x + width, y), (x + width, y + height), (x, y + height))
