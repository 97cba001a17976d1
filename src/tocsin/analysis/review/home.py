"""Answer whether our robot is home at the end, how early, and how long the way takes from each set-up.

A way by set-up is the mean of the times' logarithms, drawn towards that of all set-ups (``seasons/pooling.py``). Runs
that were not home in time count with the time they had, which is too short; where they are many, nothing is told. Half
home is another, shorter way.
"""

import math
from collections.abc import Hashable, Sequence

from tocsin.analysis.review.answer import Answer, Figure, Lacking
from tocsin.analysis.review.outcomes import FEWEST_EVENINGS, evenings_lacking, share_figure
from tocsin.analysis.review.rounds import Rounds, evening_of, lacking
from tocsin.analysis.review.times import FEWEST_FOR_MIDDLE, Times
from tocsin.analysis.seasons.pooling import FEWEST, Pooled, pooled_means
from tocsin.analysis.seasons.row import Row

FEWEST_OF_SETUP = 4
MOST_LATE = 0.1                        # of a set-up's ways that are only known to be longer
STATES = {"home": "home_full", "home_half": "home_half", "home_none": "home_none"}
_LEAST_S = 0.05                        # a way that was noted as none at all


def home_answer(rounds: Rounds, *, season: bool = False) -> Answer:
    """Return the shares ``home_full``, ``home_half``, ``home_none``, the ``home_margin``, and the ``way`` by set-up;
    nothing where nobody noted home at all. Shares of a season take three evenings."""
    noted = [row for row in rounds.count if row.home]
    if not noted:
        return Answer(question="home")
    evenings = len({evening_of(row) for row in noted})
    if len(noted) < FEWEST_FOR_MIDDLE:
        rest = lacking("home", "home_full", "rounds", have=len(noted), need=FEWEST_FOR_MIDDLE, evenings=evenings)
        return Answer(question="home", lacking=(rest,))
    few = season and evenings < FEWEST_EVENINGS
    shares = [] if few else [
        share_figure(name, [(row, row.home == state if row.home else None) for row in rounds.count], season=season)
        for state, name in STATES.items()
    ]
    ways, missing = _ways(rounds)
    if few:
        missing = (evenings_lacking("home", "home_full", evenings), *missing)
    return Answer(question="home", figures=(*shares, _margin(noted), *ways), lacking=missing)


def late_times(rows: Sequence[Row]) -> Times:
    """Return how long after the end of the match robots were home, in seconds, below 0 if before; of those that were
    not, only that it was later."""
    lows = [0.0 if row.home_margin_s is None else -row.home_margin_s for row in rows]
    highs = [math.inf if row.home_margin_s is None else -row.home_margin_s for row in rows]
    return Times(lows=tuple(lows), highs=tuple(highs), evenings=tuple(evening_of(row) for row in rows))


def _margin(rows: Sequence[Row]) -> Figure:
    times = late_times(rows)
    found, middle = times.median(), times.middle()
    return Figure(
        name="home_margin", unit="s", value=_minus(middle), low=_minus(found.high), high=_minus(found.low),
        rounds=times.n, evenings=times.apart,
    )  # fmt: skip


def _ways(rounds: Rounds) -> tuple[list[Figure], tuple[Lacking, ...]]:
    """Return the way home by set-up, and the set-ups that have too few of them."""
    groups: dict[str, list[Row]] = {}
    for row in rounds.count:
        if row.setup and row.home in ("home", "home_none") and row.way_at_least_s is not None:
            groups.setdefault(row.setup, []).append(row)
    logs: dict[Hashable, list[float]] = {}
    evenings: dict[Hashable, int] = {}
    have = need = 0
    missing = []
    for setup, rows in sorted(groups.items()):
        exact = [time for row in rows if (time := _way_s(row)) is not None]
        evenings[setup] = len({evening_of(row) for row in rows})
        have, need = have + min(len(exact), FEWEST_OF_SETUP), need + FEWEST_OF_SETUP
        if sum(row.way_at_most_s is None for row in rows) > MOST_LATE * len(rows):
            missing.append(Lacking(question="home", figure="way", of=setup))
        elif len(exact) >= FEWEST_OF_SETUP:
            logs[setup] = [math.log(max(time, _LEAST_S)) for time in exact]
    if have < need:
        missing.append(lacking("home", "way", "rounds", have=have, need=need, evenings=max(evenings.values())))
    # Without two set-ups there is nothing to tell apart, nor where no time differs from another.
    if len(logs) < 2 or all(len(set(group)) == 1 for group in logs.values()):
        return [], tuple(missing)
    pooled = pooled_means(logs)
    return [
        figure for setup in logs
        for figure in _of_setup(str(setup), pooled[setup], evenings[setup], pooled=len(logs) >= FEWEST)
    ], tuple(missing)  # fmt: skip


def _of_setup(setup: str, found: Pooled, evenings: int, *, pooled: bool) -> list[Figure]:
    figures = [Figure(
        name="way", of=setup, unit="s", value=math.exp(found.pooled), low=math.exp(found.low),
        high=math.exp(found.high), rounds=found.rounds, evenings=evenings, pooled=pooled,
    )]  # fmt: skip
    if pooled:
        figures.append(Figure(
            name="way_own", of=setup, unit="s", value=math.exp(found.own), rounds=found.rounds, evenings=evenings,
        ))  # fmt: skip
        if found.rounds_alone is not None:
            figures.append(Figure(
                name="way_rounds_alone", of=setup, unit="rounds", value=found.rounds_alone, rounds=found.rounds,
                evenings=evenings,
            ))  # fmt: skip
    return figures


def _way_s(row: Row) -> float | None:
    """Return a way in seconds; of one that was only longer the time it had, None of one that was only shorter."""
    low, high = row.way_at_least_s, row.way_at_most_s
    return low if low is not None and (high is None or high == low) else None


def _minus(value: float | None) -> float | None:
    return None if value is None or not math.isfinite(value) else -value + 0.0
