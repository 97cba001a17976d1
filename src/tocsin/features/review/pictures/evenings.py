"""Evenings of a season: a dot each for the middle value, with its limits; flags where a lead was changed. Pure."""

import math
from collections.abc import Sequence
from functools import partial
from typing import NamedTuple

from tocsin.analysis.review.changes import SeasonChange, lead_changes, leads_by_evening
from tocsin.analysis.review.rounds import Rounds
from tocsin.analysis.review.times import FEWEST_FOR_MIDDLE, Times, break_off_times, turn_times
from tocsin.export.drawing.look import Look, Picture, between
from tocsin.export.drawing.plot import (
    Frame,
    Scale,
    below_mm,
    ground,
    gutter_mm,
    level,
    outward,
    ticks,
    upright,
)
from tocsin.export.drawing.shapes import SHADE, Parts, joined
from tocsin.features.review.pictures.marks import arrow, dashed, disc, flag, whisker
from tocsin.translation import tr

_TALL = between(8.5, 22)
_FAR_S = 12.0                          # where a limit that is longer, or unknown, is cut
_LEAST_S = 2.0


class _Evening(NamedTuple):
    """An evening's middle value in seconds with its limits, None where they are not told; infinite where nobody knows;
    ``few``: from fewer times than give an evening a middle value. ``lead_s`` is the plan's own lead then."""

    name: str
    middle_s: float
    low_s: float | None
    high_s: float | None
    few: bool
    lead_s: float | None


def evenings(rounds: Rounds) -> Picture | None:
    """Return the picture of the evenings of a season; None below two of which times are known."""
    found, of_turns = _by_evening(rounds, break_off_times(rounds)), False
    if len(found) < 2:
        found, of_turns = _by_evening(rounds, turn_times(rounds)), True
    if len(found) < 2:
        return None
    if of_turns:
        said = [tr("Each dot an evening: the lower, the quicker.")]
        said += [tr("A ring: fewer than 8 turns.")] if any(one.few for one in found) else []
        title = tr("Evenings: seconds from the call to the turn")
        found = tuple(one._replace(lead_s=None) for one in found)
        return Picture(title, partial(_plot, found, ()), " ".join(said), _TALL)
    changes = lead_changes(rounds)
    said = [tr("Each dot an evening; flags: the lead was changed.") if changes else tr("Each dot an evening.")]
    said += [tr("Below the dashes: off before the window.")] if any(one.lead_s is not None for one in found) else []
    said += [tr("A ring: fewer than 8 pushes.")] if any(one.few for one in found) else []
    title = tr("Evenings: seconds from the call until pushes ended")
    return Picture(title, partial(_plot, found, changes), " ".join(said), _TALL)


def _by_evening(rounds: Rounds, times: Times) -> tuple[_Evening, ...]:
    leads = leads_by_evening(rounds)
    found = []
    for name in rounds.evenings:
        of = [place for place, evening in enumerate(times.evenings) if evening == name]
        if not of:
            continue
        own = Times(
            lows=tuple(times.lows[place] for place in of), highs=tuple(times.highs[place] for place in of),
            evenings=(name,) * len(of),
        )  # fmt: skip
        median = own.median()
        few = own.noted < FEWEST_FOR_MIDDLE
        low, high = (None, None) if few else (median.low, median.high)
        found.append(_Evening(name, own.middle(), low, high, few, leads.get(name)))
    return tuple(found)


def _plot(
    found: Sequence[_Evening], changes: Sequence[SeasonChange], width_mm: float, height_mm: float, look: Look
) -> Parts:
    ends = [
        end for one in found for end in (one.middle_s, one.low_s, one.lead_s) if end is not None and math.isfinite(end)
    ]
    ends += [one.high_s for one in found if one.high_s is not None and one.high_s <= _FAR_S]
    low, high = outward(min(ends, default=0.0), max(ends, default=1.0), _LEAST_S)
    values = ticks(max(low, 0.0), high, max(2, int(height_mm / (3.2 * look.em_mm))))
    texts = [f"{value:g}" for value in values]
    flag_mm = 2.2 * look.style.mark_mm
    top_mm = (flag_mm + 0.4 * look.em_mm) if changes else 0.6 * look.em_mm
    frame = Frame(gutter_mm(texts, look), top_mm, width_mm, height_mm - below_mm(look))
    up = Scale(max(low, 0.0), high, frame.low_mm - look.style.mark_mm, frame.top_mm + look.style.mark_mm)
    across = Scale(0.5, len(found) + 0.5, frame.left_mm, frame.right_mm)
    places = list(range(1, len(found) + 1))
    named = {change.evening for change in changes}
    parts = [
        *_windows(found, frame, across, up),
        upright(frame, up, values, texts, look),
        level(frame, across, places, [one.name[5:] for one in found], tr("evening"), look),
        *(
            flag(across.at(place - 0.5), frame.top_mm - flag_mm - 0.2 * look.em_mm, frame.low_mm, flag_mm,
                 look.style.line_mm)
            for place, one in zip(places, found, strict=True) if one.name in named
        ),
        *(_dot(one, across.at(place), up, look) for place, one in zip(places, found, strict=True)),
    ]  # fmt: skip
    return joined(parts)


def _windows(found: Sequence[_Evening], frame: Frame, across: Scale, up: Scale) -> list[Parts]:
    """Return what was too late, in grey, and the dashes where it begins, evening by evening."""
    parts, points = [], []
    for place, one in enumerate(found, 1):
        if one.lead_s is None or one.lead_s > up.high:
            continue
        begin_mm, end_mm, y_mm = across.at(place - 0.5), across.at(place + 0.5), up.at(one.lead_s)
        parts.append(ground(begin_mm, frame.top_mm, end_mm, y_mm, SHADE))
        points += [(begin_mm, y_mm), (end_mm, y_mm)]
    return [*parts, dashed(tuple(points), 0.4)] if points else parts


def _dot(one: _Evening, x_mm: float, up: Scale, look: Look) -> Parts:
    style = look.style
    parts = []
    if one.low_s is not None and one.high_s is not None and one.low_s <= up.high:
        if one.high_s > up.high:
            parts.append(arrow(x_mm, up.at(one.low_s), up.to_mm, 1.5 * style.mark_mm, style.line_mm))
        else:
            ends = ((x_mm, up.at(one.low_s)), (x_mm, up.at(one.high_s)))
            parts.append(whisker(ends, style.line_mm, 1.4 * style.mark_mm))
    if math.isfinite(one.middle_s):
        parts.append(disc(x_mm, up.at(one.middle_s), 0.85 * style.mark_mm, filled=not one.few))
    return joined(parts)
