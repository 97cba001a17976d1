"""Pool groups partly: drivers, or set-ups, of which each has few rounds. Pure.

What a group showed is drawn towards the mean of all, the more the fewer its rounds and the more alike the groups. Times
(their logarithms) come from a normal distribution in each group, around means that differ with a spread found by
restricted maximum likelihood (REML, never below 0; Patterson and Thompson, Biometrika 58:545, 1971): with equal groups
it is the analysis of variance. Shares are beta-binomial, with groups for evenings (``season_share.py``).

Below ``FEWEST`` groups nothing tells how far groups differ, so nothing is pooled.
"""

import math
import statistics
from collections.abc import Hashable, Mapping, Sequence

import msgspec
import numpy as np

from tocsin.analysis.order_statistics import Values
from tocsin.analysis.seasons.season_share import CORRELATIONS, SHARES, posterior
from tocsin.analysis.shares import CONFIDENCE, jeffreys

FEWEST = 3
_OWN_WEIGHT = 0.8                      # of a group that stands by itself
_TOGETHER, _PLACES, _UNLIKELY = 8, 101, 1e-5           # how finely a group's share is summed


class Pooled(msgspec.Struct, frozen=True, kw_only=True):
    """A group of ``rounds``: its ``own`` mean and the ``pooled`` one with 95 % limits, in one unit. ``weight`` is that
    of its own rounds; ``rounds_alone`` how many give them the weight 0.8, None if groups do not differ."""

    rounds: int
    own: float
    pooled: float
    low: float
    high: float
    weight: float
    rounds_alone: int | None


class Components(msgspec.Struct, frozen=True, kw_only=True):
    """The ``mean`` of groups with its standard ``error``, and the variances ``between`` groups and ``within`` one."""

    mean: float
    error: float
    between: float
    within: float


def components_of(groups: Sequence[Sequence[float]]) -> Components:
    """Return mean and variances of groups by REML, in the unit of the values (squared).

    Raises ValueError without two groups of which one has two values.
    """
    # Loaded here: it takes a while, and a match has no use for it.
    from scipy.optimize import minimize_scalar

    sizes = np.array([len(group) for group in groups], dtype=float)
    total, k = float(sizes.sum()), len(groups)
    if k < 2 or total <= k or not sizes.all():
        raise ValueError("variances need two groups, and two values in one of them")
    means = np.array([statistics.fmean(group) for group in groups])
    inside = math.fsum(
        (value - mean) ** 2 for group, mean in zip(groups, means.tolist(), strict=True) for value in group
    )

    def fit(ratio: float) -> tuple[float, float, float]:
        """Return mean, sum of squares and weights at a ratio of the variances."""
        weights = sizes / (1 + sizes * ratio)
        mean = float(weights @ means / weights.sum())
        return mean, inside + float(weights @ (means - mean) ** 2), float(weights.sum())

    def deviance(log_ratio: float) -> float:
        ratio = math.exp(log_ratio)
        _, squares, weights = fit(ratio)
        return (total - 1) * math.log(squares) + float(np.log1p(sizes * ratio).sum()) + math.log(weights)

    if inside == 0:
        raise ValueError("variances need values of a group that differ")
    ends = (-25.0, 15.0)
    found = minimize_scalar(deviance, bounds=ends, method="bounded", options={"xatol": 1e-9})
    ratio = math.exp(float(found.x)) if found.fun < deviance(ends[0]) - 1e-10 else 0.0
    mean, squares, weights = fit(ratio)
    within = squares / (total - 1)
    return Components(mean=mean, error=math.sqrt(within / weights), between=ratio * within, within=within)


def pooled_means(groups: Mapping[Hashable, Sequence[float]]) -> dict[Hashable, Pooled]:
    """Return each group's mean, pooled partly, in the unit of the values: of times their logarithms. Limits are by the
    t of groups for what differs between them. Errors as in ``components_of``."""
    from scipy.special import stdtrit

    found = components_of(list(groups.values()))
    alone = len(groups) < FEWEST
    rounds_in_all = sum(len(group) for group in groups.values())
    result: dict[Hashable, Pooled] = {}
    for name, group in groups.items():
        n, own = len(group), statistics.fmean(group)
        error2 = found.within / n
        weight = 1.0 if alone else found.between / (found.between + error2)
        pooled = weight * own + (1 - weight) * found.mean
        error = math.sqrt(weight * error2 + (1 - weight) ** 2 * found.error**2)
        freedom = rounds_in_all - len(groups) if alone else len(groups) - 1
        off = float(stdtrit(freedom, (1 + CONFIDENCE) / 2)) * error
        needed = math.ceil(found.within / found.between * _OWN_WEIGHT / (1 - _OWN_WEIGHT)) if found.between else None
        result[name] = Pooled(
            rounds=n, own=own, pooled=pooled, low=pooled - off, high=pooled + off, weight=weight, rounds_alone=needed
        )
    return result


def pooled_shares(groups: Mapping[Hashable, tuple[int, int]]) -> dict[Hashable, Pooled]:
    """Return each group's share of a count and its rounds, pooled partly; below three groups with Jeffreys' limits.
    Raises ValueError for a group without a round."""
    if len(groups) < FEWEST:
        return {
            name: Pooled(
                rounds=rounds, own=count / rounds, pooled=count / rounds, low=limits.low, high=limits.high, weight=1.0,
                rounds_alone=None,
            )
            for name, (count, rounds) in groups.items() for limits in [jeffreys(count, rounds)]
        }  # fmt: skip
    # What a group is depends on how alike all are, itself included: each pair of correlation and share has its weight.
    weights = posterior(groups.values())
    correlation = float(weights.sum(axis=1) @ CORRELATIONS)
    result: dict[Hashable, Pooled] = {}
    for name, (count, rounds) in groups.items():
        low, mean, high = _of_group(weights, count, rounds)
        before = (1 - correlation) / correlation
        result[name] = Pooled(
            rounds=rounds, own=count / rounds, pooled=mean, low=low, high=high, weight=rounds / (rounds + before),
            rounds_alone=math.ceil(before * _OWN_WEIGHT / (1 - _OWN_WEIGHT)),
        )  # fmt: skip
    return result


def beta_of(mean: float, spread: float) -> tuple[float, float]:
    """Return the two parameters of the beta distribution with this mean and standard deviation."""
    both = mean * (1 - mean) / spread**2 - 1
    return mean * both, (1 - mean) * both


def _of_group(weights: Values, count: int, rounds: int) -> tuple[float, float, float]:
    """Return limits and mean of a group's share: a mixture of beta distributions, one for each pair that is likely;
    without a correlation it is the share itself. Neighbouring shares are taken together."""
    # Loaded here: it takes a while, and a match has no use for it.
    from scipy.special import betainc

    weights = weights.reshape(len(CORRELATIONS), -1, _TOGETHER).sum(axis=2)
    shares = SHARES.reshape(-1, _TOGETHER).mean(axis=1)
    places = np.sin(np.pi / 2 * np.linspace(0, 1, _PLACES)) ** 2
    both = (1 - CORRELATIONS[1:, None]) / CORRELATIONS[1:, None]
    first, second = shares * both + count, (1 - shares) * both + rounds - count
    likely = weights[1:] > _UNLIKELY
    w, a, b = weights[1:][likely], first[likely], second[likely]
    below = w @ betainc(a[:, None], b[:, None], places) + np.interp(places, shares, np.cumsum(weights[0]), left=0)
    mean = float(w @ (a / (a + b)) + weights[0] @ shares) / float(w.sum() + weights[0].sum())
    tail = (1 - CONFIDENCE) / 2
    low, high = np.interp((tail, 1 - tail), below / below[-1], places).tolist()
    return low, mean, high
