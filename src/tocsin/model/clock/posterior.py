"""Compute the posterior of a time that nobody knows exactly, and update it by readings. Pure arithmetic.

A posterior is a sum of normal curves, each perhaps cut at one side: its components. Multiplied by the likelihood of a
reading (a normal curve, or with a small share a constant) it is such a sum again, so Bayes' rule needs no
approximation. With one whole curve and no outliers it is the mean weighted by inverse variances (Taylor, Error
Analysis).

All numbers are milliseconds; the caller chooses their zero.
"""

import math
from collections.abc import Callable, Iterable
from copy import copy
from itertools import accumulate
from typing import NamedTuple

_ROOT_2 = math.sqrt(2)
_LEFT_MS = 2e-5                         # how exactly a quantile is found: to less than a microsecond
_FAR = 9                               # standard deviations; what lies further off does not count
_LEAST_SHARE = 1e-12                   # a component with a smaller share of the whole is dropped
_MOST_COMPONENTS = 150                     # the heaviest are kept; a dozen readings stay a matter of milliseconds
_NEGLIGIBLE = 1e-6                     # what all the lightest together may come to where shares are measured
_INFINITE_MS = math.inf


class _Component(NamedTuple):
    """``scale`` times the normal density of this mean and standard deviation, on ``[from_ms, to_ms)`` only."""

    scale: float
    mean_ms: float
    sd_ms: float
    from_ms: float = -_INFINITE_MS
    to_ms: float = _INFINITE_MS

    def times(self, reading_ms: float, sd_ms: float) -> "_Component":
        """Return the product with a normal curve around a reading."""
        variance, other = self.sd_ms**2, sd_ms**2
        both = math.sqrt(variance + other)
        scale = self.scale * _density(reading_ms - self.mean_ms, both)
        mean_ms = (self.mean_ms * other + reading_ms * variance) / (variance + other)
        return _Component(scale, mean_ms, self.sd_ms * sd_ms / both, self.from_ms, self.to_ms)

    def moved(self, by_ms: float) -> "_Component":
        return _Component(self.scale, self.mean_ms + by_ms, self.sd_ms, self.from_ms + by_ms, self.to_ms + by_ms)

    def scaled(self, by: float) -> "_Component":
        return _Component(self.scale * by, self.mean_ms, self.sd_ms, self.from_ms, self.to_ms)


class Posterior:
    """The distribution of a time, as shares that sum to 1. Never changed: each method returns a new one."""

    def __init__(self, components: Iterable[_Component]) -> None:
        weighed = [(_share([component], -_INFINITE_MS, _INFINITE_MS), component) for component in components]
        weighed = sorted(weighed, key=lambda pair: -pair[0])[:_MOST_COMPONENTS]
        whole = sum(share for share, _ in weighed)
        kept = [(share / whole, component) for share, component in weighed if share > _LEAST_SHARE * whole]
        self._components = tuple(component.scaled(1 / whole) for _, component in kept)
        counts = sum(before < 1 - _NEGLIGIBLE for before in accumulate((share for share, _ in kept), initial=0.0))
        self._heavy = self._components[:counts]

    @classmethod
    def normal(cls, mean_ms: float, sd_ms: float) -> "Posterior":
        """Return a normal curve."""
        return cls([_Component(1.0, mean_ms, sd_ms)])

    @classmethod
    def two_sided(cls, peak_ms: float, below_ms: float, above_ms: float, above: float | None = None) -> "Posterior":
        """Return half a normal curve on each side of its peak, with a standard deviation of its own. The share
        ``above`` lies on the upper side, by default as much as joins the halves without a step.
        """
        upper = above_ms / (below_ms + above_ms) if above is None else above
        lower_half = _Component(2 * (1 - upper), peak_ms, below_ms, to_ms=peak_ms)
        return cls([lower_half, _Component(2 * upper, peak_ms, above_ms, from_ms=peak_ms)])

    def mixed(self, other: "Posterior", share: float) -> "Posterior":
        """Return this curve mixed with a share of another."""
        mine = (component.scaled(1 - share) for component in self._components)
        return Posterior([*mine, *(component.scaled(share) for component in other._components)])

    def update(self, reading_ms: float, sd_ms: float, *, outlier: float = 0.0, room_ms: float = 1.0) -> "Posterior":
        """Return the posterior after a reading.

        With the probability ``outlier`` the reading is unrelated and lies anywhere in a range of ``room_ms``.
        """
        return self.update_by_any([(1 - outlier, reading_ms)], sd_ms, outlier=outlier, room_ms=room_ms)

    def update_by_any(
        self, readings: Iterable[tuple[float, float]], sd_ms: float, *, outlier: float, room_ms: float
    ) -> "Posterior":
        """Return the posterior after one reading that may mean several: each as (probability, milliseconds), and
        ``outlier`` as in ``update``; all of them sum to 1."""
        taken = [one.times(ms, sd_ms).scaled(share) for share, ms in readings for one in self._components]
        return Posterior([*taken, *(component.scaled(outlier / room_ms) for component in self._components)])

    def moved(self, by_ms: float) -> "Posterior":
        """Return the curve moved later by this many milliseconds."""
        same = copy(self)                  # nobody's share changes, so nothing is weighed again
        same._components = tuple(component.moved(by_ms) for component in self._components)
        same._heavy = same._components[: len(self._heavy)]
        return same

    def quantile_ms(self, share: float) -> float:
        """Return the time below which a share of the curve lies, in milliseconds."""
        low_ms = min(component.mean_ms - _FAR * component.sd_ms for component in self._heavy)
        high_ms = max(component.mean_ms + _FAR * component.sd_ms for component in self._heavy)
        return _where(lambda ms: _share(self._heavy, -_INFINITE_MS, ms), share, low_ms, high_ms)

    def half_width_ms(self, middle_ms: float, share: float) -> float:
        """Return the smallest ± in milliseconds, around a given middle, that holds a share of the curve."""
        far_ms = max(abs(component.mean_ms - middle_ms) + _FAR * component.sd_ms for component in self._heavy)
        return _where(lambda ms: _share(self._heavy, middle_ms - ms, middle_ms + ms), share, 0.0, far_ms)


def _share(components: Iterable[_Component], low_ms: float, high_ms: float) -> float:
    """Return what of these components lies in an interval. Written to be quick: it is asked
    hundreds of times a reading."""
    whole = 0.0
    for scale, mean_ms, sd_ms, from_ms, to_ms in components:
        low = low_ms if low_ms > from_ms else from_ms
        high = high_ms if high_ms < to_ms else to_ms
        if low < high:
            lower, upper = (low - mean_ms) / (_ROOT_2 * sd_ms), (high - mean_ms) / (_ROOT_2 * sd_ms)
            # From the nearer tail, so that it is exact in either.
            between = math.erfc(lower) - math.erfc(upper) if lower > 0 else math.erfc(-upper) - math.erfc(-lower)
            whole += 0.5 * scale * between
    return whole


def _where(grows: Callable[[float], float], value: float, low: float, high: float) -> float:
    """Return the smallest number at which a function that never falls reaches a value.

    By Chandrupatla (Advances in Engineering Software 28:145, 1997; from memory): halving, and a parabola through the
    last three points wherever that is sure to be better. Half the steps that halving alone takes.
    """
    at, at_over = high, grows(high) - value            # the newest point, across from ``far``
    far, far_over = low, grows(low) - value
    if not far_over < 0 <= at_over:
        return high if at_over < 0 else low
    share = 0.5                                        # of the way from the newest point across
    while abs(far - at) > _LEFT_MS:
        new = at + share * (far - at)
        over = grows(new) - value
        if (over < 0) == (at_over < 0):
            old, old_over = at, at_over
        else:
            old, old_over, far, far_over = far, far_over, at, at_over
        at, at_over = new, over
        away, rise = (at - far) / (old - far), (at_over - far_over) / (old_over - far_over)
        share = 0.5
        if rise**2 < away and (1 - rise) ** 2 < 1 - away:
            share = at_over / (far_over - at_over) * old_over / (far_over - old_over)
            share += (old - at) / (far - at) * at_over / (old_over - at_over) * far_over / (old_over - far_over)
        least = 0.5 * _LEFT_MS / abs(far - at)
        share = min(max(share, least), 1 - least)
    return max(at, far)


def _density(off_ms: float, sd_ms: float) -> float:
    return math.exp(-0.5 * (off_ms / sd_ms) ** 2) / (sd_ms * math.sqrt(2 * math.pi))
