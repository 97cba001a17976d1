"""Somebody's word that the field is clear holds for half a minute: people walk in when nothing seems to happen."""

import msgspec
import pytest

from tests.support.runner.stage_stand import Desk, stage_for
from tocsin.channels.screen.rows import view_rows
from tocsin.config.drills import load_drill
from tocsin.features.drills.rounds import Rounds
from tocsin.features.records.round_files import Session
from tocsin.model.display.view_model import ViewModelMaker
from tocsin.runner.options import RunOptions
from tocsin.runner.status import status_of
from tocsin.runner.terminal.screen import news, picture
from tocsin.units import NS_PER_S as S

OPTIONS = RunOptions(plans=("full",), rig="nothing", rate=100.0, start="key")
WHAT_TO_DO = "the field was called clear more than 30 s ago: look again, then press f at the laptop"


@pytest.fixture
def desk(tmp_path):
    """A person at the keys who has answered what is asked before the first round."""
    found = load_drill("turn", "nothing")
    programme = Rounds(found, OPTIONS, Session(name="turn", key="k", seed=7))
    made = Desk(programme, stage_for(programme, OPTIONS, tmp_path))
    made.press(*"y" * len(found.drill.questions))
    return made


def view(desk):
    status = status_of(desk.stage, desk.programme, desk.result, desk.now_ns)
    return ViewModelMaker(desk.stage.match.timeline).at(status, desk.now_ns)



def test_a_start_after_29_s_works(desk):
    desk.press("f")
    desk.after(29)
    assert desk.press("s") == ""
    assert desk.phase == "waiting"


def test_a_start_after_31_s_is_refused_with_what_to_do_and_works_once_somebody_has_looked(desk):
    desk.press("f")
    desk.after(31)
    assert desk.notice == WHAT_TO_DO, "said by itself: nobody has to press first"
    assert "Nobody on the field?" in desk.ask
    assert desk.press("s") == WHAT_TO_DO
    assert desk.phase == "standby"
    desk.press("f", "s")
    assert desk.phase == "waiting"


def test_a_start_at_the_very_moment_is_refused_before_the_program_has_taken_a_turn(desk):
    """The machine was busy, or slept: the key is the first that comes."""
    desk.press("f")
    desk.now_ns += 30 * S
    assert desk.press("s") == WHAT_TO_DO
    assert desk.phase == "standby"


def test_said_again_it_holds_anew_and_after_sleep_not_at_all(desk):
    desk.press("f")
    desk.after(20).press("f")
    desk.after(20)
    assert desk.ask == ""
    desk.programme.slept()
    desk.after(0.25)
    assert desk.notice == WHAT_TO_DO
    assert desk.press("s") == WHAT_TO_DO


def test_each_round_asks_anew(desk):
    desk.press("f")
    desk.after(31)
    desk.press("f", "s")
    desk.end_match()
    desk.press("s")
    desk.go_on()
    assert desk.press("s") == "say first that the field is clear"


def test_whoever_said_so_sees_what_is_left_on_window_and_terminal(desk):
    assert view(desk).clear == ""
    desk.press("f")
    first, seen = view(desk), []
    for _ in range(31):
        now = view(desk)
        rows = {row.name: row.text for row in view_rows(now, focused=True)}
        assert rows.get("clear", "") == now.clear
        lines = [line.plain for line in picture(now, "") if "Field clear:" in line.plain]
        assert lines == ([now.clear] if now.clear else [])
        assert now.clear == "" or now.stale_ns == desk.now_ns + S
        seen.append(now.clear)
        desk.after(1)
    assert seen == [*(f"Field clear: start within {left} s" for left in range(30, 0, -1)), ""]
    lines = list(news(msgspec.structs.replace(first, clear=""), first))
    assert lines == ["       Field clear: start within 30 s"]
    later = msgspec.structs.replace(first, clear="Field clear: start within 29 s")
    assert list(news(first, later)) == [], "a count is no news"


def test_the_record_says_when_it_was_said_and_when_it_lapsed(desk):
    began_ns = desk.now_ns
    desk.press("f")
    desk.after(31)
    desk.press("f")
    desk.after(5).press("s")
    notes = [(note.what, (note.at_ns - began_ns) / S) for note in desk.programme.take_notes() if "clear" in note.what]
    assert notes == [("field clear", 0), ("field clear ended", 30), ("field clear", 31)]
