"""A run that is killed at any moment and gone on with: 200 moments of 20 matches, against the same match unhurt.

The journal is what the dead run left: all whole records, and now and then a torn one behind them. What the workers gave
in the last turn and nobody had heard of yet is lost with it.
"""

import random

import pytest

from tests.support.model.compiled_games import cue, match_of, period, plan_of
from tests.support.runner.match_stand import PRESS_NS, TURN_NS, Stand
from tocsin.journal import records
from tocsin.model.compiler.compiler import compile_plan
from tocsin.model.game import Variant
from tocsin.units import NS_PER_MS as MS
from tocsin.units import NS_PER_S as S

BOTH = {"light": "glow", "sound": "beep"}
TIMELINE, _ = compile_plan(
    match_of(
        period("auto", 4, "autonomous"),
        period("pause", None, "pause"),
        period("driver", 9),
        period("last", 4, by_hand=True),
        variants=(Variant(id="one", title="One", default=True), Variant(id="two", title="Two")),
    ),
    plan_of(
        cue("home", ["pause.begin+2s", "driver.begin+3s", "last.begin+1s"], callable=True, patterns={"sound": "beep"}),
        cue("pads", ["pause.begin"], ["driver.begin+1s"], patterns={"light": "glow", "rumble": "short"}),
        cue("no_touch", ["driver.end-5s"], ["last.end"], patterns={"screen": "word", "rumble": "triple"}),
        cue("tick", ["driver.begin+1s"], ["driver.begin+6s"], every_ns=700 * MS, patterns={"sound": "beep"}),
        cue("mine", ["driver.begin+2s"], ["driver.begin+7s"], when="two", patterns=BOTH),
        cue("touched", ["mark.contact+500ms"], ["driver.begin+8s"], callable=True, patterns=BOTH),
    ),
)
DEEDS = ("hold", "call", "nudge", "mark", "variant")
LIVES, MOMENTS = 20, 10


def deeds_of(rng):
    """Return what people do in a life, in order: (when, what, argument). A hold is always let go again."""
    begins = [rng.uniform(5, 8), rng.uniform(14, 17)]
    found = [(ns, "begin", None) for ns in begins]
    for _ in range(rng.randint(3, 6)):
        at_s = rng.uniform(1, 19)
        deed = rng.choice(DEEDS)
        argument = {"call": rng.choice(("home", "touched")), "nudge": rng.choice((-200, 200)) * MS}.get(deed)
        found.append((at_s, deed, argument))
        if deed == "hold":
            found.append((at_s + rng.uniform(0.2, 3), "hold", None))
    return [(PRESS_NS + round(at_s * S), deed, argument) for at_s, deed, argument in sorted(found)]


def do(stand, deed, argument):
    match, now_ns = stand.match, stand.now_ns
    if deed == "begin":
        match.begin_period(now_ns, now_ns)
    elif deed == "hold":
        match.hold_or_resume(now_ns)
    elif deed == "call":
        match.call(now_ns, argument)
    elif deed == "nudge":
        match.nudge(now_ns, argument)
    elif deed == "mark":
        match.mark(now_ns, "contact", now_ns - 100 * MS, None, "key")
    else:
        match.next_variant(now_ns)


def live(stand, deeds, until_ns):
    """Let a stand live on, with those deeds that are still ahead."""
    for at_ns, deed, argument in deeds:
        if stand.now_ns <= at_ns < until_ns:
            stand.go_on(at_ns)
            do(stand, deed, argument)
    stand.go_on(until_ns)


def known(stand):
    """Return all that a match knows of its clock, to the conductor's turn."""
    life = stand.match.lifecycle
    origins = {(o.anchor, o.instance): (o.origin_ns, o.rate, o.starts_ns) for o in life.origins}
    return life.phase, life.states, origins, life.variant, life.held_ns, sorted(stand.match.given_ever)


def marks(stand):
    return [r for r in stand.record.kept if isinstance(r, records.MarkRecord)]


def showing(stand):
    return {
        (name, shot.firing.no, shot.instance)
        for name, schedule in stand.schedules.items()
        for shot in schedule.live
        if shot.firing.sustained
    }


def struck(given):
    """Return what was struck, as often as it was."""
    return sorted((g.firing.no, g.instance) for g in given if g.verb == "begin" and not g.firing.sustained)


END_NS = PRESS_NS + 32 * S


@pytest.mark.parametrize("seed", range(LIVES))
def test_a_run_killed_at_any_moment_goes_on_as_if_it_had_not_been(tmp_path, seed):
    rng = random.Random(f"killed {seed}")
    deeds = deeds_of(rng)
    moments = sorted(PRESS_NS + rng.randrange(100, 24_000) * MS for _ in range(MOMENTS))
    unhurt = Stand(tmp_path, by="countdown", timeline=TIMELINE)
    done_ns = [at_ns for at_ns, _, _ in deeds]
    for killed_ns in moments:
        live(unhurt, deeds, killed_ns)
        next_ns = min((ns for ns in done_ns if ns >= unhurt.now_ns), default=END_NS)
        away_ns = min(rng.choice((0, 300, 2000)) * MS, max(0, next_ns - unhurt.now_ns - 2 * TURN_NS))
        given_before = struck(unhurt.given)
        hurt = unhurt.killed(away_ns, torn=rng.choice((b"", b'{"kind":"mark","at_n', b"\xff")))
        live(unhurt, deeds, hurt.now_ns)
        assert known(hurt) == known(unhurt), (killed_ns, away_ns)
        assert marks(hurt) == marks(unhurt)
        together_ns = hurt.now_ns + S // 2
        live(unhurt, deeds, together_ns)
        live(hurt, deeds, together_ns)
        assert showing(hurt) == showing(unhurt), (killed_ns, away_ns)
        live(hurt, deeds, END_NS)
        after = struck(hurt.given)
        assert len(set(after)) == len(after)
        assert set(after) & set(given_before) <= hurt.unheard        # nobody could know of these
