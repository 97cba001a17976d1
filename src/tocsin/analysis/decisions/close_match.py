"""Weigh a bold choice against a sure one by the chance to win: what to do ahead, or behind. Pure.

More points on average are not more matches won: who is far enough ahead takes no risk, who is behind has nothing to
lose by it. So each choice of a game turns at a lead, in points, which is told as a threshold; no plan is changed by it.
"""

import math
import statistics
from collections.abc import Iterable
from typing import Literal, NamedTuple

import msgspec

from tocsin.analysis.decisions.choice import FEWEST_MATCHES
from tocsin.analysis.decisions.season import usable
from tocsin.analysis.decisions.swing import SPREAD, points_of, swings, win_chance
from tocsin.analysis.rounds.stakes import HALF, HOME, NOT_HOME
from tocsin.analysis.seasons.row import Row
from tocsin.analysis.shares import jeffreys

_FAR_SPREADS = 3.0                     # beyond so many spreads a match is lost or won, and no threshold is told

Outcomes = tuple[tuple[float, float], ...]             # points, and the chance of each; the rest brings 0 points
ForkName = Literal["return", "push"]


class Spread(msgspec.Struct, frozen=True, kw_only=True):
    """By how many points a projected lead misses the final one: a standard deviation. ``ahead`` is the lead projected,
    0 where nothing tells it; ``matches`` are those whose scores tell the spread, 0 if ``said`` by people or taken as
    usual. ``ahead_said``: people said the lead."""

    spread: float = SPREAD
    ahead: float = 0.0
    matches: int = 0
    said: bool = False
    ahead_said: bool = False


class Chance(NamedTuple):
    """The chance of something by ``came`` of ``rounds`` in which it did, with Jeffreys' 95 % limits."""

    value: float
    low: float
    high: float
    came: int
    rounds: int


class Returns(NamedTuple):
    """How often robots were all home, of those that did not settle for half, and at least half home, of all."""

    full: Chance
    half: Chance


class Fork(msgspec.Struct, frozen=True, kw_only=True):
    """A ``bold`` choice and a ``sure`` one, of which that with the better chance to win changes at each of ``turns``:
    leads in points, rising, below 0 behind. ``bold_behind``: below the first of them, or everywhere, the bold one is
    better. ``bold_points`` and ``sure_points`` are what they bring on average."""

    name: ForkName
    bold: Outcomes
    sure: Outcomes
    spread: float
    turns: tuple[float, ...]
    bold_behind: bool
    bold_points: float
    sure_points: float

    def is_bold(self, ahead: float) -> bool:
        """Return whether the bold choice is better, projected to be ``ahead`` by so many points."""
        return self.bold_behind ^ bool(sum(turn < ahead for turn in self.turns) % 2)


def spread_of(rows: Iterable[Row], *, ahead: float | None = None, spread: float | None = None) -> Spread:
    """Return what the scores of eight matches tell of a projected lead, else the usual spread; in place of either what
    people say of it, each for itself.

    Of scores: their mean difference and its standard deviation over whole matches, which is wider than what the last
    seconds bring: thresholds near the end lie closer to 0.
    """
    found = _of_scores(rows) if spread is None else Spread(spread=spread, said=True)
    return found if ahead is None else msgspec.structs.replace(found, ahead=ahead, ahead_said=True)


def _of_scores(rows: Iterable[Row]) -> Spread:
    known = [
        row.score_us - row.score_them for row in rows
        if row.kind != "drill" and row.score_us is not None and row.score_them is not None
    ]  # fmt: skip
    if len(known) < FEWEST_MATCHES or len(set(known)) < 2:
        return Spread()
    return Spread(spread=statistics.stdev(known), ahead=statistics.fmean(known), matches=len(known))


def returns_of(rows: Iterable[Row]) -> Returns | None:
    """Return how often returns succeeded, None below eight rounds of either kind. Who is half home may have meant it:
    such rounds do not tell whether all the way in would have worked."""
    states = [row.home for row in usable(rows) if row.home in (HOME, HALF, NOT_HOME)]
    full, half = states.count(HOME), states.count(HALF)
    tried = len(states) - half
    if tried < FEWEST_MATCHES:
        return None
    return Returns(_chance(full, tried), _chance(full + half, len(states)))


def return_fork(
    full: float, half: float, full_chance: float, half_chance: float, spread: float = SPREAD
) -> Fork:
    """Return when to go all the way in for ``full`` points, and when to take the sure ``half``. Raises ValueError for
    chances that are none, or a spread that is not above 0."""
    return fork_of("return", ((full, full_chance),), ((half, half_chance),), spread)


def push_fork(gain: float, contact: float, touched: float, spread: float = SPREAD) -> Fork:
    """Return when to push on for ``gain`` points more though it ends in one more contact, of so many points to the
    opponents, with a chance ``touched``; and when to let go. Errors as in ``return_fork``."""
    return fork_of("push", ((gain, 1 - touched), (gain - contact, touched)), (), spread)


def fork_of(name: ForkName, bold: Outcomes, sure: Outcomes, spread: float) -> Fork:
    """Return when a bold choice is better than a sure one, and when not. Errors as in ``return_fork``."""
    found = [turn for turn in swings(bold, sure, spread) if abs(turn) <= _FAR_SPREADS * spread]
    at = min(found, default=0.0) - (0.5 * spread if found else 0.0)
    behind = win_chance(bold, at, spread) - win_chance(sure, at, spread)
    if not found:
        behind = points_of(bold) - points_of(sure)
    return Fork(
        name=name, bold=bold, sure=sure, spread=spread, turns=tuple(found), bold_behind=behind > 0,
        bold_points=points_of(bold), sure_points=points_of(sure),
    )


def threshold(turn: float) -> int:
    """Return a lead in whole points from which on what lies above it holds: scores are whole."""
    return math.floor(turn) + 1


def _chance(came: int, rounds: int) -> Chance:
    limits = jeffreys(came, rounds)
    return Chance((came + 0.5) / (rounds + 1), limits.low, limits.high, came, rounds)
