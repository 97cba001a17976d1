"""Shares as dots with whiskers: contact, home, clean; matches beside practice. Pure."""

from collections.abc import Sequence
from functools import partial
from typing import NamedTuple

from tocsin.analysis.review.answer import Figure, Review
from tocsin.export.drawing.fitting import Type, fitted
from tocsin.export.drawing.look import Look, Picture, Tall
from tocsin.export.drawing.plot import Frame, Scale, below_mm, level
from tocsin.export.drawing.shapes import PALE, Parts, ShapeRow, joined, stacked
from tocsin.features.review.pictures.marks import diamond, disc, line, whisker
from tocsin.translation import tr

_NAMES: dict[str, str] = {
    "contact": tr("contact"), "home_full": tr("home"), "home_half": tr("half home"), "home_none": tr("not home"),
    "clean": tr("clean"), "on_at_lead": tr("still pushing as the window began"),
}  # fmt: skip
MATCH = "match"
_NAME_LINES = 3
_LINE_EM = 1.7                         # dot and whisker
_MOST_ROWS = 9


class ShareRow(NamedTuple):
    """A share from 0 to 1 with its limits, and what it is of."""

    name: str
    figure: Figure


def shares(review: Review) -> Picture | None:
    """Return the picture of all shares that are told; None if there is none."""
    found = share_rows(review)
    if not found:
        return None
    return Picture(
        tr("Of 100 rounds"), partial(_plot, found), tr("The longer the line, the less we know."), partial(_tall, found)
    )


def share_rows(review: Review) -> list[ShareRow]:
    """Return the shares of a review, in the order of its questions."""
    return [
        ShareRow(_named(figure), figure) for answer in review.answers if answer.question != "trust"
        for figure in answer.figures if figure.unit == "share" and figure.value is not None and figure.low is not None
        and figure.high is not None and figure.name in _NAMES
    ][:_MOST_ROWS]  # fmt: skip


def _named(figure: Figure) -> str:
    name = _NAMES[figure.name]
    return f"{name}, {figure.of}" if figure.of else name


def _tall(found: Sequence[ShareRow], width_mm: float, look: Look) -> Tall:
    height_mm = _rows(found, width_mm, look).height_mm + below_mm(look, titled=False)
    return Tall(height_mm, height_mm)


def _plot(found: Sequence[ShareRow], width_mm: float, height_mm: float, look: Look) -> Parts:
    rows = _rows(found, width_mm, look)
    frame, across = _frame(rows.height_mm, width_mm, look)
    values = [0, 25, 50, 75, 100]
    axis = level(frame, across, values, [str(value) for value in values], "", look)
    return joined([axis, rows.parts])


def _frame(height_mm: float, width_mm: float, look: Look) -> tuple[Frame, Scale]:
    spare_mm = 0.9 * look.em_mm                # half a tick's text, on both sides
    frame = Frame(spare_mm, 0.0, width_mm - spare_mm, height_mm)
    return frame, Scale(0, 100, frame.left_mm, frame.right_mm)


def _rows(found: Sequence[ShareRow], width_mm: float, look: Look) -> ShapeRow:
    """Return all rows, one below the other: the name and how many of how many, below them dot and whisker."""
    return stacked([_row(one, width_mm, look) for one in found])


def _row(one: ShareRow, width_mm: float, look: Look) -> ShapeRow:
    em_mm, figure = look.em_mm, one.figure
    told = tr("{count} of {rounds}", count=figure.count, rounds=figure.rounds) if figure.count is not None else ""
    right_mm = look.pen.width(told, em_mm)
    kind = Type(em_mm, em_mm, lines=_NAME_LINES)
    name = fitted(one.name, width_mm - right_mm - em_mm, kind, look.pen.letters)
    count = look.pen.label(told, width_mm - right_mm, name.lines[0].baseline_mm, em_mm, "lane")
    _, across = _frame(0.0, width_mm, look)
    y_mm = name.height_mm + 0.5 * _LINE_EM * em_mm
    low, value, high = (100 * (share or 0.0) for share in (figure.low, figure.value, figure.high))
    mark = diamond if figure.of == MATCH else disc
    parts = [
        Parts(labels=(*look.pen.written(name, "lane").parts.labels, count)),
        line(((across.from_mm, y_mm), (across.to_mm, y_mm)), 0.4 * look.style.line_mm, PALE),
        whisker(((across.at(low), y_mm), (across.at(high), y_mm)), 1.5 * look.style.line_mm, 0.8 * em_mm),
        mark(across.at(value), y_mm, look.style.mark_mm, filled=not figure.pooled),
    ]
    return ShapeRow(joined(parts), name.height_mm + _LINE_EM * em_mm)
