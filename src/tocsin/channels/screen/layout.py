"""Place words on the window. Pure: the widths of words are an argument, in line heights.

Every text gets a row of its own and is wrapped or shrunk until all rows fit: nothing overlaps, nothing is cut off. All
digits have one width, so the layout is made with all digits as 0 and stays valid while they count.
"""

import re
from collections.abc import Callable, Sequence
from typing import Literal, NamedTuple

from tocsin.channels.screen.field import Box
from tocsin.model.pattern import Rgb

Measure = Callable[[str], float]       # the width of a text in line heights
Place = Literal["top", "middle", "bottom"]
# pygame's own font, as shares of the size that is asked for (measured with 2.6.1): a line has room for accents above
# and for what hangs below; capitals are this high.
LINE_OF_SIZE, _ACCENT_OF_SIZE, _CAP_OF_SIZE = 0.82, 0.63, 0.5
BASELINE = _ACCENT_OF_SIZE / LINE_OF_SIZE          # in line heights
CAP = _CAP_OF_SIZE / LINE_OF_SIZE
_TIGHT_TOP, _TIGHT_BOTTOM = BASELINE - CAP - 0.03, BASELINE + 0.03
_LOW_OR_HIGH = re.compile(r"[^A-PR-Z0-9 :±×.·!?'+–-]")
_SMALLEST_PX = 4
_HANGING = "\N{NO-BREAK SPACE}·"           # what is left out at a line's end


class TextRow(NamedTuple):
    """A text to place: ``line`` is the wanted line height as a share of the unit, ``most`` the number of lines before
    it shrinks."""

    name: str
    text: str
    line: float
    colour: Rgb
    place: Place = "middle"
    most: int = 1
    outlined: bool = False


class ScreenText(NamedTuple):
    """A placed text: lines as (begin, end) in the text, ``line_px`` high, ``pitch`` apart, in ``box``.

    ``tight`` texts have neither accents nor descenders, and no room for them.
    """

    name: str
    text: str
    slices: tuple[tuple[int, int], ...]
    line_px: int
    pitch: int
    tight: bool
    colour: Rgb
    box: Box
    outlined: bool = False

    @property
    def lines(self) -> list[str]:
        """The lines of text, as strings."""
        return [self.text[begin:end] for begin, end in self.slices]

    def baseline(self) -> int:
        """Return the distance in pixels from the top of a line's room to its baseline."""
        return round(self.line_px * (BASELINE - _TIGHT_TOP if self.tight else BASELINE))


def template(text: str) -> str:
    """Return the text with each digit as 0."""
    return re.sub(r"\d", "0", text)


def place(rows: Sequence[TextRow], area: Box, unit: int, measure: Measure) -> list[ScreenText]:
    """Return the rows placed in the area: top rows at its top, bottom rows at its bottom, the others between.

    The rows' heights are shares of ``unit``, in pixels.
    """
    scale = 1.0
    while True:
        texts = [_fitted(row, area, max(_SMALLEST_PX, int(row.line * unit * scale)), measure) for row in rows]
        heights = [_height(text) for text in texts]
        gap = max(1, int(0.016 * unit * scale))
        if sum(heights) + gap * (len(rows) + 1) <= area.h or scale < 0.05:
            return _stacked(rows, texts, heights, area, gap)
        scale *= 0.94


def bounds(texts: Sequence[ScreenText], measure: Measure) -> Box:
    """Return the smallest box around the letters of all texts."""
    boxes = [ink(text, measure) for text in texts]
    left, top = min(box.x for box in boxes), min(box.y for box in boxes)
    return Box(left, top, max(box.right for box in boxes) - left, max(box.bottom for box in boxes) - top)


def ink(text: ScreenText, measure: Measure) -> Box:
    """Return the box of a text's letters, with their outline."""
    width = max((measure(line) for line in text.lines), default=0) * text.line_px
    pad = _pad(text)
    wide = min(text.box.w, int(width) + 3 + 2 * pad)
    return Box(text.box.x + (text.box.w - wide) // 2, text.box.y, wide, text.box.h)


def _pad(text: ScreenText) -> int:
    return text.line_px // 4 if text.outlined else 0


def _height(text: ScreenText) -> int:
    return text.pitch * len(text.slices) + (2 * (text.line_px // 10) if text.outlined else 0)


def _fitted(row: TextRow, area: Box, line_px: int, measure: Measure) -> ScreenText:
    shape = template(row.text)
    widest = area.w - (line_px // 2 if row.outlined else 0) - 4
    while True:
        slices = _wrapped(shape, widest / line_px, measure)
        fits = all(measure(shape[a:b]) * line_px <= widest for a, b in slices)
        if (len(slices) <= row.most and fits) or line_px <= _SMALLEST_PX:
            break
        line_px = max(_SMALLEST_PX, int(line_px * 0.96) if line_px > 30 else line_px - 1)
    tight = not _LOW_OR_HIGH.search(row.text)
    pitch = max(1, round(line_px * (_TIGHT_BOTTOM - _TIGHT_TOP))) if tight else line_px
    if tight and len(slices) > 1:
        pitch += round(line_px * 0.08)
    return ScreenText(row.name, row.text, tuple(slices), line_px, pitch, tight, row.colour, area, row.outlined)


def _wrapped(text: str, widest: float, measure: Measure) -> list[tuple[int, int]]:
    """Return the lines of a text, broken at blanks that may break, as (begin, end); a word too wide stays whole."""
    lines: list[tuple[int, int]] = []
    for word in re.finditer("[^ ]+", text):
        if lines and measure(text[lines[-1][0] : word.end()]) <= widest:
            lines[-1] = (lines[-1][0], word.end())
        else:
            lines.append((word.start(), word.end()))
    return [(begin, begin + len(text[begin:end].rstrip(_HANGING))) for begin, end in lines]


def _stacked(
    rows: Sequence[TextRow], texts: Sequence[ScreenText], heights: Sequence[int], area: Box, gap: int
) -> list[ScreenText]:
    middle = [n for n, row in enumerate(rows) if row.place == "middle"]
    spare = area.h - sum(heights) - gap * (len(rows) + 1)
    wider = min(2 * gap, max(0, spare) // (len(middle) + 2))
    before = max(0, spare - wider * (len(middle) - 1)) // 2
    y = area.y + gap
    placed: list[ScreenText] = []
    last: Place = "top"
    for row, text, height in zip(rows, texts, heights, strict=True):
        if row.place == "middle":
            y += before if last != "middle" else wider
        elif row.place == "bottom" and last != "bottom":
            y = max(y, area.bottom - sum(h + gap for r, h in zip(rows, heights, strict=True) if r.place == "bottom"))
        last = row.place
        placed.append(text._replace(box=Box(area.x, y, area.w, height)))
        y += height + gap
    return placed
