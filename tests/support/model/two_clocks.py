"""Random lives of a match, lived by the program's clock and by the second model: seeded, the same for ever."""

import random
from collections import Counter
from dataclasses import dataclass
from functools import lru_cache
from typing import NamedTuple

from tests.support.model.compiled_games import cue as cue_of
from tests.support.model.compiled_games import match_of, plan_of
from tests.support.model.compiled_games import period as period_of
from tests.support.model.second_clock import Cue, Game, Moment, Period, SecondClock
from tocsin.model.clock.lifecycle import Lifecycle
from tocsin.model.clock.schedule import Schedule
from tocsin.model.compiler.compiler import compile_plan
from tocsin.model.game import Variant, Window
from tocsin.model.moment import Moment as Written
from tocsin.model.timeline.timeline import Point
from tocsin.units import NS_PER_MS as MS
from tocsin.units import NS_PER_S as S

TENTH = S // 10
PATTERNS = {"light": "glow", "sound": "beep", "rumble": "short"}
LASTS_NS = {"light": 3 * S, "sound": 250 * MS, "rumble": 300 * MS}
VARIANTS = ("v0", "v1")
START_NS = 1000 * S


@dataclass(frozen=True)
class Life:
    """A game, its cues and windows in the second model's terms, and what is done: (time, verb, argument)."""

    periods: tuple
    cues: tuple
    windows: tuple
    deeds: tuple
    rate: float = 1.0


# -- drawing ----------------------------------------------------------------------------------------------------------


def random_life(seed):
    """Return the life of a seed. Lengths are tenths of a second, what people do lies beside them."""
    rng = random.Random(seed)
    while True:
        periods = _periods(rng)
        game = Game(periods)
        cues = tuple(_cue(rng, periods, n) for n in range(rng.randint(1, 5)))
        windows = tuple((_moment(rng, periods), _moment(rng, periods, marks=True)) for _ in range(rng.randint(0, 2)))
        rate = rng.choice((1.0, 1.0, 0.5, 2.0))
        life = Life(periods, cues, windows, _deeds(rng, game, cues, rate), rate)
        if compiled(life) is not None:
            return life


def _periods(rng):
    periods = []
    for n in range(rng.randint(1, 4)):
        lasts_ns = rng.randint(10, 150) * TENTH
        if n and rng.random() < 0.1 and periods[-1].lasts_ns is not None:
            periods[-1] = Period(periods[-1].id, None, periods[-1].by_hand)
        periods.append(Period(f"p{n}", lasts_ns, by_hand=bool(n) and rng.random() < 0.4))
    if rng.random() < 0.3:
        periods.append(Period("settle", rng.randint(10, 50) * TENTH, settle=True))
    return tuple(periods)


def _moment(rng, periods, marks=False):
    if marks and rng.random() < 0.15:
        return Moment(f"m{rng.randint(0, 1)}", "begin", rng.randint(0, 50) * TENTH)
    place = rng.randrange(len(periods))
    lasts_ns = periods[place].lasts_ns
    within_ns = rng.randint(0, 150 if lasts_ns is None else lasts_ns // TENTH) * TENTH
    if lasts_ns is not None and rng.random() < 0.3:
        return Moment(place, "end", within_ns - lasts_ns)
    return Moment(place, "begin", within_ns)


def _cue(rng, periods, n):
    played = [period for period in periods if not period.settle]
    at = tuple(_moment(rng, played, marks=True) for _ in range(rng.choice((1, 1, 1, 2, 3))))
    form, until, every_ns = rng.random(), (), None
    if form < 0.55:
        until = tuple(_moment(rng, periods, marks=True) for _ in at)
        if rng.random() < 0.3:
            until = tuple(Moment(one.base, one.edge, one.offset_ns + rng.randint(1, 60) * TENTH) for one in at)
    elif form < 0.65:
        until = tuple(Moment(one.base, one.edge, one.offset_ns + rng.randint(5, 40) * TENTH) for one in at)
        every_ns = rng.randint(3, 15) * TENTH
    channels = tuple(rng.sample(("light", "sound", "rumble"), rng.randint(1, 2)))
    when = rng.choice(("", "", "", *VARIANTS))
    limit_ns = rng.choice((150, 150, 150, 1500)) * MS
    return Cue(f"c{n}", at, until, every_ns, channels, when, rng.random() < 0.5, limit_ns)


def _deeds(rng, game, cues, rate):
    now_ns = START_NS + rng.randint(0, S)
    ahead_ns = rng.choice((0, 0, 3 * S, 5 * S))
    point = ("match", 0)
    if rng.random() < 0.25:
        place = rng.randrange(len(game.periods))
        point = game.point(Moment(place, "begin", rng.choice((0, 0, 10, 25)) * TENTH))
    deeds = [(now_ns, "start", (point, now_ns + ahead_ns, rate))]
    for _ in range(rng.randint(3, 18)):
        now_ns += rng.choice((rng.randint(1, 400) * MS, rng.randint(1, 4000) * MS, rng.randint(1, 15000) * MS))
        now_ns += rng.randint(1, 999_999)
        verb = rng.choice(("begin", "begin", "hold", "go_on", "correct", "correct", "correct", "choose", "mark", "mark",
                           "call", "call", "look", "scrap" if rng.random() < 0.1 else "begin"))  # fmt: skip
        argument = {
            "begin": now_ns + rng.choice((0, 0, -200 * MS, 3 * S)),
            "correct": rng.choice((-1, 1)) * rng.choice((10 * MS, 200 * MS, 200 * MS, 700 * MS, 3 * S)),
            "choose": rng.choice(VARIANTS),
            "mark": (f"m{rng.randint(0, 1)}", now_ns - rng.choice((0, 0, 150 * MS, S))),
            "call": rng.choice(cues).id,
        }.get(verb)
        deeds.append((now_ns, verb, argument))
    deeds.append((now_ns + 90 * S, "look", None))
    return tuple(deeds)


# -- the program's clock ----------------------------------------------------------------------------------------------


@lru_cache(maxsize=10)
def compiled(life):
    """Return the life's timeline, or None where the plan has mistakes."""
    periods = [
        period_of(p.id, None if p.lasts_ns is None else p.lasts_ns / S, "settle" if p.settle else "driver", p.by_hand)
        for p in life.periods
    ]

    def written(moment):
        if isinstance(moment.base, str):
            return Written(f"mark.{moment.base}", "begin", offset_ns=moment.offset_ns)
        return Written(life.periods[moment.base].id, moment.edge, offset_ns=moment.offset_ns)

    windows = [
        Window(id=f"w{n}", title=f"W{n}", begins=(written(begin),), ends=(written(end),))
        for n, (begin, end) in enumerate(life.windows)
    ]
    cues = [
        cue_of(
            one.id, every_ns=one.every_ns, roles=("driver",), late_limit_ns=one.limit_ns, callable=one.callable,
            when=one.when, patterns={channel: PATTERNS[channel] for channel in one.channels},
        )
        for one in life.cues
    ]  # fmt: skip
    cues = [
        type(made)(**{**{name: getattr(made, name) for name in made.__struct_fields__},
                      "at": tuple(map(written, one.at)), "until": tuple(map(written, one.until))})
        for made, one in zip(cues, life.cues, strict=True)
    ]  # fmt: skip
    variants = tuple(Variant(id=one, title=one, default=one == VARIANTS[0]) for one in VARIANTS)
    timeline, _ = compile_plan(match_of(*periods, windows=windows, variants=variants), plan_of(*cues))
    return timeline


class ProgramClock:
    """Lifecycle and schedules, told and asked as conductor and workers do."""

    def __init__(self, timeline):
        self.timeline = timeline
        self.life = Lifecycle(timeline)
        segments = [segment.anchor for segment in timeline.segments]
        self.schedules = [Schedule([f for f in timeline.firings if f.channel == c], segments) for c in PATTERNS]
        self.log, self.skipped = [], set()
        self.now_ns = 0

    def do(self, now_ns, verb, argument):
        """Do one deed; return whether it was taken."""
        self.advance(now_ns)
        step = {
            "start": lambda: self.life.start(now_ns, argument[1], at=Point(*argument[0]), rate=argument[2]),
            "begin": lambda: self.life.begin(now_ns, origin_ns=argument),
            "hold": lambda: self.life.hold(now_ns),
            "go_on": lambda: self.life.resume(now_ns),
            "correct": lambda: self.life.nudge(now_ns, argument),
            "choose": lambda: self.life.choose(now_ns, argument),
            "mark": lambda: self.life.mark(now_ns, *argument),
            "call": lambda: self._call(now_ns, argument),
            "scrap": lambda: self.life.scrap(now_ns),
        }[verb]()
        self._tell()
        self._due(now_ns)
        return not step.refused

    def _call(self, now_ns, cue):
        gives = self.life.next_occurrence(now_ns, cue)
        step = self.life.call(now_ns, cue, now_ns)
        if not step.refused:
            for schedule in self.schedules:
                schedule.give(gives)
        return step

    def _tell(self):
        for schedule in self.schedules:
            schedule.withdraw()
            schedule.choose(self.life.variant)
            if self.life.phase in ("waiting", "running", "over"):
                for origin in self.life.origins:
                    schedule.set_origin(origin)

    def advance(self, to_ns):
        """Let time pass until ``to_ns``."""
        while True:
            boundary_ns = self.life.next_boundary_ns()
            times = [ns for ns in (boundary_ns, *(one.next_ns() for one in self.schedules)) if ns is not None]
            at_ns = max(self.now_ns, min(times, default=to_ns))
            if at_ns >= to_ns:
                break
            self.now_ns = at_ns
            if boundary_ns is not None and boundary_ns <= at_ns:
                self.life.boundary(at_ns)
            self._due(at_ns)
        self.now_ns = to_ns
        boundary_ns = self.life.next_boundary_ns()
        if boundary_ns is not None and boundary_ns <= to_ns:
            self.life.boundary(to_ns)
        self._due(to_ns)

    def _due(self, now_ns):
        for schedule in self.schedules:
            for order in schedule.due(now_ns):
                firing = order.shot.firing
                what = {"begin": "played", "resume": "resumed", "end": "off"}.get(order.verb)
                if order.verb == "skip":
                    self.skipped.add((firing.cue, firing.n, firing.channel, order.shot.instance))
                if what is not None and (what != "off" or firing.sustained):
                    self.log.append((now_ns, what, firing.cue, firing.n, firing.channel))


# -- side by side -----------------------------------------------------------------------------------------------------


def second_of(life):
    """Return the second model at the begin of a life."""
    game = Game(life.periods)
    firings = [firing for cue in life.cues for firing in game.firings(cue)]
    windows = [(f"w{n}.1", game.point(begin), game.point(end)) for n, (begin, end) in enumerate(life.windows)]
    return SecondClock(game, firings, windows, variant=VARIANTS[0], lasts_ns=LASTS_NS, rate=life.rate)


class Lived(NamedTuple):
    """What first differed between the clocks, or nothing, and how often the program met what."""

    difference: str
    met: Counter


def lived(life):
    """Live a life on both clocks."""
    program = ProgramClock(compiled(life))
    met = Counter()
    found = _difference(life, program, second_of(life), met)
    met.update(what for _, what, *_ in program.log)
    met["skipped"] += len(program.skipped)
    met["mid-match"] += life.deeds[0][2][0] != ("match", 0)
    met["open"] += any(period.lasts_ns is None for period in life.periods)
    met["over"] += program.life.phase == "over"
    return Lived(found, met)


def _difference(life, program, second, met):
    for now_ns, verb, argument in life.deeds:
        program.advance(now_ns)
        second.advance(now_ns)
        if verb != "look":
            arguments = argument if verb in ("start", "mark") else () if argument is None else (argument,)
            taken = program.do(now_ns, verb, argument), getattr(second, verb)(*arguments)
            met[verb] += taken[0]
            if taken[0] != taken[1]:
                return f"{now_ns} {verb} {argument}: taken by (program, second): {taken}"
        logs = sorted(program.log), sorted(second.log)
        if logs[0] != logs[1]:
            only = sorted(set(logs[0]) - set(logs[1])), sorted(set(logs[1]) - set(logs[0]))
            return f"by {now_ns} {verb} {argument}: only program {only[0]}, only second {only[1]}"
        if program.life.phase != second.phase:
            return f"by {now_ns} {verb}: {program.life.phase}, second {second.phase}"
        if second.phase in ("running", "held", "over"):
            reading = program.life.reading(now_ns)
            found = (reading.period, reading.awaits, reading.windows, reading.ended)
            if found != second.holds():
                return f"at {now_ns} {verb} {argument}: {found}, second {second.holds()}"
    if program.skipped != second.skipped:
        return f"skipped: {sorted(program.skipped - second.skipped)}, {sorted(second.skipped - program.skipped)}"
    return ""
