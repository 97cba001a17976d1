"""A panel of a picture: bands, calls, lanes, seconds, marks of notes, one below the other on one axis. Pure."""

from collections.abc import Sequence
from functools import cached_property

from tocsin.export.drawing.fitting import Fitted, Type, fitted
from tocsin.export.drawing.shapes import DIM, PALE, Parts, Pen, ShapeRow, Stroke, joined, middle
from tocsin.export.picture.axis import Axis
from tocsin.export.picture.bands import FILLED, WINDOW, clock_row, edge_of, periods, readings, windows
from tocsin.export.picture.bars import BAR, draw_bar, line_of, names
from tocsin.export.picture.callouts import Callout, PlacedCallout, Zone, callouts, placed, written
from tocsin.export.picture.lanes import Bar, Lane, bars, lanes, rows_of
from tocsin.export.picture.notes import NoteMark, note_row
from tocsin.export.picture.style import PictureStyle
from tocsin.export.source import Source
from tocsin.model.timeline.point import Point
from tocsin.translation import tr

_EDGE_DOTS = (0.4, 0.6)
_LEAST_LANE_MM = 1.5                   # how tall a lane is at least
_AIR_MM = 1.0                          # between the bands and the calls, and between those and the lanes


class Panel:
    """A panel whose rows are known but for the height of the lanes."""

    def __init__(
        self, source: Source, axis: Axis, style: PictureStyle, pen: Pen, *,
        heading: str, until: Point | None, flags_most_mm: float, notes: Sequence[NoteMark],
    ) -> None:  # fmt: skip
        self.axis = axis
        self._source, self._style, self._pen, self._heading = source, style, pen, heading
        self._until_mm = None if until is None else axis.x(until)
        self._readings = readings(source, axis, style, pen)
        self._periods = periods(source, axis, axis.last_mm if self._until_mm is None else self._until_mm, style, pen)
        self._windows = windows(source, axis, style, pen)
        self._clock = ShapeRow(Parts(), 0.0) if style.wall else clock_row(source, axis, style, pen)
        self._notes = note_row(notes, axis, style, pen)
        self.bars = {lane: bars(source, axis, lane) for lane in lanes(source.timeline)}
        found = callouts(source, axis, until, style, pen)
        zone = Zone(axis.begin_mm, style.width_mm - style.margin_mm, flags_most_mm, style.word_em)
        self._placed, self.left_out = placed(found, zone)

    @cached_property
    def rows(self) -> int:
        """How many rows all lanes have together."""
        return sum(rows_of(found) for found in self.bars.values())

    def lanes_mm(self, row_mm: float) -> float:
        """Return how tall all lanes are together if their rows are so tall; the lowest have room for their name."""
        return sum(rows_of(found) * self._row_of(lane, row_mm) for lane, found in self.bars.items())

    def _row_of(self, lane: Lane, row_mm: float) -> float:
        return max(row_mm, _LEAST_LANE_MM / rows_of(self.bars[lane]))

    @cached_property
    def flags_mm(self) -> float:
        """How tall the calls' words stand."""
        return max(self._fitted_heading.height_mm, max((item.high_mm for item in self._placed), default=0.0))

    @property
    def titles(self) -> set[str]:
        """The names of periods and windows that stand there, in one line or in parts."""
        return {label.string for row in (self._periods, self._windows) for label in row.parts.labels}

    @property
    def aside(self) -> int:
        """How many calls' words stand at the left of their leaders, where they are less clear."""
        return sum(item.left for item in self._placed)

    @property
    def fixed_mm(self) -> float:
        """The height of all but the lanes."""
        bands = (self._readings, self._periods, self._windows, self._clock, self._notes)
        return sum(row.height_mm for row in bands) + self.flags_mm + 4 * _AIR_MM

    @property
    def _fitted_heading(self) -> Fitted:
        em_mm = self._style.band_em
        kind = Type(em_mm, em_mm, bold=True, lines=3)
        return fitted(self._heading, self._style.gutter_mm - 2, kind, self._pen.letters)

    def drawn(self, row_mm: float) -> tuple[Parts, float]:
        """Return the panel with its top at 0, and its height; a row of a lane is so tall."""
        parts, y_mm = self._bands()
        ground_mm = y_mm + _AIR_MM + self.flags_mm
        words = [label for item in self._placed for label in written(item, ground_mm, self._pen)]
        lanes_mm = ground_mm + _AIR_MM
        tops, end_mm = self._tops(lanes_mm, row_mm)
        strokes = [*self._edges(y_mm, end_mm), *self._leaders(ground_mm, tops, row_mm), *self._lines(tops, end_mm)]
        parts += [
            Parts(labels=tuple(words), strokes=tuple(strokes)),
            self._pen.written(self._fitted_heading, "gutter", self._style.margin_mm, y_mm + _AIR_MM).parts,
            *(self._lane(lane, tops[lane], row_mm) for lane in self.bars),
        ]
        below_mm = end_mm + _AIR_MM
        for row, name in ((self._notes, tr("notes below")), (self._clock, self._clock_name)):
            if row.height_mm:
                parts += [row.parts.moved(0.0, below_mm), self._name(name, below_mm, row.height_mm, dim=True)]
                below_mm += row.height_mm
        return joined(parts), below_mm

    @property
    def _clock_name(self) -> str:
        several = len(self._source.timeline.segments) > 1
        return tr("seconds of each part") if several else tr("match seconds")

    def _bands(self) -> tuple[list[Parts], float]:
        parts, y_mm = [], 0.0
        band_mm = 2.0 * self._style.band_em
        named = (
            (self._readings, tr("display shows"), self._readings.height_mm, True),
            (self._periods, tr("periods"), band_mm, False),
            (self._windows, tr("windows"), min(self._windows.height_mm, WINDOW * self._style.band_em * FILLED), False),
        )
        for row, name, name_mm, dim in named:
            if row.height_mm:
                parts += [row.parts.moved(0.0, y_mm), self._name(name, y_mm, name_mm, dim=dim)]
            y_mm += row.height_mm + (0.0 if row is self._readings else _AIR_MM * 0.6)
        return parts, y_mm

    def _name(self, name: str, y_mm: float, height_mm: float, dim: bool = False, most_em: float = 1e9) -> Parts:
        """Return a row's name in the gutter."""
        style, pen = self._style, self._pen
        em_mm = min(style.lane_em, height_mm / 1.2, most_em)
        text = pen.cut(name, style.gutter_mm - 2.0, em_mm)
        label = pen.label(text, style.margin_mm, middle(y_mm, height_mm, em_mm), em_mm, "gutter",
                          grey=DIM if dim else 0.0)  # fmt: skip
        return Parts(labels=(label,))

    # -- lanes ----------------------------------------------------------------------------------------------------

    def _tops(self, y_mm: float, row_mm: float) -> tuple[dict[Lane, float], float]:
        tops: dict[Lane, float] = {}
        for lane, found in self.bars.items():
            tops[lane] = y_mm
            y_mm += rows_of(found) * self._row_of(lane, row_mm)
        return tops, y_mm

    def _lane(self, lane: Lane, top_mm: float, row_mm: float) -> Parts:
        found = self.bars[lane]
        lowest_mm = min(rows_of(bars) * self._row_of(lane, row_mm) for lane, bars in self.bars.items())
        row_mm = self._row_of(lane, row_mm)
        height_mm = row_mm * BAR
        variants = self._source.timeline.variants
        drawn = [
            draw_bar(bar, top_mm + bar.row * row_mm + (row_mm - height_mm) / 2, height_mm, variants) for bar in found
        ]
        words = names(found, self.axis, self._until_mm, top_mm, row_mm, self._style, self._pen)
        return joined([*drawn, words, self._name(lane.name, top_mm, row_mm * rows_of(found), most_em=lowest_mm / 1.2)])

    def _lines(self, tops: dict[Lane, float], end_mm: float) -> list[Stroke]:
        """Return the lines between lanes."""
        begin_mm = self._style.margin_mm
        return [
            Stroke(points=((begin_mm, y_mm), (self.axis.last_mm, y_mm)), kind="row", grey=PALE)
            for y_mm in (*tops.values(), end_mm)
        ]

    def _edges(self, y_mm: float, end_mm: float) -> list[Stroke]:
        """Return dotted lines down from where periods and windows begin and end."""
        timeline = self._source.timeline
        spans = [edge_of(self.axis, slot, timeline) for slot in timeline.periods]
        spans += [self.axis.span(window.begin, window.end) for window in timeline.windows]
        at = {round(span.begin_mm, 4) for span in spans if span is not None and not span.open_left}
        at |= {round(span.end_mm, 4) for span in spans if span is not None and not span.open_right}
        return [
            Stroke(points=((x_mm, y_mm), (x_mm, end_mm)), kind="edge", grey=PALE, dots=_EDGE_DOTS)
            for x_mm in sorted(at)
        ]

    def _leaders(self, ground_mm: float, tops: dict[Lane, float], row_mm: float) -> list[Stroke]:
        return [self._leader(item, ground_mm, tops, row_mm) for item in self._placed]

    def _leader(self, item: PlacedCallout, ground_mm: float, tops: dict[Lane, float], row_mm: float) -> Stroke:
        """Return a callout's leader: as far down as something begins there; the thicker, the higher its priority."""
        lowest = ground_mm
        for lane, found in self.bars.items():
            for bar in found:
                if _is_of(bar, item.callout):
                    lowest = max(lowest, tops[lane] + (bar.row + 0.5) * self._row_of(lane, row_mm))
        x_mm = item.callout.x_mm
        return Stroke(
            points=((x_mm, ground_mm - item.high_mm), (x_mm, lowest)), kind="leader",
            line_mm=line_of(item.callout.priority) * 0.7,
        )  # fmt: skip


def _is_of(bar: Bar, callout: Callout) -> bool:
    return not set(bar.nos).isdisjoint(callout.nos)

