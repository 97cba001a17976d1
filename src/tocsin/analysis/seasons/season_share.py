"""Compute the share behind the rounds of several evenings, where rounds of one evening are alike. Pure.

Of x of n rounds an evening has a share of its own, drawn from a beta distribution around the season's share p with a
correlation r between two rounds of one evening: x is beta-binomial with a = p (1 - r) / r and b = (1 - p) (1 - r) / r.
Both are unknown. The prior of p is Jeffreys', that of r falls as exp(-r / 0.3): with few evenings it keeps the interval
from trusting that evenings are equal. A narrower one (0.07) held in 84 % only. All is summed over a grid, no sampler:
what p may be is read off the sums.

Counts may be broken numbers: a round that is known in part counts as much as is known of it.
"""

import math
from collections.abc import Iterable, Sequence
from functools import lru_cache
from typing import Any

import msgspec
import numpy as np

from tocsin.analysis.order_statistics import Values
from tocsin.analysis.shares import CONFIDENCE, ShareInterval, difference

Grid = np.ndarray[tuple[Any, ...], np.dtype[np.float64]]

CELLS = 400                            # of p, equally likely before anything was seen
CORRELATIONS = np.linspace(0, 0.45, 13)
_FALL = 0.3                            # of the prior of the correlation
# Jeffreys' prior is even in q, with p = sin(pi q / 2) squared.
SHARES: Values = np.sin(np.pi / 2 * (np.arange(CELLS) + 0.5) / CELLS) ** 2


class SeasonShare(msgspec.Struct, frozen=True, kw_only=True):
    """The share behind ``count`` of ``rounds`` in several evenings.

    ``mean`` is what is to be expected of it, ``low`` and ``high`` its 95 % limits, ``correlation`` what is to be
    expected of that between two rounds of an evening, ``effective_rounds`` how many independent rounds would tell as
    much.
    """

    count: float
    rounds: float
    mean: float
    low: float
    high: float
    correlation: float
    effective_rounds: float

    @property
    def effective_count(self) -> float:
        """The count among the effective rounds, with the share that was seen."""
        return self.count / self.rounds * self.effective_rounds


def season_share(evenings: Sequence[tuple[float, float]]) -> SeasonShare:
    """Return the share behind ``evenings``, each a count and its rounds; evenings without a round are left out.

    The limits are equal tails; 0 is kept where nothing was counted, 1 where all was. Raises ValueError without a round.
    """
    weights = posterior(evenings)
    sizes = [rounds for _, rounds in evenings if rounds > 0]
    count, rounds = math.fsum(count for count, _ in evenings), math.fsum(sizes)
    of_share, of_correlation = weights.sum(axis=0), weights.sum(axis=1)
    tail = (1 - CONFIDENCE) / 2
    correlation = float(of_correlation @ CORRELATIONS)
    together = math.fsum(size * size for size in sizes) / rounds       # rounds of the evening of a round, on average
    return SeasonShare(
        count=count,
        rounds=rounds,
        mean=float(of_share @ SHARES),
        low=0.0 if count == 0 else share_at(of_share, tail),
        high=1.0 if count == rounds else share_at(of_share, 1 - tail),
        correlation=correlation,
        effective_rounds=rounds / max(1.0, 1 + (together - 1) * correlation),
    )


def posterior(evenings: Iterable[tuple[float, float]]) -> Grid:
    """Return how likely each pair of ``CORRELATIONS`` and ``SHARES`` is after ``evenings``, shape (correlations,
    shares); the sum is 1."""
    logs = np.repeat(-CORRELATIONS[:, None] / _FALL, CELLS, axis=1)
    seen = 0
    for count, rounds in evenings:
        if not 0 <= count <= rounds:
            raise ValueError(f"{count} is no count of {rounds} rounds")
        if rounds:
            logs += _logs(count, rounds)
            seen += 1
    if not seen:
        raise ValueError("no share can be told from no round")
    weights: Grid = np.exp(logs - logs.max())
    weights /= weights.sum()
    return weights


def share_at(of_share: Values, below: float) -> float:
    """Return the share that another one is ``below`` with this probability, by the probabilities ``of_share`` of
    ``SHARES``; even within a cell."""
    edges = np.concatenate(([0.0], np.cumsum(of_share)))
    q = float(np.interp(below, edges / edges[-1], np.arange(CELLS + 1) / CELLS))
    return math.sin(math.pi / 2 * q) ** 2


def difference_of(one: SeasonShare, other: SeasonShare) -> ShareInterval:
    """Return the 95 % interval of one share minus another one of other evenings: Newcombe's, for as many rounds as
    they are worth."""
    return difference(one.effective_count, one.effective_rounds, other.effective_count, other.effective_rounds)


@lru_cache(maxsize=512)
def _logs(count: float, rounds: float) -> Grid:
    """Return the log likelihood of an evening, less a constant; shape (correlations, shares)."""
    # Loaded here: it takes a while, and a match has no use for it.
    from scipy.special import betaln

    both = (1 - CORRELATIONS[1:, None]) / CORRELATIONS[1:, None]
    first, second = SHARES * both, (1 - SHARES) * both
    alone = count * np.log(SHARES) + (rounds - count) * np.log1p(-SHARES)
    alike = betaln(first + count, second + rounds - count) - betaln(first, second)
    found: Grid = np.vstack([alone, alike])
    return found
