"""The page of a picture: head, the panels, notes, key, what is for the wall, small print. Pure; lengths in mm.

What it keeps to: nothing overlaps, nothing leaves the page, and every firing is drawn, whatever the plan.
"""

from collections.abc import Iterator, Sequence

import msgspec

from tocsin.export.drawing.fitting import ELLIPSIS, UNKNOWN, Letters, Type, fitted, known
from tocsin.export.drawing.shapes import (
    DIM,
    PALE,
    SHADE,
    LabelKind,
    OutlinedBox,
    Page,
    Parts,
    Pen,
    ShapeRow,
    Stroke,
    cut_around,
    joined,
    stacked,
)
from tocsin.export.picture.axis import Axis, axes
from tocsin.export.picture.callouts import Callout
from tocsin.export.picture.key import how_to_read, key
from tocsin.export.picture.notes import NoteMark, PictureNote, note_list, numbered
from tocsin.export.picture.panel import Panel
from tocsin.export.picture.style import PictureStyle
from tocsin.export.picture.wall import lists, wall_form
from tocsin.export.source import CAUTIONS, Source
from tocsin.model.timeline.point import Point
from tocsin.translation import tr
from tocsin.units import NS_PER_S

_SMALLER = 0.55                        # how tall a lane's row is in the panel of the whole match, of that in the larger
_LEAST_ROW_MM = 0.7                    # lower rows of lanes are not told apart
_MANY = 16                             # rows of lanes on a panel: more of them are lower
_HALVINGS = 12
_FACTORS = (1.5, 1.35, 1.2, 1.1, 1.0, 0.9, 0.8)  # sizes of letters that are tried
_FEWER = (1.0, 0.6, 0.3, 0.1)          # how much room words and lists have on a page where nothing else helps
_EASY, _LEAST = 0.85, 0.6              # how tall rows must be for larger letters, and for usual ones, of what they can
_BETWEEN_MM = 4.0                      # between panels
_DIGEST = 16                           # hexadecimal digits of a digest that are printed


class Sheet(Page, frozen=True, kw_only=True):
    """A picture with everything in its place. ``axes`` are those of its panels; ``left_out`` are flags without room."""

    axes: tuple[Axis, ...]
    left_out: tuple[Callout, ...]


def lay_out(source: Source, style: PictureStyle, letters: Letters, notes: Sequence[PictureNote] = ()) -> Sheet:
    """Return a plan on a page, with a numbered mark and a line for each note, in the largest letters that fit."""
    pen = Pen(letters)
    marks = numbered(source.timeline, notes)
    aside = _aside(_panels(source, style, pen, marks))
    best: dict[bool, _Page] = {}
    for scaled, why in _tries(style):
        page = _Page(source, scaled, pen, marks, why)
        easy = page.is_easy(style, aside)
        if easy and not page.left_out:
            return page.sheet()
        other = best.get(easy)
        if page.is_drawable and (other is None or len(page.left_out) < len(other.left_out)):
            best[easy] = page
    return best.get(True, best.get(False, page)).sheet()


def _tries(style: PictureStyle) -> Iterator[tuple[PictureStyle, bool]]:
    """Yield the page with all letters' sizes and lists that may be tried, the best first."""
    if style.wall:
        yield from ((style.scaled(factor), True) for factor in _FACTORS[:-1])
    yield from ((style.scaled(factor), False) for factor in _FACTORS)
    for factor, words in ((1.0, 1.0), *((_FACTORS[-1], words) for words in _FEWER)):
        yield style.scaled(factor, details=False, words=words), False


class _Page:
    """A page whose letters have their size."""

    def __init__(self, source: Source, style: PictureStyle, pen: Pen, marks: Sequence[NoteMark], why: bool) -> None:
        self.style = style
        self._panels = _panels(source, style, pen, marks)
        self.left_out = tuple(callout for panel in self._panels for callout in panel.left_out)
        self.aside = _aside(self._panels)
        self._top = _head(source, style, pen)
        self._foot = _foot(source, self.left_out, self._untitled(source, pen), marks, why, style, pen)
        self._room_mm = style.height_mm - 2 * style.margin_mm - self._top.height_mm - self._foot.height_mm
        fixed_mm = sum(panel.fixed_mm for panel in self._panels) + _BETWEEN_MM * len(self._panels)
        self.row_mm = self._fitting(self._room_mm - fixed_mm)
        self.is_drawable = self.row_mm > _LEAST_ROW_MM

    def _rows_mm(self, row_mm: float) -> list[float]:
        """Return how tall rows are in each panel; one that has many takes no more room for that."""
        shares = [1.0] if len(self._panels) == 1 else [_SMALLER, 1.0]
        return [
            share * row_mm * min(1.0, _MANY / panel.rows) for share, panel in zip(shares, self._panels, strict=True)
        ]

    def _fitting(self, room_mm: float) -> float:
        """Return how tall the rows of lanes may be, by halving: the taller, the more room they take."""
        low_mm, high_mm = 0.0, self.style.lane_most_mm
        for _ in range(_HALVINGS):
            middle_mm = (low_mm + high_mm) / 2
            heights = zip(self._panels, self._rows_mm(middle_mm), strict=True)
            if sum(panel.lanes_mm(row_mm) for panel, row_mm in heights) <= room_mm:
                low_mm = middle_mm
            else:
                high_mm = middle_mm
        return low_mm

    def is_easy(self, usual: PictureStyle, aside: int) -> bool:
        """Return whether it reads well: rows are tall enough, and larger letters than usual put no more words aside."""
        if self.style.word_em > usual.word_em:
            return self.row_mm >= _EASY * self.style.lane_most_mm and self.aside <= aside
        return self.row_mm >= _LEAST * self.style.lane_most_mm

    def _untitled(self, source: Source, pen: Pen) -> int:
        """Return how many periods and windows stand there without their name, or what is left of it."""
        shown = {title.removesuffix(ELLIPSIS) for panel in self._panels for title in panel.titles} - {""}
        timeline = source.timeline
        named = [slot.title for slot in timeline.periods] + [span.title for span in timeline.windows]
        titles = [known(title, pen.letters) for title in named]
        return sum(not any(part in title or title in part for part in shown) for title in titles)

    def sheet(self) -> Sheet:
        """Return everything in its place."""
        style = self.style
        parts = joined([
            self._top.parts.moved(0.0, style.margin_mm),
            self._stacked_panels().moved(0.0, style.margin_mm + self._top.height_mm),
            self._foot.parts.moved(0.0, style.height_mm - style.margin_mm - self._foot.height_mm),
        ])  # fmt: skip
        return Sheet(
            width_mm=style.width_mm, height_mm=style.height_mm,
            parts=msgspec.structs.replace(parts, strokes=cut_around(parts.strokes, parts.labels)),
            axes=tuple(panel.axis for panel in self._panels), left_out=self.left_out,
        )  # fmt: skip

    def _stacked_panels(self) -> Parts:
        """Return the panels one below the other."""
        heights = zip(self._panels, self._rows_mm(self.row_mm), strict=True)
        drawn = [panel.drawn(row_mm) for panel, row_mm in heights]
        spare_mm = self._room_mm - sum(height_mm for _, height_mm in drawn)
        gap_mm = min(spare_mm / len(drawn), 3 * _BETWEEN_MM)
        parts, y_mm, tops = [], 0.0, []
        for one, height_mm in drawn:
            tops.append((y_mm, y_mm + height_mm))
            parts.append(one.moved(0.0, y_mm))
            y_mm += height_mm + gap_mm
        if len(drawn) == 2:
            parts.insert(0, _zoom(self._panels[0].axis, self._panels[1].axis, tops))
        return joined(parts)


# -- panels -----------------------------------------------------------------------------------------------------------


def _panels(source: Source, style: PictureStyle, pen: Pen, marks: Sequence[NoteMark]) -> list[Panel]:
    left_mm, right_mm = style.margin_mm + style.gutter_mm, style.width_mm - style.margin_mm - 2.0
    found = axes(source.timeline, left_mm, right_mm)
    if len(found) == 1:
        return [
            Panel(source, found[0], style, pen, heading=tr("The whole match"), until=None,
                  flags_most_mm=sum(style.flags_most_mm), notes=marks)
        ]  # fmt: skip
    first = found[1].match[0]
    begin = Point(first.anchor, first.from_ns)
    length_s = -(-sum(item.to_ns - item.from_ns for item in found[1].match) // NS_PER_S)
    return [
        Panel(source, found[0], style, pen, heading=tr("The whole match"), until=begin,
              flags_most_mm=style.flags_most_mm[0], notes=marks),
        Panel(source, found[1], style, pen, heading=tr("The last {length} s, larger", length=length_s), until=None,
              flags_most_mm=style.flags_most_mm[1], notes=marks),
    ]  # fmt: skip


def _aside(panels: Sequence[Panel]) -> int:
    """Return how many calls' words stand where they are less clear."""
    return sum(panel.aside for panel in panels)


def _zoom(whole: Axis, larger: Axis, tops: Sequence[tuple[float, float]]) -> Parts:
    """Return the ground of what is shown larger, and the lines that lead there."""
    first = larger.match[0]
    begin_mm = whole.x(Point(first.anchor, first.from_ns)) or whole.begin_mm
    (top_mm, low_mm), (next_mm, _) = tops
    shade = OutlinedBox(
        x_mm=begin_mm, y_mm=top_mm, width_mm=whole.end_mm - begin_mm, height_mm=low_mm - top_mm, kind="shade",
        fill=SHADE,
    )  # fmt: skip
    frame = [
        Stroke(points=((x_mm, top_mm), (x_mm, low_mm)), kind="zoom", line_mm=0.2, grey=DIM)
        for x_mm in (begin_mm, whole.end_mm)
    ]
    lines = [
        Stroke(points=((from_mm, low_mm), (to_mm, next_mm)), kind="zoom", line_mm=0.2, grey=PALE)
        for from_mm, to_mm in ((begin_mm, larger.begin_mm), (whole.end_mm, larger.end_mm))
    ]
    return Parts(boxes=(shade,), strokes=(*frame, *lines))


# -- head and foot ----------------------------------------------------------------------------------------------------


def _head(source: Source, style: PictureStyle, pen: Pen) -> ShapeRow:
    return stacked([
        _text(source.title, style.title_em, "title", style, pen, bold=True),
        _text(how_to_read(source), style.rule_em, "rule", style, pen, lines=2),
        ShapeRow(Parts(), 0.8),
    ])  # fmt: skip


def _foot(
    source: Source, left_out: Sequence[Callout], untitled: int, marks: Sequence[NoteMark], why: bool,
    style: PictureStyle, pen: Pen,
) -> ShapeRow:  # fmt: skip
    return stacked([
        note_list(marks, style, pen),
        _remarks(source, left_out, untitled, style, pen),
        key(source, style, pen),
        *((lists(source, why, style, pen), wall_form(style, pen)) if style.wall else ()),
        _prints(source, style, pen),
    ])  # fmt: skip


def _remarks(source: Source, left_out: Sequence[Callout], untitled: int, style: PictureStyle, pen: Pen) -> ShapeRow:
    """Return what the picture says of what it does not hold."""
    remarks = []
    if not source.timeline.firings:
        remarks.append(tr("This plan has no calls."))
    if left_out:
        named = ", ".join(callout.name for callout in left_out[:5]) + (tr(" and others") if len(left_out) > 5 else "")
        remarks.append(tr(
            "No room for the words at {count} moments: {named}. `tocsin preview` lists all.", count=len(left_out),
            named=named,
        ))
    if untitled:
        remarks.append(tr("No room for the names of {untitled} periods and windows.", untitled=untitled))
    if any(UNKNOWN in pen.cut(text, 1e9, 1.0) for text in _written(source)):
        remarks.append(tr("{unknown} is in place of letters that this font lacks.", unknown=UNKNOWN))
    return _text(" ".join(remarks), style.rule_em, "note", style, pen, lines=2) if remarks else ShapeRow(Parts(), 0.0)


def _written(source: Source) -> list[str]:
    """Return what people wrote."""
    game = source.game
    titles = [period.title for period in game.periods] + [window.title for window in game.windows]
    titles += [variant.title for variant in game.variants]
    return [game.name, source.plan.name, *titles, *dict.fromkeys(firing.word for firing in source.timeline.firings)]


def _prints(source: Source, style: PictureStyle, pen: Pen) -> ShapeRow:
    cautions = _text(" ".join(CAUTIONS), style.print_em * 1.15, "print", style, pen, bold=True, lines=2)
    made, game, plan = source.short_origin_lines(_DIGEST)
    rows = [_text(text, style.print_em, "print", style, pen) for text in (made, f"{game}, {plan}")]
    return stacked([ShapeRow(Parts(), 0.6), cautions, *rows])


def _text(
    text: str, em_mm: float, kind: LabelKind, style: PictureStyle, pen: Pen, *, bold: bool = False, lines: int = 1
) -> ShapeRow:
    fit = fitted(text, style.inner_mm, Type(em_mm, em_mm * 0.75, bold=bold, lines=lines), pen.letters)
    return ShapeRow(pen.written(fit, kind, style.margin_mm).parts, fit.height_mm + 0.3)
