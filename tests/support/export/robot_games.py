"""Random plans for robot code, and random lives of a robot's program: seeded, so that each number is the same for ever.

The short builders are the compiler's own tests'; what is drawn here is rich in what robot code has to get right: late
limits, holds, repeats, calls, variants, periods begun by hand or of open length, ends between two milliseconds.
"""

import random

from msgspec.structs import replace

from tests.support.export.exported_plans import source
from tests.support.model.compiled_games import PATTERNS, plan_of
from tocsin.errors import MistakeError
from tocsin.export.robot.flashing import refuse_flashing
from tocsin.export.robot.table import table_of
from tocsin.model.compiler.compiler import compile_plan
from tocsin.model.game import Game, Period, Variant
from tocsin.model.moment import Moment
from tocsin.model.pattern import LightPattern, RumblePattern, RumbleStep, SoundPattern, SoundStep
from tocsin.model.plan import ROLES, Cue
from tocsin.units import NS_PER_MS as MS
from tocsin.units import NS_PER_S as S

NASTY = ("plain", 'say "home"', "back\\slash \\u0041 \\n", "end */ here /* there", "??/ ??= %d %s", "höme ホーム 🏠",
         "a\\", "'''", '"""', "@CLASS@ @WORDS@", "// #", "\\u000a\\u0022", "{0}", "*")  # fmt: skip
RUMBLES = {
    **PATTERNS.rumble,
    "soft": RumblePattern(steps=(RumbleStep(weak=0.3, lasts_ns=120 * MS), RumbleStep(weak=0.004, lasts_ns=80 * MS))),
    "ramp": RumblePattern(steps=tuple(RumbleStep(strong=k / 7, weak=1 - k / 7, lasts_ns=70 * MS) for k in range(8))),
    "drawn_out": RumblePattern(steps=(RumbleStep(strong=1.0, lasts_ns=2600 * MS), RumbleStep(lasts_ns=900 * MS))),
}
WHITE, YELLOW, BLUE = (255, 255, 255), (240, 228, 66), (0, 114, 178)
LIGHTS = {
    "plain": LightPattern(form="plain", colours=(BLUE,), lasts_ns=2 * S, level=0.5),
    "swell": LightPattern(form="swell", colours=(YELLOW,), lasts_ns=3 * S, cycle_ns=2 * S),
    "on_off": LightPattern(form="on_off", colours=(WHITE, BLUE), lasts_ns=5 * S, cycle_ns=1501 * MS, level=0.3),
    "shuttle": LightPattern(form="shuttle", colours=(YELLOW,), lasts_ns=4 * S, cycle_ns=2 * S, width=0.2),
    "queue": LightPattern(form="queue", colours=(WHITE, BLUE), lasts_ns=4 * S, cycle_ns=2 * S, width=0.15, level=0.3),
    "ebb": LightPattern(form="ebb", colours=(WHITE,), lasts_ns=6 * S, level=0.3),
    "bands": LightPattern(form="bands", colours=(WHITE, BLUE), lasts_ns=300 * MS, width=0.2),
    "apart": LightPattern(form="apart", colours=(WHITE, BLUE), lasts_ns=1234 * MS, width=0.33),
}
TUNES = {
    "beep": SoundPattern(steps=(SoundStep(hz=750.0, lasts_ns=250 * MS),)),
    "rise": SoundPattern(
        steps=(SoundStep(hz=659.2551, to_hz=1046.5, level=0.5, lasts_ns=180 * MS), SoundStep(lasts_ns=60 * MS)), times=3
    ),
    "fall": SoundPattern(steps=(SoundStep(hz=1000.0, to_hz=400.0, lasts_ns=333 * MS),)),
}
MOST_FIRINGS = 250


def random_source(seed):
    """Return the source of the seed's plan; drawings that do not compile are drawn again."""
    rng = random.Random(seed)
    while True:
        game = _game(rng)
        plan = replace(
            plan_of(*(_cue(rng, game, n) for n in range(rng.randint(1, 7)))),
            name=rng.choice(NASTY),
            patterns=replace(PATTERNS, rumble=RUMBLES, light=LIGHTS, sound=TUNES),
        )
        timeline, _ = compile_plan(game, plan)
        if timeline is not None and len(timeline.firings) <= MOST_FIRINGS:
            return _lit(random.Random(f"light {seed}"), source(game, plan))


def _lit(rng, plain):
    """Return a source with light and tones on some of its cues, of which no flash is refused."""
    for share in (0.6, 0.3, 0.15, 0.0):
        cues = tuple(_with_light(rng, cue, share) for cue in plain.plan.cues)
        timeline, _ = compile_plan(plain.game, replace(plain.plan, cues=cues))
        if timeline is None or len(timeline.firings) > 2 * MOST_FIRINGS:
            continue
        made = source(plain.game, replace(plain.plan, cues=cues))
        try:
            refuse_flashing(made, table_of(made))
        except MistakeError:
            continue
        return made
    return plain


def _with_light(rng, cue, share):
    more = {}
    if rng.random() < share:
        more["light"] = rng.choice(list(LIGHTS))
    if rng.random() < share:
        more["sound"] = rng.choice(list(TUNES))
    return replace(cue, patterns={**cue.patterns, **more})


def _ns(rng, most_ns):
    """A length up to ``most_ns``, mostly in whole milliseconds."""
    ns = rng.randint(1, most_ns)
    return ns if rng.random() < 0.2 else max(ns // MS, 1) * MS


def _game(rng):
    count = rng.randint(1, 4)
    periods = []
    for n in range(count):
        lasts_ns = None if n + 1 < count and rng.random() < 0.15 else _ns(rng, 30 * S)
        by_hand = n > 0 and rng.random() < 0.25
        kind = rng.choice(["autonomous", "pause", "driver"])
        periods.append(Period(id=f"p{n}", kind=kind, title=rng.choice(NASTY), lasts_ns=lasts_ns, by_hand=by_hand))
    if rng.random() < 0.5:
        by_hand = rng.random() < 0.2
        periods.append(Period(id="settle", kind="settle", title="Settle", lasts_ns=_ns(rng, 4 * S), by_hand=by_hand))
    default = rng.randint(0, 3)
    variants = tuple(Variant(id=f"v{n}", title="V", default=n == default) for n in range(rng.randint(0, 3)))
    return Game(
        name=rng.choice(NASTY), periods=tuple(periods), variants=variants,
        digits=rng.choice(["ceil", "floor"]), counts=rng.choice(["period", "match"]),
    )  # fmt: skip


def _moment(rng, periods):
    if rng.random() < 0.06:
        return Moment("mark.m", "begin", offset_ns=_ns(rng, 5 * S))
    chosen = rng.choice(periods)
    most_ns = chosen.lasts_ns or 20 * S
    within_ns = rng.choice([0, most_ns, most_ns // 2, _ns(rng, most_ns), _ns(rng, most_ns), _ns(rng, most_ns)])
    if chosen.lasts_ns is not None and rng.random() < 0.5:
        return Moment(chosen.id, "end", offset_ns=within_ns - chosen.lasts_ns)
    return Moment(chosen.id, "begin", offset_ns=within_ns)


def _end_of(rng, periods, begin):
    if rng.random() < 0.2:
        return _moment(rng, periods)
    return Moment(begin.base, begin.edge, begin.span, begin.offset_ns + _ns(rng, 6 * S))


def _cue(rng, game, number):
    played = [period for period in game.periods if period.kind != "settle"]
    at = tuple(dict.fromkeys(_moment(rng, played) for _ in range(rng.choice([1, 1, 2, 3]))))
    form = rng.choice(["one-shot", "one-shot", "sustained", "sustained", "repeated"])
    until = () if form == "one-shot" else tuple(_end_of(rng, game.periods, begin) for begin in at)
    patterns = {"rumble": rng.choice(list(RUMBLES))} if rng.random() < 0.9 else {"screen": "word"}
    callable = rng.random() < 0.4
    if callable and rng.random() < 0.15:
        at, until, form = (), until[:1], "one-shot"
    return Cue(
        id=f"c{number}", at=at, until=until, every_ns=rng.randint(60 * MS, 3 * S) if form == "repeated" else None,
        roles=tuple(rng.sample(ROLES, rng.randint(1, 3))), patterns=patterns, say=rng.choice([*NASTY, ""]),
        late_limit_ns=rng.choice([10 * MS, 150 * MS, 150 * MS, 1500 * MS, 10 * S, _ns(rng, 2 * S)]),
        priority=rng.randint(0, 9), callable=callable,
        when=rng.choice(["", "", *(variant.id for variant in game.variants)]), why=rng.choice(NASTY),
    )  # fmt: skip


# -- lives of a program -----------------------------------------------------------------------------------------------

# One line each: an operation and three whole numbers.
#   p period ms | c cue now_ms | v variant | r variant | l | o period ms shown_s | b role ms | L role now_ms
#   H now_ms leds (what the strip shows) | T now_ms (the tone)
#   on one clock: B now_ms (a press) | R now_ms (in place of p) | S now_ms shown_s | W now_ms (waits, over, ms)
Deed = tuple[str, int, int, int]
LEDS = (0, 1, 2, 5, 8, 30)


class Life:
    """What one robot's program does, from its start on, as a list of deeds."""

    def __init__(self, rng, timeline, roles, cues, callable):
        self._rng = rng
        self._timeline = timeline
        self._roles = roles
        self._cues = cues
        self._callable = callable
        self._now_ms = rng.choice([0, 5_000, (1 << 31) - 2_000])       # the last of them wraps soon
        self._began_ms = self._now_ms
        self.deeds: list[Deed] = []

    def lead(self):
        """Return the deeds of a whole life."""
        rng, periods = self._rng, self._timeline.periods
        if rng.random() < 0.3:
            self._add("r", rng.randint(-2, len(self._timeline.variants)))
        if rng.random() < 0.05:
            self._add("l")
        first = rng.randrange(len(periods))
        for place in range(first, len(periods)):
            if place > first and rng.random() < 0.25:
                continue                               # stays in the one before, or misses this one
            self._in_period(place, rng.random() < 0.5)
        return self.deeds

    def lead_by_button(self):
        """Return the deeds of a life on one clock: a start button, polls, perhaps presses at the official display."""
        rng = self._rng
        if rng.random() < 0.3:
            self._add("r", rng.randint(-2, len(self._timeline.variants)))
        if rng.random() < 0.15:
            self._add("l")
        marks = sorted({
            ms + rng.choice([-1, 0, 1, 19]) for place in range(len(self._timeline.periods))
            for ms in self._marks_on_one_clock(place)
        })  # fmt: skip
        for _ in range(rng.randint(20, 120)):
            step = rng.random()
            if step < 0.5:
                self._now_ms = _wrapped(self._now_ms + rng.choice([0, 1, 5, 20, 20, 21, 33, 150, 1000, 4000]))
            elif step < 0.6 and marks:
                ahead_ms = rng.choice(marks)
                self._now_ms = _wrapped(self._began_ms + ahead_ms)
            self._add("R", self._now_ms)
            if rng.random() < 0.12:
                self._add("B", self._now_ms)
                self._began_ms = _wrapped(self._now_ms - 250)
            if rng.random() < 0.3:
                self._add("W", self._now_ms)
            if rng.random() < 0.1:
                self._add("S", self._now_ms, rng.choice([*[rng.randint(0, 35)] * 4, -1, 1000, (1 << 31) - 1]))
            if rng.random() < 0.04:
                self._add("l")
            if rng.random() < 0.05:
                self._add("v", rng.randint(-1, len(self._timeline.variants)))
            if rng.random() < 0.1 and self._callable:
                self._add("c", rng.choice(self._callable), self._now_ms)
            for role in range(self._roles):
                if rng.random() < 0.4:
                    self._add("L", role, self._now_ms)
            if rng.random() < 0.7:
                self._add("H", self._now_ms, rng.choice(LEDS))
            if rng.random() < 0.4:
                self._add("T", self._now_ms)
        return self.deeds

    def _marks_on_one_clock(self, place):
        slot = self._timeline.periods[place]
        found = [slot.begin_ns // MS, (slot.end_ns or slot.begin_ns) // MS]
        return [*found, *(slot.begin_ns // MS + ms for ms in self._interesting_ms(place))]

    def _in_period(self, place, from_begin):
        rng = self._rng
        marks = self._interesting_ms(place)
        ms = 0 if from_begin else rng.randint(0, max(marks))
        for _ in range(rng.randint(4, 25)):
            ahead = [mark for mark in marks if mark > ms]
            form = rng.random()
            if form < 0.35 and ahead:
                ms = ahead[0] + rng.choice([-1, 0, 0, 1, 7, 19])
            elif form < 0.45 and ahead:
                ms = rng.choice(ahead)                 # polls were skipped
            elif form < 0.55:
                ms = max(0, ms - rng.choice([0, 1, 15, 400, 4000, 5000, 5001, 20_000]))      # held, or begun anew
            else:
                ms += rng.choice([0, 1, 5, 20, 20, 21, 33, 150, 1000])
            ms = max(ms, 0)
            self._add("p", place, ms)
            self._pads(ms)
            self._events(place, ms)

    def _pads(self, ms):
        rng = self._rng
        self._now_ms = _wrapped(self._now_ms + rng.choice([0, 1, 20, 20, 35, 90, 400, 2500]))
        for role in range(self._roles):
            if rng.random() < 0.5:
                self._add("b", role, ms + rng.choice([0, 0, 10, -10]))
            if rng.random() < 0.7:
                self._add("L", role, _wrapped(self._now_ms + rng.choice([0, 0, 0, -30])))
        if rng.random() < 0.6:
            self._add("H", self._now_ms, rng.choice(LEDS))
        if rng.random() < 0.5:
            self._add("T", self._now_ms)

    def _events(self, place, ms):
        rng = self._rng
        variants, periods = len(self._timeline.variants), len(self._timeline.periods)
        if rng.random() < 0.06:
            self._add("p", rng.choice([-1, periods, 99, -(1 << 31)]), ms)
        if rng.random() < 0.04:
            self._add("p", place, rng.choice([-1, -20, -(1 << 31)]))
        if rng.random() < 0.02:
            self._add("p", place, (1 << 31) - 1)
        if rng.random() < 0.05:
            self._add("p", rng.randrange(periods), ms)
        if rng.random() < 0.15:
            cue = rng.choice([*self._callable, *self._callable, rng.randint(-1, self._cues)])
            self._add("c", cue, self._now_ms)
            if rng.random() < 0.3:
                self._add("c", cue, _wrapped(self._now_ms + rng.choice([0, 999, 1000, 1001])))
        if rng.random() < 0.08:
            self._add("v", rng.randint(-1, variants))
        if rng.random() < 0.02:
            self._add("r", rng.randint(-2, variants))
        if rng.random() < 0.015:
            self._add("l")
        if rng.random() < 0.15:
            self._official(place, ms)
        if rng.random() < 0.03:
            for _ in range(rng.choice([48, 49, 50, 51, 55])):
                self._add("p", place, ms)              # about as long as a pattern waits for its level
            self._pads(ms)

    def _official(self, place, ms):
        rng = self._rng
        slot = self._timeline.periods[place]
        left_s = ((slot.end_ns or slot.begin_ns) - slot.begin_ns - ms * MS) // S
        shown_s = rng.choice([left_s, left_s, left_s, left_s + 1, left_s + 5, left_s - 5, 0, 3, 100, -1, (1 << 31) - 1])
        self._add("o", rng.choice([*[place] * 6, place + 1, -1]), rng.choice([*[ms] * 6, -5]), shown_s)
        self._pads(ms)

    def _interesting_ms(self, place):
        """Return the milliseconds of the period at which something changes, a while beyond its end too."""
        slot = self._timeline.periods[place]
        found = {0, 3000}
        for firing in self._timeline.firings:
            if firing.begin.anchor != slot.anchor:
                continue
            ends = [] if firing.until is None else [firing.until.offset_ns]
            due_ns = firing.begin.offset_ns
            for ns in (due_ns - 300 * MS, due_ns, due_ns + firing.late_limit_ns + MS, *ends):
                found.add(max(-(-(ns - slot.begin_ns) // MS), 0))
        return sorted(found)

    def _add(self, verb, *numbers):
        self.deeds.append((verb, *(*numbers, 0, 0, 0)[:3]))


def _wrapped(ms):
    """Return milliseconds as a clock of 32 bits shows them."""
    return (ms + (1 << 31)) % (1 << 32) - (1 << 31)


def lives(seed, timeline, table, count):
    """Return the seed's lives of a program with this table."""
    rng = random.Random(f"lives {seed}")
    callable = [number for number, cue in enumerate(table.cues) if cue.callable]
    made = [Life(rng, timeline, len(table.roles), len(table.cues) - 1, callable) for _ in range(count)]
    by_button = [Life(rng, timeline, len(table.roles), len(table.cues) - 1, callable) for _ in range(count // 2)]
    return [*(life.lead() for life in made), *(life.lead_by_button() for life in by_button)]
