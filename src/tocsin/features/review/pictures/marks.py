"""The marks of pictures as shapes: a round as on the screen, arrows, flags, whiskers. Pure; lengths in mm."""

import math
from collections.abc import Iterator

from tocsin.export.drawing.plot import DASHES_MM
from tocsin.export.drawing.shapes import BLACK, Area, Parts, Stroke, joined
from tocsin.model.display.round_picture import Shape
from tocsin.model.pattern import Rgb

INK: Rgb = (0, 0, 0)
PAPER: Rgb = (255, 255, 255)
GREY: Rgb = (150, 150, 150)
_CORNERS = 32                          # of what looks round


def round_mark(shape: Shape, x_mm: float, y_mm: float, radius_mm: float) -> Parts:
    """Return a round's mark: filled, cross, open or question."""
    if shape == "cross":
        return cross(x_mm, y_mm, 0.85 * radius_mm, 0.42 * radius_mm)
    if shape == "question":
        return _question(x_mm, y_mm, radius_mm)
    return disc(x_mm, y_mm, radius_mm, filled=shape == "filled")


def disc(x_mm: float, y_mm: float, radius_mm: float, *, filled: bool, colour: Rgb = INK) -> Parts:
    """Return a dot, or a ring that hides what lies below it."""
    line_mm = 0.0 if filled else 0.36 * radius_mm
    points = tuple(_around(x_mm, y_mm, radius_mm - line_mm / 2))
    return Parts(areas=(Area(points=points, colour=colour if filled else PAPER, line_mm=line_mm),))


def ring(x_mm: float, y_mm: float, radius_mm: float, line_mm: float) -> Parts:
    """Return a circle that hides nothing of what it goes around."""
    points = tuple(_around(x_mm, y_mm, radius_mm))
    return Parts(strokes=(Stroke(points=(*points, points[0]), kind="tone", line_mm=line_mm),))


def diamond(x_mm: float, y_mm: float, radius_mm: float, *, filled: bool) -> Parts:
    """Return a square on its corner."""
    line_mm = 0.0 if filled else 0.36 * radius_mm
    reach_mm = 1.25 * radius_mm
    points = ((x_mm, y_mm - reach_mm), (x_mm + reach_mm, y_mm), (x_mm, y_mm + reach_mm), (x_mm - reach_mm, y_mm))
    return Parts(areas=(Area(points=points, colour=INK if filled else PAPER, line_mm=line_mm),))


def cross(x_mm: float, y_mm: float, reach_mm: float, line_mm: float) -> Parts:
    """Return two strokes that cross."""
    ends = ((-reach_mm, -reach_mm, reach_mm, reach_mm), (-reach_mm, reach_mm, reach_mm, -reach_mm))
    return Parts(strokes=tuple(
        Stroke(points=((x_mm + a, y_mm + b), (x_mm + c, y_mm + d)), kind="tone", line_mm=line_mm) for a, b, c, d in ends
    ))  # fmt: skip


def arrow(x_mm: float, from_mm: float, to_mm: float, head_mm: float, line_mm: float) -> Parts:
    """Return an upright arrow that ends at ``to_mm``."""
    back_mm = head_mm if to_mm > from_mm else -head_mm
    head = ((x_mm, to_mm), (x_mm - head_mm / 2, to_mm - back_mm), (x_mm + head_mm / 2, to_mm - back_mm))
    return Parts(
        strokes=(Stroke(points=((x_mm, from_mm), (x_mm, to_mm - back_mm / 2)), kind="tone", line_mm=line_mm),),
        areas=(Area(points=head, colour=INK),),
    )


def hollow_arrow(x_mm: float, from_mm: float, to_mm: float, head_mm: float, line_mm: float) -> Parts:
    """Return an upright arrow with a cap where it begins and an empty head where it ends."""
    (head,) = arrow(x_mm, from_mm, to_mm, head_mm, line_mm).areas
    back_mm = head_mm if to_mm > from_mm else -head_mm
    cap = ((x_mm - head_mm / 2, from_mm), (x_mm + head_mm / 2, from_mm))
    stem = ((x_mm, from_mm), (x_mm, to_mm - back_mm))
    return Parts(
        strokes=tuple(Stroke(points=points, kind="tone", line_mm=line_mm) for points in (stem, cap)),
        areas=(Area(points=head.points, colour=PAPER, line_mm=line_mm),),
    )


def flag(x_mm: float, top_mm: float, low_mm: float, size_mm: float, line_mm: float) -> Parts:
    """Return a flag on a pole from ``low_mm`` up to ``top_mm``."""
    cloth = ((x_mm, top_mm), (x_mm + size_mm, top_mm + size_mm / 2), (x_mm, top_mm + size_mm))
    pole = Stroke(points=((x_mm, low_mm), (x_mm, top_mm)), kind="tone", line_mm=line_mm, dots=DASHES_MM)
    return Parts(strokes=(pole,), areas=(Area(points=cloth, colour=INK),))


def whisker(points: tuple[tuple[float, float], tuple[float, float]], line_mm: float, cap_mm: float) -> Parts:
    """Return a level or upright line with a cap at each end."""
    (_, y0), (_, y1) = points
    along = (0.0, cap_mm / 2) if y0 == y1 else (cap_mm / 2, 0.0)
    caps = tuple(((x - along[0], y - along[1]), (x + along[0], y + along[1])) for x, y in points)
    return Parts(strokes=tuple(Stroke(points=line, kind="tone", line_mm=line_mm) for line in (points, *caps)))


def line(points: tuple[tuple[float, float], ...], line_mm: float, grey: float = BLACK) -> Parts:
    """Return a whole line."""
    return Parts(strokes=(Stroke(points=points, kind="tail", line_mm=line_mm, grey=grey),))


def dashed(points: tuple[tuple[float, float], ...], line_mm: float, grey: float = BLACK) -> Parts:
    """Return a line of dashes."""
    return Parts(strokes=(Stroke(points=points, kind="tail", line_mm=line_mm, grey=grey, dots=DASHES_MM),))


def _around(x_mm: float, y_mm: float, radius_mm: float) -> Iterator[tuple[float, float]]:
    for corner in range(_CORNERS):
        turn = 2 * math.pi * corner / _CORNERS
        yield x_mm + radius_mm * math.cos(turn), y_mm + radius_mm * math.sin(turn)


def _question(x_mm: float, y_mm: float, radius_mm: float) -> Parts:
    """Return a question mark as a shape: as small as any mark may be, which no letter may."""
    bow_mm, line_mm = 0.55 * radius_mm, 0.36 * radius_mm
    top_mm = y_mm - 0.45 * radius_mm
    bow = [
        (x_mm - bow_mm * math.cos(turn), top_mm - bow_mm * math.sin(turn))
        for turn in (math.pi * (step - 1) / 8 for step in range(13))
    ]
    stem = Stroke(points=(*bow, (x_mm, y_mm + 0.45 * radius_mm)), kind="tone", line_mm=line_mm)
    dot = disc(x_mm, y_mm + 0.95 * radius_mm, 0.24 * radius_mm, filled=True)
    return joined([Parts(strokes=(stem,)), dot])
