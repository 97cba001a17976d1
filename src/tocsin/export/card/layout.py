"""A card's words laid out on one page: the arrangement with the largest letters that fits. Pure; lengths in mm.

What it keeps to: nothing overlaps, nothing leaves the page. First letters shrink to the smallest size of the page, then
rows stand in two columns, then reasons are left out, then words are broken that one column has room for, then rows are
left out: lowest priority first, of equal ones those without a word, then the earliest. Where rows go, words are whole
again if that is enough. Important rows are never left out. The card says what was.
"""

from bisect import bisect_left
from collections.abc import Sequence

import msgspec

from tocsin.errors import UsageError
from tocsin.export.card.page import PAGES, Paper, Size
from tocsin.export.card.table import LINE_MM, CardPiece, TableStyle, has_room_for_words, rule, table
from tocsin.export.drawing.fitting import UNKNOWN, Letters, Type, fitted, known
from tocsin.export.drawing.form import FormStyle, form
from tocsin.export.drawing.shapes import Page, Parts, Pen, ShapeRow, joined, stacked
from tocsin.export.rows import CardRow, Content
from tocsin.translation import tr

_MOST_COLUMNS = 2               # that rows stand in
_STEPS = 24                     # sizes that are tried between the smallest and the largest
_NOTE_LINES = 4
_MOST_NAMED = 200               # rows that were left out, far more than the note has room for


class Layout(Page, frozen=True, kw_only=True):
    """A card with everything in its place; ``left_out`` rows had no room."""

    left_out: tuple[CardRow, ...]


class CardContent(msgspec.Struct, frozen=True, kw_only=True):
    """The content of a card: its rows, the cautions, the lines of small print."""

    content: Content
    cautions: tuple[str, ...]
    prints: tuple[str, ...]


def lay_out(words: CardContent, size: Size, letters: Letters) -> Layout:
    """Return a card on a page. Raises UsageError (exit 2) if not even the important rows have room."""
    page, pen = PAGES[size], Pen(letters)
    whole = _made(words, (), page, pen, breaks=False) or _made(words, (), page, pen, breaks=True)
    if whole is not None:
        return whole
    fewer = _with_fewer(words, page, pen, breaks=False) or _with_fewer(words, page, pen, breaks=True)
    if fewer is None:
        important = sum(row.important for row in words.content.rows)
        raise UsageError(
            tr(
                "{important} rows of the highest priority do not fit on a card of size {size}", important=important,
                size=size,
            ),
            hint=tr("give fewer cues the highest priority") + (tr(", or export it as a4") if size == "a6" else ""),
        )
    return fewer


def _with_fewer(words: CardContent, page: Paper, pen: Pen, breaks: bool) -> Layout | None:
    """Return the card without as many rows as must go, or None if those that may are not enough."""
    going = _going(words.content)
    # Fewer rows take less room, so the least number that must go is found by halving.
    numbers = range(1, len(going) + 1)
    at = bisect_left(
        numbers, True, key=lambda n: _made(words, going[:n], page, pen, breaks, steps=0) is not None
    )  # fmt: skip
    return _made(words, going[: numbers[at]], page, pen, breaks) if at < len(numbers) else None


def _made(
    words: CardContent, gone: Sequence[int], page: Paper, pen: Pen, breaks: bool, steps: int = _STEPS
) -> Layout | None:
    """Return the card without the rows at these places, or None if it has no room."""
    rows = words.content.rows
    if len(rows) - len(gone) > _most_rows(page):
        return None
    content = _without(words.content, set(gone))
    left_out = tuple(rows[n] for n in sorted(gone))
    top = _top(content, page, pen)
    for columns, why in _arrangements(content, last=bool(gone)):
        note = _note(words.content, left_out, why, page, pen)
        foot = _foot(words, note, page, pen)
        room_mm = page.height_mm - 2 * page.margin_mm - top.height_mm - foot.height_mm
        body = _largest(content, columns, why, room_mm, page, pen, steps, breaks)
        if body is not None:
            return _assembled(page, top, body, foot, left_out)
    return None


def _most_rows(page: Paper) -> int:
    """Return more rows than there can be room for: what has more is not laid out at all."""
    least_mm = 2 * page.gap.least_mm + 0.5 * page.minor_word.least_mm
    return int(_MOST_COLUMNS * page.height_mm / least_mm)


def _assembled(
    page: Paper, top: ShapeRow, body: Parts, foot: ShapeRow, left_out: tuple[CardRow, ...]
) -> Layout:
    margin_mm = page.margin_mm
    parts = joined([
        top.parts.moved(margin_mm, margin_mm),
        body.moved(margin_mm, margin_mm + top.height_mm),
        foot.parts.moved(margin_mm, page.height_mm - margin_mm - foot.height_mm),
    ])  # fmt: skip
    return Layout(
        width_mm=page.width_mm, height_mm=page.height_mm, parts=parts, upwards=True, left_out=left_out
    )  # fmt: skip


# -- what fits ----------------------------------------------------------------------------------------------------


def _going(content: Content) -> list[int]:
    """Return the places of the rows that may be left out, those that go first at the front. One row stays."""
    rows = content.rows
    may_go = (n for n, row in enumerate(rows) if not row.important)
    return sorted(may_go, key=lambda n: (rows[n].priority, rows[n].large, n))[: len(rows) - 1]


def _without(content: Content, gone: set[int]) -> Content:
    groups, n = [], 0
    for group in content.groups:
        kept = tuple(row for at, row in enumerate(group.rows, start=n) if at not in gone)
        n += len(group.rows)
        if kept:
            groups.append(msgspec.structs.replace(group, rows=kept))
    return msgspec.structs.replace(content, groups=tuple(groups))


def _arrangements(content: Content, last: bool) -> Sequence[tuple[int, bool]]:
    """Return (columns, reasons) in the order in which they are tried; ``last`` if rows have gone already."""
    if content.columns:
        return [(1, False)] if last else [(1, True), (1, False)]
    return [(2, False), (1, False)] if last else [(1, True), (2, True), (1, False), (2, False)]


def _largest(
    content: Content, columns: int, why: bool, room_mm: float, page: Paper, pen: Pen, steps: int, breaks: bool
) -> Parts | None:
    """Return the rows with the largest letters for which there is room, or None; ``steps`` 0 tries the smallest."""
    gutter_mm = 2.5 * page.gap.most_mm
    width_mm = (page.inner_mm - (columns - 1) * gutter_mm) / columns
    best: Parts | None = None
    for step in range(steps + 1):
        style = TableStyle(page=page, width_mm=width_mm, share=step / _STEPS, why=why, pen=pen)
        pieces = table(content, style) if columns == 1 or has_room_for_words(content, style, breaks) else None
        fit = None if pieces is None else _flow(pieces, columns, room_mm, width_mm + gutter_mm, page)
        if fit is None:
            break
        best = fit
    return best


def _flow(pieces: list[CardPiece], columns: int, room_mm: float, pitch_mm: float, page: Paper) -> Parts | None:
    """Return the pieces from the top down, in columns that are equally far apart, or None if they need more room."""
    parts: list[list[ShapeRow]] = [[]]
    height_mm = 0.0
    for before, piece in zip((None, *pieces), pieces, strict=False):
        if height_mm + piece.row.height_mm > room_mm:
            if len(parts) == columns:
                return None
            dangling = [parts[-1].pop()] if before is not None and before.heading else []
            above = [piece.above] if piece.above is not None and not dangling else []
            parts.append([*dangling, *above])
            height_mm = sum(row.height_mm for row in parts[-1])
        parts[-1].append(piece.row)
        height_mm += piece.row.height_mm
    if any(sum(row.height_mm for row in part) > room_mm for part in parts):
        return None
    spread_mm = page.gap.most_mm * 2 if columns == 1 else 0.0
    spread = (_spread(part, room_mm, spread_mm) for part in parts)
    return joined(part.moved(n * pitch_mm, 0.0) for n, part in enumerate(spread))


def _spread(rows: Sequence[ShapeRow], room_mm: float, most_mm: float) -> Parts:
    """Return the rows one below the other, spare room between them, up to ``most_mm`` each."""
    spare_mm = room_mm - sum(row.height_mm for row in rows)
    return stacked(rows, max(0.0, min(most_mm, spare_mm / max(1, len(rows))))).parts


# -- head and foot ------------------------------------------------------------------------------------------------


def _top(content: Content, page: Paper, pen: Pen) -> ShapeRow:
    title = Type(page.title_mm, page.title_mm * 0.6, bold=True, lines=2, rather=0.6)
    rules = Type(page.rule_mm, page.rule_mm, lines=4)
    texts = stacked([
        pen.written(fitted(content.title, page.inner_mm, title, pen.letters), "title"),
        pen.written(fitted(content.rules, page.inner_mm, rules, pen.letters), "rule"),
    ], 0.15 * page.rule_mm)  # fmt: skip
    below_mm = texts.height_mm + 0.3 * page.rule_mm
    line = Parts(boxes=(rule(below_mm, page.inner_mm, 4 * LINE_MM),))
    return ShapeRow(joined([texts.parts, line]), below_mm + 4 * LINE_MM)


def _foot(words: CardContent, note: str, page: Paper, pen: Pen) -> ShapeRow:
    caution = Type(page.caution_mm, page.caution_mm, bold=True, lines=4)
    small = Type(page.print_mm, page.print_mm, lines=3)
    rows = [ShapeRow(Parts(), page.gap.most_mm)]
    if note:
        rows.append(pen.written(fitted(note, page.inner_mm, _note_type(page, _NOTE_LINES), pen.letters), "note"))
    rows += [_form(page, pen), ShapeRow(Parts(), 0.2 * page.print_mm)]
    rows.append(pen.written(fitted(" ".join(words.cautions), page.inner_mm, caution, pen.letters), "print"))
    rows += [pen.written(fitted(text, page.inner_mm, small, pen.letters), "print") for text in words.prints]
    return stacked(rows, 0.15 * page.print_mm)


def _form(page: Paper, pen: Pen) -> ShapeRow:
    em_mm = page.rule_mm               # the box's line, 0.3 mm, lies half outside of 1.3 ems
    style = FormStyle(
        em_mm=em_mm, left_mm=0.0, width_mm=page.inner_mm, height_mm=2.6 * em_mm, base_mm=2.1 * em_mm,
        top_mm=1.05 * em_mm - 0.15, box_mm=1.3 * em_mm + 0.3, text_mm=1.95 * em_mm, line_mm=LINE_MM,
    )  # fmt: skip
    return form(style, pen)


def _note(content: Content, left_out: Sequence[CardRow], why: bool, page: Paper, pen: Pen) -> str:
    """Return what the card says of what it does not hold."""
    reasons = any(entry is not None and entry.why for row in content.rows for entry in row.entries)
    lacks = any(UNKNOWN in known(text, pen.letters) for text in content.strings)
    remarks = (
        "" if content.rows else tr("This plan has no calls."),
        tr("No room for reasons.") if reasons and not why else "",
        tr("{unknown} is in place of letters that this font lacks.", unknown=UNKNOWN) if lacks else "",
    )
    wanting = " ".join(remark for remark in remarks if remark)
    if not left_out:
        return wanting

    def told(named: int) -> str:
        names = ", ".join(row.name for row in left_out[:named])
        more = tr(", and {count} more", count=len(left_out) - named) if named < len(left_out) else ""
        count = tr("{count} of {count_2} rows", count=len(left_out), count_2=len(content.rows))
        return tr(
            "No room for {count}, those of the lowest priority: {names}{more}. {wanting}", count=count, names=names,
            more=more, wanting=wanting,
        ).strip()

    def is_long(named: int) -> bool:
        note = told(named)
        return len(fitted(note, page.inner_mm, _note_type(page, len(note)), pen.letters).lines) > _NOTE_LINES

    # The more names, the longer, but for the last one, with which "and 1 more" goes.
    if len(left_out) <= _MOST_NAMED and not is_long(len(left_out)):
        return told(len(left_out))
    numbers = range(1, min(len(left_out), _MOST_NAMED) + 1)
    return told(bisect_left(numbers, True, key=is_long))


def _note_type(page: Paper, lines: int) -> Type:
    return Type(page.caution_mm, page.caution_mm, lines=lines)
