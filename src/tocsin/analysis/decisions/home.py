"""Choose a change of the lead of the call home, or refuse, by the same rules as for any lead. Pure.

A call that comes the lead H before the end of the match finds robots in one of several set-ups. Home takes what holds
the robot (the turn, or the end of a push, whichever takes longer) and the way from there; a robot that is not all home
in time may be half home. So the lead costs H seconds of playing, less what returns bring:

    J(H) = second * H - sum of share * (full * P(R + W + e <= H) + half * P(half home by H, not all))

Ways of a set-up are drawn towards those of all, the more the fewer rounds it has (``seasons/pooling.py``): set-ups
share the spread and the lapses, and differ in their centres.
"""

import itertools
import math
from collections.abc import Iterator, Mapping, Sequence

import msgspec
import numpy as np

from tocsin.analysis.decisions.choice import (
    Advice,
    Case,
    Number,
    Records,
    Refusal,
    Unknown,
    Weighed,
    all_pass,
    candidates,
    decide,
    refusal_of,
)
from tocsin.analysis.decisions.cost import Return, home_costs
from tocsin.analysis.decisions.posterior import (
    DRAWS,
    FAMILIES,
    PRACTICE,
    Drawn,
    Family,
    Grid,
    Lag,
    Times,
    design_effect,
    drawn_from,
)
from tocsin.analysis.order_statistics import Values
from tocsin.analysis.seasons.pooling import FEWEST, components_of

FEWEST_HALVES = 8                      # half returns that tell how long they take
_FARTHEST_S, _STEP_S, _EARLIEST_S = 20.0, 0.25, -2.0     # of what holds a robot, with the clock's error
_PRICES_DRAWN, _SETUPS_DRAWN = 4, 5    # each its own draws


class HomeTerms(msgspec.Struct, frozen=True, kw_only=True):
    """What people, game and rig say of a call home ``lead_s`` seconds before the end of the match.

    ``full`` and ``half`` are the points of a return; ``second`` is what a second is worth, at least and at most;
    ``shares`` is how often matches begin their way home from each set-up, empty for equally often. ``late_s`` and
    ``spread_s`` are the clock's in the match to come. No lead is made shorter than ``least_s``, or longer than
    ``most_s``, for which the game has no room.
    """

    lead_s: float
    full: float
    half: float = 0.0
    second: tuple[float, float] = (0.5, 1.0)
    shares: dict[str, float] = {}
    late_s: float = 0.0
    spread_s: float = 0.0
    least_s: float = 0.0
    most_s: float = math.inf


class HomeQuestion(HomeTerms, frozen=True, kw_only=True):
    """A call home, and what its change rests on: its terms, and the scribe's ``lag``."""

    lag: Lag = PRACTICE


class HomeTimes(msgspec.Struct, frozen=True, kw_only=True):
    """What is known of returns: ``held``, from the call until the robot can go; of each set-up the ``ways`` all home,
    and the ``halves``, until a robot was at least half home, of which ``half_returns`` were half. ``by_push``: the end
    of a push holds robots longer than the turn."""

    held: Times
    ways: dict[str, Times]
    halves: dict[str, Times] = {}
    half_returns: int = 0
    by_push: bool = False


def choose_home(question: HomeQuestion, times: HomeTimes, records: Records, *, seed: int) -> Advice | Refusal:
    """Return the one change of the call home that is worth it whatever is not known, or why there is none; equal inputs
    give equal answers. ``records`` are those of rounds that tell a way home."""
    code = refusal_of(records)
    if code is not None:
        return Refusal(code=code)
    weighed, homes = weigh_home(question, times, _candidates(question), seed)
    found = decide(weighed, unknown_home(question, times, seed))
    if isinstance(found, Refusal):
        return found
    return msgspec.structs.replace(found, homes=float(homes[:, weighed.leads.index(found.lead_s)].mean()))


def unknown_home(question: HomeQuestion, times: HomeTimes, seed: int) -> Unknown:
    """Return the numbers that a change of the call home may hang on."""

    def holds(lead_s: float, number: Number, value: float) -> bool:
        changed = msgspec.structs.replace(question, second=(value, value))
        if number == "lag":
            lag = msgspec.structs.replace(question.lag, low_s=value, high_s=value)
            changed = msgspec.structs.replace(question, lag=lag)
        return all_pass(home_cases(changed, times, [lead_s], seed))

    return Unknown({"second": question.second, "lag": (question.lag.low_s, question.lag.high_s)}, holds)


def _candidates(question: HomeQuestion) -> tuple[float, ...]:
    return candidates(question.lead_s, question.least_s, question.most_s)


def home_cases(question: HomeQuestion, times: HomeTimes, leads: Sequence[float], seed: int) -> Iterator[Case]:
    """Yield each way how things may be: families, and both ends of each number that is not known; with what each of
    these leads, in seconds, gains over today's."""
    all_leads = np.array([question.lead_s, *leads])
    late = any(any(of.by_scribe) for of in (times.held, *times.ways.values()))
    lags = dict.fromkeys((question.lag.low_s, question.lag.high_s) if late else (0.0,))
    for family, (place, lag_s) in itertools.product(FAMILIES, enumerate(lags)):
        saved = _saved(all_leads, _returns(question, times, family, all_leads, seed, lag_s))
        for second, price in enumerate(question.second):
            yield Case((second, 0, place), saved - price * (all_leads[1:] - question.lead_s), saved)


def weigh_home(
    question: HomeQuestion, times: HomeTimes, leads: Sequence[float], seed: int
) -> tuple[Weighed, Grid]:
    """Return what each of these leads gains over today's, case by case and over all that is not known at once; and how
    many full returns more a match it brings, shape (draws, leads)."""
    all_leads = np.array([question.lead_s, *leads])
    later = all_leads[1:] - question.lead_s
    prices = np.random.default_rng((seed, _PRICES_DRAWN)).uniform(*question.second, DRAWS)[:, None]
    saved, homes = [], []
    for family in FAMILIES:
        returns = _returns(question, times, family, all_leads, seed, None)
        saved.append(_saved(all_leads, returns))
        homes.append(sum(one.share * (one.full_within[:, 1:] - one.full_within[:, :1]) for one in returns))
    gains = np.concatenate([one - prices * later for one in saved])
    told = np.concatenate(saved) - sum(question.second) / 2 * later
    cases = tuple(home_cases(question, times, leads, seed))
    rounds = sum(len(of.lows_s) for of in times.ways.values())
    weighed = Weighed(question.lead_s, tuple(leads), cases, gains, np.concatenate(saved), told, rounds)
    return weighed, np.concatenate(homes)


def _saved(leads: Values, returns: Sequence[Return]) -> Grid:
    """Return what each lead but the first brings more in returns than the first, in points, seconds not counted."""
    costs = home_costs(leads, 0.0, returns)
    found: Grid = costs[:, :1] - costs[:, 1:]
    return found


def _returns(
    question: HomeQuestion, times: HomeTimes, family: Family, leads: Values, seed: int, lag_s: float | None
) -> tuple[Return, ...]:
    """Return of each set-up how likely robots are home within each lead; a scribe's lag is ``lag_s``, or summed out."""
    held = drawn_from(times.held, family, seed=seed, lag_s=lag_s, lag=question.lag)
    ways = _by_setup(times.ways, family, seed, lag_s, question.lag)
    halves = _by_setup(times.halves, family, seed, lag_s, question.lag) if times.half_returns >= FEWEST_HALVES else {}
    shares = _shares(question, times)
    returns = []
    for setup, share in shares.items():
        full = _within(held, ways[setup], leads, question)
        half = _within(held, halves[setup], leads, question) if setup in halves else full
        returns.append(Return(share=share, full=question.full, half=question.half, full_within=full, half_within=half))
    return tuple(returns)


def _shares(question: HomeQuestion, times: HomeTimes) -> dict[str, float]:
    """Return how often matches begin from each set-up of which a way is known: their sum is 1."""
    said = {setup: question.shares.get(setup, 0.0) for setup in times.ways}
    total = sum(said.values())
    return {setup: said[setup] / total if total else 1 / len(said) for setup in said}


def _by_setup(
    times: Mapping[str, Times], family: Family, seed: int, lag_s: float | None, lag: Lag
) -> dict[str, Drawn]:
    """Return draws of each set-up's ways: one spread, and centres that are pooled partly."""
    offsets = _offsets(times)
    level = [(setup, math.exp(-offset)) for setup, (offset, _) in offsets.items()]
    together = Times(
        lows_s=tuple(low * by for setup, by in level for low in times[setup].lows_s),
        highs_s=tuple(high * by for setup, by in level for high in times[setup].highs_s),
        evenings=tuple(evening for setup, _ in level for evening in times[setup].evenings),
        by_scribe=tuple(scribe for setup, _ in level for scribe in times[setup].by_scribe),
    )
    drawn = drawn_from(together, family, seed=seed, lag_s=lag_s, lag=lag)
    rng = np.random.default_rng((seed, _SETUPS_DRAWN))
    return {
        setup: Drawn(
            family=family, centres_s=drawn.centres_s * np.exp(rng.normal(offset, error, DRAWS)), spreads=drawn.spreads,
            lapses=drawn.lapses, rounds=drawn.rounds / len(offsets),
        )
        for setup, (offset, error) in offsets.items()
    }  # fmt: skip


def _offsets(times: Mapping[str, Times]) -> dict[str, tuple[float, float]]:
    """Return by how much the logarithm of each set-up's ways lies off the mean of all, and its standard error."""
    groups = {
        setup: [
            math.log(low) for low, high in zip(of.lows_s, of.highs_s, strict=True) if low == high > 0
        ] for setup, of in times.items()
    }  # fmt: skip
    told = {setup: group for setup, group in groups.items() if group}
    if len(told) < 2 or all(len(set(group)) < 2 for group in told.values()):
        return dict.fromkeys(times, (0.0, 0.0))
    found = components_of(list(told.values()))
    effect = max(design_effect(of) for of in times.values())
    offsets = {}
    for setup, group in groups.items():
        if not group:
            offsets[setup] = (0.0, math.sqrt(found.between))
            continue
        error2 = found.within / len(group) * effect
        weight = 1.0 if len(told) < FEWEST else found.between / (found.between + error2)
        offsets[setup] = (weight * (sum(group) / len(group) - found.mean), math.sqrt(weight * error2))
    return offsets


def _within(held: Drawn, way: Drawn, leads: Values, question: HomeQuestion) -> Grid:
    """Return the probability that what holds a robot, its way and the clock's error are no longer than each lead, shape
    (draws, leads): what holds it is summed over in steps."""
    edges = np.arange(_EARLIEST_S, _FARTHEST_S + _STEP_S / 2, _STEP_S)
    still = held.beyond(edges, late_s=question.late_s, spread_s=question.spread_s)
    parts, middles = still[:, :-1] - still[:, 1:], (edges[:-1] + edges[1:]) / 2
    home = 1 - way.beyond((leads[:, None] - middles).ravel()).reshape(DRAWS, len(leads), len(middles))
    found: Grid = np.einsum("dm,dlm->dl", parts, home)
    return found
