"""How a bar looks: its frame, what of its pattern is felt or heard, its tail, its name. Pure.

Nothing is told by a colour: the frame's line tells the priority, grey ground a hold, hatching a variant.
"""

from collections.abc import Iterable, Sequence

from tocsin.export.drawing.shapes import FELT, HELD, Label, OutlinedBox, Parts, Pen, Stroke, middle
from tocsin.export.picture.axis import Axis
from tocsin.export.picture.lanes import Bar
from tocsin.export.picture.style import PictureStyle

TAIL_DOTS = (0.25, 0.45)
HATCHES = ("////", "\\\\\\\\", "....", "xxxx", "++++")
_POINT_MM = 1.0                        # of an end that is not known
_PAD_MM = 0.6
_GAP_MM = 0.5
_OVER_MM = 2.0                         # that names may stand out at the right of a stretch
_CLOSE_MM = 8.0                        # repeats that follow closer are named once
_SMALL = 0.82                          # of names that would have no room else
_LETTERS = 1.0                         # how tall a row or a bar must be to hold letters, in ems
_FULL_MM = 4.0                         # how tall a bar is whose frame is as thick as its priority says
BAR = 0.74                             # how tall a bar is, of its row


def line_of(priority: int) -> float:
    """Return how thick the line of a priority is, in mm: 0 to 9."""
    return 0.12 + 0.065 * priority


def _line_of(bar: Bar, height_mm: float) -> float:
    """Return how thick a bar's frame is; low bars have finer frames, all of a panel alike."""
    return line_of(bar.priority) * min(1.0, height_mm / _FULL_MM)


def hatch_of(when: str, variants: Sequence[str]) -> str:
    """Return the hatching of what comes in one variant only."""
    return HATCHES[variants.index(when) % len(HATCHES)] if when in variants else ""


def draw_bar(bar: Bar, y_mm: float, height_mm: float, variants: Sequence[str]) -> Parts:
    """Return a bar whose upper edge is there."""
    line_mm = min(_line_of(bar, height_mm), bar.width_mm / 2)
    boxes = [
        OutlinedBox(
            x_mm=bar.x_mm, y_mm=y_mm, width_mm=bar.width_mm, height_mm=height_mm, kind="firing", nos=bar.nos,
            fill=HELD if bar.sustained else 1.0, line_mm=line_mm, hatch=hatch_of(bar.when, variants),
        )
    ]  # fmt: skip
    boxes += _steps(bar, y_mm, height_mm, line_mm)
    return Parts(boxes=tuple(boxes), strokes=tuple(_strokes(bar, y_mm, height_mm, line_mm)))


def _steps(bar: Bar, y_mm: float, height_mm: float, line_mm: float) -> list[OutlinedBox]:
    """Return what is felt or heard, within the bar's frame."""
    low_mm, high_mm, tall_mm = bar.x_mm + line_mm, bar.end_mm - line_mm, height_mm - 2 * line_mm
    inside = ((max(low_mm, x_mm), min(high_mm, x_mm + width_mm)) for x_mm, width_mm in bar.steps)
    return [
        OutlinedBox(x_mm=x_mm, y_mm=y_mm + line_mm, width_mm=end_mm - x_mm, height_mm=tall_mm, kind="step", fill=FELT)
        for x_mm, end_mm in inside if end_mm > x_mm and tall_mm > 0
    ]  # fmt: skip


def _strokes(bar: Bar, y_mm: float, height_mm: float, line_mm: float) -> list[Stroke]:
    middle_mm, strokes = y_mm + height_mm / 2, []
    if bar.tail_mm is not None and bar.tail_mm > bar.end_mm:
        strokes.append(
            Stroke(points=((bar.end_mm, middle_mm), (bar.tail_mm, middle_mm)), kind="tail", line_mm=0.25,
                   dots=TAIL_DOTS)
        )  # fmt: skip
    if bar.tail_mm is not None and bar.tail_mm > bar.end_mm and not bar.tail_open:
        strokes.append(
            Stroke(points=((bar.tail_mm - 0.1, y_mm + 0.2 * height_mm), (bar.tail_mm - 0.1, y_mm + 0.8 * height_mm)),
                   kind="tail", line_mm=0.2)
        )  # fmt: skip
    if bar.open_right:
        strokes.append(_point(bar.end_mm, _POINT_MM, y_mm, height_mm, line_mm))
    if bar.open_left:
        strokes.append(_point(bar.x_mm, -_POINT_MM, y_mm, height_mm, line_mm))
    return strokes


def _point(x_mm: float, out_mm: float, y_mm: float, height_mm: float, line_mm: float) -> Stroke:
    """Return the arrow's head of a bar that goes on."""
    points = ((x_mm, y_mm), (x_mm + out_mm, y_mm + height_mm / 2), (x_mm, y_mm + height_mm))
    return Stroke(points=points, kind="open", line_mm=line_mm)


def names(
    found: Sequence[Bar],
    axis: Axis,
    until_mm: float | None,
    top_mm: float,
    row_mm: float,
    style: PictureStyle,
    pen: Pen,
) -> Parts:
    """Return the names of bars where they have room: inside of a bar, else at its right; none from ``until_mm`` on."""
    labels, plates = [], []
    for run in _runs(bar for bar in found if until_mm is None or bar.x_mm < until_mm):
        for bar in (run[0], *run[:0:-1]):
            label = _name(bar, found, axis, top_mm + bar.row * row_mm, row_mm, style, pen)
            if label is None:
                continue
            labels.append(label)
            if bar.when and label.x_mm < bar.end_mm:
                plates.append(_plate(label))
            break
    return Parts(labels=tuple(labels), boxes=tuple(plates))


def _runs(found: Iterable[Bar]) -> list[list[Bar]]:
    """Return the bars, those of one cue that follow each other closely together: they are named once."""
    latest: dict[str, list[Bar]] = {}
    runs: list[list[Bar]] = []
    for bar in found:
        run = latest.get(bar.cue)
        if run is None or bar.x_mm - run[-1].end_mm > _CLOSE_MM:
            run = latest[bar.cue] = []
            runs.append(run)
        run.append(bar)
    return runs


def _name(
    bar: Bar, found: Sequence[Bar], axis: Axis, y_mm: float, row_mm: float, style: PictureStyle, pen: Pen
) -> Label | None:
    line_mm = _line_of(bar, row_mm * BAR)
    pad_mm = _PAD_MM + line_mm
    begin_mm = bar.end_mm + _GAP_MM + (_POINT_MM if bar.open_right else 0.0)
    end_mm = (axis.last_mm if begin_mm > axis.end_mm else axis.end_mm) + _OVER_MM
    end_mm = min((other.x_mm for other in found if other.row == bar.row and other.x_mm > bar.x_mm), default=end_mm)
    inside = (bar.x_mm + pad_mm, bar.end_mm - pad_mm, 0.0 if bar.steps else row_mm * BAR - 2 * line_mm)
    for place_mm, until_mm, tall_mm in (inside, (begin_mm, end_mm - _GAP_MM, row_mm)):
        for em_mm in (style.lane_em, _SMALL * style.lane_em):
            if tall_mm >= _LETTERS * em_mm and place_mm + pen.width(bar.text, em_mm) <= until_mm:
                return pen.label(bar.text, place_mm, middle(y_mm, row_mm, em_mm), em_mm, "lane")
    return None


def _plate(label: Label) -> OutlinedBox:
    """Return a white ground for letters on hatching."""
    return OutlinedBox(
        x_mm=label.x_mm - 0.3, y_mm=label.y_mm - label.above_mm - 0.3, width_mm=label.width_mm + 0.6,
        height_mm=label.above_mm + label.below_mm + 0.6, kind="plate", fill=1.0,
    )  # fmt: skip
