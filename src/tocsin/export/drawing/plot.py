"""Axes, ticks and their texts: what is common to all plots. Pure; lengths in mm.

No text of a plot meets another one: ticks are as far apart as their texts need, and a text that names a line has a row
of its own above the plot.
"""

import math
from collections.abc import Iterable, Sequence
from typing import NamedTuple

from tocsin.export.drawing.look import Look
from tocsin.export.drawing.shapes import DIM, HELD, PALE, OutlinedBox, Parts, Stroke, cut_around, middle

MINUS = "\N{MINUS SIGN}"
_STEPS = (1, 2, 5)
_FINER = (0.5, 0.4, 0.25, 0.2, 0.1)
_TICK_MM = 1.0
NAMED_EM = 1.25                        # of a row above a plot
DASHES_MM = (1.5, 1.0)
_CLEAR_EM = 0.5                        # between a tick or line and its text, and between texts


class Scale(NamedTuple):
    """Values from ``low`` to ``high`` lie between two places in mm; what is beyond is drawn at the end."""

    low: float
    high: float
    from_mm: float
    to_mm: float

    def at(self, value: float) -> float:
        """Return the place of a value."""
        share = (min(max(value, self.low), self.high) - self.low) / (self.high - self.low)
        return self.from_mm + share * (self.to_mm - self.from_mm)


class Frame(NamedTuple):
    """The room of a plot between its texts."""

    left_mm: float
    top_mm: float
    right_mm: float
    low_mm: float

    @property
    def width_mm(self) -> float:
        """How wide it is."""
        return self.right_mm - self.left_mm


def signed(value: float) -> str:
    """Return a number as it is written at a tick."""
    text = f"{abs(value):g}"
    return MINUS + text if value < 0 and text != "0" else text


def ticks(low: float, high: float, most: int, *, least: int = 2) -> list[float]:
    """Return at most so many round numbers from ``low`` to ``high``, at equal steps of 1, 2 or 5 times a power of ten;
    two at least. Where these steps give fewer than ``least`` there are finer ones, with a number or two more."""
    spread = (high - low) / max(1, most)
    power = 10.0 ** math.floor(math.log10(spread))
    steps = [step * power * tens for tens in (1, 10) for step in _STEPS]
    for step in steps:
        first, last = math.ceil(low / step - 1e-9), math.floor(high / step + 1e-9)
        if last - first + 1 <= max(2, most):
            found = _multiples(low, high, step)
            finer = (_multiples(low, high, share * step) for share in _FINER)
            return found if len(found) >= least else next(one for one in finer if len(one) >= least)
    return [low, high]


def _multiples(low: float, high: float, step: float) -> list[float]:
    first, last = math.ceil(low / step - 1e-9), math.floor(high / step + 1e-9)
    return [round(number * step, 9) + 0.0 for number in range(first, last + 1)]


def outward(low: float, high: float, least: float) -> tuple[float, float]:
    """Return limits that hold values from ``low`` to ``high`` with a little room, at least so far apart."""
    spare = max(0.06 * (high - low), (least - (high - low)) / 2, 0.0)
    return low - spare, high + spare


def gutter_mm(texts: Iterable[str], look: Look) -> float:
    """Return how wide the texts at an upright axis are, with their ticks."""
    widest_mm = max((look.pen.width(text, look.em_mm) for text in texts), default=0.0)
    return widest_mm + _TICK_MM + _CLEAR_EM * look.em_mm


def below_mm(look: Look, *, titled: bool = True) -> float:
    """Return how tall a level axis is with its texts and, if it has one, its title."""
    return _TICK_MM + (2.5 if titled else 1.3) * look.em_mm


def upright(frame: Frame, scale: Scale, values: Sequence[float], texts: Sequence[str], look: Look) -> Parts:
    """Return the axis at the left: a pale line across the plot at each value, its text before it."""
    line_mm, em_mm = look.style.line_mm, look.em_mm
    strokes = [
        Stroke(points=((frame.left_mm, frame.top_mm), (frame.left_mm, frame.low_mm)), kind="edge", line_mm=line_mm)
    ]
    labels = []
    for value, text in zip(values, texts, strict=True):
        y_mm = scale.at(value)
        left, right = (frame.left_mm, y_mm), (frame.right_mm, y_mm)
        strokes += [
            Stroke(points=(left, right), kind="row", line_mm=0.4 * line_mm, grey=HELD),
            Stroke(points=((frame.left_mm - _TICK_MM, y_mm), left), kind="edge", line_mm=line_mm),
        ]
        width_mm = look.pen.width(text, em_mm)
        left_mm = frame.left_mm - _TICK_MM - 0.4 * _CLEAR_EM * em_mm - width_mm
        labels.append(look.pen.label(text, left_mm, middle(y_mm, 0.0, em_mm), em_mm, "lane"))
    return Parts(strokes=tuple(strokes), labels=tuple(labels))


def level(
    frame: Frame, scale: Scale, values: Sequence[float], texts: Sequence[str], title: str, look: Look
) -> Parts:
    """Return the axis below: ticks, texts as far as they have room, and what they are."""
    line_mm, em_mm = look.style.line_mm, look.em_mm
    strokes = [
        Stroke(points=((frame.left_mm, frame.low_mm), (frame.right_mm, frame.low_mm)), kind="edge", line_mm=line_mm)
    ]
    labels, free_mm = [], 0.0
    for value, text in zip(values, texts, strict=True):
        x_mm = scale.at(value)
        below = (x_mm, frame.low_mm + _TICK_MM)
        strokes.append(Stroke(points=((x_mm, frame.low_mm), below), kind="edge", line_mm=line_mm))
        width_mm = look.pen.width(text, em_mm)
        left_mm = max(0.0, min(x_mm - width_mm / 2, frame.right_mm - width_mm))
        if left_mm >= free_mm:
            labels.append(look.pen.label(text, left_mm, frame.low_mm + _TICK_MM + 0.95 * em_mm, em_mm, "lane"))
            free_mm = left_mm + width_mm + _CLEAR_EM * em_mm
    named = look.pen.cut(title, frame.right_mm, em_mm)
    left_mm = max(0.0, frame.right_mm - look.pen.width(named, em_mm))
    if named:
        y_mm = frame.low_mm + _TICK_MM + 2.15 * em_mm
        labels.append(look.pen.label(named, left_mm, y_mm, em_mm, "lane", grey=DIM))
    return Parts(strokes=tuple(strokes), labels=tuple(labels))


def named_lines(frame: Frame, named: Sequence[tuple[float, str]], look: Look) -> Parts:
    """Return upright dashed lines, each (place in mm, its name), with their names above the plot: a row each, that of
    the leftmost line on top, so that no line need cross the name of another one. The plot begins ``named_mm`` lower."""
    em_mm, line_mm = look.em_mm, 1.3 * look.style.line_mm
    strokes, labels = [], []
    for number, (x_mm, text) in enumerate(sorted(named)):
        top_mm = frame.top_mm - (len(named) - number) * NAMED_EM * em_mm
        cut = look.pen.cut(text, frame.right_mm, em_mm)
        width_mm, apart_mm = look.pen.width(cut, em_mm), _CLEAR_EM * em_mm
        left_mm = x_mm + apart_mm
        if left_mm + width_mm > frame.right_mm:
            left_mm = max(0.0, x_mm - apart_mm - width_mm)
        if cut:
            labels.append(look.pen.label(cut, left_mm, top_mm + 0.76 * em_mm, em_mm, "lane"))
        points = ((x_mm, top_mm), (x_mm, frame.low_mm))
        strokes.append(Stroke(points=points, kind="tail", line_mm=line_mm, dots=DASHES_MM))
    return Parts(strokes=cut_around(strokes, labels), labels=tuple(labels))


def named_mm(count: int, look: Look) -> float:
    """Return the room that the names of so many lines take above a plot."""
    return count * NAMED_EM * look.em_mm


def ground(left_mm: float, top_mm: float, right_mm: float, low_mm: float, fill: float = HELD) -> Parts:
    """Return a grey ground, behind all else."""
    if right_mm <= left_mm or low_mm <= top_mm:
        return Parts()
    box = OutlinedBox(
        x_mm=left_mm, y_mm=top_mm, width_mm=right_mm - left_mm, height_mm=low_mm - top_mm, kind="shade", fill=fill
    )
    return Parts(boxes=(box,))


def parting(x_mm: float, frame: Frame, look: Look) -> Parts:
    """Return the line between two parts of a plot."""
    points = ((x_mm, frame.top_mm), (x_mm, frame.low_mm))
    return Parts(strokes=(Stroke(points=points, kind="row", line_mm=0.6 * look.style.line_mm, grey=PALE),))
