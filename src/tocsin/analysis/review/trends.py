"""Answer whether pushes end later as an evening goes on, or on a weak battery, and earlier as the season goes on. Pure.

Within an evening it is one slope an evening, so what differs between evenings cannot pass for tiredness; over the
season it is one middle value an evening. A cause is never told: drivers tire, batteries weaken and the floor gets worn
in one order.
"""

import math
import statistics
from collections.abc import Sequence
from typing import NamedTuple

from tocsin.analysis.review.answer import Answer, Figure, Lacking
from tocsin.analysis.review.matches import weeks_figures
from tocsin.analysis.review.rounds import Rounds, evening_of
from tocsin.analysis.review.times import Times
from tocsin.analysis.seasons.row import Row
from tocsin.analysis.seasons.slopes import (
    FEWEST_EVENINGS,
    FEWEST_IN_EVENING,
    percent_a_doubling,
    season_slope,
    slope_within_evenings,
)

FEWEST_EVENINGS_WITHIN = 5             # of eight pushes
FEWEST_FOR_EVENING = 4                 # pushes that give an evening a middle value
AS_ROUNDS = "battery_as_rounds"        # a verdict: batteries went as rounds did, so the two cannot be told apart
_TOO_ALIKE = 0.9                       # the correlation from which they cannot


class _Push(NamedTuple):
    """A push whose end was noted: when in the evening, how old its battery, its seconds; each less its crew's mean of
    that evening."""

    evening: str
    round: float
    battery: float
    time_s: float


def tired_answer(rounds: Rounds) -> Answer:
    """Return by how many seconds pushes end later with each round of an evening, ``by_round``, and with each round that
    the battery had before, ``by_battery``; the latter where it can be told from the former."""
    pushes = _pushes(rounds, with_battery=False)
    found = [_within("by_round", [push.round for push in pushes], pushes)]
    on_battery = _pushes(rounds, with_battery=True)
    alike = _alike(on_battery)
    if alike is not None and alike < _TOO_ALIKE:
        found.append(_within("by_battery", [push.battery for push in on_battery], on_battery))
    return Answer(
        question="tired", figures=tuple(one for one in found if isinstance(one, Figure)),
        lacking=tuple(one for one in found if isinstance(one, Lacking)),
        verdict=AS_ROUNDS if alike is not None and alike >= _TOO_ALIKE else "",
    )  # fmt: skip


def learning_answer(rounds: Rounds) -> Answer:
    """Return by how many percent pushes end sooner after the call with each doubling of the rounds so far; and beside
    it, how soon they end in the last four weeks and in the four before, where both have enough."""
    places, values, n, so_far = [], [], 0, 0
    by_evening: dict[str, list[Row]] = {}
    for row in rounds.count:
        by_evening.setdefault(evening_of(row), []).append(row)
    for evening, rows in by_evening.items():
        middle = so_far + len(rows) / 2
        so_far += len(rows)
        pushes = [row for row in rows if row.break_off_at_least_s is not None]
        if len(pushes) >= FEWEST_FOR_EVENING and 0 < (time_s := _middle_s(pushes, evening)) < math.inf:
            places.append(math.log2(middle))
            values.append(math.log(time_s))
            n += len(pushes)
    if len(values) < FEWEST_EVENINGS:
        more = FEWEST_EVENINGS - len(values)
        return Answer(
            question="learning",
            lacking=(Lacking(question="learning", figure="learning", counted="evenings", more=more, evenings=more),),
        )
    slope = percent_a_doubling(season_slope(places, values))
    figure = Figure(
        name="learning", unit="percent", value=slope.value, low=slope.low, high=slope.high, rounds=n,
        evenings=len(values),
    )  # fmt: skip
    usual_s = math.exp(statistics.fmean(values))
    by = Figure(
        name="learning_s", unit="s", value=slope.value / 100 * usual_s, rounds=n, evenings=len(values),
    )  # fmt: skip
    return Answer(question="learning", figures=(figure, by, *weeks_figures(rounds)))


def _middle_s(rows: Sequence[Row], evening: str) -> float:
    """Return the middle value of an evening's times from the call, in seconds; infinite if too many never ended."""
    highs = [math.inf if row.break_off_at_most_s is None else row.break_off_at_most_s for row in rows]
    lows = [row.break_off_at_least_s or 0.0 for row in rows]
    return Times(lows=tuple(lows), highs=tuple(highs), evenings=(evening,) * len(rows)).middle()


def _pushes(rounds: Rounds, *, with_battery: bool) -> list[_Push]:
    order: dict[tuple[str, str], int] = {}
    groups: dict[tuple[str, str], list[tuple[int, Row]]] = {}
    counted = {row.folder for row in rounds.count}
    for row in rounds.played:                          # rounds that do not count tire people and batteries too
        crew = (evening_of(row), row.crew)
        order[crew] = order.get(crew, 0) + 1
        is_noted = row.break_off_at_least_s is not None and row.break_off_at_least_s == row.break_off_at_most_s
        if is_noted and row.folder in counted and not (with_battery and row.battery_rounds is None):
            groups.setdefault(crew, []).append((order[crew], row))
    found = []
    for (evening, _), group in groups.items():
        places = _centred([place for place, _ in group])
        batteries = _centred([row.battery_rounds or 0 for _, row in group])
        times_s = _centred([row.break_off_at_most_s or 0.0 for _, row in group])
        found += [_Push(evening, *values) for values in zip(places, batteries, times_s, strict=True)]
    return found


def _centred(values: Sequence[float]) -> list[float]:
    mean = statistics.fmean(values)
    return [value - mean for value in values]


def _within(name: str, places: Sequence[float], pushes: Sequence[_Push]) -> Figure | Lacking:
    """Return the mean slope of the seconds within evenings, or the evenings that are missing."""
    evenings = [push.evening for push in pushes]
    found = slope_within_evenings(places, [push.time_s for push in pushes], evenings)
    many = found.n if found else _with_slope(places, evenings)
    if found is None or many < FEWEST_EVENINGS_WITHIN:
        more = FEWEST_EVENINGS_WITHIN - many
        return Lacking(question="tired", figure=name, counted="evenings", more=more, evenings=more)
    return Figure(
        name=name, unit="s/round", value=found.value, low=found.low, high=found.high, rounds=len(pushes), evenings=many
    )


def _with_slope(places: Sequence[float], evenings: Sequence[str]) -> int:
    """Return how many evenings have a slope of their own: one at most, where there is no mean."""
    groups: dict[str, list[float]] = {}
    for place, evening in zip(places, evenings, strict=True):
        groups.setdefault(evening, []).append(place)
    return sum(len(group) >= FEWEST_IN_EVENING and len(set(group)) > 1 for group in groups.values())


def _alike(pushes: Sequence[_Push]) -> float | None:
    """Return the correlation of round and battery within evenings; None where batteries are all as old, or too few are
    known."""
    rounds, batteries = [push.round for push in pushes], [push.battery for push in pushes]
    if len(pushes) < FEWEST_IN_EVENING or not any(batteries) or not any(rounds):
        return None
    return statistics.correlation(rounds, batteries)
