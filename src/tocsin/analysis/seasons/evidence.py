"""Weigh whether one of two conditions, dealt by lot, is better: at any time, as often as one looks. Pure.

The lot deals values in blocks that hold each once. Under "no difference" the sign of a pair's difference within a block
is a coin toss, whatever the distribution, the evening or the crew. A bet against it that is fair, and so grows twenty
times in at most one of twenty seasons in which nothing differs, however often somebody looks (Ville 1939), is the
evidence:

- seconds: M = sqrt(rho / (rho + V)) exp(S^2 / (2 (rho + V))) with S the sum of the differences and V that of their
  squares: the normal mixture (de la Peña, Annals of Probability 27:537, 1999; Howard, Ramdas, McAuliffe and Sekhon,
  Annals of Statistics 49:1055, 2021). It needs no normal distribution and no known spread;
- yes or no: 2^n B(s + 1/2, f + 1/2) / B(1/2, 1/2) of the n pairs in which just one of both did (H. Robbins, Annals of
  Mathematical Statistics 41:1397, 1970).

A t test after each evening tells two equal conditions apart in a third of all seasons.
"""

import math
from collections.abc import Hashable, Iterable, Sequence
from typing import Literal, NamedTuple

import msgspec
import numpy as np

from tocsin.analysis.order_statistics import Values

NEEDED = 20.0                          # evidence for "better": false in at most one of twenty seasons
SURE = 100.0
# The mixture's scale is best at 30 pairs of times that vary by 0.6 s a round, and fixed for ever.
RHO_S2 = 30 * 2 * 0.6**2 / (2 * math.log(NEEDED) + math.log(1 + 2 * math.log(NEEDED)))         # 2.722
NO_MATTER_S = 0.2                      # differences below this one change nothing
FEWEST_FOR_NONE = 60                   # pairs beyond which "no difference that matters" may be said
FAR_S = 10.0                           # no condition changes a break-off time by more than this
_HALF = 0.5                            # Robbins' prior

Verdict = Literal["not yet", "better", "surely better", "no difference that matters"]


class Dealt(NamedTuple):
    """A round that the lot dealt a ``value`` in a ``block``: what it came to, in seconds or as 0 and 1; None if it does
    not count or nobody knows."""

    block: Hashable
    value: str
    outcome: float | None


class Pairs(NamedTuple):
    """The differences of complete blocks, second value minus first one, in the order in which the blocks began;
    ``left_out`` is the number of blocks that held a round which does not count, was repeated or is missing."""

    differences: tuple[float, ...]
    left_out: int


class Evidence(msgspec.Struct, frozen=True, kw_only=True):
    """What the first ``pairs`` say of a second value beside a first one.

    ``evidence`` is the most that any look had, 1 at first, ``now`` that of the last one. ``sign`` is -1 if the second
    value had less when it was most, 1 if more, 0 without a pair. ``low`` and ``high`` are the limits of the difference
    at any time, in the unit of the differences, infinite where they are not known; they only ever come closer. None for
    yes or no. ``needed`` is the evidence that "better" takes, and what the limits speak against.
    """

    pairs: int
    evidence: float
    now: float
    sign: int
    low: float | None
    high: float | None
    needed: float = NEEDED

    @property
    def verdict(self) -> Verdict:
        """What may be said. Which of the two is better depends on ``sign``, and on what is good."""
        if self.evidence >= self.needed:
            return "surely better" if self.evidence >= self.needed * SURE / NEEDED else "better"
        if self.low is None or self.high is None or self.pairs <= FEWEST_FOR_NONE:
            return "not yet"
        inside = self.low >= -NO_MATTER_S and self.high <= NO_MATTER_S
        return "no difference that matters" if inside else "not yet"


def pairs_of(rounds: Iterable[Dealt], first: str, second: str) -> Pairs:
    """Return the pairs of two values, one a block, from all rounds that were dealt; other values are passed over."""
    blocks: dict[Hashable, list[Dealt]] = {}
    for one in rounds:
        if one.value in (first, second):
            blocks.setdefault(one.block, []).append(one)
    found, left_out = [], 0
    for block in blocks.values():
        outcomes = {one.value: one.outcome for one in block}
        before, after = outcomes.get(first), outcomes.get(second)
        if len(block) != 2 or before is None or after is None:
            left_out += 1
        else:
            found.append(after - before)
    return Pairs(tuple(found), left_out)


def needed_beside(others: int) -> float:
    """Return the evidence that each of ``others`` questions takes which are shown beside the one that was named
    before: so that all of them together are wrong in at most one of twenty seasons."""
    return NEEDED * others


def evidence_of_seconds(differences: Sequence[float], *, needed: float = NEEDED) -> Evidence:
    """Return the evidence of differences in seconds, with the interval at any time, looked at after each pair."""
    total = squares = most = now = 0.0
    sign, low, high = 0, -math.inf, math.inf
    for count, difference in enumerate(differences, start=1):
        total += float(difference)
        squares += float(difference) ** 2
        now = log_mixture(total, squares)
        if now > most or not sign:
            most, sign = max(now, most), (total > 0) - (total < 0)
        below, above = _limits(count, total, squares, needed)
        low, high = max(low, below), min(high, above)
    return Evidence(
        pairs=len(differences), evidence=_exp(most), now=_exp(now), sign=sign, low=low, high=high, needed=needed
    )


def evidence_of_yes(differences: Sequence[float], *, needed: float = NEEDED) -> Evidence:
    """Return the evidence of differences of yes (1) and no (0), looked at after each pair; equal ones tell nothing."""
    more = fewer = sign = 0
    most = now = 0.0
    for difference in differences:
        more += difference > 0
        fewer += difference < 0
        now = log_robbins(more, fewer)
        if now > most or not sign:
            most, sign = max(now, most), (more > fewer) - (more < fewer)
    return Evidence(
        pairs=len(differences), evidence=_exp(most), now=_exp(now), sign=sign, low=None, high=None, needed=needed
    )


def log_mixture(total: float, squares: float, rho: float = RHO_S2) -> float:
    """Return the natural logarithm of the evidence against "no difference" of a sum and a sum of squares; ``rho`` in
    the unit of the squares."""
    return (math.log(rho / (rho + squares)) + total * total / (rho + squares)) / 2


def log_robbins(more: float, fewer: float) -> float:
    """Return the natural logarithm of the evidence that a coin with this many heads and tails is not fair."""
    pairs = more + fewer
    beta = math.lgamma(more + _HALF) + math.lgamma(fewer + _HALF) - math.lgamma(pairs + 2 * _HALF)
    return pairs * math.log(2) + beta - math.log(math.pi)


def pairs_for(
    difference: float, spread: float, *, needed: float = NEEDED, total: float = 0, squares: float = 0, most: int = 2000
) -> int | None:
    """Return about how many pairs show a true ``difference`` in half of all seasons, if the differences of pairs have
    this ``spread``, both in seconds: those whose expected sum and squares are evidence enough. Simulated medians are up
    to a tenth lower (33, 73, 157 pairs for 34, 79, 174). None if not even ``most`` do. Of pairs that came before,
    ``total`` and ``squares`` are the sums: then it is how many more."""
    for pairs in range(1, most + 1):
        expected = math.hypot(total + pairs * difference, math.sqrt(pairs) * spread)
        if log_mixture(expected, squares + pairs * (difference**2 + spread**2)) >= math.log(needed):
            return pairs
    return None


def pairs_for_shares(
    first: float, second: float, *, needed: float = NEEDED, more: int = 0, fewer: int = 0, most: int = 2000
) -> int | None:
    """Return about how many pairs tell two true shares apart in half of all seasons, if the two rounds of a pair do not
    depend on each other. None if not even ``most`` do. Of pairs that came before, ``more`` and ``fewer`` are those in
    which only the second, or only the first did: then it is how many more.

    All ways to get there are followed step by step, over the pairs in which just one of both did; simulated medians are
    within 7 % (128 pairs for .30 and .15, 60 for .30 and .10, where this says 128 and 56).
    """
    either = first * (1 - second) + second * (1 - first)
    if not either:
        return None
    up, before, closed = second * (1 - first) / either, more + fewer, 0
    ways: Values = np.zeros(before + 1)                # by the number of pairs in which only the second did
    ways[more] = 1.0
    for steps in range(before + 1, before + int(most * either) + 1):
        ways = np.concatenate((ways * (1 - up), [0.0])) + np.concatenate(([0.0], ways * up))
        # Evidence enough lies at both ends alone, and never nearer to them than a step before.
        while 2 * closed < steps and log_robbins(closed, steps - closed) >= math.log(needed):
            closed += 1
        ways[:closed] = ways[steps + 1 - closed:] = 0.0
        if ways.sum() <= _HALF:
            return math.ceil((steps - before) / either)
    return None


def _limits(count: int, total: float, squares: float, needed: float) -> tuple[float, float]:
    """Return the differences that the evidence speaks not against.

    Far away the mixture loses its scale, and with few pairs it speaks against nothing there: so a limit stands only if
    all beyond it, up to ``FAR_S`` from the mean, is spoken against.
    """
    mean, limit = total / count, math.log(needed)

    def against(difference: float) -> bool:
        # The squares of what is left, once a difference is taken off each pair.
        left = squares - 2 * difference * total + count * difference * difference
        return log_mixture(total - count * difference, left) >= limit

    if not against(mean + FAR_S):
        return -math.inf, math.inf
    # It is even around the mean, and grows until its scale is lost: what lies between two of one side is one side.
    near, far = 0.0, FAR_S
    while far - near > 1e-9:
        middle = (near + far) / 2
        near, far = (near, middle) if against(mean + middle) else (middle, far)
    return mean - far, mean + far


def _exp(log: float) -> float:
    return math.exp(min(log, 700.0))               # no float is larger
