"""Draw the bands above the calls (display readings, periods, windows), and the seconds beneath. Pure."""

from collections.abc import Sequence
from typing import NamedTuple

from tocsin.export.drawing.fitting import ELLIPSIS, Fitted, Type, fitted
from tocsin.export.drawing.shapes import (
    DIM,
    HELD,
    SHADE,
    BoxKind,
    Label,
    LabelKind,
    OutlinedBox,
    Parts,
    Pen,
    ShapeRow,
    joined,
    middle,
)
from tocsin.export.occurrences import shown_at
from tocsin.export.picture.axis import Axis, AxisInterval, AxisPiece
from tocsin.export.picture.style import PictureStyle
from tocsin.export.source import Source
from tocsin.export.table import seconds
from tocsin.model.display.digits import official
from tocsin.model.timeline.point import MATCH, PeriodSlot, Point
from tocsin.model.timeline.timeline import Timeline
from tocsin.translation import tr
from tocsin.units import NS_PER_S

WINDOW = 1.55                          # how tall a row of windows is, in ems
FILLED = 0.88                          # of that, the windows themselves
_WINDOWS_MOST = 8.0                    # how tall all rows of windows are, in ems
_LEAST_EM = 1.0                        # smaller letters are not drawn
_BESIDE_MOST = 3                       # rows of titles below the periods
_PAD_MM = 0.7
_LINE_MM = 0.2
_GAP_MM = 1.2                          # between labels of a row
_TICK_MM = 13.0                        # from tick to tick at least
_STEPS_S = (1, 2, 5, 10, 30, 60, 300, 600, 1800, 3600)
_FILLS = {"autonomous": SHADE, "pause": None, "driver": HELD, "settle": None}


def edge_of(axis: Axis, slot: PeriodSlot, timeline: Timeline) -> AxisPiece | None:
    """Return the piece of a panel that a period takes; one of open length lasts as long as is drawn of it."""
    if slot.end_ns is not None:
        return axis.span(Point(slot.anchor, slot.begin_ns), Point(slot.anchor, slot.end_ns))
    found = axis.stretch(slot.anchor)
    if found is None:
        return None
    return axis.span(Point(slot.anchor, slot.begin_ns), Point(slot.anchor, found.to_ns))


# -- what the official display reads ----------------------------------------------------------------------------------


def readings(source: Source, axis: Axis, style: PictureStyle, pen: Pen) -> ShapeRow:
    """Return the row of the display's readings: at the edges of periods, and in between where there is room."""
    taken: list[Label] = []
    for x_mm, text, right in [*_edges(source.timeline, axis), *_ticks(source.timeline, axis)]:
        _put(taken, text, x_mm, right, axis, style, pen, "reading")
    return ShapeRow(Parts(labels=tuple(taken)), 1.5 * style.tick_em)


def _edges(timeline: Timeline, axis: Axis) -> list[tuple[float, str, bool]]:
    """Return (x, reading, whether it ends there) of the periods' begins, then of their ends, where that differs."""
    begins, ends = [], []
    for slot in timeline.periods:
        begin = Point(slot.anchor, slot.begin_ns)
        x_mm = axis.x(begin)
        if x_mm is not None and (text := shown_at(timeline, begin)):
            begins.append((x_mm, text, False))
        end = None if slot.end_ns is None else Point(slot.anchor, slot.end_ns)
        end_mm = None if end is None else axis.x(end)
        if end is None or end_mm is None or slot.kind == "settle":
            continue
        if timeline.counts == "period":
            ends.append((end_mm, official(0, timeline.digits), True))
        elif end == timeline.match_end():
            ends.append((end_mm, shown_at(timeline, end), True))
    known = {(round(x_mm, 3), text) for x_mm, text, _ in begins}
    return [*begins, *(item for item in ends if (round(item[0], 3), item[1]) not in known)]


def _ticks(timeline: Timeline, axis: Axis) -> list[tuple[float, str, bool]]:
    """Return (x, reading, False) at even numbers of seconds that are left."""
    found = []
    for slot in timeline.periods:
        stretch = axis.stretch(slot.anchor)
        if stretch is None or slot.end_ns is None or slot.kind == "settle":
            continue
        step_ns = _step_ns(stretch)
        from_ns = max(slot.begin_ns, stretch.from_ns)
        left_ns = timeline.at({slot.anchor: from_ns}).left_ns
        if left_ns is None:
            continue
        at_ns = from_ns + left_ns % step_ns
        while at_ns < slot.end_ns:
            found.append((stretch.x(at_ns), shown_at(timeline, Point(slot.anchor, at_ns)), False))
            at_ns += step_ns
    return found


def _step_ns(stretch: AxisInterval) -> int:
    fits = (step_s for step_s in _STEPS_S if step_s * NS_PER_S * stretch.mm_per_ns >= _TICK_MM)
    return next(fits, _STEPS_S[-1]) * NS_PER_S


def _put(
    taken: list[Label], text: str, x_mm: float, right: bool, axis: Axis, style: PictureStyle, pen: Pen, kind: LabelKind
) -> None:
    """Add a label to a row if there is room for it."""
    width_mm = pen.width(text, style.tick_em)
    begin_mm = x_mm - width_mm - 0.3 if right else x_mm + 0.3
    if begin_mm + width_mm > axis.last_mm + 0.5 and not right:
        begin_mm = x_mm - width_mm - 0.3
    inside = begin_mm >= axis.begin_mm - 0.5 and begin_mm + width_mm <= axis.last_mm + 0.5
    free = all(
        begin_mm >= other.x_mm + other.width_mm + _GAP_MM or begin_mm + width_mm + _GAP_MM <= other.x_mm
        for other in taken
    )
    if inside and free:
        label = pen.label(text, begin_mm, middle(0.0, 1.5 * style.tick_em, style.tick_em), style.tick_em, kind)
        taken.append(label)


def clock_row(source: Source, axis: Axis, style: PictureStyle, pen: Pen) -> ShapeRow:
    """Return the row beneath the lanes: seconds since the origin of each stretch."""
    taken: list[Label] = []
    for stretch in (*axis.match, *axis.apart):
        step_ns = _step_ns(stretch) if stretch in axis.match else max(NS_PER_S, _step_ns(stretch))
        at_ns = -(-stretch.from_ns // step_ns) * step_ns
        while at_ns <= stretch.to_ns:
            text = seconds(at_ns) if stretch.anchor == MATCH else f"+{seconds(at_ns)}"
            _put(taken, text, stretch.x(at_ns), False, axis, style, pen, "second")
            at_ns += step_ns
    return ShapeRow(Parts(labels=tuple(taken)), 1.5 * style.tick_em)


# -- periods and windows ----------------------------------------------------------------------------------------------


class _BandPiece(NamedTuple):
    """A named piece of a band, and how it is drawn."""

    span: AxisPiece
    title: str
    fill: float | None


def periods(source: Source, axis: Axis, until_mm: float, style: PictureStyle, pen: Pen) -> ShapeRow:
    """Return the band of periods; titles that have no room in it stand below, none from ``until_mm`` on."""
    timeline = source.timeline
    pieces = []
    for slot in timeline.periods:
        span = edge_of(axis, slot, timeline)
        if span is not None and span.end_mm > span.begin_mm:
            open_end = tr(", no time limit") if slot.end_ns is None else ""
            pieces.append(_BandPiece(span, slot.title + open_end, _FILLS[slot.kind]))
    for stretch in axis.apart:
        name = stretch.anchor
        title = tr("by hand") if name.startswith("call.") else tr("at mark {name}", name=name.removeprefix("mark."))
        pieces.append(_BandPiece(AxisPiece(stretch.x_mm, stretch.end_mm, False, True), title, None))
    height_mm = 2.0 * style.band_em
    fits = {n: fit for n, piece in enumerate(pieces) if (fit := _inside(piece, height_mm, style, pen)) is not None}
    rest = [piece for n, piece in enumerate(pieces) if n not in fits and piece.span.begin_mm < until_mm]
    outside, rows = _beside(rest, axis, style, pen)
    boxes = tuple(_band_box(piece, 0.0, height_mm, "period") for piece in pieces)
    inside = (
        pen.written(fit, "period", pieces[n].span.begin_mm + _PAD_MM, (height_mm - fit.height_mm) / 2).parts
        for n, fit in fits.items()
    )
    parts = joined([Parts(boxes=boxes), *inside, outside.moved(0.0, height_mm)])
    return ShapeRow(parts, height_mm + rows * 1.4 * style.detail_em)


def _inside(piece: _BandPiece, height_mm: float, style: PictureStyle, pen: Pen) -> Fitted | None:
    """Return a title in one line or two, or None if it has no room in its period."""
    room_mm = piece.span.end_mm - piece.span.begin_mm - 2 * _PAD_MM
    if room_mm < style.band_em:
        return None
    kind = Type(style.band_em, 0.75 * style.band_em, lines=2, rather=0.9)
    fit = fitted(piece.title, room_mm, kind, pen.letters)
    cut = any(line.string.endswith(ELLIPSIS) for line in fit.lines)
    broken = len(fit.lines) > piece.title.count(" ") + 1
    return None if cut or broken or fit.width_mm > room_mm or fit.height_mm > height_mm else fit


def _fitting_em(title: str, span: AxisPiece, style: PictureStyle, pen: Pen) -> float:
    """Return the size at which a title has room in its piece, 0 if it has none."""
    room_mm = span.end_mm - span.begin_mm - 2 * _PAD_MM
    sizes = (style.band_em, 0.9 * style.band_em, 0.8 * style.band_em)
    return next((em_mm for em_mm in sizes if pen.width(title, em_mm) <= room_mm), 0.0)


def _band_box(piece: _BandPiece, y_mm: float, height_mm: float, kind: BoxKind) -> OutlinedBox:
    return OutlinedBox(
        x_mm=piece.span.begin_mm, y_mm=y_mm, width_mm=piece.span.end_mm - piece.span.begin_mm, height_mm=height_mm,
        kind=kind, fill=piece.fill, line_mm=_LINE_MM,
    )  # fmt: skip


def _beside(pieces: Sequence[_BandPiece], axis: Axis, style: PictureStyle, pen: Pen) -> tuple[Parts, int]:
    """Return the titles that have no room inside, in free rows below the band, and how many rows there are."""
    rows: list[list[tuple[float, float]]] = []
    labels = []
    em_mm = style.detail_em
    for piece in pieces:
        title = pen.cut(piece.title, (axis.last_mm - axis.begin_mm) / 3, em_mm)
        width_mm = pen.width(title, em_mm)
        x_mm = max(axis.begin_mm, min(piece.span.begin_mm, axis.last_mm - width_mm))
        row = _free_row(rows, x_mm, x_mm + width_mm + _GAP_MM)
        if row >= _BESIDE_MOST:
            continue
        base_mm = middle(row * 1.4 * em_mm, 1.4 * em_mm, em_mm)
        labels.append(pen.label(title, x_mm, base_mm, em_mm, "period", grey=DIM))
    return Parts(labels=tuple(labels)), min(len(rows), _BESIDE_MOST)


def _free_row(rows: list[list[tuple[float, float]]], begin_mm: float, end_mm: float) -> int:
    """Return the first row in which nothing is in the way, a new one if need be, and take the room there."""
    for row, taken in enumerate(rows):
        if all(begin_mm >= end or end_mm <= begin for begin, end in taken):
            taken.append((begin_mm, end_mm))
            return row
    rows.append([(begin_mm, end_mm)])
    return len(rows) - 1


class _PlacedWindow(NamedTuple):
    """A window's piece, its title, where that begins, its size, and the row of both."""

    span: AxisPiece
    title: str
    text_mm: float
    em_mm: float
    row: int


def windows(source: Source, axis: Axis, style: PictureStyle, pen: Pen) -> ShapeRow:
    """Return the windows as bands, overlapping ones in rows of their own; titles stand in or beside them."""
    rows: list[list[tuple[float, float]]] = []
    found: list[_PlacedWindow] = []
    for window in source.timeline.windows:
        span = axis.span(window.begin, window.end)
        if span is None or span.end_mm <= span.begin_mm:
            continue
        title, text_mm, em_mm = _window_title(window.title, span, axis, style, pen)
        end_mm = text_mm + pen.width(title, em_mm) + _PAD_MM
        row = _free_row(rows, min(span.begin_mm, text_mm), max(span.end_mm, end_mm))
        found.append(_PlacedWindow(span, title, text_mm, em_mm, row))
    row_mm = min(WINDOW, _WINDOWS_MOST / max(1, len(rows))) * style.band_em
    return ShapeRow(joined(_window_parts(item, row_mm, pen) for item in found), row_mm * len(rows))


def _window_parts(item: _PlacedWindow, row_mm: float, pen: Pen) -> Parts:
    """Return a window's band and its title, smaller where rows are low; none where it could not be read."""
    y_mm, height_mm = item.row * row_mm, row_mm * FILLED
    box = _band_box(_BandPiece(item.span, item.title, SHADE), y_mm, height_mm, "window")
    em_mm = min(item.em_mm, height_mm / 1.1)
    if not item.title or em_mm < _LEAST_EM:
        return Parts(boxes=(box,))
    label = pen.label(item.title, item.text_mm, middle(y_mm, height_mm, em_mm), em_mm, "window")
    return Parts(boxes=(box,), labels=(label,))


def _window_title(title: str, span: AxisPiece, axis: Axis, style: PictureStyle, pen: Pen) -> tuple[str, float, float]:
    """Return a window's title, where it begins and its size: inside, else at its right or left, cut if need be."""
    inside_em = _fitting_em(title, span, style, pen)
    if inside_em:
        return title, span.begin_mm + _PAD_MM, inside_em
    width_mm = pen.width(title, style.band_em)
    right_mm = axis.last_mm - span.end_mm - _PAD_MM
    left_mm = span.begin_mm - axis.begin_mm - _PAD_MM
    if width_mm <= right_mm or right_mm >= left_mm:
        return pen.cut(title, right_mm, style.band_em), span.end_mm + _PAD_MM, style.band_em
    title = pen.cut(title, left_mm, style.band_em)
    return title, span.begin_mm - _PAD_MM - pen.width(title, style.band_em), style.band_em
