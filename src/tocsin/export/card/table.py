"""The rows of a card as pieces: reading at the left, then word, for whom, why; one cell a variant. Pure."""

import math
from collections.abc import Sequence
from typing import NamedTuple

import msgspec

from tocsin.export.card.page import Paper
from tocsin.export.drawing.fitting import Fitted, Type, fitted, known
from tocsin.export.drawing.shapes import (
    BLACK,
    DIM,
    LabelKind,
    OutlinedBox,
    Parts,
    Pen,
    ShapeRow,
    joined,
    stacked,
)
from tocsin.export.rows import AT_MARK, BY_HAND, CardRow, Content, Entry
from tocsin.model.plan import Role
from tocsin.translation import tr

LINE_MM = 0.2
_SHORT_WORD = 4.0               # ems: "Home", "Choose"
_LAST_LINES = 8                 # of a word that is too wide or too long: somebody has to call all of it
_COACH: Role = "coach"
_CALLER = tr("for the caller")    # of what is for the coach alone, who has the card: nobody calls to themselves
_NOTHING = "–"                  # where a variant has no call
# What readings take of the width, at most, unless digits would be too small: by the number of columns beside them.
_READING_SHARE = {1: 0.42, 2: 0.34}
_READING_SHARE_BESIDE_MANY = 0.27


class CardPiece(NamedTuple):
    """A row that stands in one column, with what only the flow of rows into columns asks for, so that no picture has
    it: a ``heading`` needs something below it; ``above`` stands above a piece that begins a further column."""

    row: ShapeRow
    heading: bool = False
    above: ShapeRow | None = None


class TableStyle(msgspec.Struct, frozen=True, kw_only=True):
    """One arrangement: ``share`` is how far from the smallest sizes to the largest, ``why`` whether reasons stand."""

    page: Paper
    width_mm: float
    share: float
    why: bool
    pen: Pen

    @property
    def gap_mm(self) -> float:
        """The room above and below a row."""
        return self.page.gap.at(self.share)

    @property
    def bar_mm(self) -> float:
        """The width of the bar before important rows."""
        return self.page.gap.most_mm * 0.65

    @property
    def readings_mm(self) -> float:
        """The left edge of the readings, behind the bar."""
        return self.bar_mm * 1.8

    @property
    def gutter_mm(self) -> float:
        """The room between readings, words and columns."""
        return self.page.gap.most_mm * 1.25


class Grid(msgspec.Struct, frozen=True, kw_only=True):
    """Where readings and cells stand in all rows of an arrangement."""

    reading_em_mm: float
    reading_mm: float
    cells_mm: float              # the left edge of the first cell
    count: int                   # columns
    cell_mm: float               # the width of one of them


def table(content: Content, style: TableStyle) -> list[CardPiece]:
    """Return headings and rows from the top down."""
    grid = _grid(content, style)
    pieces = [CardPiece(_column_titles(content.columns, grid, style), heading=True)] if content.columns else []
    told: set[Entry] = set()
    for group in content.groups:
        above = None
        if group.heading:
            pieces.append(CardPiece(_heading(group.heading, style), heading=True))
            above = _heading(group.continued, style)
        for row in group.rows:
            pieces.append(CardPiece(_row(_without_told(row, told), grid, style), above=above))
            told |= {entry for entry in row.entries if entry is not None}
    return pieces


def has_room_for_words(content: Content, style: TableStyle, breaks: bool) -> bool:
    """Return whether cells are wide enough for a short word and, unless ``breaks``, for each single word that a cell
    over the whole width has room for."""
    cell_mm = _grid(content, style).cell_mm
    if cell_mm < _SHORT_WORD * style.page.word.least_mm:
        return False
    whole_mm = _grid(content, msgspec.structs.replace(style, width_mm=style.page.inner_mm, share=0.0)).cell_mm
    return breaks or not any(cell_mm < _least_mm(row, style) <= whole_mm for row in content.rows)


def _least_mm(row: CardRow, style: TableStyle) -> float:
    """Return how wide the widest single word of a row's calls is in the smallest letters."""
    em_mm = (style.page.word if row.large else style.page.minor_word).least_mm
    pen, entries = style.pen, (entry for entry in row.entries if entry is not None)
    words = (word for entry in entries for word in known(entry.word, pen.letters).split(" "))
    return max((pen.width(word, em_mm, row.important) for word in words), default=0.0)


def _without_told(row: CardRow, told: set[Entry]) -> CardRow:
    """Return a row without the reasons that stand in an earlier row already, beside the same words."""
    entries = tuple(
        msgspec.structs.replace(entry, why="") if entry is not None and entry in told else entry
        for entry in row.entries
    )
    return msgspec.structs.replace(row, entries=entries)


def _grid(content: Content, style: TableStyle) -> Grid:
    page, rows = style.page, content.rows
    count = max(1, len(content.columns))
    large = max((_widest(row, style) for row in rows if row.large), default=0.0)
    minor = max((_widest(row, style) for row in rows if not row.large), default=0.0)
    em_mm = page.reading.at(style.share)
    if large:
        most_mm = style.width_mm * _READING_SHARE.get(count, _READING_SHARE_BESIDE_MANY)
        em_mm = max(page.reading.least_mm, min(em_mm, most_mm / large))
        reading_mm = max(large * em_mm, minor * page.minor_reading.least_mm)
    else:
        reading_mm = minor * page.minor_reading.at(style.share)
    cells_mm = style.readings_mm + reading_mm + style.gutter_mm
    cell_mm = (style.width_mm - cells_mm - (count - 1) * style.gutter_mm) / count
    return Grid(reading_em_mm=em_mm, reading_mm=reading_mm, cells_mm=cells_mm, count=count, cell_mm=cell_mm)


def _widest(row: CardRow, style: TableStyle) -> float:
    """Return the width, in ems, of the widest part of a reading that cannot be wrapped."""
    return max(style.pen.width(part, 1.0, row.important) for part in row.reading.split(" ")) + 0.02


def _column_titles(titles: Sequence[str], grid: Grid, style: TableStyle) -> ShapeRow:
    em_mm = style.page.heading.at(style.share)
    kind = Type(em_mm, style.page.heading.least_mm * 0.85, bold=True, lines=3)
    fits = [fitted(title, grid.cell_mm, kind, style.pen.letters) for title in titles]
    above_mm = style.gap_mm * 0.8 + 0.2 * em_mm
    placed = [
        style.pen.written(fit, "column", _cell_x(grid, n, style), above_mm).parts for n, fit in enumerate(fits)
    ]  # fmt: skip
    height_mm = max(fit.height_mm for fit in fits) + above_mm
    lines = tuple(_divider(grid, n, height_mm, style) for n in range(1, grid.count))
    return ShapeRow(joined([*placed, Parts(boxes=lines)]), height_mm)


def _heading(heading: str, style: TableStyle) -> ShapeRow:
    em_mm = style.page.heading.at(style.share)
    kind = Type(em_mm, style.page.heading.least_mm, bold=True)
    fit = fitted(heading, style.width_mm, kind, style.pen.letters)
    above_mm = style.gap_mm * 0.8 + 0.1 * em_mm
    y_mm = above_mm + fit.height_mm + 0.1 * em_mm
    title = style.pen.written(fit, "heading", 0.0, above_mm).parts
    line = Parts(boxes=(rule(y_mm, style.width_mm, 2 * LINE_MM),))
    return ShapeRow(joined([title, line]), y_mm + 2 * LINE_MM)


def rule(y_mm: float, width_mm: float, height_mm: float, grey: float = BLACK) -> OutlinedBox:
    """Return a line from the left edge on, below which something else begins."""
    return OutlinedBox(x_mm=0.0, y_mm=y_mm, width_mm=width_mm, height_mm=height_mm, kind="line", fill=grey)


def _row(row: CardRow, grid: Grid, style: TableStyle) -> ShapeRow:
    reading = _reading(row, grid, style)
    whole_mm = grid.cell_mm * grid.count + style.gutter_mm * (grid.count - 1)
    cell_mm = whole_mm if len(row.entries) == 1 else grid.cell_mm
    em_mm = min(_word(entry, row, cell_mm, style).em_mm for entry in row.entries if entry is not None)
    cells = [_cell(entry, row, cell_mm, style, em_mm) for entry in row.entries]
    inner_mm = max(reading.height_mm, *(cell.height_mm for cell in cells))
    height_mm = inner_mm + 2 * style.gap_mm + LINE_MM
    side_by_side = joined(cell.parts.moved(_cell_x(grid, n, style), 0.0) for n, cell in enumerate(cells))
    placed = [
        _at_right(reading, "reading" if row.large else "minor_reading", grid, style),
        ShapeRow(side_by_side, max(cell.height_mm for cell in cells)),
    ]
    middle_mm = style.gap_mm + inner_mm / 2
    boxes = [rule(height_mm - LINE_MM, style.width_mm, LINE_MM, DIM)]
    boxes += [_divider(grid, n, height_mm - LINE_MM, style) for n in range(1, len(row.entries))]
    if row.important:
        boxes.append(
            OutlinedBox(x_mm=0.0, y_mm=0.5 * style.gap_mm, width_mm=style.bar_mm, height_mm=inner_mm + style.gap_mm,
                        kind="bar", fill=BLACK)
        )  # fmt: skip
    centred = (part.parts.moved(0.0, middle_mm - part.height_mm / 2) for part in placed)
    return ShapeRow(joined([*centred, Parts(boxes=tuple(boxes))]), height_mm)


def _reading(row: CardRow, grid: Grid, style: TableStyle) -> Fitted:
    if row.reading in (BY_HAND, AT_MARK):
        word = style.page.minor_word
        width = style.pen.width(row.reading, 1.0, row.important)
        em_mm = min(word.at(style.share), 0.98 * grid.reading_mm / width)
        kind = Type(em_mm, min(em_mm, word.least_mm), bold=row.important, tight=True)
    elif row.large:
        kind = Type(grid.reading_em_mm, grid.reading_em_mm, bold=row.important, lines=2, tight=True)
    else:
        minor = style.page.minor_reading
        em_mm = min(minor.at(style.share), grid.reading_mm / _widest(row, style))
        kind = Type(em_mm, min(em_mm, minor.least_mm), bold=row.important, lines=2, rather=0.6, tight=True)
    return fitted(row.reading, grid.reading_mm, kind, style.pen.letters)


def _at_right(reading: Fitted, kind: LabelKind, grid: Grid, style: TableStyle) -> ShapeRow:
    """Return a reading whose lines end at the right edge of the readings, close to the word."""
    right_mm = style.readings_mm + grid.reading_mm
    labels = style.pen.written(reading, kind).parts.labels
    ending = (msgspec.structs.replace(label, x_mm=right_mm - label.width_mm) for label in labels)
    return ShapeRow(Parts(labels=tuple(ending)), reading.height_mm)


def _cell_x(grid: Grid, number: int, style: TableStyle) -> float:
    return grid.cells_mm + number * (grid.cell_mm + style.gutter_mm)


def _divider(grid: Grid, number: int, height_mm: float, style: TableStyle) -> OutlinedBox:
    x_mm = _cell_x(grid, number, style) - style.gutter_mm / 2
    return OutlinedBox(x_mm=x_mm, y_mm=0.0, width_mm=LINE_MM, height_mm=height_mm, kind="line", fill=DIM)


# -- cells --------------------------------------------------------------------------------------------------------


def _word(entry: Entry | None, row: CardRow, width_mm: float, style: TableStyle, most_mm: float = math.inf) -> Fitted:
    size = style.page.word if row.large else style.page.minor_word
    em_mm = min(most_mm, size.at(style.share))
    kind = Type(
        em_mm, min(em_mm, size.least_mm), bold=row.important, lines=2, rather=0.75, last_lines=_LAST_LINES
    )  # fmt: skip
    return fitted(_NOTHING if entry is None else entry.word, width_mm, kind, style.pen.letters)


def _cell(entry: Entry | None, row: CardRow, width_mm: float, style: TableStyle, em_mm: float) -> ShapeRow:
    """Return what is called in one cell; words of one row are alike large."""
    word = _word(entry, row, width_mm, style, em_mm)
    written_word = style.pen.written(word, "word" if row.large else "minor_word")
    if entry is None:
        return written_word
    only = tr("only if: {only}", only=entry.only) if entry.only else ""
    roles = _CALLER if entry.roles == tr(_COACH) else entry.roles
    who = " · ".join(part for part in (only, row.note, roles) if part)
    why = entry.why if style.why else ""
    if not row.large and why and (beside := _beside(f"{who} · {why}", word, width_mm, style)):
        return ShapeRow(joined([written_word.parts, beside]), word.height_mm)
    rows = [_head(word, written_word, who, width_mm, style)]
    if why:
        reason = fitted(why, width_mm, _detail(style, 3), style.pen.letters)
        rows.append(style.pen.written(reason, "detail", grey=DIM))
    return stacked(rows, 0.12 * style.page.detail.at(style.share))


def _head(word: Fitted, written_word: ShapeRow, who: str, width_mm: float, style: TableStyle) -> ShapeRow:
    """Return the word, and beside or below it for whom it is."""
    if beside := _beside(who, word, width_mm, style):
        return ShapeRow(joined([written_word.parts, beside]), word.height_mm)
    fit = fitted(who, width_mm, _detail(style, 3), style.pen.letters)
    return stacked([written_word, style.pen.written(fit, "detail")], 0.12 * fit.em_mm)


def _beside(text: str, word: Fitted, width_mm: float, style: TableStyle) -> Parts | None:
    """Return a text on the word's baseline, to the right of it, if there is room for it on one line."""
    x_mm = word.width_mm + 0.45 * word.em_mm
    if len(word.lines) > 1 or x_mm >= width_mm:
        return None
    kind = _detail(style, 1)
    fit = fitted(text, width_mm - x_mm, kind, style.pen.letters)
    if fit.em_mm < kind.em_mm or fit.lines[0].string.endswith("…") or len(fit.lines) > 1:
        return None
    return style.pen.written(fit, "detail", x_mm, word.lines[0].baseline_mm - fit.lines[0].baseline_mm).parts


def _detail(style: TableStyle, lines: int) -> Type:
    em_mm = style.page.detail.at(style.share)
    return Type(em_mm, min(em_mm, style.page.detail.least_mm), lines=lines, rather=0.92)
