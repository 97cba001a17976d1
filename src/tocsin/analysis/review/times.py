"""Answer how early pushes are broken off, and how fast robots turn, after the call home.

Only the time from the call is pooled: drills move their call, so margins as they were played scatter by design. The
margin told is that at the plan's own lead: the lead less that time. Times within bounds are kept within them; their
middle value is then that of the curve (``survival.py``), and its limits hold whatever lies between the bounds. It is
told from eight times on that somebody noted.
"""

import math
import statistics
from collections.abc import Sequence
from typing import NamedTuple

import msgspec

from tocsin.analysis.review.answer import Answer, Figure, Lacking, Question
from tocsin.analysis.review.outcomes import FEWEST_EVENINGS, evenings_lacking
from tocsin.analysis.review.rounds import Rounds, evening_of, lacking, own_leads_s
from tocsin.analysis.seasons.ranks import FEWEST_FOR_NINE, Median, median_of, nine_in_ten, still_on_at
from tocsin.analysis.seasons.row import Row
from tocsin.analysis.survival import curve_of

FEWEST_FOR_MIDDLE = 8
LATEST_MARK_S = 0.8                    # a scribe notes the end of a push so late at most; common practice, no source
MOST_MISSING = 0.1                     # beyond which the middle is also told as if all that is missing were extreme
SEVERAL_LEADS = "several leads"        # a verdict: all is told for the newest


class StillOn(NamedTuple):
    """The share of pushes that is still on, within its limits."""

    low: float
    on: float
    high: float


class Times(msgspec.Struct, frozen=True, kw_only=True):
    """Times in seconds that lie within (``lows``, ``highs``], each of an evening; ``missing`` more are unknown."""

    lows: tuple[float, ...]
    highs: tuple[float, ...]
    evenings: tuple[str, ...]
    missing: int = 0

    @property
    def n(self) -> int:
        """How many times there are."""
        return len(self.lows)

    @property
    def noted(self) -> int:
        """How many of them somebody noted."""
        return sum(low == high for low, high in zip(self.lows, self.highs, strict=True))

    @property
    def apart(self) -> int:
        """On how many evenings they were noted."""
        return len(set(self.evenings))

    def median(self) -> Median:
        """Return the median by the bounds, with its limits."""
        return median_of(self.lows, self.highs, self.evenings)

    def middle(self) -> float:
        """Return the middle value, in seconds; that of the curve where times have bounds, infinite if it is unknown."""
        found = self.median()
        if self.lows == self.highs:
            return found.at_least
        return min(max(curve_of(self.lows, self.highs).time_of(0.5), found.at_least), found.at_most)

    def still_on(self, times_s: Sequence[float]) -> tuple[StillOn, ...]:
        """Return the share that is still on after each of these times; it and its limits change only at a bound."""
        curve = curve_of(self.lows, self.highs)
        limits = [curve.interval_at(time_s) for time_s in times_s] if self.apart == 1 else [None]
        known = tuple(one for one in limits if one is not None)
        if len(known) < len(times_s):
            known = still_on_at(self.lows, self.highs, self.evenings, times_s)
        shares = [curve.on_at(time_s) for time_s in times_s]
        return tuple(
            StillOn(min(on, one.low), on, max(on, one.high)) for on, one in zip(shares, known, strict=True)
        )


def break_off_times(rounds: Rounds) -> Times:
    """Return the times from the call to the end of the push that it found."""
    known = [row for row in rounds.count if row.break_off_at_least_s is not None]
    return _times(
        known, [(row.break_off_at_least_s or 0.0, row.break_off_at_most_s) for row in known], _unmarked(rounds)
    )


def turn_times(rounds: Rounds) -> Times:
    """Return the times from the call to the turn."""
    known = [row for row in rounds.count if row.turn_at_least_s is not None]
    return _times(known, [(row.turn_at_least_s or 0.0, row.turn_at_most_s) for row in known], _unmarked(rounds))


def newest_lead_s(rounds: Rounds) -> tuple[float | None, bool]:
    """Return the plan's own lead in the last round that has one, in seconds, and whether others differ from it."""
    own = own_leads_s(rounds.played)
    leads = [own[row.folder] for row in rounds.count if row.folder in own]
    return (leads[-1], len(set(leads)) > 1) if leads else (None, False)


def break_off_answer(rounds: Rounds, *, season: bool = False) -> Answer:
    """Return how early pushes that the call found were off at the plan's own lead: ``margin`` in the middle,
    ``margin_nine_in_ten``, ``on_at_lead`` the share still on then, ``surely_on`` if each mark was as late as it may be;
    ``break_off`` is the time from the call. Shares of a season take three evenings."""
    times = break_off_times(rounds)
    if not times.n and rounds.count and all(row.contacts is None for row in rounds.count):
        return Answer(question="break_off")            # nobody is asked to break off
    lead_s, several = newest_lead_s(rounds)
    beside = sum(row.push_at_call is False for row in rounds.count)
    figures = [Figure(name="no_push", unit="rounds", value=beside, count=beside, rounds=len(rounds.count),
                      evenings=len(rounds.evenings))]  # fmt: skip
    on = [row for row in rounds.count if row.push_at_call]
    if on:
        without = len(on) - sum(
            row.break_off_at_least_s is not None and row.break_off_at_least_s == row.break_off_at_most_s for row in on
        )
        figures.append(Figure(name="no_end", unit="rounds", value=without, count=without, rounds=len(on),
                              evenings=len({evening_of(row) for row in on})))  # fmt: skip
    if lead_s is not None:
        figures.append(Figure(name="lead", unit="s", value=lead_s, rounds=times.n, evenings=times.apart))
    told, missing = _told("break_off", "break_off", times)
    figures += told
    if lead_s is not None:
        figures += [_margin(figure, lead_s) for figure in told]
        if times.noted >= FEWEST_FOR_MIDDLE and season and times.apart < FEWEST_EVENINGS:
            missing = (*missing, evenings_lacking("break_off", "on_at_lead", times.apart))
        elif times.noted >= FEWEST_FOR_MIDDLE:
            figures += [_on_at("on_at_lead", times, lead_s), _on_at("surely_on", times, lead_s + LATEST_MARK_S)]
    return Answer(
        question="break_off", figures=tuple(figures), lacking=missing, verdict=SEVERAL_LEADS if several else ""
    )


def turn_answer(rounds: Rounds) -> Answer:
    """Return how long after the call robots turned: ``turn`` in the middle, ``turn_nine_in_ten``. Nothing where nobody
    noted a single turn: then the drill does not ask for it."""
    times = turn_times(rounds)
    figures, missing = _told("turn", "turn", times) if times.noted else ([], ())
    return Answer(question="turn", figures=tuple(figures), lacking=missing)


def _times(rows: Sequence[Row], bounds: Sequence[tuple[float, float | None]], missing: int) -> Times:
    return Times(
        lows=tuple(low for low, _ in bounds),
        highs=tuple(math.inf if high is None else high for _, high in bounds),
        evenings=tuple(evening_of(row) for row in rows),
        missing=missing,
    )


def _unmarked(rounds: Rounds) -> int:
    return sum(row.counted and not row.watched for row in rounds.played)


def _told(question: Question, name: str, times: Times) -> tuple[list[Figure], tuple[Lacking, ...]]:
    """Return the middle and nine in ten of times, each as a figure or as what is missing for it."""
    figures, missing = [], []
    evenings = max(1, times.apart)
    if times.noted < FEWEST_FOR_MIDDLE:
        missing.append(_lacking(question, name, times, times.noted, FEWEST_FOR_MIDDLE))
    else:
        found = times.median()
        figures.append(Figure(
            name=name, unit="s", value=_finite(times.middle()), low=_finite(found.low), high=_finite(found.high),
            rounds=times.n, evenings=evenings,
        ))  # fmt: skip
        figures += _extremes(name, times)
    bound = nine_in_ten(times.highs)
    if bound.value is None:
        missing.append(_lacking(question, f"{name}_nine_in_ten", times, times.n, FEWEST_FOR_NINE))
    else:
        figures.append(Figure(
            name=f"{name}_nine_in_ten", unit="s", value=_finite(bound.value), rounds=times.n, evenings=evenings,
        ))  # fmt: skip
    return figures, tuple(missing)


def _extremes(name: str, times: Times) -> list[Figure]:
    """Return the middle as if all that is missing had come at once, and never; nothing if little is missing."""
    if times.missing <= MOST_MISSING * (times.n + times.missing):
        return []
    found = []
    for of, value in (("at_once", 0.0), ("never", math.inf)):
        filled = [*times.lows, *[value] * times.missing] if value == 0 else [*times.highs, *[value] * times.missing]
        found.append(Figure(
            name=f"{name}_if_missing", of=of, unit="s", value=_finite(statistics.median(filled)), rounds=len(filled),
            evenings=max(1, times.apart),
        ))  # fmt: skip
    return found


def _margin(figure: Figure, lead_s: float) -> Figure:
    """Return a time from the call as the margin that a lead leaves: limits change their sides."""

    def left(time_s: float | None) -> float | None:
        return None if time_s is None else lead_s - time_s

    return msgspec.structs.replace(
        figure, name=figure.name.replace("break_off", "margin"), value=left(figure.value), low=left(figure.high),
        high=left(figure.low),
    )  # fmt: skip


def _on_at(name: str, times: Times, time_s: float) -> Figure:
    (found,) = times.still_on([time_s])
    return Figure(
        name=name, unit="share", value=found.on, low=found.low, high=found.high, rounds=times.n, evenings=times.apart,
    )


def _lacking(question: Question, figure: str, times: Times, have: int, need: int) -> Lacking:
    return lacking(
        question, figure.replace("break_off", "margin"), "turns" if question == "turn" else "pushes", have=have,
        need=need, evenings=times.apart,
    )  # fmt: skip


def _finite(value: float | None) -> float | None:
    return value if value is not None and math.isfinite(value) else None
