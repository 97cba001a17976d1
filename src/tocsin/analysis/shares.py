"""Compute intervals for a share, and for the difference of two, from independent trials. Pure.

Wilson's interval holds the shares that a score test at the 5 % level does not reject (E. B. Wilson, Journal of the
American Statistical Association 22:209, 1927); Jeffreys' is the posterior's, with half a trial of each outcome as the
prior. Brown, Cai and DasGupta (Statistical Science 16:101, 2001) recommend either for up to 40 trials, since both keep
their promised confidence and the usual one (share ± 1.96 standard errors) does not. Wilson's needs no prior, and so no
explanation of one: it is the one that people read.

Rounds of one evening are alike, so rounds of several evenings are no independent trials: ``seasons/season_share.py``.
"""

import math
from statistics import NormalDist
from typing import NamedTuple

CONFIDENCE = 0.95
_Z = NormalDist().inv_cdf((1 + CONFIDENCE) / 2)


class ShareInterval(NamedTuple):
    """Shares from 0 to 1, or a difference of two of them from -1 to 1; both ends included."""

    low: float
    high: float


def wilson(count: float, trials: float) -> ShareInterval:
    """Return the 95 % interval for the share behind ``count`` of ``trials``, by Wilson's score.

    Both may be broken numbers: trials that are alike count as fewer. Raises ValueError for no trial, or a count beyond
    the trials.
    """
    _check(count, trials)
    share, half = count / trials, _Z * _Z / (2 * trials)
    middle = share + half
    apart = _Z * math.sqrt((share * (1 - share) + half / 2) / trials)
    # At the ends the two terms are equal, but for the last bit.
    low = 0.0 if count == 0 else (middle - apart) / (1 + 2 * half)
    return ShareInterval(low, 1.0 if count == trials else (middle + apart) / (1 + 2 * half))


def jeffreys(count: float, trials: float) -> ShareInterval:
    """Return the 95 % interval for the share behind ``count`` of ``trials``, by Jeffreys' prior; 0 is kept where
    nothing was counted, 1 where all was. Errors as in ``wilson``."""
    # Loaded here: it takes a while, and a match has no use for it.
    from scipy.special import betaincinv

    _check(count, trials)
    first, second = count + 0.5, trials - count + 0.5
    low, high = (float(betaincinv(first, second, tail)) for tail in ((1 - CONFIDENCE) / 2, (1 + CONFIDENCE) / 2))
    return ShareInterval(0.0 if count == 0 else low, 1.0 if count == trials else high)


def difference(count: float, trials: float, other_count: float, other_trials: float) -> ShareInterval:
    """Return the 95 % interval for a share minus another one that was seen in other trials.

    It is put together of the two shares' Wilson intervals (R. G. Newcombe, Statistics in Medicine 17:873, 1998, method
    10). Arguments and errors as in ``wilson``.
    """
    share, other = count / trials, other_count / other_trials
    one, two = wilson(count, trials), wilson(other_count, other_trials)
    below = math.hypot(share - one.low, two.high - other)
    above = math.hypot(one.high - share, other - two.low)
    return ShareInterval(share - other - below, share - other + above)


def fewest_a_side(share: float, other: float, *, power: float = 0.8) -> int:
    """Return how many trials a side tell two shares apart with a ``power``, at the 5 % level, looked at once.

    It is the usual formula for two independent shares (Fleiss, Levin and Paik, "Statistical methods for rates and
    proportions", 2003, chapter 4), without a correction for continuity. Raises ValueError for equal shares, or one that
    does not lie between 0 and 1.
    """
    if not (0 < share < 1 and 0 < other < 1) or share == other:
        raise ValueError("two different shares between 0 and 1 can be told apart")
    both = (share + other) / 2
    sure = _Z * math.sqrt(2 * both * (1 - both))
    seen = NormalDist().inv_cdf(power) * math.sqrt(share * (1 - share) + other * (1 - other))
    return math.ceil(((sure + seen) / (share - other)) ** 2)


def _check(count: float, trials: float) -> None:
    if not trials > 0:
        raise ValueError(f"no share can be told from n = {trials} trials")
    if not 0 <= count <= trials:
        raise ValueError(f"k = {count} is no count of {trials} trials")
