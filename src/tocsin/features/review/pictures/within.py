"""How times change within an evening: each push beside the evening's mean, by round and by battery. Pure.

So evenings that were slower as a whole do not look like people who tire.
"""

import statistics
from collections.abc import Callable, Sequence
from functools import partial
from typing import NamedTuple

from msgspec.structs import replace

from tocsin.analysis.review.answer import Answer, Figure, Review
from tocsin.analysis.review.rounds import Rounds, evening_of
from tocsin.analysis.review.words.trends import tired_line
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


class _Spot(NamedTuple):
    """What is drawn of a place: the mean of its pushes and where the middle half of them lies; of few each by itself.
    """

    place: int
    beyond_s: float
    low_s: float | None = None
    high_s: float | None = None


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
        if answer and figure and pushes:
            spots = _spots(pushes)
            said = tr("Dots: the mean; lines: the middle half of the pushes; dashes: the trend.")
            sentence = f"{_trend(answer, figure)} {said}"
            found.append(Picture(title, partial(_plot, spots, _middle(pushes), figure, axis), sentence, _TALL))
    return found


def _trend(answer: Answer, figure: Figure) -> str:
    """Return what the trend is, in the words that all else has for it; one whose limits lie on both sides of none is
    not sure."""
    clear = figure.low is not None and figure.high is not None and (figure.low > 0 or figure.high < 0)
    return tired_line(replace(answer, figures=(figure,), verdict="")) if clear else tr("No sure change.")


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


def _spots(pushes: Sequence[_Push]) -> tuple[_Spot, ...]:
    found = []
    for place in sorted({push.place for push in pushes}):
        of = [push.beyond_s for push in pushes if push.place == place]
        if len(of) >= _FEWEST_FOR_MEAN:
            low_s, _, high_s = statistics.quantiles(of, n=4, method="inclusive")
            found.append(_Spot(place, statistics.fmean(of), low_s, high_s))
        else:
            found += [_Spot(place, beyond_s) for beyond_s in of]
    return tuple(found)


def _middle(pushes: Sequence[_Push]) -> float:
    """Return the place through which the line of the mean slope goes where it is none."""
    return statistics.fmean(push.place for push in pushes)


def _plot(
    spots: Sequence[_Spot], middle: float, figure: Figure, axis: str, width_mm: float, height_mm: float, look: Look
) -> Parts:
    ends = [end for spot in spots for end in (spot.beyond_s, spot.low_s, spot.high_s) if end is not None]
    reach_s = min(max((abs(end) for end in ends), default=0.0), _FAR_S)
    low, high = outward(-reach_s, reach_s, _LEAST_S)
    values = ticks(low, high, max(3, int(height_mm / (3.2 * look.em_mm))), least=3)
    texts = [tr("{number} s", number=signed(value)) for value in values]
    frame = Frame(gutter_mm(texts, look), 0.5 * look.em_mm, width_mm, height_mm - below_mm(look))
    mark_mm = look.style.mark_mm
    up = Scale(low, high, frame.low_mm - mark_mm, frame.top_mm + mark_mm)
    places = sorted({spot.place for spot in spots})
    across = Scale(places[0] - 0.6, max(places[-1], places[0] + 3) + 0.6, frame.left_mm, frame.right_mm)
    zero = ((frame.left_mm, up.at(0.0)), (frame.right_mm, up.at(0.0)))
    ends_s = ((places[0], (places[0] - middle) * (figure.value or 0.0)),
              (places[-1], (places[-1] - middle) * (figure.value or 0.0)))  # fmt: skip
    return joined([
        upright(frame, up, values, texts, look),
        level(frame, across, places, [str(place) for place in places], axis, look),
        line(zero, look.style.line_mm),
        *(_drawn(spot, across.at(spot.place), up, look) for spot in spots),
        dashed(tuple((across.at(place), up.at(beyond_s)) for place, beyond_s in ends_s), 0.4),
    ])  # fmt: skip


def _drawn(spot: _Spot, x_mm: float, up: Scale, look: Look) -> Parts:
    """Return a mean with its line, or a single push as a small dot."""
    mark_mm, y_mm = look.style.mark_mm, up.at(spot.beyond_s)
    if spot.low_s is None or spot.high_s is None:
        return disc(x_mm, y_mm, 0.4 * mark_mm, filled=True, colour=GREY)
    half = ((x_mm, up.at(spot.low_s)), (x_mm, up.at(spot.high_s)))
    return joined([line(half, look.style.line_mm), disc(x_mm, y_mm, 0.8 * mark_mm, filled=True)])
