"""What varies from round to round: balanced, reproducible, and still a plan that compiles."""

from collections import Counter
from itertools import pairwise

import msgspec
import pytest

from tocsin.analysis.rounds.variation import conditions, varied
from tocsin.config import bundle
from tocsin.config.drills import load_drill
from tocsin.model.compiler.compiler import compile_plan

DRILLS = bundle.names("drills")
SEEDS = range(200)


@pytest.fixture(scope="module", params=DRILLS)
def drill(request):
    return load_drill(request.param, "nothing")


def values_of(drill):
    """Return what each factor of a drill may be, by the condition's field."""
    vary = drill.vary
    factors = {
        "setup": vary.setups, "draw_out": vary.draw_out, "coach": vary.coach, "shift_ns": vary.shift_ns,
        "late_start_ns": vary.late_start_ns,
    }  # fmt: skip
    return {name: values for name, values in factors.items() if values}


def test_each_factor_is_balanced_for_every_seed(drill):
    for seed in SEEDS:
        rounds = conditions(drill.drill, seed)
        assert [r.number for r in rounds] == list(range(1, drill.drill.rounds + 1))
        for name, values in values_of(drill.drill).items():
            counts = Counter(getattr(r, name) for r in rounds)
            # A value that the file lists twice comes twice as often.
            shares = [counts[value] / values.count(value) for value in set(values)]
            assert max(shares) - min(shares) <= 1, (seed, name)


def test_nothing_follows_itself_more_often_than_by_chance(drill):
    """By chance a value follows itself once in as many rounds as there are values."""
    for name, values in values_of(drill.drill).items():
        if len(set(values)) < len(values):
            continue
        pairs = [pair for seed in SEEDS for pair in pairwise(getattr(r, name) for r in conditions(drill.drill, seed))]
        again = sum(one == other for one, other in pairs) / len(pairs)
        assert again <= 1 / len(values)


def test_the_same_seed_gives_the_same_rounds_and_others_give_others(drill):
    assert conditions(drill.drill, 7) == conditions(drill.drill, 7)
    if values_of(drill.drill) or drill.drill.vary.shuffle:
        assert len({conditions(drill.drill, seed) for seed in SEEDS}) > 5 or drill.drill.rounds <= 3


def test_every_round_compiles_and_begins_in_the_match(drill):
    found = drill.files.plans[0]
    for condition in conditions(drill.drill, 3):
        plan = varied(found.plan, drill.drill, condition)
        timeline, mistakes = compile_plan(found.game, plan)
        assert not mistakes
        assert timeline is not None
        if condition.draw_out:
            assert condition.draw_out not in {firing.channel for firing in timeline.firings}
            others = {f.channel for f in found.timeline.firings} - {condition.draw_out}
            assert {firing.channel for firing in timeline.firings} == others
        assert 0 <= condition.earlier_ns <= drill.drill.vary.from_spread_ns


def test_a_shift_moves_the_call_and_what_announces_it_and_nothing_else():
    drill = load_drill("break_off", "nothing")
    found = drill.files.plans[0]
    rounds = {c.shift_ns: msgspec.structs.replace(c, coach="calling") for c in conditions(drill.drill, 1)}
    assert set(rounds) == {0, 10**9, -(10**9)}
    nominal = {(f.cue, f.n, f.channel, f.role): f.match_ns for f in found.timeline.firings}
    for shift_ns, condition in rounds.items():
        timeline, _ = compile_plan(found.game, varied(found.plan, drill.drill, condition))
        for firing in timeline.firings:
            if firing.match_ns is None:
                continue
            moved_ns = nominal[firing.cue, firing.n, firing.channel, firing.role] - firing.match_ns
            assert moved_ns == (shift_ns if firing.cue in ("home", "coach_call") else 0)


def test_a_shuffle_gives_every_cue_once_at_the_plans_own_moments():
    drill = load_drill("words", "nothing")
    found = drill.files.plans[0]
    orders = set()
    for condition in conditions(drill.drill, 5):
        timeline, _ = compile_plan(found.game, varied(found.plan, drill.drill, condition))
        rows = {(f.cue, f.match_ns) for f in timeline.firings if f.match_ns is not None}
        nominal = {(f.cue, f.match_ns) for f in found.timeline.firings if f.match_ns is not None}
        assert {cue for cue, _ in rows} == {cue for cue, _ in nominal}
        assert {ns for _, ns in rows} == {ns for _, ns in nominal}
        assert len(rows) == 14
        orders.add(tuple(cue for cue, _ in sorted(rows, key=lambda row: row[1])))
    assert len(orders) == 3
