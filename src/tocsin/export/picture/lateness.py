"""How late a laptop is, as a picture: a row of bars for each channel and way, with the verdict beneath.

One page, A4 lying, in grey. Every bar has its count above it, so nothing has to be read off a scale. Equal inputs give
equal bytes.
"""

from bisect import bisect_right
from collections.abc import Iterable, Iterator, Sequence
from typing import NamedTuple

from tocsin.export.drawing.fitting import Type, fitted
from tocsin.export.drawing.letters import DEJAVU
from tocsin.export.drawing.printing import Form, drawn
from tocsin.export.drawing.shapes import (
    BLACK,
    DIM,
    FELT,
    HELD,
    PALE,
    Label,
    LabelKind,
    OutlinedBox,
    Page,
    Parts,
    Pen,
    ShapeRow,
    Stroke,
    joined,
    middle,
    stacked,
)
from tocsin.translation import tr

EDGES_MS = (0.1, 0.2, 0.5, 1.0, 2.0, 5.0, 10.0, 20.0, 50.0)


def counts_of(late_ms: Iterable[float]) -> tuple[int, ...]:
    """Return how many values lie below the first edge, in each class ``[edge, next edge)``, and from the last on.

    >>> counts_of([0.05, 0.1, 3.0, 99.0])
    (1, 1, 0, 0, 0, 1, 0, 0, 0, 1)
    """
    counts = [0] * (len(EDGES_MS) + 1)
    for ms in late_ms:
        counts[bisect_right(EDGES_MS, ms)] += 1
    return tuple(counts)


WIDTH_MM, HEIGHT_MM, MARGIN_MM = 297.0, 210.0, 12.0
_INNER_MM = WIDTH_MM - 2 * MARGIN_MM
_NAMES_MM, _FIGURES_MM = 46.0, 68.0            # left and right of the bars
_BARS_MM = _INNER_MM - _NAMES_MM - _FIGURES_MM
_CLASS_MM = _BARS_MM / (len(EDGES_MS) + 1)
_TITLE_EM, _TEXT_EM, _SMALL_EM, _PRINT_EM = 6.5, 3.6, 2.7, 2.2
_TEXT_EMS = (_TEXT_EM, 3.1, _SMALL_EM)         # of the texts below, smaller where rows would be too flat
_ROW_MOST_MM, _ROW_EASY_MM = 60.0, 11.0
_COUNT_MM = _SMALL_EM * 1.25                   # above a bar, for its count
_LEADING_MM = _SMALL_EM * 1.4
_TEXT_LINES = 4


class LatenessLane(NamedTuple):
    """A row: its title, how late each call was, lines that stand beside it, and whether it is one of the usual ways."""

    title: str
    late_ms: Sequence[float]
    figures: Sequence[str]
    usual: bool


class LatenessPage(NamedTuple):
    """What stands on the picture: a title, a line beneath it, lanes, texts below them, the line at the foot."""

    title: str
    about: str
    lanes: Sequence[LatenessLane]
    texts: Sequence[str]
    made_by: str


def lateness_picture(page: LatenessPage, form: Form) -> bytes:
    """Return the picture as a file of that form."""
    return drawn(layout(page), form, "lateness", page.title, page.made_by)


def layout(page: LatenessPage) -> Page:
    """Return what stands where."""
    pen = Pen(DEJAVU)
    head = stacked([_line(page.title, _TITLE_EM, "title", pen, bold=True), _line(page.about, _TEXT_EM, "rule", pen)])
    for em_mm in _TEXT_EMS:
        below = stacked([_axis(pen), *(_text(text, em_mm, pen) for text in page.texts)])
        room_mm = HEIGHT_MM - 2 * MARGIN_MM - head.height_mm - below.height_mm - 2 * _PRINT_EM
        row_mm = min(_ROW_MOST_MM, room_mm / max(1, len(page.lanes)))
        if row_mm >= _ROW_EASY_MM:
            break
    lanes = [_lane(lane, row_mm, pen) for lane in page.lanes]
    foot = pen.label(page.made_by, MARGIN_MM, HEIGHT_MM - MARGIN_MM, _PRINT_EM, "print", grey=DIM)
    whole = stacked([head, *lanes, below]).parts.moved(0.0, MARGIN_MM)
    parts = joined([whole, Parts(labels=(foot,))])
    return Page(width_mm=WIDTH_MM, height_mm=HEIGHT_MM, parts=parts)


def _line(text: str, em_mm: float, kind: LabelKind, pen: Pen, *, bold: bool = False) -> ShapeRow:
    string = pen.cut(text, _INNER_MM, em_mm, bold)
    return ShapeRow(Parts(labels=(pen.label(string, MARGIN_MM, em_mm, em_mm, kind, bold=bold),)), em_mm * 1.7)


def _text(text: str, em_mm: float, pen: Pen) -> ShapeRow:
    fit = fitted(text, _INNER_MM, Type(em_mm, em_mm, lines=_TEXT_LINES), pen.letters)
    return ShapeRow(pen.written(fit, "note", MARGIN_MM).parts, fit.height_mm + 1.2)


def _lane(lane: LatenessLane, height_mm: float, pen: Pen) -> ShapeRow:
    y_mm = middle(0.0, height_mm, _TEXT_EM)
    left_mm, right_mm = MARGIN_MM + _NAMES_MM, MARGIN_MM + _NAMES_MM + _BARS_MM
    title = pen.cut(lane.title, _NAMES_MM - 2, _TEXT_EM, not lane.usual)
    labels = [pen.label(title, MARGIN_MM, y_mm, _TEXT_EM, "gutter", bold=not lane.usual)]
    top_mm = height_mm / 2 - (len(lane.figures) - 1) * _LEADING_MM / 2
    for no, figures in enumerate(lane.figures):
        string = pen.cut(figures, _FIGURES_MM - 3, _SMALL_EM)
        at_mm = middle(0.0, 2 * (top_mm + no * _LEADING_MM), _SMALL_EM)
        labels.append(pen.label(string, right_mm + 3, at_mm, _SMALL_EM, "reading", grey=DIM))
    boxes: list[OutlinedBox] = []
    for box, count in _bars(lane, height_mm, pen):
        boxes.append(box)
        labels.append(count)
    base = Stroke(points=((left_mm, height_mm), (right_mm, height_mm)), kind="row", grey=FELT)
    return ShapeRow(Parts(labels=tuple(labels), boxes=tuple(boxes), strokes=(base,)), height_mm)


def _bars(lane: LatenessLane, height_mm: float, pen: Pen) -> Iterator[tuple[OutlinedBox, Label]]:
    """Yield a bar and its count for each class that holds any, the height of the row for all calls."""
    counts = counts_of(lane.late_ms)
    most_mm = height_mm - _COUNT_MM - 1.0
    for place, count in enumerate(counts):
        if count:
            tall_mm = most_mm * count / sum(counts)
            x_mm = MARGIN_MM + _NAMES_MM + place * _CLASS_MM
            text = f"{count}"
            mid_mm = x_mm + (_CLASS_MM - pen.width(text, _SMALL_EM)) / 2
            yield (
                OutlinedBox(
                    x_mm=x_mm + 1, y_mm=height_mm - tall_mm, width_mm=_CLASS_MM - 2, height_mm=tall_mm, kind="firing",
                    fill=HELD if lane.usual else PALE, line_mm=min(0.2, tall_mm / 3), grey=BLACK,
                    hatch="////" if lane.usual else "",
                ),
                pen.label(text, mid_mm, height_mm - tall_mm - 0.8, _SMALL_EM, "second"),
            )  # fmt: skip


def _axis(pen: Pen) -> ShapeRow:
    left_mm = MARGIN_MM + _NAMES_MM
    labels = [pen.label(tr("late by (ms)"), MARGIN_MM, _SMALL_EM * 1.4, _SMALL_EM, "second", grey=DIM)]
    strokes = []
    for place, edge in enumerate(EDGES_MS, 1):
        x_mm, text = left_mm + place * _CLASS_MM, f"{edge:g}"
        strokes.append(Stroke(points=((x_mm, 0.0), (x_mm, 1.0)), kind="edge", grey=FELT))
        at_mm = x_mm - pen.width(text, _SMALL_EM) / 2
        labels.append(pen.label(text, at_mm, _SMALL_EM * 1.4, _SMALL_EM, "second", grey=DIM))
    return ShapeRow(Parts(labels=tuple(labels), strokes=tuple(strokes)), _SMALL_EM * 3.2)
