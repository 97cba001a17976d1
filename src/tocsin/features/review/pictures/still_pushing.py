"""Pushes that are still on, by seconds after the call: falling steps with their band. Pure."""

import math
from functools import partial
from itertools import pairwise

from tocsin.analysis.review.answer import Figure, Review
from tocsin.analysis.review.times import FEWEST_FOR_MIDDLE, Times
from tocsin.analysis.survival import Curve, curve_of
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
    ticks,
    upright,
)
from tocsin.export.drawing.shapes import HELD, Parts, Stroke, joined
from tocsin.translation import tr

_FAR_S = 12.0                          # nobody pushes for longer; beyond it a push without an end lasts
_TALL = between(10, 20)


def still_pushing(review: Review, times: Times) -> Picture | None:
    """Return the picture of the times from the call to the end of a push; None below eight that were noted."""
    answer = review.answer("break_off")
    if answer is None or times.noted < FEWEST_FOR_MIDDLE:
        return None
    lead, on, nine = (answer.figure(name) for name in ("lead", "on_at_lead", "break_off_nine_in_ten"))
    lead_s, nine_s = (figure.value if figure else None for figure in (lead, nine))
    plot = partial(_plot, times, lead_s, nine_s)
    return Picture(tr("Still pushing, of 100 pushes"), plot, _sentence(lead_s, on, times), _TALL)


def _sentence(lead_s: float | None, on: Figure | None, times: Times) -> str:
    if lead_s is None or on is None or on.value is None or on.low is None or on.high is None:
        return tr("The line falls as pushes end. The grey band is where it probably lies.")
    return tr(
        "{lead:g} s after the call {on:.0f} of 100 pushes were still on ({low:.0f} to {high:.0f}).",
        lead=round(lead_s, 1), on=100 * on.value, low=100 * on.low, high=100 * on.high,
    )  # fmt: skip


def _plot(
    times: Times, lead_s: float | None, nine_s: float | None, width_mm: float, height_mm: float, look: Look
) -> Parts:
    curve = curve_of(times.lows, times.highs)
    lines = [
        (at_s, text) for at_s, text in (
            (lead_s, tr("window begins: {lead:g} s", lead=round(lead_s or 0.0, 1))),
            (nine_s, tr("nine in ten are off: {nine:.1f} s", nine=nine_s or 0.0)),
        ) if at_s is not None and math.isfinite(at_s)
    ]  # fmt: skip
    ends = [fall.end for fall in curve.falls if fall.begin == fall.end or fall.end <= _FAR_S]
    last_s = max([*ends, *(at_s for at_s, _ in lines), 1.0]) * 1.06
    values = [0, 50, 100] if height_mm < 13 * look.em_mm else [0, 25, 50, 75, 100]
    texts = [str(value) for value in values]
    frame = Frame(
        gutter_mm(texts, look), named_mm(len(lines), look) + 0.5 * look.em_mm, width_mm - 0.4 * look.em_mm,
        height_mm - below_mm(look),
    )  # fmt: skip
    up, across = Scale(0, 100, frame.low_mm, frame.top_mm), Scale(0, last_s, frame.left_mm, frame.right_mm)
    marks = ticks(0, last_s, max(2, int(frame.width_mm / (3.2 * look.em_mm))))
    return joined([
        *_band(times, last_s, across, up),
        upright(frame, up, values, texts, look),
        level(frame, across, marks, [f"{mark:g}" for mark in marks], tr("seconds after the call"), look),
        named_lines(frame, [(across.at(at_s), text) for at_s, text in lines], look),
        _steps(curve, last_s, across, up, look),
    ])  # fmt: skip


def _band(times: Times, last_s: float, across: Scale, up: Scale) -> list[Parts]:
    """Return the limits of the share in grey. They change at bounds alone, so each is that in the midst of two."""
    places = sorted({0.0, last_s, *(bound for bound in (*times.lows, *times.highs) if 0 < bound < last_s)})
    between_s = list(pairwise(places))
    found = times.still_on([(begin_s + end_s) / 2 for begin_s, end_s in between_s])
    return [
        ground(across.at(begin_s), up.at(100 * one.high), across.at(end_s), up.at(100 * one.low), HELD)
        for (begin_s, end_s), one in zip(between_s, found, strict=True)
    ]


def _steps(curve: Curve, last_s: float, across: Scale, up: Scale, look: Look) -> Parts:
    points, on = [(across.at(0.0), up.at(100.0))], 1.0
    for fall in curve.falls:
        if fall.end > last_s:
            break
        # Within bounds nobody knows when it falls: a slope says so.
        if fall.begin == fall.end:
            points.append((across.at(fall.end), up.at(100 * on)))
        else:
            points.append((across.at(fall.begin), up.at(100 * on)))
        points.append((across.at(fall.end), up.at(100 * fall.on)))
        on = fall.on
    points.append((across.at(last_s), up.at(100 * on)))
    return Parts(strokes=(Stroke(points=tuple(points), kind="tone", line_mm=2 * look.style.line_mm),))
