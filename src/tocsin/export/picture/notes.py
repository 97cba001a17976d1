"""Small numbered marks below the lanes, and the list of what they stand for. Pure."""

from bisect import bisect_left
from collections.abc import Sequence
from typing import NamedTuple

import msgspec

from tocsin.export.drawing.fitting import Type, fitted
from tocsin.export.drawing.shapes import Label, OutlinedBox, Parts, Pen, ShapeRow, Stroke, joined, middle
from tocsin.export.picture.axis import Axis
from tocsin.export.picture.style import PictureStyle
from tocsin.model.timeline.point import Point
from tocsin.model.timeline.timeline import Timeline
from tocsin.translation import tr

_PAD_MM = 0.5
_LINE_MM = 0.2
_LINES = 2                             # of a note at most
_COLUMNS = 3


class PictureNote(NamedTuple):
    """What is to be noted, and where; without a point it is about the whole. Those of the lowest ``rank`` weigh most:
    they stay in a list that has no room for all."""

    point: Point | None
    text: str
    rank: int = 0


class NoteMark(msgspec.Struct, frozen=True):
    """A note with its number, from 1."""

    number: int
    note: PictureNote


def numbered(timeline: Timeline, notes: Sequence[PictureNote]) -> tuple[NoteMark, ...]:
    """Return the notes in the order of the match, those at marks and calls behind them, those about the whole last,
    at one place the weightiest first; numbered from 1."""
    ranks = {segment.anchor: rank for rank, segment in enumerate(timeline.segments)}

    def place(note: PictureNote) -> tuple[int, str, int, int]:
        point = note.point
        if point is None:
            return len(ranks) + 1, "", 0, note.rank
        return ranks.get(point.anchor, len(ranks)), point.anchor, point.offset_ns, note.rank

    return tuple(NoteMark(number, note) for number, note in enumerate(sorted(notes, key=place), start=1))


def note_row(marks: Sequence[NoteMark], axis: Axis, style: PictureStyle, pen: Pen) -> ShapeRow:
    """Return the row of numbers below the lanes; those that would touch share one mark."""
    groups: list[tuple[float, list[NoteMark]]] = []
    height_mm = 1.5 * style.note_em
    placed = ((mark.note.point, mark) for mark in marks)
    places = [
        (x_mm, mark) for point, mark in placed if point is not None and (x_mm := axis.x(point)) is not None
    ]  # fmt: skip
    for x_mm, mark in sorted(places, key=lambda place: place[0]):
        if groups and x_mm - groups[-1][0] < _width(groups[-1][1], style, pen) + 0.8:
            groups[-1][1].append(mark)
        else:
            groups.append((x_mm, [mark]))
    if not marks:
        return ShapeRow(Parts(), 0.0)
    labels: list[Label] = []
    boxes: list[OutlinedBox] = []
    strokes: list[Stroke] = []
    for x_mm, group in groups:
        width_mm = _width(group, style, pen)
        begin_mm = min(x_mm, style.width_mm - style.margin_mm - width_mm)
        boxes.append(
            OutlinedBox(
                x_mm=begin_mm, y_mm=0.5, width_mm=width_mm, height_mm=height_mm - 0.5, kind="note", fill=1.0,
                line_mm=_LINE_MM,
            )
        )  # fmt: skip
        base_mm = middle(0.5, height_mm - 0.5, style.note_em * 0.9)
        labels.append(pen.label(_text(group), begin_mm + _PAD_MM, base_mm, style.note_em * 0.9, "note"))
        strokes.append(Stroke(points=((x_mm, -1.6), (x_mm, 0.6)), kind="leader", line_mm=_LINE_MM))
    return ShapeRow(Parts(labels=tuple(labels), boxes=tuple(boxes), strokes=tuple(strokes)), height_mm + 0.5)


def _text(group: Sequence[NoteMark]) -> str:
    """Return the numbers of a mark, three and more that follow each other as a range."""
    runs: list[list[int]] = []
    for number in sorted(mark.number for mark in group):
        if runs and number == runs[-1][-1] + 1:
            runs[-1].append(number)
        else:
            runs.append([number])
    parts = ([f"{run[0]}–{run[-1]}"] if len(run) > 2 else [str(number) for number in run] for run in runs)
    return ",".join(text for part in parts for text in part)


def _width(group: Sequence[NoteMark], style: PictureStyle, pen: Pen) -> float:
    return pen.width(_text(group), style.note_em * 0.9) + 2 * _PAD_MM


def note_list(marks: Sequence[NoteMark], style: PictureStyle, pen: Pen) -> ShapeRow:
    """Return the list of notes in columns; the last line says how many have no room: what weighs least."""
    if not marks:
        return ShapeRow(Parts(), 0.0)
    columns = min(_COLUMNS, len(marks))
    # Each note takes a line at least, so that far more than have room are not even measured.
    most = min(len(marks), columns * int(style.notes_most_mm / (0.5 * style.note_em)))
    if most == len(marks):
        whole = _weightiest(marks, len(marks), columns, style, pen)
        if whole.height_mm <= style.notes_most_mm:
            return whole
    # Fewer notes take less room, so the largest number that has it is found by halving.
    numbers = range(min(most, len(marks) - 1), 0, -1)
    at = bisect_left(
        numbers, True,
        key=lambda count: _weightiest(marks, count, columns, style, pen).height_mm <= style.notes_most_mm,
    )  # fmt: skip
    return _weightiest(marks, numbers[at] if at < len(numbers) else 0, columns, style, pen)


def _weightiest(marks: Sequence[NoteMark], count: int, columns: int, style: PictureStyle, pen: Pen) -> ShapeRow:
    """Return the ``count`` notes that weigh most in columns, and how many more there are."""
    kept = sorted(sorted(marks, key=lambda mark: mark.note.rank)[:count], key=lambda mark: mark.number)
    texts = [f"{mark.number}: {mark.note.text}" for mark in kept]
    if count < len(marks):
        texts.append(tr("and {count} more: `tocsin check` lists all", count=len(marks) - count))
    return _in_columns(texts, columns, style, pen)


def _in_columns(texts: Sequence[str], columns: int, style: PictureStyle, pen: Pen) -> ShapeRow:
    width_mm = (style.inner_mm - (columns - 1) * 4.0) / columns
    each = -(-len(texts) // columns)
    parts, tallest_mm = [], 0.0
    for column in range(columns):
        y_mm = 0.0
        for text in texts[column * each : (column + 1) * each]:
            fit = fitted(text, width_mm, Type(style.note_em, style.note_em, lines=_LINES), pen.letters)
            x_mm = style.margin_mm + column * (width_mm + 4.0)
            parts.append(pen.written(fit, "note", x_mm, y_mm).parts)
            y_mm += fit.height_mm + 0.4
        tallest_mm = max(tallest_mm, y_mm)
    return ShapeRow(joined(parts), tallest_mm)
