"""What is placed on cards and pictures: labels, boxes, strokes. Pure; lengths in mm from the top left corner."""

from collections.abc import Iterable, Sequence
from typing import Literal, NamedTuple

import msgspec

from tocsin.export.drawing.fitting import CAP, ELLIPSIS, NOBREAK, Fitted, Letters, known
from tocsin.model.pattern import Rgb

LabelKind = Literal[
    "title", "rule", "column", "heading", "gutter", "reading", "minor_reading", "word", "minor_word", "detail",
    "second", "period", "window", "callout", "lane", "note", "key", "list", "form", "print", "screen",
]  # fmt: skip
BoxKind = Literal["shade", "period", "window", "firing", "step", "plate", "note", "key", "form", "line", "bar"]
StrokeKind = Literal["leader", "edge", "tail", "open", "zoom", "row", "key", "tone"]
BLACK, DIM, FELT, PALE, HELD, SHADE = 0.0, 0.27, 0.4, 0.6, 0.86, 0.95      # greys, white is 1; DIM: contrast 9.6
HAIRLINE_MM = 0.12
_CLEAR_MM = 0.35                       # around a label, where a stroke is interrupted


class Label(msgspec.Struct, frozen=True, kw_only=True):
    """A line of text: the left end of its baseline; the room that its letters take, above and below the baseline.
    ``colour`` is in place of its grey."""

    x_mm: float
    y_mm: float
    string: str
    em_mm: float
    kind: LabelKind
    width_mm: float
    above_mm: float
    below_mm: float
    bold: bool = False
    grey: float = BLACK
    colour: Rgb | None = None


class OutlinedBox(msgspec.Struct, frozen=True, kw_only=True):
    """A rectangle whose line lies inside of it. ``nos`` are the firings that a box of that kind stands for."""

    x_mm: float
    y_mm: float
    width_mm: float
    height_mm: float
    kind: BoxKind
    fill: float | None = None
    line_mm: float = 0.0
    grey: float = BLACK
    hatch: str = ""
    nos: tuple[int, ...] = ()


class Stroke(msgspec.Struct, frozen=True, kw_only=True):
    """A line through points; ``dots`` are lengths of line and gap in mm, empty for a whole line."""

    points: tuple[tuple[float, float], ...]
    kind: StrokeKind
    line_mm: float = HAIRLINE_MM
    grey: float = BLACK
    dots: tuple[float, ...] = ()


class Area(msgspec.Struct, frozen=True, kw_only=True):
    """A polygon of one colour, between strokes and labels, above those before it; ``line_mm`` is its black outline."""

    points: tuple[tuple[float, float], ...]
    colour: Rgb
    line_mm: float = 0.0


class Parts(msgspec.Struct, frozen=True, kw_only=True):
    """The parts of a page, or of an area of it."""

    labels: tuple[Label, ...] = ()
    boxes: tuple[OutlinedBox, ...] = ()
    strokes: tuple[Stroke, ...] = ()
    areas: tuple[Area, ...] = ()

    def moved(self, x_mm: float, y_mm: float) -> "Parts":
        """Return the parts that far to the right and down."""
        replace = msgspec.structs.replace
        return Parts(
            labels=tuple(replace(item, x_mm=item.x_mm + x_mm, y_mm=item.y_mm + y_mm) for item in self.labels),
            boxes=tuple(replace(item, x_mm=item.x_mm + x_mm, y_mm=item.y_mm + y_mm) for item in self.boxes),
            strokes=tuple(
                replace(item, points=tuple((x + x_mm, y + y_mm) for x, y in item.points)) for item in self.strokes
            ),
            areas=tuple(
                replace(item, points=tuple((x + x_mm, y + y_mm) for x, y in item.points)) for item in self.areas
            ),
        )


def joined(parts: Iterable[Parts]) -> Parts:
    """Return parts, which have their places, as one."""
    all_parts = tuple(parts)
    return Parts(
        labels=tuple(item for part in all_parts for item in part.labels),
        boxes=tuple(item for part in all_parts for item in part.boxes),
        strokes=tuple(item for part in all_parts for item in part.strokes),
        areas=tuple(item for part in all_parts for item in part.areas),
    )


class Page(msgspec.Struct, frozen=True, kw_only=True):
    """A page with everything in its place. ``upwards``: outlines of boxes run up from the lower edge, not down from the
    upper one. That looks the same; files of a kind keep their bytes by it."""

    width_mm: float
    height_mm: float
    parts: Parts
    upwards: bool = False


class ShapeRow(NamedTuple):
    """Parts of a row whose top is at 0, and how tall it is; a ``close_mm`` is how far it stands below the row above
    where both are of one list."""

    parts: Parts
    height_mm: float
    close_mm: float | None = None


def stacked(rows: Iterable[ShapeRow], gap_mm: float = 0.0) -> ShapeRow:
    """Return rows one below the other, so far apart."""
    parts, y_mm = [], 0.0
    for place, row in enumerate(rows):
        y_mm += (gap_mm if row.close_mm is None else row.close_mm) if place else 0.0
        parts.append(row.parts.moved(0.0, y_mm))
        y_mm += row.height_mm
    return ShapeRow(joined(parts), y_mm)


class Pen:
    """Writes labels in a font that can say how large its letters are."""

    def __init__(self, letters: Letters) -> None:
        self.letters = letters

    def width(self, text: str, em_mm: float, bold: bool = False) -> float:
        """Return how wide a text is, in mm."""
        return self.letters.extent(known(text, self.letters), bold).width * em_mm

    def cut(self, text: str, width_mm: float, em_mm: float, bold: bool = False) -> str:
        """Return a text, cut with an ellipsis where it is wider than that; nothing where not a letter has room."""
        text = known(text, self.letters)
        if self.width(text, em_mm, bold) <= width_mm:
            return text
        fits = 0
        for count in range(1, len(text)):
            if self.width(text[:count].rstrip() + ELLIPSIS, em_mm, bold) > width_mm:
                break
            fits = count
        return text[:fits].rstrip() + ELLIPSIS if fits else ""

    def label(
        self, text: str, x_mm: float, y_mm: float, em_mm: float, kind: LabelKind, *, bold: bool = False,
        grey: float = BLACK, colour: Rgb | None = None,
    ) -> Label:  # fmt: skip
        """Return a text whose baseline begins there. What must not part has a common blank now that it stands."""
        string = known(text, self.letters).replace(NOBREAK, " ")
        extent = self.letters.extent(string, bold)
        return Label(
            x_mm=x_mm, y_mm=y_mm, string=string, em_mm=em_mm, kind=kind, bold=bold, grey=grey, colour=colour,
            width_mm=extent.width * em_mm, above_mm=extent.above * em_mm, below_mm=extent.below * em_mm,
        )  # fmt: skip


    def written(
        self, fit: Fitted, kind: LabelKind, x_mm: float = 0.0, y_mm: float = 0.0, grey: float = BLACK
    ) -> ShapeRow:
        """Return a fitted text whose top left corner is there, as tall as it is."""
        labels = (
            self.label(line.string, x_mm, y_mm + line.baseline_mm, fit.em_mm, kind, bold=fit.bold, grey=grey)
            for line in fit.lines
        )
        return ShapeRow(Parts(labels=tuple(labels)), fit.height_mm)


def middle(y_mm: float, height_mm: float, em_mm: float) -> float:
    """Return the baseline of letters whose capitals stand in the middle of a row."""
    return y_mm + (height_mm + CAP * em_mm) / 2


def cut_around(strokes: Sequence[Stroke], labels: Sequence[Label]) -> tuple[Stroke, ...]:
    """Return upright and level strokes with gaps where labels stand; others as they are."""
    return tuple(piece for stroke in strokes for piece in _pieces(stroke, labels))


def _pieces(stroke: Stroke, labels: Sequence[Label]) -> list[Stroke]:
    if len(stroke.points) != 2:
        return [stroke]
    (x0, y0), (x1, y1) = stroke.points
    if x0 == x1:
        holes = [
            (label.y_mm - label.above_mm - _CLEAR_MM, label.y_mm + label.below_mm + _CLEAR_MM) for label in labels
            if label.x_mm - _CLEAR_MM < x0 < label.x_mm + label.width_mm + _CLEAR_MM
        ]  # fmt: skip
        return [msgspec.structs.replace(stroke, points=((x0, a), (x0, b))) for a, b in _left(y0, y1, holes)]
    if y0 == y1:
        holes = [
            (label.x_mm - _CLEAR_MM, label.x_mm + label.width_mm + _CLEAR_MM) for label in labels
            if label.y_mm - label.above_mm - _CLEAR_MM < y0 < label.y_mm + label.below_mm + _CLEAR_MM
        ]  # fmt: skip
        return [msgspec.structs.replace(stroke, points=((a, y0), (b, y0))) for a, b in _left(x0, x1, holes)]
    return [stroke]


def _left(a: float, b: float, holes: Sequence[tuple[float, float]]) -> list[tuple[float, float]]:
    """Return what is left of ``[a, b]`` without the holes."""
    at, end = min(a, b), max(a, b)
    parts = []
    for begin, stop in sorted(holes):
        if begin > at:
            parts.append((at, min(begin, end)))
        at = max(at, stop)
        if at >= end:
            break
    if at < end:
        parts.append((at, end))
    return [(begin, stop) for begin, stop in parts if stop > begin]
