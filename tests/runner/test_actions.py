"""What follows from a key, on a stage without processes: done, refused with a sentence, or not this program's."""

import msgspec
import pytest

from tests.support.runner.stage_stand import NOW_NS, Desk, notice, plain_stage, ready, stage_for, told
from tocsin.config.load import load
from tocsin.journal import records
from tocsin.model.rig import Pad
from tocsin.runner.actions import CANCEL_NS
from tocsin.runner.keymap import Keymap
from tocsin.runner.notices import BRIEFLY_NS, LASTS_NS
from tocsin.runner.options import RunOptions
from tocsin.runner.outcome import Done, Refused
from tocsin.runner.programme import Programme
from tocsin.units import NS_PER_S as S
from tocsin.workers.protocol import Command


@pytest.fixture
def desk(tmp_path):
    return Desk(*plain_stage(tmp_path, "full", "quiet"))


def test_a_match_is_started_held_and_cancelled_by_keys(desk):
    desk.press("s")
    assert desk.phase == "waiting"
    desk.at(60).press("p")
    assert desk.phase == "held"
    desk.press("p")
    assert desk.phase == "running"
    desk.press("x", "x")
    assert desk.phase == "scrapped"


@pytest.mark.parametrize("phase", ["waiting", "running", "held"])
def test_cancel_asks_for_a_second_press_within_two_seconds_and_the_match_goes_on_untouched(desk, phase):
    desk.press("s")
    if phase != "waiting":
        desk.at(60)
    if phase == "held":
        desk.press("p")
    before = desk.stage.match.lifecycle.origins, len(desk.stage.match.record.kept)
    assert desk.press("x") == "press x again within 2 s to cancel"
    assert notice(desk.stage, desk.now_ns + CANCEL_NS) == "", "the question stands as long as it holds"
    desk.now_ns += CANCEL_NS
    assert desk.press("x") == "press x again within 2 s to cancel", "two seconds later it is asked anew"
    assert desk.phase == phase
    assert (desk.stage.match.lifecycle.origins, len(desk.stage.match.record.kept)) == before
    desk.now_ns += CANCEL_NS - 1
    desk.press("x")
    assert desk.phase == "scrapped"


def test_a_scribe_who_marks_meanwhile_takes_no_press_away(desk):
    desk.press("s")
    desk.at(60)
    desk.press("x", "7", "x")
    assert desk.phase == "scrapped"


def test_a_question_of_one_match_cancels_no_other(desk):
    desk.press("s", "x")
    desk.stage.match.scrap(desk.now_ns)
    desk.stage.reload(desk.programme.piece(0), desk.now_ns)
    desk.press("s", "x")
    assert desk.phase == "waiting"


def test_where_there_is_nothing_to_cancel_it_is_refused_at_once(desk):
    assert desk.press("x") == "cannot cancel: no match is on"
    desk.press("s", "x", "x")
    assert desk.press("x") == "cannot cancel: the match was cancelled"


def test_a_pads_button_cancels_with_its_second_press_too(desk):
    pad = Pad(role="driver", buttons={"6": "scrap"})
    desk.stage.keymap = Keymap(msgspec.structs.replace(desk.stage.rig, pads=(pad,)))
    desk.press("s")
    assert desk.press("pad.driver.6") == "press button 6 of the driver again within 2 s to cancel"
    assert desk.phase == "waiting"
    desk.press("pad.driver.6")
    assert desk.phase == "scrapped"


def test_a_refusal_is_told_and_goes_with_the_phase(desk):
    assert desk.press("p") == "cannot hold the clock: no match is on"
    desk.press("s")
    assert desk.notice == ""


def test_the_start_key_wants_the_next_match_once_one_is_over(desk):
    desk.press("s", "x", "x")
    assert not desk.stage.wants_next
    desk.press("s")
    assert desk.stage.wants_next
    assert desk.phase == "scrapped"


def test_a_key_that_repeats_itself_is_one_mark_and_its_answer_is_brief(desk):
    desk.press("s")
    desk.at(60)
    for _ in range(5):
        desk.actions.key("7", desk.now_ns, desk.now_ns, down=True)
    desk.at(61.2)
    desk.actions.key("7", desk.now_ns, desk.now_ns, down=False)
    desk.actions.key("7", desk.now_ns, desk.now_ns, down=False)
    marks = [record for record in desk.stage.match.record.kept if isinstance(record, records.MarkRecord)]
    assert [(mark.label, mark.end_ns - mark.begin_ns) for mark in marks] == [("contact", 1_200_000_000)]
    assert desk.notice == "contact noted, 1.2 s"
    assert notice(desk.stage, desk.now_ns + BRIEFLY_NS) == ""


def test_a_nudge_tells_the_sum_and_is_read_at_leisure(desk):
    desk.press("s")
    desk.at(60)
    assert desk.press("left", "left") == "clock 0.2 s forward, +0.4 s in all"
    assert notice(desk.stage, desk.now_ns + LASTS_NS - 1) != ""


def test_an_answer_goes_with_the_next_key(desk):
    assert desk.press("p")
    assert desk.press("m") == ""


def test_marks_whose_keys_are_down_at_the_end_stay_open(desk):
    desk.press("s")
    desk.at(60)
    desk.actions.key("7", desk.now_ns, desk.now_ns, down=True)
    desk.actions.release_all(desk.now_ns + S)
    (mark,) = (record for record in desk.stage.match.record.kept if isinstance(record, records.MarkRecord))
    assert (mark.label, mark.open, mark.end_ns) == ("contact", True, None)


def test_a_mark_once_the_run_has_ended_is_refused_and_how_to_add_it_is_said(desk):
    desk.press("s")
    desk.at(60)
    desk.end_match()
    before = len(desk.stage.match.record.kept)
    for press in (lambda: desk.press("7"), lambda: desk.actions.tap("7", desk.now_ns, desk.now_ns)):
        desk.stage.notices.drop("answer")
        press()
        assert desk.notice == "contact not noted, this run has ended: add it with `tocsin mark`"
    assert len(desk.stage.match.record.kept) == before


def test_a_key_that_went_down_before_the_end_is_noted_behind_it(desk):
    desk.press("s")
    desk.at(60)
    while not desk.stage.match.behind_end_ns(desk.now_ns):
        desk.after(0.25)
    down_ns = desk.now_ns
    desk.actions.key("7", down_ns, down_ns, down=True)
    while not desk.stage.match.over(desk.now_ns):
        desk.after(0.25)
    desk.actions.key("7", desk.now_ns, desk.now_ns, down=False)
    (mark,) = (record for record in desk.stage.match.record.kept if isinstance(record, records.MarkRecord))
    assert (mark.begin_ns, mark.end_ns) == (down_ns, desk.now_ns)


def test_a_key_of_a_terminal_is_a_mark_whose_end_is_unknown(desk):
    desk.press("s")
    desk.at(60)
    desk.actions.tap("7", desk.now_ns, desk.now_ns)
    (mark,) = (record for record in desk.stage.match.record.kept if isinstance(record, records.MarkRecord))
    assert (mark.pointlike, mark.end_ns, mark.open) == (True, None, False)


def test_another_plan_is_chosen_in_standby_only(desk):
    run_no = desk.stage.run_no
    desk.press("2")
    assert (desk.stage.plan_no, desk.stage.files.plans[1].timeline.plan) == (1, desk.stage.match.timeline.plan)
    assert desk.stage.unsent
    assert desk.stage.run_no == run_no + 1
    desk.press("2")
    assert desk.stage.run_no == run_no + 1, "the chosen plan is not begun anew"
    desk.press("s")
    assert desk.press("1") == "another plan can be chosen in standby only"
    assert desk.stage.plan_no == 1


def test_devices_are_tried_in_standby_only_the_terminal_too(desk):
    ready(desk.stage, "light", "sound")
    assert desk.press("t") == "trying light, sound: seen, heard?"
    assert desk.shown_ns == [NOW_NS]
    assert told(desk.stage, "light") == told(desk.stage, "rumble") == [Command("preflight")]
    desk.press("s")
    assert desk.press("t") == "devices are tried in standby only"


def test_how_loud_it_is_goes_to_the_sound_alone(desk):
    desk.press("m", "up")
    assert told(desk.stage, "sound") == [Command("mute"), Command("louder")]
    assert told(desk.stage, "light") == []


def test_nobody_leaves_a_match_that_runs(desk):
    desk.press("s")
    assert desk.press("q") == "cancel the match before you leave"
    assert desk.stage.ending is None
    desk.press("x", "x", "q")
    assert desk.stage.ending.why == "left"


def test_one_key_shows_all_keys_for_ten_seconds_or_until_it_is_pressed_again(desk):
    def all_keys(after_ns=0):
        return desk.now_ns + after_ns < desk.stage.all_keys_until_ns

    assert not all_keys()
    desk.press("k")
    assert all_keys(10 * S - 1)
    assert not all_keys(10 * S)
    desk.press("k")
    assert not all_keys()
    desk.press("k")
    desk.press("s")
    desk.at(11)
    assert not all_keys()
    desk.press("k")
    assert all_keys()


class Own(Programme):
    """Does one thing itself, refuses another, and leaves the rest to the match."""

    def act(self, action, stage, now_ns):
        return {"repeat": Done("played again"), "hold": Refused("not in this drill")}.get(action)

    def refuses_start(self):
        return "say first that the field is clear"


def test_a_programme_comes_first_and_what_is_not_its_own_goes_on(tmp_path):
    options = RunOptions(plans=("full",), rig="nothing")
    programme = Own(load(None, options.plans, options.rig), options)
    desk = Desk(programme, stage_for(programme, options, tmp_path))
    assert desk.press("p") == "not in this drill"
    assert desk.press("s") == "say first that the field is clear"
    assert desk.phase == "standby"
    desk.press("q")
    assert desk.stage.ending.why == "left"
