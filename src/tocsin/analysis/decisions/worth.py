"""Compute what more rounds would be worth to a decision, before they are played. Pure.

The gain of a change is known with a mean and a spread, from so many effective rounds. More rounds will move the mean by
a spread that can be told today, and what is then best is worth more than what is best today by the unit normal loss
(R. Schlaifer, "Probability and statistics for business decisions", 1959).
"""

import math
from statistics import NormalDist
from typing import NamedTuple

DECIDED = 0.9                          # the certainty with which a change is advised
_STEP, MOST = 6, 96                   # rounds asked for
_CHANCE = 0.7
_NORMAL = NormalDist()
_SPREADS = _NORMAL.inv_cdf(DECIDED)    # 1.2816


class Worth(NamedTuple):
    """What so many more ``rounds`` would be worth, in the unit of the gain, and the ``chance`` that they decide."""

    rounds: int
    worth: float
    chance: float


def worth_of(mean: float, spread: float, rounds: float, more: int) -> Worth:
    """Return what ``more`` rounds are worth where the gain has this ``mean`` and ``spread`` from effective ``rounds``.

    Raises ValueError for a spread or rounds that are not above 0.
    """
    if not (spread > 0 and rounds > 0 and more > 0):
        raise ValueError("spread and rounds are above 0")
    moves = spread * math.sqrt(more / (more + rounds))
    left = spread * math.sqrt(rounds / (more + rounds))
    after = NormalDist(mean, moves)
    chance = 1 - after.cdf(_SPREADS * left) + after.cdf(-_SPREADS * left)
    return Worth(more, moves * unit_loss(abs(mean) / moves), chance)


def rounds_to_decide(mean: float, spread: float, rounds: float) -> Worth | None:
    """Return the fewest more rounds, in steps of 6 up to 96, that decide with 7 chances in 10; None if not even those
    do. Arguments and errors as in ``worth_of``."""
    tried = (worth_of(mean, spread, rounds, more) for more in range(_STEP, MOST + 1, _STEP))
    return next((one for one in tried if one.chance >= _CHANCE), None)


def unit_loss(u: float) -> float:
    """Return what a standard normal value exceeds ``u`` by on average, 0 where it does not."""
    return _NORMAL.pdf(u) - u * (1 - _NORMAL.cdf(u))
