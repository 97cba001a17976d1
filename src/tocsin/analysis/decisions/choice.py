"""Choose one change of a lead, or refuse. Pure.

A lead is changed by half a second or a second, one lead at a time. A change is advised only if it holds whatever is not
known: for both families of times, and for both ends of what a second is worth, of how often pushes are on at the call,
and of the scribe's lag, the gain is above 0 with a probability of 0.9, and 0.25 points a match on average. Otherwise
exactly one reason is given why not.
"""

import itertools
import math
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from typing import Any, Literal, NamedTuple

import msgspec
import numpy as np

from tocsin.analysis.decisions.cost import Prices, lead_costs
from tocsin.analysis.decisions.posterior import DRAWS, FAMILIES, PRACTICE, Drawn, Grid, Lag, Times, drawn_from
from tocsin.analysis.decisions.worth import DECIDED, Worth, rounds_to_decide
from tocsin.analysis.order_statistics import Values

STEPS_S = (-1.0, -0.5, 0.5, 1.0)
LEAST_GAIN = 0.25                      # points a match
FEWEST_PUSHES, FEWEST_EVENINGS, FEWEST_MATCHES = 24, 3, 8
FROZEN_DAYS, SETTLED_EVENINGS, OLD_DAYS = 7, 2, 28
MOST_UNCOUNTED, MOST_OLD, MOST_UNKNOWN, MOST_CLOCK_SPREAD_S = 1 / 3, 0.5, 0.2, 0.35
_FARTHEST_S, _STEP_S = 20.0, 0.25      # how far overlaps are summed
_NUMBERS_DRAWN, _FOLLOWS_DRAWN, _PUSHES_DRAWN = 1, 2, 3            # each its own draws
_HALVINGS = 7                          # until a number at which advice turns is known well enough

RefusalCode = Literal[
    "frozen", "bad records", "too few", "not settled", "nothing to win", "hangs on a number", "data do not tell"
]
Number = Literal["second", "pushes", "lag"]
NUMBERS: tuple[Number, ...] = ("second", "pushes", "lag")


class Records(msgspec.Struct, frozen=True, kw_only=True):
    """What a season's records are like: ``pushes`` that the call found, on so many ``evenings``; which shares of them
    are ``old`` (more than 28 days) or ``unknown`` (without a bound), and of all ``rounds`` ``uncounted``;
    ``clock_spread_s`` the standard deviation of their clocks; ``days_to_event`` and ``evenings_since_change`` None
    where there is none."""

    pushes: int
    evenings: int
    old: float = 0.0
    unknown: float = 0.0
    uncounted: float = 0.0
    rounds: int = 0
    clock_spread_s: float = 0.0
    days_to_event: int | None = None
    evenings_since_change: int | None = None


class Question(msgspec.Struct, frozen=True, kw_only=True):
    """A lead of ``lead_s`` seconds, and what its change rests on.

    Each of ``second`` and ``pushes`` has a least and a largest value: points of a second a match, and the share of
    matches in which a push is on at the call; with eight matches ``pushes_seen`` (a count and its matches) stands for
    the latter. ``contact`` is in points (of a second of contact where it is ``timed``). ``late_s`` and ``spread_s`` are
    the clock's in the match to come. ``follows`` is by how much a push ends earlier if the call comes a second earlier,
    known with a standard deviation of ``follows_spread``; ``lag`` is the scribe's. No lead is made
    shorter than ``least_s``, or longer than ``most_s``, for which the game has no room.
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
    follows_spread: float = 0.0
    lag: Lag = PRACTICE
    least_s: float = 0.0
    most_s: float = math.inf


class Advice(msgspec.Struct, frozen=True, kw_only=True):
    """The one change: to ``lead_s`` seconds, for ``gain`` points a match, with its 80 % interval over all that is not
    known. Beside the seconds themselves it ``saved`` so many points a match (below 0: it costs them), which are so many
    ``contacts``, or of the call home full returns more (``homes``)."""

    lead_s: float
    gain: float
    low: float
    high: float
    saved: float
    contacts: float = 0.0
    homes: float = 0.0


class Refusal(msgspec.Struct, frozen=True, kw_only=True):
    """Why nothing is advised.

    The best change would be one to ``lead_s``, for ``gain`` points a match, with its 80 % interval. ``hangs_on`` are
    the numbers with which it turns; if it is one alone, ``turns_at`` is where: points of a second, a share of matches,
    seconds of the scribe's lag; ``below`` whether the change holds below that. ``more`` is what more rounds would be
    worth, None if not even 96 would decide.
    """

    code: RefusalCode
    lead_s: float | None = None
    gain: float | None = None
    low: float | None = None
    high: float | None = None
    hangs_on: tuple[Number, ...] = ()
    turns_at: float | None = None
    below: bool | None = None
    more: Worth | None = None


class Case(NamedTuple):
    """One way how things may be: at which end each number is that is not known, as many as ``NUMBERS``, with what each
    candidate ``gains`` and, beside the seconds, ``saved``, in points a match, shape (draws, candidates)."""

    ends: tuple[int, ...]
    gains: Grid
    saved: Grid


class Weighed(NamedTuple):
    """What each candidate of ``leads`` gains over a lead of ``lead_s``.

    ``cases`` are all ways how things may be. ``gains`` and ``saved`` are over all that is not known at once, shape
    (draws, candidates), ``told`` what more rounds can tell of the gains, where there are so many ``rounds`` by now:
    as they are counted, since those to come are as much alike.
    """

    lead_s: float
    leads: tuple[float, ...]
    cases: tuple[Case, ...]
    gains: Grid
    saved: Grid
    told: Grid
    rounds: int


class Unknown(NamedTuple):
    """What is not known: the ``ends`` of each number, its least and its largest value; and whether the change to a lead
    ``holds``, which is to pass in all cases, where a number has one value."""

    ends: Mapping[Number, tuple[float, float]]
    holds: Callable[[float, Number, float], bool]


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
    weighed = weigh(question, times, candidates(question.lead_s, question.least_s, question.most_s), seed)
    found = decide(weighed, unknown_of(question, times, seed))
    if isinstance(found, Refusal):
        return found
    return msgspec.structs.replace(found, contacts=found.saved / question.contact if question.contact else 0.0)


def unknown_of(question: Question, times: Times, seed: int) -> Unknown:
    """Return the numbers that a change of this lead may hang on. What matches showed of pushes is one value."""
    seen = question.pushes_seen
    pushes = question.pushes
    if seen is not None and seen[1] >= FEWEST_MATCHES:
        pushes = ((seen[0] + 0.5) / (seen[1] + 1),) * 2

    def holds(lead_s: float, number: Number, value: float) -> bool:
        changed: dict[str, object] = {number: (value, value)}
        if number == "pushes":
            changed["pushes_seen"] = None
        if number == "lag":
            changed = {"lag": msgspec.structs.replace(question.lag, low_s=value, high_s=value)}
        return all_pass(cases_of(msgspec.structs.replace(question, **changed), times, [lead_s], seed))

    lag = (question.lag.low_s, question.lag.high_s)
    return Unknown({"second": question.second, "pushes": pushes, "lag": lag}, holds)


def decide(weighed: Weighed, unknown: Unknown) -> Advice | Refusal:
    """Return the one change that passes in all cases, or why there is none: for any kind of lead."""
    if not weighed.leads:
        return Refusal(code="nothing to win")
    leads, overall = weighed.leads, weighed.gains.mean(axis=0)
    means = np.array([case.gains.mean(axis=0) for case in weighed.cases])
    passed = np.array([_passes(case.gains) for case in weighed.cases])
    everywhere = passed.all(axis=0)
    if everywhere.any():
        best = int(np.argmax(np.where(everywhere, overall, -math.inf)))
        return Advice(lead_s=leads[best], saved=float(weighed.saved[:, best].mean()), **_stated(weighed, best))
    best = int(np.argmax(means.max(axis=0)))
    if float(means.max()) < LEAST_GAIN:
        return Refusal(code="nothing to win", lead_s=leads[best], **_stated(weighed, best))
    return _undecided(weighed, passed, unknown)


def candidates(lead_s: float, least_s: float = 0.0, most_s: float = math.inf) -> tuple[float, ...]:
    """Return what a lead may be changed to, in seconds: to nothing shorter than itself and than ``least_s``, or longer
    than ``most_s``. Where it is shorter than the least one already, a longer one is nearer to that."""
    found = (round(lead_s + step, 3) for step in STEPS_S)
    least_s = max(min(least_s, lead_s), 0.0)
    return tuple(lead for lead in found if least_s <= lead <= most_s)


def all_pass(cases: Iterable[Case]) -> bool:
    """Return whether the first candidate is worth it in all cases."""
    return all(_passes(case.gains)[0] for case in cases)


def _stated(weighed: Weighed, best: int) -> dict[str, Any]:
    low, high = np.quantile(weighed.gains[:, best], (0.1, 0.9)).tolist()
    return {"gain": float(weighed.gains[:, best].mean()), "low": low, "high": high}


def _undecided(weighed: Weighed, passed: Values, unknown: Unknown) -> Refusal:
    """Return whether a number that people know decides it, or only more rounds."""
    leads, cases = weighed.leads, weighed.cases
    sure = {}
    for end in sorted({case.ends for case in cases}):
        rows = [row for row, case in enumerate(cases) if case.ends == end]
        sure[end] = frozenset(np.flatnonzero(passed[rows].all(axis=0)).tolist())
    common = [sum(candidate in found for found in sure.values()) for candidate in range(len(leads))]
    overall = weighed.gains.mean(axis=0)
    best = max(range(len(leads)), key=lambda candidate: (common[candidate], overall[candidate]))
    if common[best]:
        hangs = tuple(
            name for place, name in enumerate(NUMBERS)
            if any(
                (best in sure[one]) != (best in sure[two])
                for one, two in itertools.combinations(sure, 2)
                if [n for n in range(len(NUMBERS)) if one[n] != two[n]] == [place]
            )
        )  # fmt: skip
        turns_at, below = None, None
        if len(hangs) == 1:
            below = any(best in found for end, found in sure.items() if not end[NUMBERS.index(hangs[0])])
            low, high = unknown.ends[hangs[0]]
            turns_at = turning(low, high, below, lambda value: unknown.holds(leads[best], hangs[0], value))
        return Refusal(
            code="hangs on a number", lead_s=leads[best], hangs_on=hangs, turns_at=turns_at, below=below,
            **_stated(weighed, best),
        )  # fmt: skip
    told = weighed.told[:, best]
    more = rounds_to_decide(float(told.mean()), float(told.std()), weighed.rounds) if told.std() > 0 else None
    return Refusal(code="data do not tell", lead_s=leads[best], more=more, **_stated(weighed, best))


def turning(low: float, high: float, below: bool, holds: Callable[[float], bool]) -> float:
    """Return between two ends where what holds at the lower one (``below``) or at the upper one no longer does."""
    for _ in range(_HALVINGS):
        middle = (low + high) / 2
        low, high = (middle, high) if holds(middle) == below else (low, middle)
    return (low + high) / 2


def _passes(gains: Grid) -> list[bool]:
    sure, enough = (gains > 0).mean(axis=0) >= DECIDED, gains.mean(axis=0) >= LEAST_GAIN
    found: list[bool] = (sure & enough).tolist()
    return found


def cases_of(question: Question, times: Times, leads: Sequence[float], seed: int) -> Iterator[Case]:
    """Yield each way how things may be: families, and both ends of each number that is not known; with what each of
    these leads, in seconds, gains over today's."""
    scribe = any(times.by_scribe)
    lags = dict.fromkeys((question.lag.low_s, question.lag.high_s) if scribe else (0.0,))
    shares = _pushes(question, seed)
    earlier = np.asarray(leads, dtype=float) - question.lead_s
    for family, (place, lag_s) in itertools.product(FAMILIES, enumerate(lags)):
        spared = _spared(question, drawn_from(times, family, seed=seed, lag_s=lag_s, lag=question.lag), earlier, seed)
        for (second, price), (number, share) in itertools.product(enumerate(question.second), enumerate(shares)):
            saved = spared * share[:, None]
            yield Case((second, number, place), saved - price * earlier, saved)


def weigh(question: Question, times: Times, leads: Sequence[float], seed: int) -> Weighed:
    """Return what each of these leads gains over today's: case by case, and over all that is not known at once, each
    number anywhere between its ends."""
    earlier = np.asarray(leads, dtype=float) - question.lead_s
    rng = np.random.default_rng((seed, _NUMBERS_DRAWN))
    shares, prices = _pushes(question, seed), rng.uniform(*question.second, DRAWS)[:, None]
    share = shares[0] if len(shares) == 1 else rng.uniform(*question.pushes, DRAWS)
    saved, told = [], []
    for family in FAMILIES:
        spared = _spared(question, drawn_from(times, family, seed=seed, lag=question.lag), earlier, seed)
        saved.append(spared * share[:, None])
        told.append(spared * share.mean() - sum(question.second) / 2 * earlier)
    gains = np.concatenate([one - prices * earlier for one in saved])
    cases = tuple(cases_of(question, times, leads, seed))
    return Weighed(
        question.lead_s, tuple(leads), cases, gains, np.concatenate(saved), np.concatenate(told), len(times.lows_s)
    )


def _spared(question: Question, drawn: Drawn, earlier: Values, seed: int) -> Grid:
    """Return what calls that come so much earlier save in a match with a push, in points, shape (draws, leads)."""
    rng = np.random.default_rng((seed, _FOLLOWS_DRAWN))
    follows = np.clip(rng.normal(question.follows, question.follows_spread, DRAWS), 0, 1)[:, None]
    leads = question.lead_s + follows * np.concatenate([[0.0], earlier])
    touched = _touched(question, drawn, leads)
    found: Grid = (touched[:, :1] - touched[:, 1:]) * question.contact
    return found


def _touched(question: Question, drawn: Drawn, leads: Grid) -> Grid:
    """Return what one contact's points are due for at each lead, shape (draws, leads): the probability of a contact,
    or its seconds."""
    if not question.timed:
        return drawn.beyond(leads, late_s=question.late_s, spread_s=question.spread_s)
    grid = np.arange(0, _FARTHEST_S, _STEP_S)
    beyond = drawn.beyond(grid, late_s=question.late_s, spread_s=question.spread_s)
    lasts = lead_costs(grid, beyond, Prices(second=0.0, contact=1.0, pushes=1.0, timed=True))
    return np.array([np.interp(of, grid, row) for of, row in zip(leads, lasts, strict=True)])


def _pushes(question: Question, seed: int) -> tuple[Values, ...]:
    """Return the shares of matches with a push on at the call, each of shape (draws,): both ends, or drawn from what
    eight matches showed."""
    seen = question.pushes_seen
    if seen is not None and seen[1] >= FEWEST_MATCHES:
        rng = np.random.default_rng((seed, _PUSHES_DRAWN))
        return (rng.beta(seen[0] + 0.5, seen[1] - seen[0] + 0.5, DRAWS),)
    return tuple(np.full(DRAWS, end) for end in question.pushes)
