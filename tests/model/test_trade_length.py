"""A sum that the trade commonly knows, in a game of our own: common practice, no source."""

from tests.support.model.compiled_games import match_of, period, plan_of, window
from tocsin.model.compiler.compiler import compile_plan
from tocsin.model.timeline.timeline import Point
from tocsin.units import NS_PER_S as S

CASTING = match_of(
    period("alone", 30, "autonomous"),
    period("to_the_pads", 8, "pause"),
    period("hands_on", 120),
    period("cooling", 6, "settle"),
    windows=[window("pour", "hands_on.end-14s", "cooling.end")],
)


def test_a_match_lasts_158_seconds():
    timeline, mistakes = compile_plan(CASTING, plan_of())
    assert mistakes == ()
    assert timeline.match_end() == Point("match", 158 * S)                          # 30 + 8 + 120 s
    assert [(w.id, w.begin.offset_ns) for w in timeline.windows] == [("pour", 144 * S)]
