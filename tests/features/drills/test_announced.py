"""A coach who calls when told to, in rounds that shift the call: what announces a cue hangs on that cue."""

from collections import Counter

import msgspec
import pytest

from tests.support.runner.stage_stand import NOW_NS, stage_for
from tocsin.analysis.rounds.variation import Condition, conditions, varied
from tocsin.config.drills import load_drill
from tocsin.features.drills.rounds import Rounds
from tocsin.features.records.round_files import Session
from tocsin.model.compiler.compiler import compile_plan
from tocsin.runner.options import ROUND, RunOptions
from tocsin.units import NS_PER_S

OPTIONS = RunOptions(plans=("full",), rig="nothing", start="key")
SPOKEN_NS = NS_PER_S                   # a coach needs so long from the prompt to the word (the plan's own figure)


def rounds(tmp_path, name, seed):
    """Yield the condition and the timeline of each round that is played."""
    found = load_drill(name, "nothing")
    programme = Rounds(found, OPTIONS, Session(name=name, key="k", seed=seed))
    stage = stage_for(programme, OPTIONS, tmp_path)
    for place in range(found.drill.rounds):
        programme.session.places["A"] = place
        stage.reload(programme.piece(0), NOW_NS)
        condition = msgspec.convert(stage.piece.facts[ROUND]["condition"], Condition)
        yield condition, stage.piece.timeline


def moments(timeline, cue):
    return {firing.match_ns for firing in timeline.firings if firing.cue == cue and firing.match_ns is not None}


@pytest.mark.parametrize("name", ["break_off", "missing_signal", "fork"])
def test_the_word_of_the_coach_falls_on_the_call_in_every_round_and_a_silent_one_is_not_prompted(name, tmp_path):
    told = Counter()
    for seed in range(4):
        for condition, timeline in rounds(tmp_path / str(seed), name, seed):
            told[condition.coach] += 1
            calls_ns = {prompt_ns + SPOKEN_NS for prompt_ns in moments(timeline, "coach_call")}
            if condition.coach == "silent":
                assert not [firing for firing in timeline.firings if firing.cue == "coach_call"]
            else:
                assert calls_ns == moments(timeline, "home"), condition
    assert told["silent"] == told["calling"] > 0


def test_what_a_coach_is_told_beside_stays_in_a_silent_round():
    """CHOOSE is for the operator too, and the last five seconds announce nothing."""
    found = load_drill("break_off", "nothing")
    silent = next(one for one in conditions(found.drill, 1) if one.coach == "silent")
    timeline, _ = compile_plan(found.files.plans[0].game, varied(found.files.plans[0].plan, found.drill, silent))
    assert {firing.cue for firing in found.files.plans[0].timeline.firings} - {f.cue for f in timeline.firings} == {
        "coach_call"
    }


def test_where_the_announced_cue_is_drawn_out_nothing_announces_it():
    found = load_drill("missing_signal", "nothing")
    plan = found.files.plans[0].plan
    cues = tuple(
        msgspec.structs.replace(cue, patterns={"sound": cue.patterns["sound"]}) if cue.id == "home" else cue
        for cue in plan.cues
    )
    bare = msgspec.structs.replace(plan, cues=cues)
    calling = Condition(number=1, half_speed=False, coach="calling")
    kept = varied(bare, found.drill, msgspec.structs.replace(calling, draw_out="screen"))
    assert {"home", "coach_call"} <= {cue.id for cue in kept.cues}
    gone = varied(bare, found.drill, msgspec.structs.replace(calling, draw_out="sound"))
    assert not {"home", "coach_call"} & {cue.id for cue in gone.cues}
