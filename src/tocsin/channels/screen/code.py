"""Place the code that a phone scans on the window, with the words about it. Pure.

Black on white, with four modules of white around it, as ISO/IEC 18004 asks; never white on black, which readers refuse.
A module is a whole number of pixels, so that all are alike.
"""

from typing import NamedTuple

from tocsin.channels.screen.field import Box
from tocsin.channels.screen.layout import TextRow
from tocsin.channels.screen.round_result import ScreenShape
from tocsin.channels.screen.rows import ORANGE, WHITE, YELLOW, joined
from tocsin.model.display.boards import BoardsSign
from tocsin.model.safety import BLACK

MARGIN = 4                             # modules of white around the code
LEAST_PX = 3                           # a smaller module is hard to tell from its neighbours
_SIDE = 0.42                           # of the unit, the code's side with its margin
_WIDE = 1.2                            # a window that is wider than its height by this has the code at its right


class CodeRoom(NamedTuple):
    """The part of the window for the code, the part for the words about it, and the rest."""

    code: Box
    words: Box
    rest: Box


def module_px(code: tuple[str, ...], unit: int) -> int:
    """Return the side of a module in pixels, 0 if the window is too small for a code."""
    side = int(_SIDE * unit) // (len(code) + 2 * MARGIN) if code else 0
    return side if side >= LEAST_PX else 0


def code_room(code: tuple[str, ...], area: Box, unit: int) -> CodeRoom | None:
    """Return how an area is shared out, or None if it is too small for a code."""
    if (px := module_px(code, unit)) == 0:
        return None
    side, gap = px * (len(code) + 2 * MARGIN), unit // 30
    if area.w >= _WIDE * area.h:
        left = area.right - side
        return CodeRoom(
            Box(left, area.y, side, side),
            Box(left, area.y + side, side, area.h - side),
            area._replace(w=area.w - side - gap),
        )
    top = area.bottom - side
    return CodeRoom(
        Box(area.x, top, side, side),
        Box(area.x + side + gap, top, area.w - side - gap, side),
        area._replace(h=area.h - side - gap),
    )


def code_shapes(code: tuple[str, ...], box: Box) -> tuple[ScreenShape, ...]:
    """Return the white field with the dark modules on it."""
    px = box.w // (len(code) + 2 * MARGIN)
    shapes = [_filled(box, (255, 255, 255))]
    for n, row in enumerate(code):
        y, begin = box.y + (MARGIN + n) * px, 0
        while (begin := row.find("1", begin)) >= 0:
            end = row.find("0", begin) if "0" in row[begin:] else len(row)
            shapes.append(_filled(Box(box.x + (MARGIN + begin) * px, y, (end - begin) * px, px), BLACK))
            begin = end
    return tuple(shapes)


def code_rows(sign: BoardsSign) -> list[TextRow]:
    """Return the rows of words about a code, to be read by who holds the phone."""
    rows = [
        TextRow("code", sign.what, 0.045, ORANGE if sign.urgent else YELLOW, "top", 5),
        TextRow("code address", sign.address, 0.04, WHITE, "top", 2),
        TextRow("code who", joined(sign.who), 0.036, WHITE, "top", 4),
        TextRow("code hint", sign.hint, 0.032, WHITE, "top", 4),
        *(TextRow(f"code why {n}", line, 0.032, WHITE if n else YELLOW, "top", 5) for n, line in enumerate(sign.why)),
    ]
    return [row for row in rows if row.text]


def _filled(box: Box, colour: tuple[int, int, int]) -> ScreenShape:
    right, bottom = box.right - 1, box.bottom - 1
    corners = ((box.x, box.y), (right, box.y), (right, bottom), (box.x, bottom))
    return ScreenShape("polygon", corners, colour)
