"""Choose one change of a lead, or refuse. Pure.

A lead is changed by half a second or a second, one lead at a time. A change is advised only if it holds whatever is not
known: for both families of times, and for both ends of what a second is worth, of how often pushes are on at the call,
and of the scribe's lag, the gain is above 0 with a probability of 0.9, and 0.25 points a match on average. Otherwise
exactly one reason is given why not.
"""

import itertools
import math
from collections.abc import Iterator, Sequence
from typing import Literal, NamedTuple

import msgspec
import numpy as np

from tocsin.analysis.decisions.cost import Prices, lead_costs
from tocsin.analysis.decisions.posterior import DRAWS, FAMILIES, LAGS_S, Drawn, Family, Times, drawn_from
from tocsin.analysis.decisions.worth import DECIDED, Worth, rounds_to_decide
from tocsin.analysis.order_statistics import Values

STEPS_S = (-1.0, -0.5, 0.5, 1.0)
LEAST_GAIN = 0.25                      # points a match
FEWEST_PUSHES, FEWEST_EVENINGS, FEWEST_MATCHES = 24, 3, 8
FROZEN_DAYS, SETTLED_EVENINGS, OLD_DAYS = 7, 2, 28
MOST_UNCOUNTED, MOST_OLD, MOST_UNKNOWN, MOST_CLOCK_SPREAD_S = 1 / 3, 0.5, 0.2, 0.35
_FARTHEST_S, _STEP_S = 20.0, 0.25      # how far overlaps are summed

RefusalCode = Literal[
    "frozen", "bad records", "too few", "not settled", "nothing to win", "hangs on a number", "data do not tell"
]
Number = Literal["second", "pushes", "lag"]


class Records(msgspec.Struct, frozen=True, kw_only=True):
    """What a season's records are like: ``pushes`` that the call found, on so many ``evenings``; which shares of them
    are ``old`` (more than 28 days) or ``unknown`` (without a bound), and of all rounds ``uncounted``;
    ``clock_spread_s`` the standard deviation of their clocks; ``days_to_event`` and ``evenings_since_change`` None
    where there is none."""

    pushes: int
    evenings: int
    old: float = 0.0
    unknown: float = 0.0
    uncounted: float = 0.0
    clock_spread_s: float = 0.0
    days_to_event: int | None = None
    evenings_since_change: int | None = None


class Question(msgspec.Struct, frozen=True, kw_only=True):
    """A lead of ``lead_s`` seconds, and what its change rests on.

    Each of ``second`` and ``pushes`` has a least and a largest value: points of a second a match, and the share of
    matches in which a push is on at the call; with eight matches ``pushes_seen`` (a count and its matches) stands for
    the latter. ``contact`` is in points (of a second of contact where it is ``timed``). ``late_s`` and ``spread_s`` are
    the clock's in the match to come. ``follows`` is by how much a push ends earlier if the call comes a second earlier.
    No lead is below ``least_s``.
    """

    lead_s: float
    contact: float
    second: tuple[float, float] = (0.5, 1.0)
    pushes: tuple[float, float] = (0.1, 0.5)
    pushes_seen: tuple[int, int] | None = None
    timed: bool = False
    late_s: float = 0.0
    spread_s: float = 0.0
    follows: float = 1.0
    least_s: float = 0.0


class Advice(msgspec.Struct, frozen=True, kw_only=True):
    """The one change: to ``lead_s`` seconds, for ``gain`` points a match, with its 80 % interval over all that is not
    known; it saves so many ``contacts`` a match (below 0: costs them)."""

    lead_s: float
    gain: float
    low: float
    high: float
    contacts: float


class Refusal(msgspec.Struct, frozen=True, kw_only=True):
    """Why nothing is advised. ``hangs_on`` are the numbers with which it turns; ``turns_at`` is the worth of a second,
    in points, at which the best change, to ``lead_s``, gains nothing; ``more`` is what more rounds would be worth, None
    if not even 96 would decide."""

    code: RefusalCode
    lead_s: float | None = None
    hangs_on: tuple[Number, ...] = ()
    turns_at: float | None = None
    more: Worth | None = None


class Case(NamedTuple):
    """One way how things may be, with the gains of each candidate, shape (draws, candidates), and what a second less of
    the lead saves in contacts, of the same shape."""

    family: Family
    second: int
    pushes: int
    lag: int
    gains: Values
    saved: Values
    drawn: Drawn


def refusal_of(records: Records) -> RefusalCode | None:
    """Return why nothing is advised whatever the data say; None if they may speak."""
    if records.days_to_event is not None and 0 <= records.days_to_event <= FROZEN_DAYS:
        return "frozen"
    if (
        records.uncounted > MOST_UNCOUNTED
        or records.clock_spread_s > MOST_CLOCK_SPREAD_S
        or records.unknown > MOST_UNKNOWN
    ):
        return "bad records"
    if records.pushes < FEWEST_PUSHES or records.evenings < FEWEST_EVENINGS or records.old > MOST_OLD:
        return "too few"
    if records.evenings_since_change is not None and records.evenings_since_change < SETTLED_EVENINGS:
        return "not settled"
    return None


def choose(question: Question, times: Times, records: Records, *, seed: int) -> Advice | Refusal:
    """Return the one change that is worth it whatever is not known, or why there is none; equal inputs give equal
    answers."""
    code = refusal_of(records)
    if code is not None:
        return Refusal(code=code)
    leads = candidates(question)
    cases = tuple(cases_of(question, times, leads, seed))
    means = np.array([case.gains.mean(axis=0) for case in cases])
    passed = np.array([_passes(case.gains) for case in cases])
    everywhere = passed.all(axis=0)
    if everywhere.any():
        best = int(np.argmax(np.where(everywhere, means.mean(axis=0), -math.inf)))
        gains = np.concatenate([case.gains[:, best] for case in cases])
        low, high = np.quantile(gains, (0.1, 0.9)).tolist()
        contacts = float(np.mean([case.saved[:, best].mean() for case in cases]))
        return Advice(lead_s=leads[best], gain=float(gains.mean()), low=low, high=high, contacts=contacts)
    best = int(np.argmax(means.max(axis=0)))
    if float(means.max()) < LEAST_GAIN:
        return Refusal(code="nothing to win", lead_s=leads[best])
    return _undecided(question, leads, cases, passed)


def candidates(question: Question) -> tuple[float, ...]:
    """Return the leads that a change may come to, in seconds."""
    found = (round(question.lead_s + step, 3) for step in STEPS_S)
    return tuple(lead for lead in found if lead >= max(question.least_s, 0.0))


def _undecided(question: Question, leads: tuple[float, ...], cases: tuple[Case, ...], passed: Values) -> Refusal:
    """Return whether a number that people know decides it, or only more rounds."""
    ends = sorted({(case.second, case.pushes, case.lag) for case in cases})
    sure = {}
    for end in ends:
        rows = [row for row, case in enumerate(cases) if (case.second, case.pushes, case.lag) == end]
        both = passed[rows].all(axis=0)
        sure[end] = frozenset(np.flatnonzero(both).tolist())
    common = [sum(candidate in found for found in sure.values()) for candidate in range(len(leads))]
    means = np.array([case.gains.mean(axis=0) for case in cases]).mean(axis=0)
    best = max(range(len(leads)), key=lambda candidate: (common[candidate], means[candidate]))
    if common[best]:
        names: tuple[Number, ...] = ("second", "pushes", "lag")
        hangs = tuple(
            name for place, name in enumerate(names)
            if any(
                (best in sure[one]) != (best in sure[two])
                for one, two in itertools.combinations(ends, 2)
                if [n for n in range(3) if one[n] != two[n]] == [place]
            )
        )  # fmt: skip
        turns_at = _turns_at(question, leads[best], cases, best)
        return Refusal(code="hangs on a number", lead_s=leads[best], hangs_on=hangs, turns_at=turns_at)
    gains = np.concatenate([case.gains[:, best] for case in cases])
    rounds = min(case.drawn.rounds for case in cases)
    spread = float(gains.std())
    more = rounds_to_decide(float(gains.mean()), spread, rounds) if spread > 0 else None
    return Refusal(code="data do not tell", lead_s=leads[best], more=more)


def _turns_at(question: Question, lead_s: float, cases: tuple[Case, ...], best: int) -> float:
    """Return the worth of a second at which a change gains nothing on average: what it saves in contacts, a second."""
    saved = float(np.mean([case.saved[:, best].mean() for case in cases])) * question.contact
    return saved / (lead_s - question.lead_s)


def _passes(gains: Values) -> list[bool]:
    sure, enough = (gains > 0).mean(axis=0) >= DECIDED, gains.mean(axis=0) >= LEAST_GAIN
    found: list[bool] = (sure & enough).tolist()
    return found


def cases_of(question: Question, times: Times, leads: Sequence[float], seed: int) -> Iterator[Case]:
    """Yield each way how things may be: families, and both ends of each number that is not known; with what each of
    these leads, in seconds, gains over today's."""
    lags = (LAGS_S[0], LAGS_S[-1]) if any(times.by_scribe) else (0.0,)
    shares = _pushes(question, seed)
    effective = question.lead_s + question.follows * (np.array([question.lead_s, *leads]) - question.lead_s)
    for family, (place, lag_s) in itertools.product(FAMILIES, enumerate(lags)):
        drawn = drawn_from(times, family, seed=seed, lag_s=lag_s)
        touched = _touched(question, drawn, effective)
        for (second, price), (number, share) in itertools.product(enumerate(question.second), enumerate(shares)):
            prices = Prices(second=price, contact=question.contact, pushes=1.0)
            costs = lead_costs([question.lead_s, *leads], touched * share[:, None], prices)
            saved = (touched[:, :1] - touched[:, 1:]) * share[:, None]
            yield Case(family, second, number, place, costs[:, :1] - costs[:, 1:], saved, drawn)


def _touched(question: Question, drawn: Drawn, leads: Values) -> Values:
    """Return what one contact's points are due for at each lead, shape (draws, leads): the probability of a contact,
    or its seconds."""
    if not question.timed:
        return drawn.beyond(leads, late_s=question.late_s, spread_s=question.spread_s)
    grid = np.arange(0, _FARTHEST_S, _STEP_S)
    beyond = drawn.beyond(grid, late_s=question.late_s, spread_s=question.spread_s)
    lasts = lead_costs(grid, beyond, Prices(second=0.0, contact=1.0, pushes=1.0, timed=True))
    return np.array([np.interp(leads, grid, row) for row in lasts])


def _pushes(question: Question, seed: int) -> tuple[Values, ...]:
    """Return the shares of matches with a push on at the call, each of shape (draws,): both ends, or drawn from what
    eight matches showed."""
    seen = question.pushes_seen
    if seen is not None and seen[1] >= FEWEST_MATCHES:
        rng = np.random.default_rng(seed)
        return (rng.beta(seen[0] + 0.5, seen[1] - seen[0] + 0.5, DRAWS),)
    return tuple(np.full(DRAWS, end) for end in question.pushes)
