"""Plans as sources of exports, for the tests of all targets."""

from tocsin.config.load import load
from tocsin.export.source import Source
from tocsin.model.compiler.compiler import compile_plan

BUNDLED = ("full", "quiet", "doors", "dash")


def bundled(plan):
    """Return a bundled plan as a source."""
    found = load(None, [plan], "nothing").plans[0]
    return source(found.game, found.plan)


def source(game, plan):
    """Return the source of a plan that compiles."""
    timeline, mistakes = compile_plan(game, plan)
    assert not mistakes
    return Source(
        game=game, plan=plan, timeline=timeline, game_sha256="a" * 64, plan_sha256="b" * 64, version="9.9.9"
    )  # fmt: skip
