"""Compute what is known of a break-off, turn or way: a grid of distributions, and draws of them. Pure.

Times are log-normal or gamma, each with its centre (the median; of gamma the mean) and its spread (that of the
logarithm; of gamma the ratio of spread and mean). A few of them are lapses, which take 1.8 times as long: without these
4 % of lapses made the spread so large that harmful leads were advised to one team in nine (simulated). Each point of
the grid has the likelihood of all times, known, within bounds or only longer. Rounds of an evening are alike, so that
likelihood is worth only its part: it is divided by the design effect, 1 + (rounds an evening - 1) * correlation (Kish,
"Survey sampling", 1965). No sampler, no optimiser.

A scribe marks an end late, by 0.3 to 0.8 s (common practice, no source), or by as much as pushes show that a video
noted too. A time by a scribe's mark is the true one and that lag, which is summed out over a few values or held at one;
a video's has none.
"""

import math
from collections.abc import Hashable, Sequence
from functools import lru_cache
from typing import Any, Literal

import msgspec
import numpy as np

from tocsin.analysis.order_statistics import Values
from tocsin.analysis.seasons.pooling import components_of

Grid = np.ndarray[tuple[Any, ...], np.dtype[np.float64]]
Family = Literal["log-normal", "gamma"]

FAMILIES: tuple[Family, ...] = ("log-normal", "gamma")
DRAWS = 400
_LAGS = 5                              # values over which a lag is summed out
FEWEST_LAGS = 8                        # pushes noted by key and video that tell a lag
_CONFIDENCE = 0.95
_SPREAD, _SPREAD_SPREAD = 0.2, 0.12    # what is expected of the spread
LAPSES = (0.0, 0.02, 0.05, 0.1)        # which share of times are lapses, and how likely each is before
_LIKELY_LAPSES = (0.4, 0.3, 0.2, 0.1)
_LAPSE = 1.8                           # so many times as long; lapses that differ did no less harm (simulated)
_CENTRES, _SPREADS = 36, 20
_LEAST_S = 0.05                        # a true time is no shorter
_LEAST_EFFECT = 1.2
_FEWEST_EVENINGS = 3
# The clock's error in seven places: Gauss and Hermite's, exact for a polynomial of the 13th degree.
_PLACES, _PARTS = np.polynomial.hermite_e.hermegauss(7)


class Times(msgspec.Struct, frozen=True, kw_only=True):
    """Times within (``lows_s``, ``highs_s``] in seconds, equal where known; the ``evenings`` of each, and whether a
    scribe marked its end (``by_scribe``), which a video or a log did not."""

    lows_s: tuple[float, ...]
    highs_s: tuple[float, ...]
    evenings: tuple[Hashable, ...]
    by_scribe: tuple[bool, ...]


class Lag(msgspec.Struct, frozen=True, kw_only=True):
    """How late a scribe marks an end: normal around ``middle_s`` within ``low_s`` and ``high_s``, in seconds, as so
    many ``pushes`` showed it that a video noted too; 0: by common practice."""

    middle_s: float = 0.55
    spread_s: float = 0.12
    low_s: float = 0.3
    high_s: float = 0.8
    pushes: int = 0

    @property
    def values_s(self) -> Values:
        """A few lags, evenly spaced between both ends."""
        return np.linspace(self.low_s, self.high_s, _LAGS)


PRACTICE = Lag()


class Drawn(msgspec.Struct, frozen=True, kw_only=True):
    """Draws of a family's centre, in seconds, its spread, and the share of lapses, each of shape (draws,); ``rounds``
    is how many independent times they rest on."""

    family: Family
    centres_s: Values
    spreads: Values
    lapses: Values
    rounds: float

    def beyond(self, times_s: Sequence[float] | Grid, *, late_s: float = 0.0, spread_s: float = 0.0) -> Grid:
        """Return the probability that a time and a clock's error are longer than ``times_s``, shape (draws, times):
        the same times for each draw, or a row of times a draw. The clock is ``late_s`` late on average, with a standard
        deviation of ``spread_s``, both in seconds."""
        wanted = np.asarray(times_s, dtype=float)
        centres, spreads, lapses = self.centres_s[:, None], self.spreads[:, None], self.lapses[:, None]
        if not spread_s:
            return _beyond(self.family, centres, spreads, lapses, wanted - late_s)
        found: Grid = sum(
            (
                part * _beyond(self.family, centres, spreads, lapses, wanted - late_s - off)
                for off, part in zip(spread_s * _PLACES, _PARTS / _PARTS.sum(), strict=True)
            ),
            start=np.zeros((len(self.centres_s), wanted.shape[-1])),
        )
        return found


def lag_of(lags_s: Sequence[float]) -> Lag:
    """Return a scribe's lag from those of pushes that a video noted too, in seconds: their mean with the 95 % limits of
    Student's t. Common practice, below eight of them."""
    # Loaded here: it takes a while, and a match has no use for it.
    from scipy.special import stdtrit

    if len(lags_s) < FEWEST_LAGS:
        return PRACTICE
    values = np.asarray(lags_s, dtype=float)
    middle, error = float(values.mean()), float(values.std(ddof=1)) / math.sqrt(len(values))
    off = float(stdtrit(len(values) - 1, (1 + _CONFIDENCE) / 2)) * error
    return Lag(
        middle_s=middle, spread_s=max(error, _LEAST_S / 2), low_s=middle - off, high_s=middle + off, pushes=len(values)
    )


def design_effect(times: Times) -> float:
    """Return by how much fewer independent times would tell as much, from the known ones' logarithms over evenings: at
    least 1.2; below three evenings 1.5 and 0.1 for each round an evening."""
    groups: dict[Hashable, list[float]] = {}
    for low, high, evening in zip(times.lows_s, times.highs_s, times.evenings, strict=True):
        if low == high and low > 0:
            groups.setdefault(evening, []).append(math.log(low))
    sizes = [len(group) for group in groups.values()]
    rounds = sum(size * size for size in sizes) / max(1, sum(sizes))
    if len(groups) < _FEWEST_EVENINGS or max(sizes) < 2:
        return 1.5 + 0.1 * rounds
    if all(max(group) == min(group) for group in groups.values()):
        return max(_LEAST_EFFECT, rounds)                      # rounds of an evening are all the same
    found = components_of(list(groups.values()))
    return max(_LEAST_EFFECT, 1 + (rounds - 1) * found.between / (found.between + found.within))


@lru_cache(maxsize=64)                 # rules ask again and again with other prices, and the same times
def drawn_from(
    times: Times, family: Family, *, seed: int, lag_s: float | None = None, lag: Lag = PRACTICE
) -> Drawn:
    """Return ``DRAWS`` draws of what a family may be after these times; a scribe's ``lag`` is summed out, or is
    ``lag_s``.

    Raises ValueError without a time that has an upper bound.
    """
    centres, spreads = _axes(times, lag)
    effect = design_effect(times)
    lags_s = lag.values_s if lag_s is None else np.array([lag_s])
    logs = np.stack([_logs(times, family, centres, spreads, late_s) / effect for late_s in lags_s.tolist()])
    logs -= ((lags_s[:, None, None, None] - lag.middle_s) / lag.spread_s) ** 2 / 2
    # The grid is even in the logarithm of the spread.
    expected = np.log(spreads) - ((spreads - _SPREAD) / _SPREAD_SPREAD) ** 2 / 2
    logs += expected[:, None] + np.log(_LIKELY_LAPSES)
    weights = np.exp(logs - logs.max()).sum(axis=0).ravel()
    rng = np.random.default_rng(seed)
    places = rng.choice(len(weights), DRAWS, p=weights / weights.sum())
    # Even within a cell of the grid.
    off = rng.uniform(-0.5, 0.5, (2, DRAWS))
    centre_step, spread_step = (float(np.log(axis[1] / axis[0])) for axis in (centres, spreads))
    centre, spread, lapse = np.unravel_index(places, (_CENTRES, _SPREADS, len(LAPSES)))
    return Drawn(
        family=family,
        centres_s=centres[centre] * np.exp(off[0] * centre_step),
        spreads=spreads[spread] * np.exp(off[1] * spread_step),
        lapses=np.array(LAPSES)[lapse],
        rounds=len(times.lows_s) / effect,
    )


def _axes(times: Times, lag: Lag) -> tuple[Values, Values]:
    """Return the grid's centres, in seconds, and spreads, both even in their logarithm."""
    known = [
        high if low == high else (max(low, _LEAST_S) * high) ** 0.5
        for low, high in zip(times.lows_s, times.highs_s, strict=True)
        if math.isfinite(high)
    ]
    if not known:
        raise ValueError("nothing is known of times without an upper bound")
    reach = max(0.25, min(1.0, 2.5 / math.sqrt(len(known))))
    middle = max(float(np.median(known)), 2 * _LEAST_S)
    below = max(_LEAST_S, middle - (lag.high_s if any(times.by_scribe) else 0)) * math.exp(-reach)
    above = middle * math.exp(reach + 0.5 * (len(times.lows_s) - len(known)) / len(times.lows_s))
    return np.geomspace(below, above, _CENTRES), np.geomspace(0.04, 0.9, _SPREADS)


def _logs(times: Times, family: Family, centres: Values, spreads: Values, lag_s: float) -> Grid:
    """Return the log likelihood of all times, shape (centres, spreads, lapses)."""
    lows, highs = np.array(times.lows_s, dtype=float), np.array(times.highs_s, dtype=float)
    known = lows == highs
    late = np.where(times.by_scribe, lag_s, 0.0)
    centre, spread = centres[:, None, None, None], spreads[:, None, None]
    lapse = np.array(LAPSES)[:, None]
    total: Grid = np.zeros((len(centres), len(spreads), len(LAPSES)))
    if known.any():
        total += _density_logs(family, centre, spread, lapse, np.maximum(highs - late, _LEAST_S)[known]).sum(axis=3)
    if not known.all():
        # A lower bound is the call, or the run's end: no hand marked it.
        begin = lows[~known]
        end = np.maximum((highs - late)[~known], begin + _LEAST_S)
        inside = _beyond(family, centre, spread, lapse, begin) - _beyond(family, centre, spread, lapse, end)
        total += np.log(np.maximum(inside, 1e-12)).sum(axis=3)
    return total


def _beyond(family: Family, centre: Grid, spread: Grid, lapse: Grid, times_s: Grid) -> Grid:
    """Return the probability of a time longer than ``times_s``; all five broadcast."""
    # Loaded here: it takes a while, and a match has no use for it.
    from scipy.special import gammaincc, ndtr

    time = np.maximum(times_s, 1e-9)

    def one(centre: Grid) -> Grid:
        found: Grid
        if family == "log-normal":
            found = ndtr((np.log(centre) - np.log(time)) / spread)
        else:
            shape = 1 / spread**2
            found = gammaincc(shape, time * shape / centre)
        return found

    mixed: Grid = (1 - lapse) * one(centre) + lapse * one(_LAPSE * centre)
    return mixed


def _density_logs(family: Family, centre: Grid, spread: Grid, lapse: Grid, times_s: Grid) -> Grid:
    from scipy.special import gammaln

    logs = np.log(times_s)

    def one(centre: Grid) -> Grid:
        found: Grid
        if family == "log-normal":
            found = -(((logs - np.log(centre)) / spread) ** 2) / 2 - np.log(spread) - logs - math.log(2 * math.pi) / 2
        else:
            shape = 1 / spread**2
            rate = shape / centre
            found = shape * np.log(rate) + (shape - 1) * logs - rate * times_s - gammaln(shape)
        return found

    with np.errstate(divide="ignore"):                             # no lapses at all
        mixed: Grid = np.logaddexp(np.log1p(-lapse) + one(centre), np.log(lapse) + one(_LAPSE * centre))
    return mixed
