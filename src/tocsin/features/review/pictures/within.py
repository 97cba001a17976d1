"""How times change within an evening: each push beside the evening's mean, by round and by battery. Pure.

So evenings that were slower as a whole do not look like people who tire.
"""

import statistics
from collections.abc import Callable, Sequence
from functools import partial
from typing import NamedTuple

from tocsin.analysis.review.answer import Figure, Review
from tocsin.analysis.review.rounds import Rounds, evening_of
from tocsin.analysis.seasons.row import Row
from tocsin.export.drawing.look import Look, Picture, between
from tocsin.export.drawing.plot import (
    Frame,
    Scale,
    below_mm,
    gutter_mm,
    level,
    outward,
    signed,
    ticks,
    upright,
)
from tocsin.export.drawing.shapes import Parts, joined
from tocsin.features.review.pictures.marks import GREY, dashed, disc, line
from tocsin.translation import tr

_TALL = between(11, 18)
_FAR_S = 3.0                           # where times that are further from the mean are drawn
_FEWEST_FOR_MEAN = 3
_LEAST_S = 1.0


class _Push(NamedTuple):
    """Where a push stands, from 1, and by how many seconds it is beyond its crew's mean of that evening."""

    place: int
    beyond_s: float


def within(review: Review, rounds: Rounds) -> list[Picture]:
    """Return the pictures of what is told of times within evenings: by round, by battery."""
    answer = review.answer("tired")
    found = []
    for name, title, axis, place in (
        ("by_round", tr("Within an evening"), tr("round of the evening"), None),
        ("by_battery", tr("On a battery"), tr("rounds on the battery before"), lambda row: row.battery_rounds),
    ):  # fmt: skip
        figure = answer.figure(name) if answer else None
        pushes = _pushes(rounds, place) if figure else []
        if figure and pushes:
            sentence = _sentence(figure, of_battery=place is not None)
            found.append(Picture(title, partial(_plot, tuple(pushes), figure, axis), sentence, _TALL))
    return found


def _sentence(figure: Figure, *, of_battery: bool) -> str:
    """Return how the picture is read; a trend whose limits lie on both sides of none may be chance."""
    up = tr("Up: slower as the battery gets older.") if of_battery else tr("Up: slower as the evening goes on.")
    clear = figure.low is not None and figure.high is not None and (figure.low > 0 or figure.high < 0)
    dots = tr("Big dots: the mean; dashes: the trend.") if clear else (
        tr("Big dots: the mean; dashes: the trend, which may be chance.")
    )
    return f"{up} {dots}"


def _pushes(rounds: Rounds, place_of: Callable[[Row], int | None] | None) -> list[_Push]:
    """Return the pushes whose end was noted. Rounds that do not count take their place in the evening too."""
    counted = {row.folder for row in rounds.count}
    order: dict[tuple[str, str], int] = {}
    groups: dict[tuple[str, str], list[tuple[int, float]]] = {}
    for row in rounds.played:
        crew = (evening_of(row), row.crew)
        order[crew] = order.get(crew, 0) + 1
        place = order[crew] if place_of is None else place_of(row)
        time_s = row.break_off_at_least_s
        if row.folder in counted and place is not None and time_s is not None and time_s == row.break_off_at_most_s:
            groups.setdefault(crew, []).append((place, time_s))
    found = []
    for group in groups.values():
        mean_s = statistics.fmean(time_s for _, time_s in group)
        found += [_Push(place, time_s - mean_s) for place, time_s in group]
    return found


def _plot(
    pushes: Sequence[_Push], figure: Figure, axis: str, width_mm: float, height_mm: float, look: Look
) -> Parts:
    reach_s = min(max((abs(push.beyond_s) for push in pushes), default=0.0), _FAR_S)
    low, high = outward(-reach_s, reach_s, _LEAST_S)
    values = ticks(low, high, max(2, int(height_mm / (3.2 * look.em_mm))))
    texts = [signed(value) for value in values]
    frame = Frame(gutter_mm(texts, look), 0.5 * look.em_mm, width_mm, height_mm - below_mm(look))
    mark_mm = look.style.mark_mm
    up = Scale(low, high, frame.low_mm - mark_mm, frame.top_mm + mark_mm)
    places = sorted({push.place for push in pushes})
    across = Scale(places[0] - 0.6, max(places[-1], places[0] + 3) + 0.6, frame.left_mm, frame.right_mm)
    zero = ((frame.left_mm, up.at(0.0)), (frame.right_mm, up.at(0.0)))
    return joined([
        upright(frame, up, values, texts, look),
        level(frame, across, places, [str(place) for place in places], axis, look),
        line(zero, look.style.line_mm),
        *(
            disc(across.at(push.place), up.at(push.beyond_s), 0.4 * mark_mm, filled=True, colour=GREY)
            for push in pushes
        ),
        _slope(pushes, figure, across, up),
        *_means(pushes, places, across, up, mark_mm),
    ])  # fmt: skip


def _slope(pushes: Sequence[_Push], figure: Figure, across: Scale, up: Scale) -> Parts:
    """Return the line of the mean slope, through the middle of all pushes."""
    middle = statistics.fmean(push.place for push in pushes)
    ends = (min(push.place for push in pushes), max(push.place for push in pushes))
    return dashed(tuple((across.at(end), up.at((end - middle) * (figure.value or 0.0))) for end in ends), 0.4)


def _means(
    pushes: Sequence[_Push], places: Sequence[int], across: Scale, up: Scale, mark_mm: float
) -> list[Parts]:
    found = []
    for place in places:
        of = [push.beyond_s for push in pushes if push.place == place]
        if len(of) >= _FEWEST_FOR_MEAN:
            found.append(disc(across.at(place), up.at(statistics.fmean(of)), 0.8 * mark_mm, filled=True))
    return found
