"""Calls, holds and corrections in a match whose parts people begin: what is given, what shows, what is kept of it."""

import pytest

from tests.support.model.compiled_games import cue, match_of, period, plan_of
from tests.support.runner.match_stand import LATENCY_NS, PRESS_NS, Stand
from tocsin.journal import records
from tocsin.model.clock.sync import Sync
from tocsin.model.compiler.compiler import compile_plan
from tocsin.model.rig import START_ERROR_MS, Start
from tocsin.model.timeline.timeline import Point
from tocsin.runner.outcome import Done
from tocsin.units import NS_PER_MS as MS
from tocsin.units import NS_PER_S as S

# A pause of open length with a HOME of its own; the second HOME comes in the driver period.
GAME = match_of(
    period("auto", 10, "autonomous"),
    period("pause", None, "pause"),
    period("driver", 60),
    period("last", 20, by_hand=True),
)
TIMELINE, _ = compile_plan(
    GAME,
    plan_of(
        cue("home", ["pause.begin+8s", "driver.begin+3s"], callable=True, patterns={"light": "glow"}),
        cue("pads", ["pause.begin"], ["driver.begin"], patterns={"screen": "word"}),
        cue("on", ["driver.begin+5s"], ["last.begin+10s"], patterns={"light": "glow"}),
    ),
)


@pytest.fixture
def stand(tmp_path):
    return Stand(tmp_path, timeline=TIMELINE, by="countdown")


def homes(stand):
    """Return what became of each HOME: of the one by hand ("called"), the pause's (0), the driver period's (1)."""
    found = [g for g in stand.given if g.firing.cue == "home" and g.verb in ("begin", "skip")]
    return {("called" if g.firing.match_ns is None else g.firing.n): g.why or g.verb for g in found}


def test_a_call_stands_for_the_next_call_that_can_still_come(stand):
    """The pause was left before its HOME, so a call in the driver period stands for the HOME of that."""
    stand.go_on(PRESS_NS + 12 * S)
    assert isinstance(stand.match.begin_period(stand.now_ns, stand.now_ns), Done)
    stand.go_on(stand.now_ns + S)
    assert isinstance(stand.match.call(stand.now_ns, "home"), Done)
    stand.go_on(stand.now_ns + 10 * S)
    assert homes(stand) == {"called": "begin", 0: "crossed", 1: "given"}


def test_a_call_while_the_next_part_is_counted_in_stands_for_what_comes_before_that_begins(stand):
    stand.go_on(PRESS_NS + 12 * S)
    begin_ns = stand.now_ns + 2 * S
    assert isinstance(stand.match.begin_period(stand.now_ns, begin_ns), Done)
    assert isinstance(stand.match.call(stand.now_ns, "home"), Done)
    stand.go_on(begin_ns + 5 * S)
    assert homes(stand) == {"called": "begin", 0: "crossed", 1: "given"}


@pytest.mark.parametrize("by", ["press", "horn", "countdown"])
def test_a_part_begun_by_a_key_is_brought_to_where_it_is_believed_to_have_begun_and_loses_no_cue(tmp_path, by):
    """Who presses at a sight or a sound does so late: the clock of that part is, at first, by that much behind."""
    stand = Stand(tmp_path, timeline=TIMELINE, by=by)
    stand.go_on(PRESS_NS + 12 * S)
    key_ns = stand.now_ns
    assert isinstance(stand.match.begin_period(key_ns, key_ns), Done)
    late_ms, _ = START_ERROR_MS[by]
    sure_ms = Sync.started(Start(by=by)).error_ms
    begun = stand.noted(records.OriginRecord)[-1]
    assert (begun.cause, begun.origin_ns, begun.error_ms) == ("begin", key_ns, sure_ms + late_ms)
    stand.go_on(key_ns + 8 * S)
    assert stand.match.lifecycle.latest.origin_ns == key_ns - late_ms * MS
    assert stand.noted(records.OriginRecord)[-1].error_ms == stand.match.error_ms == sure_ms
    assert stand.match.early_ms == 0
    light = [g for g in stand.given if g.verb == "begin" and g.at_ns > key_ns and g.firing.channel == "light"]
    assert [g.firing.cue for g in light] == ["home", "on"]
    # A slew of 50 ms a second, until the whole is made up for.
    early_ms = [key_ns + after_s * S - g.at_ns - LATENCY_NS["light"] for g, after_s in zip(light, (3, 5), strict=True)]
    assert early_ms == pytest.approx([min(late_ms, 150) * MS, min(late_ms, 250) * MS], abs=30 * MS)


@pytest.mark.parametrize("after_s", [-1, 0.05])
@pytest.mark.parametrize("by_ms", [200, -200])
def test_a_correction_about_a_start_in_mid_match_shows_nothing_of_the_part_before(tmp_path, after_s, by_ms):
    stand = Stand(tmp_path, timeline=TIMELINE, by="count_in", at=Point("driver", 0))
    begins_ns = stand.match.lifecycle.starts_ns
    stand.go_on(begins_ns + round(after_s * S))
    assert isinstance(stand.match.nudge(stand.now_ns, by_ms * MS), Done)
    stand.go_on(begins_ns + 2 * S)
    assert [g for g in stand.given if g.verb in ("begin", "resume")] == []
    periods = {state for record in stand.noted(records.State) for state in record.states}
    assert not periods & {"auto", "pause"}


def test_a_resumed_run_knows_what_was_given_by_hand(stand):
    """Also where the part in which the call was has been left: by the newest origins it would stand for another."""
    stand.go_on(PRESS_NS + 12 * S)
    assert isinstance(stand.match.call(stand.now_ns, "home"), Done)
    assert isinstance(stand.match.begin_period(stand.now_ns, stand.now_ns), Done)
    stand.go_on(stand.now_ns + S)
    other = stand.killed()
    other.go_on(stand.now_ns + 5 * S)
    assert {**homes(stand), **homes(other)} == {"called": "begin", 0: "given", 1: "begin"}


@pytest.mark.parametrize("held_s", [0, 20])
def test_a_resumed_run_gives_no_cue_that_a_call_stood_for_before_a_hold(stand, held_s):
    stand.go_on(PRESS_NS + 12 * S)
    assert isinstance(stand.match.call(stand.now_ns, "home"), Done)
    if held_s:
        stand.match.hold_or_resume(stand.now_ns)
        stand.go_on(stand.now_ns + held_s * S)
        stand.match.hold_or_resume(stand.now_ns)
    stand.go_on(stand.now_ns + S)
    other = stand.killed()
    other.go_on(stand.now_ns + 8 * S)
    assert {**homes(stand), **homes(other)} == {"called": "begin", 0: "given"}
