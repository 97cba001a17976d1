"""Values as dots with whiskers, a row each: its name and what it rests on, below them dot and line. Pure."""

from collections.abc import Callable, Sequence
from functools import partial
from typing import NamedTuple

from tocsin.export.drawing.fitting import Type, fitted
from tocsin.export.drawing.look import Look, Tall
from tocsin.export.drawing.plot import Frame, Scale, below_mm, level, ticks
from tocsin.export.drawing.shapes import PALE, Parts, ShapeRow, joined, stacked
from tocsin.features.review.pictures.marks import diamond, disc, line, whisker

_NAME_LINES = 12
_LINE_EM = 1.7                         # dot and whisker
_APART_EM = 0.45                       # a row and the one above, so that nobody takes its name for that of the other


class WhiskerRow(NamedTuple):
    """A value between its limits: its ``name``, what is ``told`` beside it, whether its dot is ``filled``, and whether
    it is a ``diamond`` in place of a disc."""

    name: str
    told: str
    low: float
    value: float
    high: float
    filled: bool = True
    diamond: bool = False


class Axis(NamedTuple):
    """From where to where values lie; ``title`` says what they are, or is empty."""

    low: float
    high: float
    title: str = ""


def plot_of(rows: Sequence[WhiskerRow], axis: Axis) -> Callable[[float, float, Look], Parts]:
    """Return how rows are drawn."""
    return partial(_plot, tuple(rows), axis)


def tall_of(rows: Sequence[WhiskerRow], axis: Axis) -> Callable[[float, Look], Tall]:
    """Return how tall rows are."""
    return partial(_tall, tuple(rows), axis)


def _tall(rows: Sequence[WhiskerRow], axis: Axis, width_mm: float, look: Look) -> Tall:
    height_mm = _stacked(rows, axis, width_mm, look).height_mm + below_mm(look, titled=bool(axis.title))
    return Tall(height_mm, height_mm)


def _plot(rows: Sequence[WhiskerRow], axis: Axis, width_mm: float, height_mm: float, look: Look) -> Parts:
    drawn = _stacked(rows, axis, width_mm, look)
    frame, across = _frame(axis, drawn.height_mm, width_mm, look)
    values = ticks(axis.low, axis.high, 5)
    return joined([level(frame, across, values, [f"{value:g}" for value in values], axis.title, look), drawn.parts])


def _frame(axis: Axis, height_mm: float, width_mm: float, look: Look) -> tuple[Frame, Scale]:
    spare_mm = 1.1 * look.em_mm                # half a tick's text, on both sides
    frame = Frame(spare_mm, 0.0, width_mm - spare_mm, height_mm)
    return frame, Scale(axis.low, axis.high, frame.left_mm, frame.right_mm)


def _stacked(rows: Sequence[WhiskerRow], axis: Axis, width_mm: float, look: Look) -> ShapeRow:
    return stacked([_row(row, axis, width_mm, look) for row in rows], _APART_EM * look.em_mm)


def _row(row: WhiskerRow, axis: Axis, width_mm: float, look: Look) -> ShapeRow:
    em_mm = look.em_mm
    right_mm = look.pen.width(row.told, em_mm)
    name = fitted(row.name, width_mm - right_mm - em_mm, Type(em_mm, em_mm, lines=_NAME_LINES), look.pen.letters)
    told = look.pen.label(row.told, width_mm - right_mm, name.lines[0].baseline_mm, em_mm, "lane")
    _, across = _frame(axis, 0.0, width_mm, look)
    y_mm = name.height_mm + 0.5 * _LINE_EM * em_mm
    mark = diamond if row.diamond else disc
    parts = [
        Parts(labels=(*look.pen.written(name, "lane").parts.labels, *([told] if row.told else []))),
        line(((across.from_mm, y_mm), (across.to_mm, y_mm)), 0.4 * look.style.line_mm, PALE),
        whisker(((across.at(row.low), y_mm), (across.at(row.high), y_mm)), 1.5 * look.style.line_mm, 0.8 * em_mm),
        mark(across.at(row.value), y_mm, look.style.mark_mm, filled=row.filled),
    ]
    return ShapeRow(joined(parts), name.height_mm + _LINE_EM * em_mm)
