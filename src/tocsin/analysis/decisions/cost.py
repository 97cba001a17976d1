"""Compute what a lead costs: points a match, from what a second, a contact and a return are worth. Pure.

A call that comes the lead L before the window finds a push that is on in a share of matches. It still touches if the
break-off takes longer than L, the clock's error included, so a lead costs

    J(L) = second * L + pushes * contact * P(B + e > L)

where a contact costs once ("cost per stock-out occasion": Silver, Pyke and Peterson, "Inventory management and
production planning and scheduling", 1998). There the best lead is where the density of B + e falls to second /
(pushes * contact). Where a game counts the time of an overlap, the last factor is the mean of what B + e exceeds L by,
and the best lead is a quantile (the newsvendor's critical ratio). Both are only integrated here, never solved.
"""

import itertools
from collections.abc import Sequence
from typing import Any

import msgspec
import numpy as np

from tocsin.analysis.order_statistics import Values
from tocsin.analysis.rounds.overlaps import WindowTime
from tocsin.analysis.rounds.stakes import HALF, HOME, NOT_HOME, points
from tocsin.model.game import Game
from tocsin.model.mark import Mark
from tocsin.units import NS_PER_S

Draws = np.ndarray[tuple[Any, ...], np.dtype[np.float64]]          # shape (draws, leads)

STEP_S = 0.5                           # of leads, and of what overlaps are summed by
_MADE_UP = 3                           # contacts that are tried out


class Prices(msgspec.Struct, frozen=True, kw_only=True):
    """What is at stake: points that a ``second`` brings a match, points of a ``contact`` (of a second of contact where
    it is ``timed``), and in which share of matches a push is on at the call (``pushes``)."""

    second: float
    contact: float
    pushes: float
    timed: bool = False

    @property
    def matches_a_contact(self) -> float:
        """In how many matches one contact must be saved for a second to pay; in words: "one in so many"."""
        return self.contact / self.second


class Return(msgspec.Struct, frozen=True, kw_only=True):
    """A set-up from which robots go home: its ``share`` of matches, points of a ``full`` and of a ``half`` return, and
    the chances to be home within each lead, shape (draws, leads)."""

    share: float
    full: float
    half: float
    full_within: Draws
    half_within: Draws


def contact_points(game: Game, contact: str, us: str = "") -> tuple[int, ...]:
    """Return what a match's first, second and third contact cost, in points: reckoned by the game's stakes for marks
    that are made up, so that what is due each so many times, or at most so often, is right.

    ``contact`` is the label of such marks. All of them lie in the windows during which they count.
    """
    windows = {stake.during for stake in game.stakes if stake.label == contact and stake.during}
    times = [
        WindowTime(id=name, n=1, title="", begin_ns=0, end_ns=(2 * _MADE_UP + 2) * NS_PER_S) for name in sorted(windows)
    ]
    costs = [0]
    for count in range(1, _MADE_UP + 1):
        marks = [
            Mark(label=contact, begin_ns=2 * n * NS_PER_S, end_ns=(2 * n + 1) * NS_PER_S, by=us)
            for n in range(1, count + 1)
        ]
        costs.append(points(game, marks, times, ended_ns=(2 * _MADE_UP + 3) * NS_PER_S, error_ns=0).cost)
    return tuple(after - before for before, after in itertools.pairwise(costs))


def return_points(game: Game, partner: float) -> tuple[float, float]:
    """Return what our robot's full and half return bring, in points more than none, if the partner is home in a share
    ``partner`` of matches: reckoned by the game's stakes, so that what both robots home are worth is in it."""
    full, half = (
        partner * (_net(game, state, HOME) - _net(game, NOT_HOME, HOME))
        + (1 - partner) * (_net(game, state, NOT_HOME) - _net(game, NOT_HOME, NOT_HOME))
        for state in (HOME, HALF)
    )
    return full, half


def _net(game: Game, ours: str, partners: str) -> int:
    """Return the points that our robot and the partner's bring us that are in these states in all windows."""
    ended_ns = 4 * NS_PER_S
    windows = {stake.during for stake in game.stakes if stake.during}
    times = [WindowTime(id=name, n=1, title="", begin_ns=0, end_ns=ended_ns) for name in sorted(windows)]
    marks = [Mark(label=ours, begin_ns=NS_PER_S), Mark(label=partners, begin_ns=NS_PER_S, by="partner")]
    return points(game, marks, times, ended_ns=ended_ns, error_ns=0).net_points


def lead_costs(leads_s: Sequence[float] | Values, beyond: Draws, prices: Prices) -> Draws:
    """Return what ``leads_s`` cost, in points a match, shape (draws, leads).

    ``beyond`` has the probability that a push is still on at each lead, clock included, of the same shape; where prices
    are timed, leads are evenly spaced and reach as far as pushes do, since what lies behind is summed.
    """
    leads = np.asarray(leads_s, dtype=float)
    touched = _left_over(leads, beyond) if prices.timed else beyond
    found: Draws = prices.second * leads + prices.pushes * prices.contact * touched
    return found


def home_costs(leads_s: Sequence[float] | Values, second: float, returns: Sequence[Return]) -> Draws:
    """Return what ``leads_s`` of the call home cost, in points a match, shape (draws, leads): the seconds given up less
    what returns bring, over set-ups. Raises ValueError for shares whose sum is not 1."""
    if abs(sum(one.share for one in returns) - 1) > 1e-6:
        raise ValueError("the shares of all set-ups make 1")
    leads = np.asarray(leads_s, dtype=float)
    brought: Draws = sum(
        (
            one.share * (one.full * one.full_within + one.half * np.maximum(one.half_within - one.full_within, 0))
            for one in returns
        ),
        start=np.zeros_like(returns[0].full_within),
    )
    found: Draws = second * leads - brought
    return found


def _left_over(leads: Values, beyond: Draws) -> Draws:
    """Return the mean time that pushes last beyond each lead, by the trapezoid rule from the last lead down."""
    if len(leads) < 2 or not np.allclose(np.diff(leads), leads[1] - leads[0]):
        raise ValueError("leads are evenly spaced")
    pieces = (beyond[:, :-1] + beyond[:, 1:]) / 2 * np.diff(leads)
    behind = np.cumsum(pieces[:, ::-1], axis=1)[:, ::-1]
    found: Draws = np.concatenate([behind, np.zeros((len(beyond), 1))], axis=1)
    return found
