"""Answer in how many rounds our robot touched somebody while that costs points, and what it all cost."""

import math
import zlib
from collections.abc import Hashable, Iterable
from typing import NamedTuple

from tocsin.analysis.review.answer import Answer, Figure, Lacking, Question
from tocsin.analysis.review.rounds import Rounds, evening_of, lacking
from tocsin.analysis.seasons.evening_means import Mean, round_mean
from tocsin.analysis.seasons.row import Row
from tocsin.analysis.seasons.season_share import season_share
from tocsin.analysis.shares import wilson

FEWEST_EVENINGS = 3                    # of a season's share, and of a mean of points


class Count(NamedTuple):
    """Of ``rounds``, how many surely did something, and of how many more nobody can tell."""

    sure: int
    unclear: int
    rounds: int


def share_figure(name: str, known: Iterable[tuple[Row, bool | None]], *, season: bool, of: str = "") -> Figure:
    """Return the share of rounds that did something, which is None where nobody can tell: the limits reach from none of
    those having done it to all of them.

    Of one evening they are Wilson's; over a season they know that rounds of an evening are alike. Raises ValueError for
    no round.
    """
    counts: dict[Hashable, Count] = {}
    for row, did in known:
        so_far = counts.get(evening_of(row), Count(0, 0, 0))
        counts[evening_of(row)] = Count(so_far.sure + (did is True), so_far.unclear + (did is None), so_far.rounds + 1)
    x, u, n = (sum(column) for column in zip(*counts.values(), strict=True))
    if season:
        low = season_share([(one.sure, one.rounds) for one in counts.values()]).low
        high = season_share([(one.sure + one.unclear, one.rounds) for one in counts.values()]).high
    else:
        low, high = wilson(x, n).low, wilson(x + u, n).high
    return Figure(
        name=name, of=of, unit="share", value=x / n, at_most=(x + u) / n if u else None, low=low, high=high, count=x,
        rounds=n, evenings=len(counts),
    )  # fmt: skip


def contact_answer(rounds: Rounds, *, season: bool = False) -> Answer:
    """Return the share of rounds with a ``contact``; nothing where what was played asks for no window without one."""
    known = [(row, _touched(row)) for row in rounds.count if row.contacts is not None]
    if not known:
        return Answer(question="contact")
    evenings = _evenings(row for row, _ in known)
    if season and evenings < FEWEST_EVENINGS:
        return _too_few("contact", "contact", evenings)
    return Answer(question="contact", figures=(share_figure("contact", known, season=season),))


def cost_answer(rounds: Rounds, *, season: bool = False) -> Answer:
    """Return what a round cost, gained and came to in the mean, in points: ``cost``, ``gain``, ``net``. An evening
    tells only the sum, ``cost_total``: the mean is for the season."""
    known = [row for row in rounds.count if row.cost_points is not None]
    if not known:
        return Answer(question="cost")
    evenings = _evenings(known)
    cost = [float(row.cost_points or 0) for row in known]
    cost_at_most = [float(row.cost_points or 0 if row.cost_at_most_points is None else row.cost_at_most_points)
                    for row in known]  # fmt: skip
    total = Figure(
        name="cost_total", unit="points", value=math.fsum(cost), at_most=_beyond(math.fsum(cost_at_most), cost),
        rounds=len(known), evenings=evenings,
    )  # fmt: skip
    if not season:
        return Answer(question="cost", figures=(total,))
    if evenings < FEWEST_EVENINGS:
        return _too_few("cost", "cost", evenings)
    gain = [float(row.gain_points or 0) for row in known]
    gain_at_most = [float(row.gain_points or 0 if row.gain_at_most_points is None else row.gain_at_most_points)
                    for row in known]  # fmt: skip
    return Answer(question="cost", figures=(
        total,
        _mean("cost", known, cost, cost_at_most),
        _mean("gain", known, gain, gain_at_most),
        _mean("net", known, [got - lost for got, lost in zip(gain, cost_at_most, strict=True)],
              [got - lost for got, lost in zip(gain_at_most, cost, strict=True)]),
    ))  # fmt: skip


def _touched(row: Row) -> bool | None:
    return True if row.contacts else None if row.contacts_unclear else False


def _mean(name: str, rows: list[Row], values: list[float], at_most: list[float]) -> Figure:
    """Return the mean of points a round, with limits by evenings from the values to those that are left open. Where all
    rounds had the same there are no limits: they would say that it always will be so."""
    evenings = [evening_of(row) for row in rows]
    # Equal rows give equal limits.
    seed = zlib.crc32(repr((name, evenings, values)).encode())
    low, high = round_mean(values, evenings, seed=seed), round_mean(at_most, evenings, seed=seed)
    least = None if name == "net" else 0.0
    return Figure(
        name=name, unit="points", value=low.value, at_most=_beyond(high.value, values, low.value),
        low=_limit(low, low.low, values, least), high=_limit(high, high.high, at_most, least), rounds=len(rows),
        evenings=len(set(evenings)),
    )  # fmt: skip


def _limit(mean: Mean, limit: float, values: list[float], least: float | None) -> float | None:
    if len(set(values)) == 1 or not math.isfinite(limit):
        return None
    return limit if least is None else max(limit, least)


def _beyond(value: float, values: list[float], known: float | None = None) -> float | None:
    known = math.fsum(values) if known is None else known
    return value if value > known else None


def _evenings(rows: Iterable[Row]) -> int:
    return len({evening_of(row) for row in rows})


def _too_few(question: Question, figure: str, evenings: int) -> Answer:
    return Answer(question=question, lacking=(evenings_lacking(question, figure, evenings),))


def evenings_lacking(question: Question, figure: str, evenings: int) -> Lacking:
    """Return what a season's share lacks that has so few evenings."""
    return lacking(question, figure, "evenings", have=evenings, need=FEWEST_EVENINGS, evenings=evenings)
