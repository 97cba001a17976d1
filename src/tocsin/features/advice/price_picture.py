"""What leads are worth, as a picture: a curve with its band, today's lead, the flat part. Pure; lengths in mm."""

from collections.abc import Sequence
from functools import partial
from itertools import pairwise

from tocsin.analysis.decisions.curve import LeadCurve, LeadPoint
from tocsin.export.drawing.look import Look, Picture, between
from tocsin.export.drawing.plot import (
    Frame,
    Scale,
    below_mm,
    ground,
    gutter_mm,
    level,
    named_lines,
    named_mm,
    outward,
    signed,
    ticks,
    upright,
)
from tocsin.export.drawing.shapes import HELD, PALE, Parts, Stroke, joined
from tocsin.translation import tr

_SLICES = 6                            # of the band between two leads
_DEEPEST = 3.0                         # so many times as far below today as the best lies above it, or 2 points
_LEAST_POINTS = 2.0
_FLAT = 0.93                           # a grey between paper and band
_TALL = between(11, 19)


def price_picture(curve: LeadCurve, now_s: float, then_s: float | None = None, least_s: float = 0.0) -> Picture:
    """Return the picture of what leads are worth, ``then_s`` the one that is advised, ``least_s`` what check wants."""
    named = [(now_s, tr("now: {lead:g} s", lead=now_s))]
    if then_s is not None:
        named.append((then_s, tr("then: {lead:g} s", lead=then_s)))
    if curve.points[0].lead_s < least_s < curve.points[-1].lead_s:
        named.append((least_s, tr("check wants {lead} s", lead=f"{least_s:g}")))
    title = tr("Points a match, against {lead:g} s", lead=now_s)
    return Picture(title, partial(_plot, curve, sorted(named)), _sentence(curve, now_s), _TALL)


def _sentence(curve: LeadCurve, now_s: float) -> str:
    reading = tr("Where it is flat there is nothing to win: {begin:g} to {end:g} s.", begin=curve.flat_from_s,
                 end=curve.flat_to_s)  # fmt: skip
    if curve.flat_from_s <= now_s <= curve.flat_to_s:
        return tr("{reading} Today's lead lies there. Dark grey: where it lies 8 times in 10.", reading=reading)
    return tr("{reading} Dark grey: where it lies 8 times in 10.", reading=reading)


def _plot(
    curve: LeadCurve, named: Sequence[tuple[float, str]], width_mm: float, height_mm: float, look: Look
) -> Parts:
    points = curve.points
    above = max(point.high for point in points)
    deepest = -max(_LEAST_POINTS, _DEEPEST * above)
    low, high = outward(max(deepest, min(point.low for point in points)), max(above, 0.0), 1.0)
    top_mm, low_mm = named_mm(len(named), look) + 0.5 * look.em_mm, height_mm - below_mm(look)
    values = ticks(low, high, max(2, int((low_mm - top_mm) / (2.2 * look.em_mm))))
    texts = [signed(value) for value in values]
    frame = Frame(gutter_mm(texts, look), top_mm, width_mm - 0.4 * look.em_mm, low_mm)
    up = Scale(low, high, frame.low_mm, frame.top_mm)
    across = Scale(points[0].lead_s, points[-1].lead_s, frame.left_mm, frame.right_mm)
    marks = ticks(across.low, across.high, max(2, int(frame.width_mm / (3.2 * look.em_mm))))
    flat = ground(across.at(curve.flat_from_s), frame.top_mm, across.at(curve.flat_to_s), frame.low_mm, _FLAT)
    level_mm = up.at(0.0)
    ends = (frame.left_mm, level_mm), (frame.right_mm, level_mm)
    today = Stroke(points=ends, kind="row", line_mm=look.style.line_mm, grey=PALE)
    return joined([
        flat, *_band(points, across, up), Parts(strokes=(today,)),
        upright(frame, up, values, texts, look),
        level(frame, across, marks, [f"{mark:g}" for mark in marks], tr("seconds of the lead"), look),
        named_lines(frame, [(across.at(lead_s), text) for lead_s, text in named], look),
        *_line(points, across, up, look),
    ])  # fmt: skip


def _band(points: Sequence[LeadPoint], across: Scale, up: Scale) -> list[Parts]:
    """Return the interval of each lead, in grey."""
    parts = []
    for one, two in pairwise(points):
        for place in range(_SLICES):
            begin, end = place / _SLICES, (place + 1) / _SLICES
            middle = (begin + end) / 2
            low, high = _between(one.low, two.low, middle), _between(one.high, two.high, middle)
            left_mm, right_mm = (across.at(_between(one.lead_s, two.lead_s, at)) for at in (begin, end))
            parts.append(ground(left_mm, up.at(high), right_mm, up.at(low), HELD))
    return parts


def _line(points: Sequence[LeadPoint], across: Scale, up: Scale, look: Look) -> list[Parts]:
    """Return the curve of means, cut where it leaves the plot."""
    places = [(across.at(point.lead_s), up.at(point.gain)) for point in points if point.gain >= up.low]
    if len(places) < 2:
        return []
    return [Parts(strokes=(Stroke(points=tuple(places), kind="tone", line_mm=2 * look.style.line_mm),))]


def _between(one: float, two: float, share: float) -> float:
    return one + (two - one) * share
