"""Play whole seasons of simulated teams, from known truth to the rows that a review reads.

Rounds are dealt exactly as the program deals them. Equal worlds and seeds give equal seasons, whatever the version of
numpy (its ``RandomState`` never changes).
"""

import random
from collections.abc import Iterator
from datetime import UTC, datetime, timedelta, timezone
from typing import Any, NamedTuple

import numpy as np
from msgspec.structs import replace

from tests.support.analysis.season_rounds import (
    Outcome,
    Scribe,
    Stage,
    Times,
    deeds_of,
    match_stage,
    outcome,
    round_stage,
    touched,
)
from tests.support.analysis.season_worlds import PLAIN, Crew, World
from tests.support.analysis.seasons import evening_times
from tests.support.people.table_crew import ORIGIN_NS, Deeds, loaded
from tocsin.analysis.rounds.own_limit import own_limit
from tocsin.analysis.rounds.result import RoundResult
from tocsin.analysis.rounds.variation import Condition, conditions
from tocsin.analysis.seasons.row import Row
from tocsin.model.drill import CREWS
from tocsin.model.mark import Mark
from tocsin.units import NS_PER_S

_ZONE = timezone(timedelta(hours=1))
_FIRST = datetime(2031, 1, 7, 18, 30, tzinfo=_ZONE)        # a Tuesday; then Thursday, Tuesday ...
_ROUND = timedelta(minutes=3)
_MOST = 80                             # pushes of one driver on an evening
SO_FAR = 64                           # pushes behind a driver whose median is the one that the world says
_LEAST_S = 0.3                         # nobody breaks off sooner


class Truth(NamedTuple):
    """What truly happened in a run: how long the push that the call found took to end, in seconds (None: none was on),
    and whether our robot touched somebody in the window."""

    break_off_s: float | None
    touched: bool


class Season(NamedTuple):
    """Rows in the order in which they were played, with the truth of each."""

    rows: tuple[Row, ...]
    truths: tuple[Truth, ...]


def season_rows(world: World = PLAIN, seed: int = 1) -> tuple[Row, ...]:
    """Return the rows of a season."""
    return play_season(world, seed).rows


def play_season(world: World = PLAIN, seed: int = 1) -> Season:
    """Return a season with its truth."""
    played = list(_Team(world, seed).season())
    return Season(tuple(row for row, _ in played), tuple(truth for _, truth in played))


def play_truths(world: World, seed: int) -> Iterator[Truth]:
    """Yield the truth alone of a season's rounds at full speed, which nobody notes, drops or plays again: some times
    faster."""
    team = _Team(world, seed)
    for evening in range(world.evenings):
        team.begin(evening)
        yield from team.truths(world.drills[evening % len(world.drills)])


class _Team:
    """A team in the midst of its season."""

    def __init__(self, world: World, seed: int) -> None:
        self._world, self._seed = world, seed
        self._rng = random.Random(f"{seed} season")
        # It has all of a generator that is asked for here, and gives the same numbers for ever.
        generator: Any = np.random.RandomState(seed)
        self._noise = {
            crew.driver.key: evening_times(
                generator, world.evenings, _MOST, world.correlation, world=world.times, median_s=1.0,
                spread=crew.driver.spread,
            )
            for crew in world.crews
        }  # fmt: skip
        self._pushes = dict.fromkeys(self._noise, 0)
        self._evening = 0
        self._tonight = dict.fromkeys(self._noise, 0)
        self._battery = 0
        self._now = _FIRST
        self._scribe = Scribe()

    def season(self) -> Iterator[tuple[Row, Truth]]:
        """Yield the rows of all evenings, with their truth."""
        for evening in range(self._world.evenings):
            self.begin(evening)
            yield from self._drill(self._world.drills[evening % len(self._world.drills)])
            for matches in self._world.matches:
                if matches.evening == evening:
                    for number in range(matches.count):
                        yield self._match(number + 1, matches.at)

    def begin(self, evening: int) -> None:
        """Begin an evening, counted from 0."""
        world, rng = self._world, self._rng
        self._evening, self._battery = evening, 0
        self._tonight = dict.fromkeys(self._tonight, 0)
        week, place = divmod(evening, len(world.days))
        self._now = _FIRST + timedelta(days=7 * week + world.days[place], minutes=rng.randrange(15))
        lag_s = world.lag_s
        if world.own_scribe:
            middle_s = rng.uniform(*lag_s)
            lag_s = (middle_s - 0.05, middle_s + 0.05)
        self._scribe = Scribe(lag_s, world.lost, world.lost_wrong, world.never_ended)

    def truths(self, name: str) -> Iterator[Truth]:
        """Yield the truth of a drill's rounds at full speed."""
        for letter, condition in self._order(self._dealt(name, self._rng.randrange(1 << 31))):
            stage, times, deeds = self._drive(name, condition, self._crew(letter))
            self._battery += 1
            if not condition.half_speed:
                yield _truth(times, deeds, touched(stage, deeds))

    def _dealt(self, name: str, seed: int) -> dict[str, tuple[Condition, ...]]:
        drill = loaded(name).drill
        return {
            letter: conditions(drill, seed if letter == CREWS[0] else f"{seed} crew {letter}")
            for letter, _ in zip(CREWS, self._world.crews_on(self._evening), strict=False)
        }

    def _crew(self, letter: str) -> Crew:
        return self._world.crews_on(self._evening)[CREWS.index(letter)]

    def _drill(self, name: str) -> Iterator[tuple[Row, Truth]]:
        seed = self._rng.randrange(1 << 31)
        session = f"{self._day}-{name}-{seed}"
        dealt = self._dealt(name, seed)
        results: dict[str, list[RoundResult]] = {letter: [] for letter in dealt}
        for letter, condition in self._order(dealt):
            while True:
                row, truth, came_to = self._round(name, condition, self._crew(letter), own=results[letter])
                row = replace(row, session=session, seed=seed, crew=letter, kind="drill", at="practice")
                again = truth.touched and self._rng.random() < self._world.repeated
                if again or self._rng.random() < self._world.dropped:
                    yield replace(row, counted=False, taken_out="repeated" if again else "dropped"), truth
                else:
                    results[letter].append(came_to.result)
                    yield row, truth
                if not again:
                    break

    def _order(self, dealt: dict[str, tuple[Condition, ...]]) -> Iterator[tuple[str, Condition]]:
        """Yield whose turn it is, and that crew's next round."""
        longest = max(len(rounds) for rounds in dealt.values())
        step = 4 if self._world.swapped else longest
        for begin in range(0, longest, step):
            for letter, rounds in dealt.items():
                for condition in rounds[begin : begin + step]:
                    yield letter, condition

    def _round(
        self, name: str, condition: Condition, crew: Crew, own: list[RoundResult]
    ) -> tuple[Row, Truth, Outcome]:
        drill = loaded(name).drill
        stage, times, deeds = self._drive(name, condition, crew)
        limit = own_limit(own) if drill.clean.turned_own else None
        came_to = outcome(stage, condition, deeds, self._scribe, self._rng, own=limit)
        row = self._row(crew, came_to, drill=drill.name, round=condition.number, battery_rounds=self._battery)
        self._battery += 1
        return row, _truth(times, deeds, came_to.touched), came_to

    def _drive(self, name: str, condition: Condition, crew: Crew) -> tuple[Stage, Times, Deeds]:
        """Return what a round is played on, how long things truly take in it, and what the robot does."""
        drill = loaded(name).drill
        fresh = self._rng.randrange(2, 6) if self._world.uneven else drill.battery_rounds
        if fresh and self._battery >= fresh:
            self._battery = 0
        stage = round_stage(
            name, self._world.lead_on(self._evening), condition.shift_ns, condition.draw_out, condition.coach,
            points=self._world.points,
        )  # fmt: skip
        times = self._times(condition, crew, drill.vary.setups)
        return stage, times, deeds_of(stage, times, self._rng)

    def _match(self, number: int, at: str) -> tuple[Row, Truth]:
        world, rng = self._world, self._rng
        tonight = world.crews_on(self._evening)
        crew = tonight[(number - 1) % len(tonight)]
        stage = match_stage(world.plan, world.lead_on(self._evening))
        condition = Condition(number=0, half_speed=False)
        times = self._times(condition, crew, ())
        if rng.random() >= world.pushes:
            times = times._replace(break_off_s=None)
        came_to = outcome(
            stage, condition, deeds_of(stage, times, rng), self._scribe, rng, other_marks=_work(rng),
            clock_s=world.clock_s, error_ms=300,
        )  # fmt: skip
        known, us, them = at == "event", None, None
        if known:
            us, them = came_to.result.points.gain + rng.randrange(10, 40), rng.randrange(30, 90)
        self._now += timedelta(minutes=5)
        row = self._row(
            crew, came_to, kind="match", at=at, match=number if known else None, score_us=us, score_them=them,
            clock_spread_ms=150.0,
        )  # fmt: skip
        return row, Truth(times.break_off_s, came_to.touched)

    def _times(self, condition: Condition, crew: Crew, setups: tuple[str, ...]) -> Times:
        """Return what a round truly takes."""
        world, rng, key = self._world, self._rng, crew.driver.key
        tonight, so_far = self._tonight[key], self._pushes[key] + 1
        self._tonight[key] += 1
        self._pushes[key] += 1
        place = setups.index(condition.setup) if condition.setup else 0
        time_s = crew.driver.median_s * float(self._noise[key][self._evening, tonight])
        time_s *= (so_far / SO_FAR) ** np.log2(1 - world.doubling)
        time_s += world.fatigue_s * tonight + world.battery_s * self._battery
        time_s += (1 - world.follows) * condition.shift_ns / NS_PER_S
        time_s += world.setups_s[place % len(world.setups_s)] if world.setups_s else 0.0
        time_s -= world.calling_s if condition.coach == "calling" else 0.0
        time_s += world.match_s if not condition.number else 0.0
        for slow in world.slow:
            if (self._evening, condition.number, crew) == (slow.evening, slow.round, self._first):
                time_s *= slow.times
        return Times(
            break_off_s=max(_LEAST_S, float(time_s)),
            gap_s=0.4 * rng.lognormvariate(0, 0.3),
            way_s=world.ways_s[place % len(world.ways_s)] * rng.lognormvariate(0, 0.15),
            again_s=rng.uniform(2, 8) if rng.random() < world.again else None,
        )

    def _row(self, crew: Crew, came_to: Outcome, **rest: Any) -> Row:
        begin = self._now
        self._now += _ROUND
        return Row(**{
            "folder": f"{begin:%Y-%m-%d_%H%M%S}", "source": "", "outcome": "over", "evening": self._day,
            "wall": begin.astimezone(UTC).isoformat(timespec="milliseconds").replace("+00:00", "Z"),
            "local": begin.isoformat(timespec="milliseconds"), "clock_spread_ms": 0.0,
            "people": {"driver": crew.driver.key, "operator": crew.operator}, **came_to.fields, **rest,
        })  # fmt: skip

    @property
    def _first(self) -> Crew:
        return self._world.crews_on(self._evening)[0]

    @property
    def _day(self) -> str:
        return f"{self._now:%Y-%m-%d}"


def _truth(times: Times, deeds: Deeds, did_touch: bool) -> Truth:
    return Truth(times.break_off_s if deeds.pushes and deeds.turned_s is not None else None, did_touch)


def _work(rng: random.Random) -> tuple[Mark, ...]:
    """Return the marks of what a robot does in a match beside pushing: moulds filled, bells rung."""
    labels = ["mould"] * rng.randrange(1, 5) + ["rung"] * rng.randrange(1, 7)
    at_s = (rng.uniform(45, 112) for _ in labels)
    return tuple(
        Mark(label=label, begin_ns=ORIGIN_NS + round(at * NS_PER_S)) for label, at in zip(labels, at_s, strict=True)
    )
