"""What a page for the wall has besides the picture: the words and their reasons, the leads, the form. Pure."""

from collections.abc import Sequence

from tocsin.export.drawing.fitting import ELLIPSIS, Type, fitted
from tocsin.export.drawing.form import FormStyle, form
from tocsin.export.drawing.shapes import DIM, HAIRLINE_MM, Label, Parts, Pen, ShapeRow, joined, stacked
from tocsin.export.picture.style import PictureStyle
from tocsin.export.rows import CardRow, Entry, content
from tocsin.export.source import Source
from tocsin.translation import tr
from tocsin.units import format_clock

_GUTTER_MM = 6.0
_LINE = 1.3                            # from line to line, in ems
_WHY = 0.72                            # of the letters' size, for reasons
_MOST_COLUMNS = 4


def lists(source: Source, why: bool, style: PictureStyle, pen: Pen) -> ShapeRow:
    """Return the words with whom they are for, with ``why`` their reasons, and the leads."""
    rows = [row for group in content(source, 0).groups for row in group.rows]
    leads = _leads(source, style, pen)
    room_mm = style.list_most_mm - leads.height_mm
    tried = [_words(rows, columns, why, style, pen) for columns in range(2, _MOST_COLUMNS + 1)]
    words = min((item for item in tried if not _is_cut(item)), key=lambda item: item.height_mm, default=tried[0])
    if words.height_mm > room_mm:
        words = _fewer(rows, room_mm, style, pen)
    return stacked([ShapeRow(Parts(), 0.3 * style.list_em), words, leads])


def _is_cut(row: ShapeRow) -> bool:
    return any(label.string.endswith(ELLIPSIS) for label in row.parts.labels)


def _fewer(rows: Sequence[CardRow], room_mm: float, style: PictureStyle, pen: Pen) -> ShapeRow:
    """Return as many words as have room, those of the lowest priority left out, and say how many are not there."""
    ranked = sorted(range(len(rows)), key=lambda n: (-rows[n].priority, n))
    for count in range(len(rows), -1, -1):
        kept = [rows[n] for n in sorted(ranked[:count])]
        more = tr("{count} more: `tocsin preview` lists all", count=len(rows) - count) if count < len(rows) else ""
        words = _words(kept, _MOST_COLUMNS, False, style, pen, more)
        if words.height_mm <= room_mm:
            break
    return words


def _words(rows: Sequence[CardRow], columns: int, why: bool, style: PictureStyle, pen: Pen, more: str = "") -> ShapeRow:
    width_mm = (style.inner_mm - (columns - 1) * _GUTTER_MM) / columns
    cells = [_cell(row, entry, why, width_mm, style, pen) for row in rows for entry in row.entries if entry is not None]
    if more:
        label = pen.label(more, 0.0, style.list_em, style.list_em * _WHY, "list", grey=DIM)
        cells.append(ShapeRow(Parts(labels=(label,)), _LINE * style.list_em))
    each = max(1, -(-len(cells) // columns))
    parts, tallest_mm = [], 0.0
    for column in range(columns):
        stack = stacked(cells[column * each : (column + 1) * each])
        parts.append(stack.parts.moved(style.margin_mm + column * (width_mm + _GUTTER_MM), 0.0))
        tallest_mm = max(tallest_mm, stack.height_mm)
    return ShapeRow(joined(parts), tallest_mm)


def _cell(row: CardRow, entry: Entry, why: bool, width_mm: float, style: PictureStyle, pen: Pen) -> ShapeRow:
    """Return a call: the reading, the word, for whom; beneath it, smaller, why."""
    em_mm, small_mm = style.list_em, style.list_em * _WHY
    labels: list[Label] = []
    x_mm = 0.0
    only = tr("only: {only}", only=entry.only) if entry.only else ""
    about = " · ".join(part for part in (entry.roles, row.note, only) if part)
    for text, size_mm, bold, grey in (
        (row.reading, em_mm, row.important, 0.0),
        (entry.word, em_mm, row.important, 0.0),
        (about, small_mm, False, DIM),
    ):
        text = pen.cut(text, width_mm - x_mm, size_mm, bold)
        if text:
            labels.append(pen.label(text, x_mm, em_mm, size_mm, "list", bold=bold, grey=grey))
            x_mm += labels[-1].width_mm + 0.5 * em_mm
    height_mm = _LINE * em_mm
    if why and entry.why:
        fit = fitted(entry.why, width_mm, Type(small_mm, small_mm, lines=2), pen.letters)
        labels += pen.written(fit, "list", 0.0, height_mm, DIM).parts.labels
        height_mm += fit.height_mm + 0.4
    return ShapeRow(Parts(labels=tuple(labels)), height_mm)


def _leads(source: Source, style: PictureStyle, pen: Pen) -> ShapeRow:
    leads = ", ".join(f"{name} {format_clock(ns)}" for name, ns in source.timeline.leads.items())
    if not leads:
        return ShapeRow(Parts(), 0.0)
    text = pen.cut(tr("Leads (how early calls come): {leads}", leads=leads), style.inner_mm, style.list_em)
    label = pen.label(text, style.margin_mm, 1.25 * style.list_em, style.list_em, "list")
    return ShapeRow(Parts(labels=(label,)), 1.6 * style.list_em)


def wall_form(style: PictureStyle, pen: Pen) -> ShapeRow:
    """Return what is filled in by hand."""
    em_mm = style.list_em
    sizes = FormStyle(
        em_mm=em_mm, left_mm=style.margin_mm, width_mm=style.inner_mm, height_mm=2.3 * em_mm, base_mm=1.7 * em_mm,
        top_mm=0.6 * em_mm, box_mm=1.2 * em_mm, text_mm=1.68 * em_mm, line_mm=HAIRLINE_MM,
    )  # fmt: skip
    return form(sizes, pen)
