"""Test whether two signals together do more than give two chances: Miller's race-model inequality.

If a pair is only a race between its two signals, then at any time the share of answers to the pair is at most the sum
of the shares for the two single signals (Miller, Cognitive Psychology 14:247, 1982). So at each percent point the pair
must not be faster than the *bound*, the percent point of that sum. Percent points, their ties and the bound follow
Ulrich, Miller and Schroeter, Behavior Research Methods 39:291, 2007.

With few answers one person's pair crosses the bound by luck: in about seven of ten simulated pure races. So a person's
race counts as broken only where the bootstrap confirms it, at an error of 5 % over all tested points together. These
points lie in the faster half, where a pair that is more than a race shows it.

Values are milliseconds; a missed signal counts as the length of the answer window.
"""

from collections.abc import Sequence

import msgspec
import numpy as np
from scipy import stats

from tocsin.analysis.order_statistics import CONFIDENCE, Values
from tocsin.analysis.reactions.order import Condition
from tocsin.analysis.reactions.scores import TIMED, Reaction, times_ms

SHARES = (0.05, 0.15, 0.25, 0.35, 0.45, 0.55, 0.65, 0.75, 0.85, 0.95)
LOOKED_AT = (0.05, 0.15, 0.25, 0.35, 0.45)
FEWEST = 10                                # of each: the 5 % point needs ten (Ulrich, Miller and Schroeter 2007)
RESAMPLES = 2000                           # so that an error of 1 % a point is known to 0.2 %
_AT_ONCE = 200                             # of the resamples: some tens of megabytes with a hundred answers of each
SEED = 1


class Race(msgspec.Struct, frozen=True, kw_only=True):
    """A person's pair of channels against its bound, at ``shares``.

    ``faster_at`` holds the points where the pair was faster than the bound, luck included; ``broken_at`` those where
    the bootstrap confirms it. ``gain_ms`` is how much faster the pair's median was than the better single one (negative
    if slower). Its interval (percentile bootstrap) is careful with claims: in simulated sessions of 13 to 27 answers
    its lower end was too high in at most 2 %. If both single channels are equally fast, it is too low in 8 %, since the
    luckier one is taken. ``fewest`` is the smallest number of signals among the three; ``apart_ms`` how far apart the
    two signals usually began.
    """

    pair: Condition
    shares: tuple[float, ...]
    pair_ms: tuple[float, ...]
    bound_ms: tuple[float, ...]
    faster_at: tuple[float, ...]
    broken_at: tuple[float, ...]
    gain_ms: float
    gain_interval: tuple[float, float]     # 95 %, in ms
    fewest: int
    apart_ms: float


def percent_points_ms(times: Sequence[float] | Values, shares: Sequence[float] | Values) -> Values:
    """Return the percent points at ``shares`` (0 to 1, shape (points,)) of ``times`` in milliseconds, shape (...,
    points).

    ``times`` are milliseconds, shape (..., answers), each row by itself. The distribution rises straight from the
    midpoint of one value's step to that of the next; equal values make one high step.
    """
    values, heights = _steps(np.asarray(times, dtype=float))
    return _between(np.asarray(shares), heights, values)


def bound_ms(
    first: Sequence[float] | Values, second: Sequence[float] | Values, shares: Sequence[float] | Values
) -> Values:
    """Return the percent points of the sum of two distributions in milliseconds, shape (..., points).

    ``first`` and ``second`` are milliseconds, shape (..., answers), each row by itself; ``shares`` are 0 to 1.
    """
    groups = [_steps(np.asarray(times, dtype=float)) for times in (first, second)]
    at_ms = np.sort(np.concatenate([values for values, _ in groups], axis=-1))
    sums = np.zeros((*at_ms.shape, 2))         # just before each time, and from it on: it may jump there
    for values, heights in groups:
        least, most = values[..., :1], values[..., -1:]
        reached = np.where(at_ms < least, 0.0, np.where(at_ms > most, 1.0, _between(at_ms, values, heights)))
        sums[..., 0] += np.where(at_ms == least, 0.0, reached)
        sums[..., 1] += np.where(at_ms == most, 1.0, reached)
    rising = np.sort(sums.reshape(*at_ms.shape[:-1], -1))      # before and from on of times that come twice
    return _between(np.asarray(shares), rising, np.repeat(at_ms, 2, axis=-1))


def race_of(pair: Condition, reactions: Sequence[Reaction], *, seed: int = SEED) -> Race | None:
    """Return a person's race of a pair of channels, None with fewer than ten signals of the pair or of either alone.
    The same reactions and seed give the same result."""
    first, second, both = (times_ms(c, reactions) for c in (pair[:1], pair[1:], pair))
    fewest = min(len(first), len(second), len(both))
    if fewest < FEWEST:
        return None
    pair_at, bound_at = percent_points_ms(both, SHARES), bound_ms(first, second, SHARES)
    rng = np.random.default_rng(seed)
    gain = stats.bootstrap((first, second, both), _gain_ms, method="percentile", n_resamples=RESAMPLES, rng=rng)
    ahead = stats.bootstrap(
        (first, second, both), _ahead_ms, method="percentile", n_resamples=RESAMPLES, batch=_AT_ONCE, rng=rng
    )
    error = (1 - CONFIDENCE) / len(LOOKED_AT)                      # Bonferroni: 5 % over all of them
    sure = np.quantile(ahead.bootstrap_distribution, error, axis=1) > 0
    faster_at = tuple(s for s, ms, most in zip(SHARES, pair_at, bound_at, strict=True) if ms < most)
    return Race(
        pair=pair,
        shares=SHARES,
        pair_ms=tuple(pair_at.tolist()),
        bound_ms=tuple(bound_at.tolist()),
        faster_at=faster_at,
        broken_at=tuple(s for s, sure_there in zip(LOOKED_AT, sure, strict=True) if sure_there and s in faster_at),
        gain_ms=float(_gain_ms(first, second, both)),
        gain_interval=(float(gain.confidence_interval.low), float(gain.confidence_interval.high)),
        fewest=fewest,
        apart_ms=float(np.median([r.apart_ms for r in reactions if r.condition == pair and r.outcome in TIMED])),
    )


def _ahead_ms(first: Values, second: Values, both: Values, axis: int = -1) -> Values:
    """Return how much faster a pair is than its bound at ``LOOKED_AT``, in ms, shape (points, ...).

    The three arguments are milliseconds, shape (..., answers).
    """
    assert axis == -1
    return np.moveaxis(bound_ms(first, second, LOOKED_AT) - percent_points_ms(both, LOOKED_AT), -1, 0)


def _gain_ms(
    first: Sequence[float] | Values, second: Sequence[float] | Values, both: Sequence[float] | Values, axis: int = -1
) -> Values:
    """Return by how much the median of a pair beats the better of the two single ones, in ms."""
    better = np.minimum(np.median(first, axis=axis), np.median(second, axis=axis))
    return np.asarray(better - np.median(both, axis=axis))


def _steps(times: Values) -> tuple[Values, Values]:
    """Return the values of each row in order, and the share that is reached at the midpoint of the step of each."""
    ordered = np.sort(times)
    count = ordered.shape[-1]
    another = ordered[..., 1:] != ordered[..., :-1]
    edge = np.ones((*ordered.shape[:-1], 1), dtype=bool)
    places = np.arange(count)
    begins = np.maximum.accumulate(np.where(np.concatenate([edge, another], axis=-1), places, 0), axis=-1)
    ends = np.where(np.concatenate([another, edge], axis=-1), places + 1, count)     # so many are up to each value
    ends = np.minimum.accumulate(ends[..., ::-1], axis=-1)[..., ::-1]
    return ordered, (begins + ends) / (2 * count)


def _between(at: Values, rising: Values, values: Values) -> Values:
    """Return what numpy.interp does, for each row of numbers that never fall: the value that belongs to each of ``at``.
    Of equal numbers the last counts."""
    reached = np.sum(rising[..., None, :] <= at[..., :, None], axis=-1)
    last = rising.shape[-1] - 1
    low, high = np.clip(reached - 1, 0, last), np.clip(reached, 0, last)
    begin, end = np.take_along_axis(rising, low, -1), np.take_along_axis(rising, high, -1)
    part = (at - begin) / np.where(end > begin, end - begin, np.inf)
    below = np.take_along_axis(values, low, -1)
    return np.asarray(below + part * (np.take_along_axis(values, high, -1) - below))
