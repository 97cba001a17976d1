"""Any plan that compiles can be inspected, and what is found has its sentences and a place in the plan."""

import re

import msgspec
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from tests.support.model.compiled_games import games_and_plans
from tocsin.features.check.findings import devices
from tocsin.lint.inspect import inspect, inspect_rig
from tocsin.lint.messages import fix, message
from tocsin.lint.rules import KINDS
from tocsin.lint.subject import Subject
from tocsin.model.compiler.compiler import compile_plan
from tocsin.model.game import Game
from tocsin.model.pattern import (
    LightPattern,
    Patterns,
    RumblePattern,
    RumbleStep,
    ScreenPattern,
    SoundPattern,
    SoundStep,
)
from tocsin.model.plan import ROLES, Plan
from tocsin.model.rig import Light, Pad, Rig, Screen, Sound
from tocsin.units import NS_PER_MS as MS
from tocsin.units import NS_PER_S as S

COLOUR = st.sampled_from([(0, 0, 0), (255, 255, 255), (255, 0, 0), (0, 0, 255), (230, 159, 0), (64, 64, 64)])
SHARE = st.sampled_from([0.0, 0.5, 1.0])
LASTS = st.integers(50, 3000).map(lambda ms: ms * MS)
LOUD = st.builds(SoundStep, hz=st.sampled_from([300.0, 750.0]), lasts_ns=LASTS)
STRONG = st.builds(RumbleStep, strong=st.sampled_from([0.3, 1.0]), weak=SHARE, lasts_ns=LASTS)


def steps(step: st.SearchStrategy[RumbleStep], rest: st.SearchStrategy[RumbleStep]) -> st.SearchStrategy[tuple]:
    """Return one step at least, since patterns that are all silent are mistakes, and others around it."""
    others = st.lists(step | rest, max_size=3)
    return st.tuples(others, step, others).map(lambda parts: (*parts[0], parts[1], *parts[2]))


PATTERNS = st.builds(
    lambda triple, short, glow, word, beep: Patterns(
        rumble={"triple": triple, "short": short}, light={"glow": glow}, screen={"word": word}, sound={"beep": beep}
    ),
    *[st.builds(RumblePattern, steps=steps(STRONG, st.builds(RumbleStep, lasts_ns=LASTS)), times=st.just(2))] * 2,
    st.builds(
        LightPattern,
        form=st.sampled_from(["plain", "swell", "on_off", "shuttle", "queue", "ebb", "bands", "apart"]),
        colours=st.tuples(COLOUR, COLOUR), lasts_ns=LASTS, cycle_ns=st.integers(100, 3000).map(lambda ms: ms * MS),
        width=st.sampled_from([0.01, 0.2, 1.0]), level=SHARE,
    ),
    st.builds(
        ScreenPattern, field=st.sampled_from(["plain", "stripes", "apart", "none"]), colours=st.tuples(COLOUR, COLOUR),
        letters=COLOUR, lasts_ns=LASTS, full_ns=st.sampled_from([0, 200 * MS, 5 * S]),
        frame=st.sampled_from(["shrinks", "stands", "steps", "none"]), cycle_ns=st.sampled_from([0, 50 * MS, 2 * S]),
    ),
    st.builds(
        SoundPattern, steps=steps(LOUD, st.builds(SoundStep, lasts_ns=LASTS)), times=st.integers(1, 4)
    ),
)  # fmt: skip
RIG = st.none() | st.builds(
    Rig,
    name=st.just("Rig"),
    pads=st.lists(st.builds(Pad, role=st.sampled_from(ROLES), strength=SHARE), max_size=2).map(tuple),
    light=st.none() | st.builds(Light, leds=st.sampled_from([1, 2, 30, 300]), max_ma=st.sampled_from([10, 400, 5000])),
    sound=st.none() | st.just(Sound()),
    screen=st.none() | st.just(Screen()),
)


@settings(suppress_health_check=[HealthCheck.too_slow, HealthCheck.data_too_large])
@given(games_and_plans(), PATTERNS, RIG)
def test_any_plan_can_be_inspected(pair: tuple[Game, Plan], patterns: Patterns, rig: Rig | None) -> None:
    game, plan = pair[0], msgspec.structs.replace(pair[1], patterns=patterns)
    timeline, _ = compile_plan(game, plan)
    if timeline is None:
        return
    own = frozenset({("light", "glow"), ("rumble", "short")})
    found = inspect(Subject(game, plan, timeline, devices(), rig=rig, own=own))
    found += inspect_rig(rig, devices()) if rig else ()
    for finding in found:
        assert finding.level in KINDS[finding.code].levels
        assert not re.search(r"[{}]", message(finding) + fix(finding))
        assert finding.path
        if finding.path[0] == "cue":
            assert finding.path[1] < len(plan.cues)
    # The same files give the same findings, in the same order.
    assert inspect(Subject(game, plan, timeline, devices(), rig=rig, own=own)) == found[: len(found) - len(
        inspect_rig(rig, devices()) if rig else ())]  # fmt: skip
