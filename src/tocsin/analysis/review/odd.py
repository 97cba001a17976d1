"""Answer whether a round was odd: far later than that driver's own rounds with that plan. Pure.

The first forty pushes, by which the others are measured, are fixed for ever: a new driver, plan or lead needs forty of
its own. A round is odd on the late side only, by the time that it surely took; why it was, nobody says. Beside stands
how often an evening has a mark though nothing changed, by the baseline itself.
"""

import math
import statistics
import zlib
from collections.abc import Iterable, Sequence
from typing import NamedTuple

from tocsin.analysis.review.answer import Answer, Figure, Lacking
from tocsin.analysis.review.rounds import Rounds, evening_of, lacking, own_leads_s
from tocsin.analysis.seasons.rounds_chart import BASELINE, Chart, chance_of_any, chart_of
from tocsin.analysis.seasons.row import Row

NEW_BASELINE = "new_baseline"          # a verdict: a lead, plan or driver changed, and has no forty pushes yet
_SHORTEST_S = 0.05                     # as which a push is charted that the call just met


class _Series(NamedTuple):
    """The pushes of one driver with one plan and lead, in their order."""

    rows: tuple[Row, ...]
    chart: Chart | None

    @property
    def charted(self) -> tuple[Row, ...]:
        """The pushes behind the baseline."""
        return self.rows[BASELINE:] if self.chart else ()


def odd_answer(rounds: Rounds, evening: str = "") -> Answer:
    """Return the rounds that are odd, of one evening or of all, and how often an evening has one by chance alone.

    ``odd`` is their number, ``odd_limit`` the limit of each series in seconds after the call, ``odd_by_chance`` the
    share of evenings with a mark though nothing changed. ``rounds`` are those of the whole season.
    """
    series = _series(rounds)
    charted = [(one, row) for one in series for row in one.charted if evening in ("", evening_of(row))]
    marked = [row for one, row in charted if one.chart and one.chart.is_odd(row.break_off_at_least_s or 0.0)]
    figures = []
    if charted:
        evenings = dict.fromkeys(evening_of(row) for _, row in charted)
        figures = [
            Figure(name="odd", unit="rounds", value=len(marked), count=len(marked), rounds=len(charted),
                   evenings=len(evenings)),
            Figure(name="odd_by_chance", unit="share", value=_by_chance(series, list(evenings)), rounds=len(charted),
                   evenings=len(evenings)),
        ]  # fmt: skip
        told = [(place, one) for place, one in enumerate(series, start=1) if any(one is other for other, _ in charted)]
        figures += [
            Figure(name="odd_limit", unit="s", of=str(place) if len(told) > 1 else "", value=one.chart.limit_s,
                   rounds=len(one.rows), evenings=len({evening_of(row) for row in one.rows}))
            for place, one in told if one.chart
        ]  # fmt: skip
    missing: tuple[Lacking, ...] = ()
    verdict, newest = "", _newest(series)
    if newest is None or not newest.charted:
        rows = newest.rows if newest else ()
        of_evenings = len({evening_of(row) for row in rows})
        missing = (lacking("odd", "odd", "pushes", have=len(rows), need=BASELINE + 1, evenings=of_evenings),)
        verdict = NEW_BASELINE if any(one.chart for one in series if one is not newest) else ""
    folders = tuple(row.folder for row in sorted(marked, key=lambda row: row.wall))
    return Answer(question="odd", figures=tuple(figures), lacking=missing, verdict=verdict, marked=folders)


def _series(rounds: Rounds) -> list[_Series]:
    """Return the series in the order in which they began. People are told by their keys; where they are unknown, by
    their crew."""
    own = own_leads_s(rounds.played)
    found: dict[tuple[str, str, float | None, str], list[Row]] = {}
    for row in rounds.count:
        if row.break_off_at_least_s is not None:
            driver = "" if row.people_unknown else row.people.get("driver", "")
            found.setdefault((row.game, row.plan, own.get(row.folder), driver or f"crew {row.crew}"), []).append(row)
    return [_Series(tuple(rows), _chart(rows)) for rows in found.values()]


def _chart(rows: Sequence[Row]) -> Chart | None:
    """Return the chart of a series, None with too few pushes or if they tell no limit: most of them never ended, or
    are all the same."""
    chart = chart_of([_charted_s(row) for row in rows])
    return chart if chart and chart.spread and math.isfinite(chart.limit_s) else None


def _charted_s(row: Row) -> float:
    """Return the time that the baseline takes a push for, in seconds: the longest that its bounds allow."""
    most = row.break_off_at_most_s
    return math.inf if most is None else max(most, _SHORTEST_S)


def _newest(series: Iterable[_Series]) -> _Series | None:
    """Return the series of the last push."""
    return max(series, key=lambda one: one.rows[-1].wall, default=None)


def _by_chance(series: Sequence[_Series], evenings: Sequence[str]) -> float:
    """Return the share of these evenings that have a mark by chance, by each series' own baseline."""
    kept: dict[tuple[int, int], float] = {}
    chances = []
    for evening in evenings:
        none = 1.0
        for place, one in enumerate(series):
            rounds = sum(evening_of(row) == evening for row in one.charted)
            if rounds and one.chart:
                if (place, rounds) not in kept:
                    kept[place, rounds] = chance_of_any(one.chart, rounds, seed=_seed(one.chart))
                none *= 1 - kept[place, rounds]
        chances.append(1 - none)
    return statistics.fmean(chances)


def _seed(chart: Chart) -> int:
    """Return a seed that is the same for the same baseline."""
    return zlib.crc32(repr(chart.baseline_s).encode())
