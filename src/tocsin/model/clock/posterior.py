"""What is believed of a time that nobody knows exactly, and what a reading changes about it. Pure arithmetic.

A belief is a sum of pieces of normal curves, each perhaps cut at one side. Multiplied by the likelihood of a reading
(a normal curve, or with a small share just anything) it is such a sum again, so nothing is approximated: Bayes' rule in
closed form. With one whole curve and no strays it is the mean weighted by inverse variances (Taylor, Error Analysis).

All numbers are milliseconds; what they count from is the caller's affair.
"""

import math
from collections.abc import Callable, Iterable
from copy import copy
from itertools import accumulate
from typing import NamedTuple

_ROOT_2 = math.sqrt(2)
_LEFT_MS = 2e-5                         # how exactly a quantile is found: to less than a microsecond
_FAR = 9                               # spreads; what lies further off does not count
_LEAST_SHARE = 1e-12                   # a piece with a smaller share of the whole is dropped
_MOST_PIECES = 150                     # the heaviest are kept; a dozen readings stay a matter of milliseconds
_NEGLIGIBLE = 1e-6                     # what all the lightest together may come to where shares are measured
_INFINITE_MS = math.inf


class _Component(NamedTuple):
    """``scale`` times the normal density of this mean and spread, on ``[from_ms, to_ms)`` only."""

    scale: float
    mean_ms: float
    spread_ms: float
    from_ms: float = -_INFINITE_MS
    to_ms: float = _INFINITE_MS

    def times(self, reading_ms: float, spread_ms: float) -> "_Component":
        """Return the product with a normal curve around a reading."""
        variance, other = self.spread_ms**2, spread_ms**2
        both = math.sqrt(variance + other)
        scale = self.scale * _density(reading_ms - self.mean_ms, both)
        mean_ms = (self.mean_ms * other + reading_ms * variance) / (variance + other)
        return _Component(scale, mean_ms, self.spread_ms * spread_ms / both, self.from_ms, self.to_ms)

    def moved(self, by_ms: float) -> "_Component":
        return _Component(self.scale, self.mean_ms + by_ms, self.spread_ms, self.from_ms + by_ms, self.to_ms + by_ms)

    def scaled(self, by: float) -> "_Component":
        return _Component(self.scale * by, self.mean_ms, self.spread_ms, self.from_ms, self.to_ms)


class Posterior:
    """Where something may lie, as shares that come to 1. Never changed: each method returns another."""

    def __init__(self, pieces: Iterable[_Component]) -> None:
        weighed = [(_share([piece], -_INFINITE_MS, _INFINITE_MS), piece) for piece in pieces]
        weighed = sorted(weighed, key=lambda pair: -pair[0])[:_MOST_PIECES]
        whole = sum(share for share, _ in weighed)
        kept = [(share / whole, piece) for share, piece in weighed if share > _LEAST_SHARE * whole]
        self._pieces = tuple(piece.scaled(1 / whole) for _, piece in kept)
        counts = sum(before < 1 - _NEGLIGIBLE for before in accumulate((share for share, _ in kept), initial=0.0))
        self._heavy = self._pieces[:counts]

    @classmethod
    def normal(cls, mean_ms: float, spread_ms: float) -> "Posterior":
        """Return a normal curve."""
        return cls([_Component(1.0, mean_ms, spread_ms)])

    @classmethod
    def two_sided(cls, peak_ms: float, below_ms: float, above_ms: float, above: float | None = None) -> "Posterior":
        """Return half a normal curve on each side of its peak, with spreads of their own. The share ``above`` lies on
        the upper side, by default as much as joins the halves without a step."""
        upper = above_ms / (below_ms + above_ms) if above is None else above
        lower_half = _Component(2 * (1 - upper), peak_ms, below_ms, to_ms=peak_ms)
        return cls([lower_half, _Component(2 * upper, peak_ms, above_ms, from_ms=peak_ms)])

    def mixed(self, other: "Posterior", share: float) -> "Posterior":
        """Return this belief with a share of another."""
        mine = (piece.scaled(1 - share) for piece in self._pieces)
        return Posterior([*mine, *(piece.scaled(share) for piece in other._pieces)])

    def given(self, reading_ms: float, spread_ms: float, *, stray: float = 0.0, room_ms: float = 1.0) -> "Posterior":
        """Return what is believed after a reading.

        With the probability ``stray`` the reading tells nothing and lies anywhere in a room of ``room_ms``.
        """
        taken = [piece.times(reading_ms, spread_ms).scaled(1 - stray) for piece in self._pieces]
        return Posterior([*taken, *(piece.scaled(stray / room_ms) for piece in self._pieces)])

    def moved(self, by_ms: float) -> "Posterior":
        """Return the belief about what lies later by this."""
        same = copy(self)                  # nobody's share changes, so nothing is weighed again
        same._pieces = tuple(piece.moved(by_ms) for piece in self._pieces)
        same._heavy = same._pieces[: len(self._heavy)]
        return same

    def quantile_ms(self, share: float) -> float:
        """Return where a share of it lies below."""
        low_ms = min(piece.mean_ms - _FAR * piece.spread_ms for piece in self._heavy)
        high_ms = max(piece.mean_ms + _FAR * piece.spread_ms for piece in self._heavy)
        return _where(lambda ms: _share(self._heavy, -_INFINITE_MS, ms), share, low_ms, high_ms)

    def half_width_ms(self, middle_ms: float, share: float) -> float:
        """Return the smallest ± around a middle that holds a share of it."""
        far_ms = max(abs(piece.mean_ms - middle_ms) + _FAR * piece.spread_ms for piece in self._heavy)
        return _where(lambda ms: _share(self._heavy, middle_ms - ms, middle_ms + ms), share, 0.0, far_ms)


def _share(pieces: Iterable[_Component], low_ms: float, high_ms: float) -> float:
    """Return what of these pieces lies in an interval. Asked hundreds of times a reading, so written to be quick."""
    whole = 0.0
    for scale, mean_ms, spread_ms, from_ms, to_ms in pieces:
        low = low_ms if low_ms > from_ms else from_ms
        high = high_ms if high_ms < to_ms else to_ms
        if low < high:
            lower, upper = (low - mean_ms) / (_ROOT_2 * spread_ms), (high - mean_ms) / (_ROOT_2 * spread_ms)
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


def _density(off_ms: float, spread_ms: float) -> float:
    return math.exp(-0.5 * (off_ms / spread_ms) ** 2) / (spread_ms * math.sqrt(2 * math.pi))
