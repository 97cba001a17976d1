"""Say which leads a team's runs show as needed: to break off a push, and to be home. Pure.

The times are those that a review tells, with its estimator: a push without an end, or a robot that was not home in
time, counts as longer than all that were noted, since leaving it out would leave the worst out. Half home is another,
shorter way. A scribe notes the end of a push 0.3 to 0.8 s late (common practice, no source), which makes these times
that much longer. This is left in: a lead must also cover the error of the match clock, which is of that size.

A lead that is enough in nine of ten rounds cannot be read off a few rounds: the probability that more than one round in
ten exceeds the longest of five is 59 % (0.9**5). From 22 rounds on the longest is a tolerance bound (``nine_in_ten`` of
``seasons/ranks.py``): for any distribution it is enough for nine rounds in ten with a confidence of 90 % (Wilks 1941).
From 38 rounds on the longest may be left out, and so on. All this holds for rounds like those that were played.
"""

import math
from collections.abc import Sequence
from itertools import count

import msgspec

from tocsin.analysis.review.rounds import Rounds, evening_of, rounds_of
from tocsin.analysis.review.times import Times, break_off_times
from tocsin.analysis.seasons.ranks import nine_in_ten
from tocsin.analysis.seasons.row import Row
from tocsin.units import NS_PER_S

BREAK_OFF, TRAVEL = "break_off", "home"        # the names of the leads in a plan


class Needed(msgspec.Struct, frozen=True, kw_only=True):
    """The lead that ``rounds`` show as needed. ``lead_ns`` is the bound that holds in nine of ten rounds; while rounds
    are ``missing`` for a bound, it is only the longest time noted."""

    lead_ns: int
    rounds: int
    missing: int = 0


def needed_leads(rows: Sequence[Row], game: str) -> dict[str, Needed]:
    """Return the leads that runs in a game show as needed, by the names that plans use.

    They rest on the rounds that a review tells of where nobody says of which drill; a lead of which these tell nothing
    rests on those of the drill, or the matches, that tell most of it.
    """
    own = [row for row in rows if row.game == game and row.kind != "reaction"]
    first = rounds_of(own)
    others = [rounds_of(own, drill) for drill in sorted({row.drill for row in own} - {first.drill})]
    found = {}
    for lead, times_of in ((BREAK_OFF, break_off_times), (TRAVEL, home_times)):
        times = [times_of(first), *sorted(map(times_of, others), key=lambda one: -one.noted)]
        told = next((needed for one in times if (needed := _needed(one.highs)) is not None), None)
        if told is not None:
            found[lead] = told
    return found


def home_times(rounds: Rounds) -> Times:
    """Return the times from the call until our robot was fully home; of one that was not in time, only that it took
    longer."""
    known = [(row, _home_after_s(row)) for row in rounds.count if row.home in ("home", "home_none") and row.call]
    kept = [(row, after_s) for row, after_s in known if after_s is not None]
    return Times(
        lows=tuple(0.0 if math.isinf(after_s) else after_s for _, after_s in kept),
        highs=tuple(after_s for _, after_s in kept), evenings=tuple(evening_of(row) for row, _ in kept),
    )  # fmt: skip


def _home_after_s(row: Row) -> float | None:
    """Return how long after the call a robot was home, infinite if it was not in time; None where nobody knows when."""
    if row.home == "home_none":
        return math.inf
    if row.turn_s is not None and row.way_s is not None:
        return row.turn_s + row.way_s
    return row.way_at_most_s if row.turn_s is None else None       # without a turn the way begins with the call


def _needed(highs_s: Sequence[float]) -> Needed | None:
    """Return the bound of times that are infinite where only a lower bound is known; None where none was noted."""
    noted_s = [time_s for time_s in highs_s if math.isfinite(time_s)]
    if not noted_s:
        return None
    bound = nine_in_ten(highs_s)
    if bound.value is not None and math.isfinite(bound.value):
        return Needed(lead_ns=_ns(bound.value), rounds=bound.n)
    return Needed(lead_ns=_ns(max(noted_s)), rounds=bound.n, missing=_missing(highs_s, noted_s[0]))


def _missing(highs_s: Sequence[float], noted_s: float) -> int:
    """Return how many more rounds it takes until there is a bound, if the end of each is noted."""
    return next(
        more for more in count(1)
        if (bound := nine_in_ten([*highs_s, *[noted_s] * more])).value is not None and math.isfinite(bound.value)
    )  # fmt: skip


def _ns(time_s: float) -> int:
    return round(time_s * NS_PER_S)
