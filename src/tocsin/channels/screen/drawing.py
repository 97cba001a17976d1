"""Draw a look on a surface: all of it, or only the changes. pygame is a parameter, since it may be loaded late."""

from functools import lru_cache
from types import ModuleType
from typing import TYPE_CHECKING, NamedTuple

from tocsin.channels.screen.field import DARK, Box, Colours, frame_parts, sides_and_middle, stripes, without
from tocsin.channels.screen.layout import LINE_OF_SIZE, ScreenText
from tocsin.channels.screen.round_result import ScreenShape
from tocsin.model.pattern import Rgb
from tocsin.model.safety import BLACK

if TYPE_CHECKING:
    from pygame import Surface
    from pygame.font import Font

_MEASURING_SIZE = 200
_MOST_FONTS = 40


class Look(NamedTuple):
    """The content of the window: words, shapes below them, the field around the plate, and the frame."""

    window: Box
    texts: tuple[ScreenText, ...]
    plate: Box
    field: Colours = DARK
    frame: Colours = DARK
    outline: Box | None = None
    thick: int = 0
    shapes: tuple[ScreenShape, ...] = ()

    def frame_parts(self) -> list[Box]:
        """Return the boxes of the frame, none if it is dark."""
        if self.outline is None or self.frame == DARK:
            return []
        return frame_parts(self.outline, self.thick, self.plate)


class Painter:
    """Draws looks; keeps fonts and stripes."""

    def __init__(self, pygame: ModuleType) -> None:
        self._pygame = pygame
        self._fonts = lru_cache(_MOST_FONTS)(self._load_font)
        self._stripes: Surface | None = None
        self._measuring: Font = pygame.font.Font(None, _MEASURING_SIZE)

    def measure(self, text: str) -> float:
        """Return the width of a text in line heights, with reserve: small letters are up to 5 % wider than large
        ones."""
        return float(self._measuring.size(text)[0] / (_MEASURING_SIZE * LINE_OF_SIZE) * 1.06)

    def paint(self, surface: "Surface", look: Look) -> None:
        """Draw all of a look."""
        self._fill(surface, look.window, look.field, look.window)
        for part in look.frame_parts():
            self._fill(surface, part, look.frame, look.outline or look.window)
        if look.field != DARK:
            surface.fill(BLACK, look.plate)
        for shape in look.shapes:
            self._draw(surface, shape)
        for text in look.texts:
            self._write(surface, text)

    def repaint(self, surface: "Surface", old: Look, new: Look) -> list[Box]:
        """Draw the difference between two looks; return the boxes to update on the display."""
        if _shape(old) != _shape(new):
            self.paint(surface, new)
            return [new.window]
        changed: list[Box] = []
        if old.field != new.field:
            changed += without(new.window, new.plate)
            for part in changed:
                self._fill(surface, part, new.field, new.window)
        if changed or (old.frame, old.outline) != (new.frame, new.outline):
            if not changed:
                changed += self._clear_frame(surface, old)
            for part in new.frame_parts():
                self._fill(surface, part, new.frame, new.outline or new.window)
                changed.append(part)
        for before, text in zip(old.texts, new.texts, strict=True):
            if before != text:
                letters = text.box.within(new.plate)       # a row is as wide as the window, the plate is not
                surface.fill(BLACK, letters)
                self._write(surface, text)
                changed.append(letters)
        return changed

    def _clear_frame(self, surface: "Surface", look: Look) -> list[Box]:
        parts = look.frame_parts()
        for part in parts:
            self._fill(surface, part, look.field, look.window)
        return parts

    def _fill(self, surface: "Surface", box: Box, colours: Colours, whole: Box) -> None:
        """Draw a part of a field, or of a frame: ``whole`` is what has sides and a middle."""
        sides, middle = colours[:2], colours[2:]
        if sides == middle:
            self._stripe(surface, box, *sides)
            return
        for part, pair in zip(sides_and_middle(whole), (sides, middle, sides), strict=True):
            self._stripe(surface, part.within(box), *pair)

    def _stripe(self, surface: "Surface", box: Box, one: Rgb, other: Rgb) -> None:
        if one == other:
            surface.fill(one, box)
            return
        striped = self._striped(surface.get_size())
        striped.set_palette([one, other])
        surface.blit(striped, (box.x, box.y), box)

    def _striped(self, size: tuple[int, int]) -> "Surface":
        """Return the whole window in stripes of two palette colours, at 45 degrees and of equal width."""
        if self._stripes is None or self._stripes.get_size() != size:
            drawn = self._pygame.Surface(size, depth=8)
            drawn.set_palette([BLACK, (255, 255, 255)])
            drawn.fill(0)
            for corners in stripes(*size):
                self._pygame.draw.polygon(drawn, 1, corners)
            self._stripes = drawn
        return self._stripes

    def _draw(self, surface: "Surface", shape: ScreenShape) -> None:
        draw = self._pygame.draw
        if shape.kind == "disc":
            draw.circle(surface, shape.colour, shape.points[0], shape.radius, shape.width)
        elif shape.kind == "line":
            draw.line(surface, shape.colour, *shape.points, shape.width)
        else:
            draw.polygon(surface, shape.colour, shape.points, shape.width)

    def _write(self, surface: "Surface", text: ScreenText) -> None:
        font = self._fonts(text.line_px)
        widest = 0
        for number, line in enumerate(text.lines):
            letters = font.render(line, True, text.colour, BLACK)
            widest = max(widest, letters.get_width())
            x = text.box.x + (text.box.w - letters.get_width()) // 2
            y = text.box.y + (text.box.h - text.pitch * len(text.slices)) // 2 + number * text.pitch
            above = _baseline(font, line) - text.baseline()
            below = max(0, -above)
            part = (0, max(0, above), letters.get_width(), text.pitch - below)
            surface.blit(letters, (x, y + below), part)
        if text.outlined:
            wide = min(text.box.w, widest + text.line_px // 2)
            edge = (text.box.x + (text.box.w - wide) // 2, text.box.y, wide, text.box.h)
            self._pygame.draw.rect(surface, text.colour, edge, max(1, text.line_px // 20))

    def _load_font(self, line_px: int) -> "Font":
        font: Font = self._pygame.font.Font(None, max(4, round(line_px / LINE_OF_SIZE)))
        return font


def _baseline(font: "Font", line: str) -> int:
    """Return how far below its top the letters of a rendered line stand: accents that reach higher push it down."""
    return max([font.get_ascent(), *(glyph[3] for glyph in font.metrics(line) if glyph is not None)])


def _shape(look: Look) -> tuple[object, ...]:
    """Return what must be equal in two looks for the difference to be drawn piece by piece."""
    places = [(text.box, text.slices, text.line_px) for text in look.texts]
    return (look.window, look.plate, look.thick, look.shapes, places)
