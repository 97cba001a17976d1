"""Read from a season's rows what a decision rests on: times, pushes, and what the records are like. Pure.

A row is used if its round counts and nobody took it out. A round whose signal the drill left out on purpose is not: no
match is like that. Rounds at a shifted call are: their times are counted from the call that came, and how far drivers
use a longer call up is told by these shifts (``followed``).
"""

import math
import statistics
import zlib
from collections.abc import Callable, Hashable, Iterable, Mapping, Sequence
from datetime import date
from typing import NamedTuple

import msgspec

from tocsin.analysis.decisions.choice import OLD_DAYS, Question, Records
from tocsin.analysis.decisions.home import HomeQuestion, HomeTerms, HomeTimes
from tocsin.analysis.decisions.posterior import Lag, Times, lag_of
from tocsin.analysis.rounds.stakes import HALF, HOME
from tocsin.analysis.seasons.row import NONE_DRAWN, Row
from tocsin.analysis.seasons.slopes import slope_within_evenings

_MS_PER_S = 1000
# A time's bounds in seconds, without an upper one if it was only longer; its evening; whether it has a scribe's lag.
_Known = tuple[float, float | None, Hashable, bool]
PLAYED = ("drill", "match", "video", "robot", "page")
_AS_IT_HAPPENED = "key"
# What a seed is made of.
_SEEDED = (
    "wall", "evening", "plan", "drill", "counted", "shift_s", "setup", "push_at_call", "break_off_at_least_s",
    "break_off_at_most_s", "turn_at_least_s", "turn_at_most_s", "way_at_least_s", "way_at_most_s", "home", "leads_s",
)  # fmt: skip
_NORMAL = 1.96                         # standard deviations that hold 95 of 100


class Followed(NamedTuple):
    """By how much a push ends earlier if its call comes a second earlier, from 0 to 1, with its 95 % limits, as
    ``rounds`` on ``evenings`` show it that were dealt shifts by lot."""

    value: float
    low: float
    high: float
    rounds: int
    evenings: int

    @property
    def spread(self) -> float:
        """The standard deviation of a normal curve with these limits, wider than Student's where evenings are few."""
        return (self.high - self.low) / 2 / _NORMAL


class Terms(msgspec.Struct, frozen=True, kw_only=True):
    """What people say, and the game and rig: the plan's ``lead_s``, points of a ``contact``; ``second`` and ``pushes``
    each with a least and a largest value, the clock of the match to come, between which leads one may be advised."""

    lead_s: float
    contact: float
    second: tuple[float, float] = (0.5, 1.0)
    pushes: tuple[float, float] = (0.1, 0.5)
    late_s: float = 0.0
    spread_s: float = 0.0
    least_s: float = 0.0
    most_s: float = math.inf


class CallHome(msgspec.Struct, frozen=True, kw_only=True):
    """What a choice of the lead of the call home takes; ``runs`` are the folders of the rounds that it rests on."""

    question: HomeQuestion
    times: HomeTimes
    records: Records
    seed: int
    runs: tuple[str, ...] = ()


class BreakOff(msgspec.Struct, frozen=True, kw_only=True):
    """What a choice of the lead to break off takes; ``followed`` is None where nothing tells it, and 1 is assumed.
    ``runs`` are the folders of the rounds that it rests on."""

    question: Question
    times: Times
    records: Records
    seed: int
    followed: Followed | None = None
    runs: tuple[str, ...] = ()


def break_off_question(
    rows: Sequence[Row], terms: Terms, *, today: date, plan: str = "", lead: str = "", events: Iterable[date] = ()
) -> BreakOff:
    """Return what ``choose`` takes for the lead to break off, from the rows of one game.

    ``lead`` is the id of the lead in ``plan`` (its name): by both it is known when leads were last changed. ``events``
    are the dates of events; those that are over count for nothing.
    """
    pushes = pushed(rows)
    follows = followed(pushes)
    settled = settled_for(rows, plan, {lead: terms.lead_s})
    question = Question(
        lead_s=terms.lead_s, contact=terms.contact, second=terms.second, pushes=terms.pushes,
        pushes_seen=pushes_seen(rows), late_s=terms.late_s, spread_s=terms.spread_s, least_s=terms.least_s,
        most_s=terms.most_s, follows=1.0 if follows is None else follows.value,
        follows_spread=0.0 if follows is None else follows.spread,
        lag=_lag(rows),
    )  # fmt: skip
    return BreakOff(
        question=question, times=break_off_times(pushes), seed=seed_of(rows), followed=follows,
        records=records_of(rows, pushes, today=today, events=events, evenings_since_change=settled),
        runs=tuple(row.folder for row in pushes),
    )  # fmt: skip


def home_question(
    rows: Sequence[Row],
    terms: HomeTerms,
    *,
    today: date,
    plan: str = "",
    lead: str = "",
    events: Iterable[date] = (),
) -> CallHome | None:
    """Return what ``choose_home`` takes for the lead of the call home, from the rows of one game; None if of no round
    anybody knows when the robot turned or was home. Arguments as in ``break_off_question``."""
    told = came_home(rows)
    turns = [row for row in usable(rows) if row.turn_at_least_s is not None]
    times = _home_times(told, turns, pushed(rows))
    if times is None:
        return None
    settled = settled_for(rows, plan, {lead: terms.lead_s})
    return CallHome(
        question=HomeQuestion(**msgspec.structs.asdict(terms), lag=_lag(rows)),
        times=times, seed=seed_of(rows), runs=tuple(row.folder for row in told),
        records=records_of(rows, told, today=today, events=events, evenings_since_change=settled, unknown=_way_unknown),
    )  # fmt: skip


def came_home(rows: Iterable[Row]) -> tuple[Row, ...]:
    """Return the usable rows that tell a way home: of the rounds with set-ups, where there are any."""
    told = [row for row in usable(rows) if row.way_at_least_s is not None and row.home]
    dealt = tuple(row for row in told if row.setup)
    return dealt or tuple(told)


def usable(rows: Iterable[Row]) -> tuple[Row, ...]:
    """Return the rounds and matches that tell how a call is answered, in their order."""
    return tuple(
        row for row in rows
        if row.kind in PLAYED and row.counted and not row.half_speed and row.draw_out in ("", NONE_DRAWN)
    )  # fmt: skip


def _home_times(told: Sequence[Row], turns: Sequence[Row], pushes: Sequence[Row]) -> HomeTimes | None:
    turned, off = turn_times(turns), break_off_times(pushes)
    held = [of for of in (turned, off) if any(map(math.isfinite, of.highs_s))]
    if not held or not any(row.way_at_most_s is not None for row in told):
        return None
    longest = max(held, key=_middle)
    setups = {row.setup: [one for one in told if one.setup == row.setup] for row in told}
    return HomeTimes(
        held=longest, by_push=longest is off, half_returns=sum(row.home == HALF for row in told),
        ways={setup: _times(_full(row) for row in of) for setup, of in setups.items()},
        halves={setup: _times(_half(row) for row in of) for setup, of in setups.items()},
    )  # fmt: skip


def _full(row: Row) -> _Known:
    """Return the time until a robot was all home: if it was half home it would have taken longer."""
    if row.home == HALF:
        return row.way_at_most_s or 0.0, None, row.evening, False
    return row.way_at_least_s or 0.0, row.way_at_most_s, row.evening, _is_late(row)


def _half(row: Row) -> _Known:
    """Return the time until a robot was at least half home: if it was all home it had taken less."""
    if row.home == HOME:
        return 0.0, row.way_at_most_s, row.evening, _is_late(row)
    return row.way_at_least_s or 0.0, row.way_at_most_s, row.evening, _is_late(row)


def _is_late(row: Row) -> bool:
    """Return whether a scribe's lag is in a way: where the turn was marked by the same hand it is in neither."""
    return row.home_by == _AS_IT_HAPPENED != row.turn_by


def _middle(times: Times) -> float:
    return statistics.median(high for high in times.highs_s if math.isfinite(high))


def _way_unknown(row: Row) -> bool:
    return row.way_at_most_s is None and not row.way_at_least_s


def pushed(rows: Iterable[Row]) -> tuple[Row, ...]:
    """Return the usable rows whose call found a push of ours."""
    return tuple(row for row in usable(rows) if row.push_at_call and row.break_off_at_least_s is not None)


def break_off_times(rows: Sequence[Row]) -> Times:
    """Return the times from the call to the end of the push that it found."""
    return _times(
        (row.break_off_at_least_s or 0.0, row.break_off_at_most_s, row.evening, by_scribe(row)) for row in rows
    )


def turn_times(rows: Sequence[Row]) -> Times:
    """Return the times from the call to the turn."""
    return _times(
        (row.turn_at_least_s or 0.0, row.turn_at_most_s, row.evening, row.turn_by == _AS_IT_HAPPENED) for row in rows
    )


def by_scribe(row: Row) -> bool:
    """Return whether a scribe marked the end of a round's push as it happened, and so some tenths of a second late."""
    return row.break_off_by == _AS_IT_HAPPENED


def pushes_seen(rows: Iterable[Row]) -> tuple[int, int] | None:
    """Return in how many matches the call found a push of ours, and in how many that is known; None for none."""
    known = [row.push_at_call for row in usable(rows) if row.kind != "drill" and row.push_at_call is not None]
    return (sum(known), len(known)) if known else None


def followed(rows: Sequence[Row]) -> Followed | None:
    """Return how far drivers break off earlier at an earlier call: 1 less the slope of their times on what the lot
    shifted the call by, within evenings; None without two evenings of eight such pushes.

    Drivers who use the time up end a push when they always did: a second more from a call that comes a second earlier.
    """
    known = [
        (row.shift_s, row.break_off_at_most_s, row.evening)
        for row in pushed(rows)
        if row.shift_s is not None and row.break_off_at_most_s == row.break_off_at_least_s is not None
    ]
    places = [shift for shift, _, _ in known if shift is not None]
    values = [time for _, time, _ in known if time is not None]
    evenings = [evening for _, _, evening in known]
    slope = slope_within_evenings(places, values, evenings)
    if slope is None:
        return None
    value, low, high = (min(1.0, max(0.0, 1 - part)) for part in (slope.value, slope.high, slope.low))
    return Followed(value, low, high, len(known), slope.n)


def _push_unknown(row: Row) -> bool:
    return row.break_off_at_most_s is None


def records_of(
    rows: Sequence[Row],
    used: Sequence[Row],
    *,
    today: date,
    events: Iterable[date] = (),
    evenings_since_change: int | None = None,
    unknown: Callable[[Row], bool] = _push_unknown,
) -> Records:
    """Return what a season's records are like: of all ``rows`` that were played at full speed, and of the ``used``, of
    some of which the time is ``unknown``."""
    played = [row for row in rows if row.kind in PLAYED and not row.half_speed]
    spreads = [row.clock_spread_ms / _MS_PER_S for row in used if row.clock_spread_ms is not None]
    days = [(event - today).days for event in events]
    return Records(
        pushes=len(used),
        evenings=len({row.evening for row in used}),
        old=_share(_is_old(row, today) for row in used),
        unknown=_share(map(unknown, used)),
        uncounted=_share(not row.counted for row in played),
        rounds=len(played),
        clock_spread_s=math.sqrt(math.fsum(one * one for one in spreads) / len(spreads)) if spreads else 0.0,
        days_to_event=min((day for day in days if day >= 0), default=None),
        evenings_since_change=evenings_since_change,
    )


def settled_for(rows: Iterable[Row], plan: str, leads_s: Mapping[str, float]) -> int | None:
    """Return on how many evenings a plan was played since one of its leads was changed, 0 if the file has other leads
    (``leads_s``) than were ever played; None if none was changed. Rounds at a shifted call tell no lead."""
    evenings: dict[str, dict[str, float]] = {}
    for row in sorted(rows, key=lambda row: row.wall):
        if row.plan == plan and row.leads_s and not row.shift_s:
            evenings[row.evening] = row.leads_s
    if not evenings:
        return None
    played = list(evenings.values())
    now = {**played[-1], **{lead: value for lead, value in leads_s.items() if lead in played[-1]}}
    return next((since for since, leads in enumerate(reversed(played)) if leads != now), None)


def seed_of(rows: Iterable[Row]) -> int:
    """Return a seed that rows share of which decisions read the same, wherever their folders lie, and whatever else a
    later version knows of them: so advice on the same rounds stays what it was."""
    return zlib.crc32(msgspec.json.encode([[getattr(row, name) for name in _SEEDED] for row in rows]))


def _lag(rows: Iterable[Row]) -> Lag:
    return lag_of([lag for row in rows for lag in row.scribe_lags_s])


def _times(known: Iterable[_Known]) -> Times:
    found = list(known)
    return Times(
        lows_s=tuple(low for low, _, _, _ in found),
        highs_s=tuple(math.inf if high is None else high for _, high, _, _ in found),
        evenings=tuple(evening for _, _, evening, _ in found),
        by_scribe=tuple(scribe for _, _, _, scribe in found),
    )


def _is_old(row: Row, today: date) -> bool:
    return bool(row.local) and (today - date.fromisoformat(row.local[:10])).days > OLD_DAYS


def _share(said: Iterable[bool]) -> float:
    known = list(said)
    return sum(known) / len(known) if known else 0.0
