"""Random plans for the box, seeded: short enough to be played whole on an emulated chip, and rich in what it must get
right: late limits, ends, repeats, overlaps, variants, periods begun by hand or of open length."""

import random

from msgspec.structs import replace

from tests.support.export.exported_plans import source
from tests.support.model.compiled_games import plan_of
from tocsin.errors import MistakeError
from tocsin.export.box.block import plan_block
from tocsin.model.compiler.compiler import compile_plan
from tocsin.model.game import Game, Period, Variant
from tocsin.model.moment import Moment
from tocsin.model.pattern import LightPattern, Patterns, RumblePattern, RumbleStep, SoundPattern, SoundStep
from tocsin.model.plan import ROLES, Cue
from tocsin.units import NS_PER_MS as MS
from tocsin.units import NS_PER_S as S

WHITE, PURPLE, YELLOW, BLACK = (255, 255, 255), (204, 121, 167), (240, 228, 66), (0, 0, 0)
PATTERNS = Patterns(
    rumble={
        "triple": RumblePattern(
            steps=(RumbleStep(strong=1.0, lasts_ns=150 * MS), RumbleStep(lasts_ns=90 * MS)), times=3
        ),
        "short": RumblePattern(steps=(RumbleStep(strong=1.0, weak=0.5, lasts_ns=200 * MS),)),
        "soft": RumblePattern(
            steps=(RumbleStep(weak=0.3, lasts_ns=120 * MS), RumbleStep(weak=0.004, lasts_ns=80 * MS))
        ),
        "ramp": RumblePattern(
            steps=tuple(RumbleStep(strong=k / 7, weak=1 - k / 7, lasts_ns=70 * MS) for k in range(8))
        ),
        "long": RumblePattern(steps=(RumbleStep(strong=0.8, lasts_ns=1400 * MS), RumbleStep(lasts_ns=300 * MS))),
    },
    light={
        "plain": LightPattern(form="plain", colours=(YELLOW,), lasts_ns=600 * MS, level=0.6),
        "swell": LightPattern(form="swell", colours=(YELLOW,), lasts_ns=S, cycle_ns=2 * S),
        "on_off": LightPattern(form="on_off", colours=(WHITE, BLACK), lasts_ns=S, cycle_ns=S, level=0.3),
        "shuttle": LightPattern(form="shuttle", colours=(PURPLE,), lasts_ns=S, cycle_ns=2 * S, width=0.3),
        "queue": LightPattern(form="queue", colours=(WHITE, BLACK), lasts_ns=S, cycle_ns=2 * S, width=0.25, level=0.3),
        "ebb": LightPattern(form="ebb", colours=(WHITE,), lasts_ns=S, level=0.5),
        "bands": LightPattern(form="bands", colours=(PURPLE, WHITE), lasts_ns=800 * MS, width=0.25),
        "apart": LightPattern(form="apart", colours=(WHITE,), lasts_ns=700 * MS, width=0.3),
    },
    sound={"beep": SoundPattern(steps=(SoundStep(hz=750.0, lasts_ns=100 * MS),))},
)  # fmt: skip


def random_box_source(seed, leds):
    """Return the source of the seed's plan, and its block for a strip of so many LEDs; what does not compile, would
    flash or does not fit is drawn again."""
    rng = random.Random(f"box {seed}")
    while True:
        game = _game(rng)
        plan = replace(plan_of(*(_cue(rng, game, n) for n in range(rng.randint(2, 7)))), patterns=PATTERNS)
        timeline, _ = compile_plan(game, plan)
        if timeline is None or not {"rumble", "light"} <= {firing.channel for firing in timeline.firings}:
            continue
        try:
            made = source(game, plan)
            return made, plan_block(made, leds=leds, order="RGB", max_ma=20_000, brightness=1.0)
        except MistakeError:
            continue


def _ns(rng, most_ns):
    ns = rng.randint(1, most_ns)
    return ns if rng.random() < 0.2 else max(ns // MS, 1) * MS


def _game(rng):
    count = rng.randint(1, 3)
    periods = []
    for n in range(count):
        lasts_ns = None if n + 1 < count and rng.random() < 0.15 else 300 * MS + _ns(rng, 2 * S)
        by_hand = n > 0 and rng.random() < 0.3
        periods.append(Period(id=f"p{n}", kind="driver", title="P", lasts_ns=lasts_ns, by_hand=by_hand))
    if rng.random() < 0.4:
        periods.append(Period(id="settle", kind="settle", title="Settle", lasts_ns=_ns(rng, S), by_hand=False))
    variants = tuple(Variant(id=f"v{n}", title="V", default=n == 1) for n in range(rng.choice([0, 0, 2])))
    return Game(
        name="Invented", periods=tuple(periods), variants=variants, digits=rng.choice(["ceil", "floor"]),
        counts=rng.choice(["period", "match"]),
    )  # fmt: skip


def _moment(rng, periods):
    chosen = rng.choice(periods)
    most_ns = chosen.lasts_ns or 2 * S
    within_ns = rng.choice([0, most_ns, *(_ns(rng, most_ns) for _ in range(5))])
    if chosen.lasts_ns is not None and rng.random() < 0.5:
        return Moment(chosen.id, "end", offset_ns=within_ns - chosen.lasts_ns)
    return Moment(chosen.id, "begin", offset_ns=within_ns)


def _end_of(rng, periods, begin):
    if rng.random() < 0.2:
        return _moment(rng, periods)
    return Moment(begin.base, begin.edge, begin.span, begin.offset_ns + _ns(rng, 2 * S))


def _cue(rng, game, number):
    played = [period for period in game.periods if period.kind != "settle"]
    at = tuple(dict.fromkeys(_moment(rng, played) for _ in range(rng.choice([1, 1, 2]))))
    form = rng.choice(["one-shot", "one-shot", "sustained", "repeated"])
    until = () if form == "one-shot" else tuple(_end_of(rng, game.periods, begin) for begin in at)
    patterns = {}
    if rng.random() < 0.8:
        patterns["rumble"] = rng.choice(list(PATTERNS.rumble))
    if rng.random() < 0.8 or not patterns:
        patterns["light"] = rng.choice(list(PATTERNS.light))
    if rng.random() < 0.3:
        patterns["sound"] = "beep"
    return Cue(
        id=f"c{number}", at=at, until=until, every_ns=rng.randint(300 * MS, S) if form == "repeated" else None,
        roles=tuple(rng.sample(ROLES, rng.randint(1, 3))), patterns=patterns, say="",
        late_limit_ns=rng.choice([10 * MS, 150 * MS, 150 * MS, 1500 * MS, _ns(rng, 2 * S)]),
        priority=rng.randint(0, 9), callable=rng.random() < 0.3,
        when=rng.choice(["", "", *(variant.id for variant in game.variants)]), why="",
    )  # fmt: skip
