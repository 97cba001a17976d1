"""A plan whose cues can be told from each other by strength and colour, and random lives with resets in them."""

import random
from typing import NamedTuple

from tests.support.export.exported_plans import source
from tests.support.firmware.box import RESYNC, START, ns
from tests.support.firmware.chip import BROWN_OUT, EXTERNAL, POWER, WATCHDOG
from tests.support.model.compiled_games import plan_of
from tocsin.export.box.block import plan_block
from tocsin.model.game import Game, Period
from tocsin.model.moment import Moment
from tocsin.model.pattern import LightPattern, Patterns, RumblePattern, RumbleStep
from tocsin.model.plan import Cue
from tocsin.units import NS_PER_MS as MS

LEDS = 2
LASTS_MS = 31_000                     # the display shows 0:30 a second after the begin
SHOWS_30_MS = 1000
LATE_MS = 250
DUE_MS = (400, 640, 900, 1010, 1130, 1300, 1620, 1900, 2300)
UNTIL_MS = {1010: 1800}               # a light that holds: it may show again for what is left of it
PRESS_MS = 700.8
HELD_MS = 100


def strength(number):
    """Return the strong motor's percent of a cue; the weak one is only the pulse of a lost clock."""
    return 20 + 8 * number


def colour(number):
    """Return the light of a cue: so dim that no flash guard holds it back."""
    return (1, 1, 10 + 6 * number)


def reset_source():
    """Return the plan's source."""
    game = Game(name="Invented", periods=(Period(id="driver", kind="driver", title="D", lasts_ns=LASTS_MS * MS),))
    rumble = {
        f"r{n}": RumblePattern(steps=(RumbleStep(strong=strength(n) / 100, lasts_ns=60 * MS),))
        for n in range(len(DUE_MS))
    }
    light = {
        f"l{n}": LightPattern(form="plain", colours=(colour(n),), lasts_ns=100 * MS) for n in range(len(DUE_MS))
    }
    cues = [
        Cue(
            id=f"c{n}", at=(Moment("driver", "begin", offset_ns=due_ms * MS),), roles=("driver",), say="", why="",
            until=(Moment("driver", "begin", offset_ns=UNTIL_MS[due_ms] * MS),) if due_ms in UNTIL_MS else (),
            patterns={"rumble": f"r{n}", "light": f"l{n}"}, priority=n,
            late_limit_ns=(1500 if n % 2 else 150) * MS, callable=due_ms == 1300,
        )
        for n, due_ms in enumerate(DUE_MS)
    ]  # fmt: skip
    return source(game, plan_of(*cues, patterns=Patterns(rumble=rumble, light=light)))


def reset_block():
    """Return the plan's block."""
    return plan_block(reset_source(), leds=LEDS, order="RGB", max_ma=20_000, brightness=1.0)


class Lived(NamedTuple):
    """What befell a box: the resets in ms with their causes (None: the power went), when resync was pressed, how long
    it lasted."""

    resets: list
    resync_ms: float | None
    end_ms: float


def befall(seed, hands):
    """Write the seed's life into a script: a start, one to four resets at random moments, a resync pressed as the
    display changes to 0:30 and up to 0.1 s late."""
    rng = random.Random(f"resets {seed}")
    began_ms = PRESS_MS - LATE_MS
    count = rng.choice([1, 1, 1, 2, 3, 4])
    moments_ms = sorted(PRESS_MS + 30 + rng.random() * 2000 for _ in range(count))
    resets = [(at_ms, rng.choice([BROWN_OUT, BROWN_OUT, WATCHDOG, EXTERNAL, 0])) for at_ms in moments_ms]
    if rng.random() < 0.15:
        place = rng.randrange(count)
        resets[place] = (moments_ms[place], rng.choice([None, None, POWER, POWER | BROWN_OUT]))
    resync_ms = began_ms + SHOWS_30_MS + LATE_MS + rng.random() * 100
    hands_at = [
        (at_ms + held_ms, (pin, int(held_ms > 0)))
        for at_ms, pin in ((PRESS_MS, START), (resync_ms, RESYNC)) for held_ms in (0, HELD_MS)
    ]  # fmt: skip
    for at_ms, what in sorted([*hands_at, *resets], key=lambda event: event[0]):
        if isinstance(what, tuple):
            hands.pin(ns(at_ms), *what)
        elif what is None:
            hands.power(ns(at_ms))
        else:
            hands.reset(ns(at_ms), what)
    return Lived(resets, resync_ms, began_ms + DUE_MS[-1] + 500)
