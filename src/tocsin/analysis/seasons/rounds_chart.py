"""Mark rounds that are odd for a driver: far later than that driver's own baseline. Pure.

The usual chart of single values (mean ± 3 spreads from 20 values, and eight in a row on one side) cries wolf here: in
18 % of evenings of 15 normal rounds, in 23 to 47 % where times are skewed or evenings differ (simulated). So the
logarithm is charted, on the late side only, 3.5 spreads above the median, without a rule on rows; the limit is frozen
from the first ``BASELINE`` pushes of one driver with one plan. The spread is the median moving range, which a few odd
rounds move little. How often the limit is wrong even so, the baseline itself tells.
"""

import math
from collections.abc import Sequence
from typing import NamedTuple

import numpy as np

from tocsin.analysis.order_statistics import Values

BASELINE = 40
SPREADS = 3.5
# The median difference of two normal values is 0.954 of their spread.
_TO_SPREAD = 0.6744897501960817 * math.sqrt(2)
_DRAWS = 2000


class Chart(NamedTuple):
    """The limit of a driver's baseline, in seconds: ``centre_s`` is its median, ``spread`` that of the natural
    logarithm, ``baseline_s`` the times it comes from."""

    centre_s: float
    spread: float
    limit_s: float
    baseline_s: tuple[float, ...]

    def is_odd(self, at_least_s: float) -> bool:
        """Return whether a time, or its lower bound, in seconds lies beyond the limit."""
        return at_least_s > self.limit_s


def chart_of(times_s: Sequence[float]) -> Chart | None:
    """Return the chart of the first ``BASELINE`` of times in seconds, in the order in which they were played; None with
    fewer.

    A time that was only longer is infinite here. Raises ValueError for one that is not above 0.
    """
    if len(times_s) < BASELINE:
        return None
    baseline = tuple(float(time) for time in times_s[:BASELINE])
    if not min(baseline) > 0:
        raise ValueError("a time is above 0")
    centre, spread = _centre_and_spread(np.log(np.array([baseline])))
    limit = float(centre[0] + SPREADS * spread[0])
    return Chart(math.exp(float(centre[0])), float(spread[0]), math.exp(limit), baseline)


def chance_of_any(chart: Chart, rounds: int, *, seed: int) -> float:
    """Return the chance that an evening of so many rounds has one marked though nothing changed.

    Baseline and evening are drawn anew from the baseline, with the spread of a kernel (Silverman's rule) so that times
    beyond the longest one seen are not impossible. It is rough: forty rounds tell little of one in two hundred. Of
    teams of one kind the mean of what it says was 3 % where 2 to 3 % came true (log-normal), 8 to 10 % for 13 % (heavy
    tails), 13 % for 20 % (skewed), and single teams' baselines said from a third of that to twice as much (simulated).
    """
    rng = np.random.default_rng(seed)
    logs = np.log(np.array([time for time in chart.baseline_s if math.isfinite(time)]))
    width = 0.9 * chart.spread * len(logs) ** -0.2
    drawn = rng.choice(logs, (_DRAWS, BASELINE + rounds)) + width * rng.standard_normal((_DRAWS, BASELINE + rounds))
    centre, spread = _centre_and_spread(drawn[:, :BASELINE])
    return float(np.mean(drawn[:, BASELINE:].max(axis=1) > centre + SPREADS * spread))


def moving_ranges(values: Values) -> Values:
    """Return the differences of neighbours along the last axis, without their signs, in the unit of the values."""
    with np.errstate(invalid="ignore"):
        found: Values = np.abs(np.diff(values, axis=-1))
    return np.where(np.isnan(found), np.inf, found)        # of two that were only longer nobody knows


def _centre_and_spread(logs: Values) -> tuple[Values, Values]:
    """Return median and spread of logarithms, shape (charts, values), each of shape (charts,)."""
    centre: Values = np.median(logs, axis=1)
    spread: Values = np.median(moving_ranges(logs), axis=1) / _TO_SPREAD
    return centre, spread
