"""After the end people read first that they stay outside: drivers run to their robot, which may still move."""

import pytest

from tests.support.runner.stage_stand import Desk, stage_for
from tocsin.config.drills import load_drill
from tocsin.config.load import load
from tocsin.features.drills.rounds import Rounds
from tocsin.features.records.matches import Matches
from tocsin.features.records.round_files import Session
from tocsin.model.display.view_model import STAY_OUTSIDE, STILL_OUTSIDE, ViewModelMaker
from tocsin.runner.options import RunOptions
from tocsin.runner.terminal.screen import news, picture
from tocsin.units import NS_PER_S as S

OPTIONS = RunOptions(plans=("full",), rig="nothing", start="key")
PERMITS = {"clear", "go", "safe", "enter", "ready", "may", "free"}


def match_desk(tmp_path):
    programme = Matches(load(None, OPTIONS.plans, OPTIONS.rig), OPTIONS)
    return Desk(programme, stage_for(programme, OPTIONS, tmp_path))


def drill_desk(tmp_path, name="turn"):
    found = load_drill(name, "nothing")
    programme = Rounds(found, OPTIONS, Session(name=name, key="k", seed=7))
    desk = Desk(programme, stage_for(programme, OPTIONS, tmp_path))
    desk.press(*"y" * len(found.drill.questions), *("f" if found.drill.place == "field" else ""))
    return desk


def view(desk):
    return ViewModelMaker(desk.stage.match.timeline).at(desk.status, desk.now_ns)


@pytest.mark.parametrize("made", [match_desk, drill_desk], ids=["match", "drill"])
def test_first_nothing_stands_but_that_people_stay_outside(made, tmp_path):
    desk = made(tmp_path)
    desk.press("s")
    while desk.phase != "over":
        assert view(desk).sign != STAY_OUTSIDE
        desk.after(0.25)
    over_ns = desk.now_ns
    while desk.now_ns < over_ns + 8 * S:
        if desk.stage.match.over(desk.now_ns) and not desk.result:
            desk.end_match(reads=False)
        now = view(desk)
        assert (now.sign, now.outside, now.result, now.picture) == (STAY_OUTSIDE, "", (), None)
        assert not [text for text in (now.prompt, *(key.does for key in now.keys)) if "next" in text]
        assert now.stale_ns is None or now.stale_ns <= over_ns + 8 * S
        desk.after(0.25)
    shown = view(desk)
    assert shown.sign == ()
    assert shown.result
    assert "next" in shown.prompt
    assert shown.outside == STILL_OUTSIDE
    desk.after(600)
    assert view(desk).outside == STILL_OUTSIDE, "as long as the result stands"
    desk.press("s")
    desk.go_on()
    assert not view(desk).outside


@pytest.mark.parametrize("made", [match_desk, drill_desk], ids=["match", "drill"])
def test_the_start_key_only_takes_it_away_since_nobody_has_seen_the_result_yet(made, tmp_path):
    desk = made(tmp_path)
    desk.press("s")
    desk.end_match(reads=False)
    assert view(desk).sign == STAY_OUTSIDE
    desk.press("s")
    assert not desk.stage.wants_next
    assert view(desk).sign == ()
    assert view(desk).result
    desk.press("s")
    assert desk.stage.wants_next


def test_each_match_says_so_anew_and_a_bench_without_a_robot_does_not(tmp_path):
    desk = match_desk(tmp_path)
    for _ in range(2):
        desk.press("s")
        desk.end_match(reads=False)
        assert view(desk).sign == STAY_OUTSIDE
        desk.press("s", "s")
        desk.go_on()
    bench = drill_desk(tmp_path / "bench", "words")
    bench.press("s")
    bench.end_match(reads=False)
    assert view(bench).sign == ()
    assert not view(bench).outside
    assert view(bench).result


def test_a_terminal_says_it_before_the_result_and_nothing_permits_anything(tmp_path):
    desk = match_desk(tmp_path)
    desk.press("s")
    desk.end_match(reads=False)
    first = view(desk)
    shown = [line.plain for line in picture(first, "")]
    assert [line for line in shown if line in STAY_OUTSIDE] == list(STAY_OUTSIDE)
    desk.press("s")
    lines = list(news(first, view(desk)))
    assert any("next match" in line for line in lines)
    assert [line.strip() for line in lines if "outside" in line] == [STILL_OUTSIDE]
    for height in range(4):
        assert STILL_OUTSIDE in [line.plain for line in picture(view(desk), "", height)]
    assert not PERMITS & set(" ".join((*STAY_OUTSIDE, STILL_OUTSIDE)).lower().split())
