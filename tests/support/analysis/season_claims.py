"""Hold what reviews say of simulated seasons against what is true of them: row by row, as a coach would read it.

Everything goes the whole way: from a world's truth over marks and rows to the figures of `analysis/review/`. Season n
has the seed n, so that which seasons are looked at is known before.
"""

import math
import random
from collections.abc import Iterable, Iterator, Sequence
from functools import lru_cache
from typing import NamedTuple

import numpy as np

from tests.support.analysis.season_teams import Season, play_season, play_truths, season_rows
from tests.support.analysis.season_worlds import World
from tocsin.analysis.review.answer import Answer, Figure
from tocsin.analysis.review.better import better_answer
from tocsin.analysis.review.outcomes import contact_answer
from tocsin.analysis.review.rounds import Rounds, rounds_of
from tocsin.analysis.review.times import break_off_answer
from tocsin.analysis.seasons.row import Row
from tocsin.analysis.shares import wilson
from tocsin.model.project import Question

COACH = Question(asks="coach", since="2031-01-01")         # named before the first evening
_FIRST_OF_TRUTH = 1_000_000            # seasons from this one on tell what is true
TRUE_SEASONS = 250


class Truths(NamedTuple):
    """What is true of a world's rounds, as a scribe without faults would have noted them: the median and the 90 % point
    of break-off times in seconds, the share still on at the lead, and the share of rounds with a touch."""

    median_s: float
    ninth_s: float
    on_at_lead: float
    touched: float


class Held(NamedTuple):
    """Of how many seasons limits held: those that were ``told``, and those of them that ``held``; ``width`` is the mean
    one."""

    told: int
    held: int
    width: float

    @property
    def percent(self) -> float:
        """Which percentage held."""
        return 100 * self.held / self.told if self.told else math.nan


class Seen(NamedTuple):
    """What all pages of one season said of what was dealt by lot, a page after each evening.

    ``named`` is the question of the month: whether it was ever called ``better``, ``none`` whether "no difference that
    matters"; ``beside`` whether anything else was called better, ``held`` whether the limits of the difference held on
    all pages; ``pairs`` is how many pairs were played when the question was first answered by "better", None if it
    never was.
    """

    named: bool
    none: bool
    beside: bool
    beside_none: bool
    held: bool
    pairs: int | None


def counted(season: Season) -> Iterator[tuple[Row, float | None, bool]]:
    """Yield the rows of rounds that count, with the truth of each."""
    for row, truth in zip(season.rows, season.truths, strict=True):
        if row.counted and row.kind == "drill":
            yield row, truth.break_off_s, truth.touched


@lru_cache
def truths_of(world: World, seasons: int = TRUE_SEASONS) -> Truths:
    """Return what is true of a world: reckoned from so many seasons that nobody looks at otherwise."""
    rng = random.Random("lag")
    times, touched = [], []
    for seed in range(_FIRST_OF_TRUTH, _FIRST_OF_TRUTH + seasons):
        for truth in play_truths(world, seed):
            touched.append(truth.touched)
            if truth.break_off_s is not None:
                times += [truth.break_off_s + rng.uniform(*world.lag_s) for _ in range(4)]
    noted = np.array(times)
    lead_s = world.lead_on(world.evenings)
    return Truths(
        float(np.median(noted)), float(np.quantile(noted, 0.9)), float(np.mean(noted > lead_s)), float(np.mean(touched))
    )


def coverage(world: World, seasons: Iterable[int], true_seasons: int = TRUE_SEASONS) -> dict[str, Held]:
    """Return by the names of figures how often their limits held over these seasons: ``contact``, ``break_off``,
    ``on_at_lead``, and as ``nine in ten`` how often that bound was one; ``Wilson`` is its interval of all rounds taken
    as one evening, of the touches that truly were."""
    truth = truths_of(world, true_seasons)
    found: dict[str, list[tuple[bool, float]]] = {
        name: [] for name in ("contact", "break_off", "on_at_lead", "nine in ten", "Wilson")
    }
    for seed in seasons:
        season = play_season(world._replace(points=False), seed)
        rounds = rounds_of(season.rows, "Break off")
        answer = break_off_answer(rounds)
        _hold(found["contact"], contact_answer(rounds, season=True).figure("contact"), truth.touched)
        _hold(found["break_off"], answer.figure("break_off"), truth.median_s)
        _hold(found["on_at_lead"], answer.figure("on_at_lead"), truth.on_at_lead)
        if (nine := answer.figure("break_off_nine_in_ten")) is not None:
            bound = math.inf if nine.value is None else nine.value
            found["nine in ten"].append((bound >= truth.ninth_s, bound))
        true = [did for _, _, did in counted(season)]
        plain = wilson(sum(true), len(true))
        found["Wilson"].append((plain.low <= truth.touched <= plain.high, plain.high - plain.low))
    return {
        name: Held(len(of), sum(held for held, _ in of), float(np.mean([width for _, width in of])) if of else math.nan)
        for name, of in found.items()
    }


def _hold(found: list[tuple[bool, float]], figure: Figure | None, true: float) -> None:
    if figure is None or figure.value is None:
        return
    low = -math.inf if figure.low is None else figure.low
    high = math.inf if figure.high is None else figure.high
    found.append((low <= true <= high, high - low))


def pages(world: World, seed: int, question: Question | None = COACH, *, last: bool = False) -> Seen:
    """Return what the pages of a season said, one after each evening; or the ``last`` one alone, which says "better" if
    any did, since evidence keeps the most that any look had, and takes a tenth of the time."""
    rows = season_rows(world._replace(points=False), seed)
    named = none = beside = beside_none = False
    held, pairs = True, None
    evenings = tuple(dict.fromkeys(row.evening for row in rows))
    for evening in evenings[-1:] if last else evenings:
        answer = better_answer([row for row in rows if row.evening <= evening], question)
        for one in answer.comparisons:
            better, nothing = "better" in one.verdict, one.verdict == "no_difference"
            if not one.named:
                beside, beside_none = beside or better, beside_none or nothing
                continue
            if better and pairs is None:
                pairs = one.pairs
            named, none = named or better, none or nothing
            held = held and _holds(answer, one.of, world.calling_s if one.first == "calling" else -world.calling_s)
    return Seen(named, none, beside, beside_none, held, pairs)


def _holds(answer: Answer, of: str, true_s: float) -> bool:
    figure = answer.figure("difference", of)
    if figure is None:
        return True
    below = figure.low is None or figure.low <= true_s
    return below and (figure.high is None or true_s <= figure.high)


def at_most(count: int, of: int) -> float:
    """Return the upper limit (one-sided 95 %) in percent of a share that was seen ``count`` times ``of`` so many:
    Clopper and Pearson's, which is never too small (Biometrika 26:404, 1934)."""
    from scipy.stats import beta

    return 100.0 if count == of else 100 * float(beta.ppf(0.95, count + 1, of - count))


def at_least(count: int, of: int) -> float:
    """Return the lower limit in percent, as in ``at_most``."""
    return 100 - at_most(of - count, of)


def biases(world: World, seasons: Sequence[int]) -> tuple[float, float, float]:
    """Return by how many seconds the middle break-off time that a season tells is off on average, by how much its share
    of contacts is (what is sure alone), and which share of seasons told of both extremes since marks were missing."""
    truth = truths_of(world)
    off_s, shares, flagged = [], [], 0
    for seed in seasons:
        rounds: Rounds = rounds_of(season_rows(world._replace(points=False), seed), "Break off")
        answer = break_off_answer(rounds)
        middle = answer.figure("break_off")
        if middle is not None and middle.value is not None:
            off_s.append(middle.value - truth.median_s)
        flagged += answer.figure("break_off_if_missing", "never") is not None
        contact = contact_answer(rounds, season=True).figure("contact")
        if contact is not None and contact.value is not None:
            shares.append(contact.value - truth.touched)
    return float(np.mean(off_s)), float(np.mean(shares)), flagged / len(seasons)
