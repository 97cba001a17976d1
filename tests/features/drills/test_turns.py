"""Crews that share a drill take turns, each card says who they are, and whoever leaves is told what that does."""

import pytest

from tests.support.runner.stage_stand import Desk, stage_for
from tocsin.config.drills import load_drill
from tocsin.features.drills.rounds import Rounds
from tocsin.features.records.round_files import ENDED, Session
from tocsin.model.display.view_model import MOST_KEYS
from tocsin.runner.options import RunOptions

ROSTER = {"A": {"driver": "k1", "operator": "k2"}, "B": {"driver": "k3"}}
NAMES = {"k1": "Ann", "k3": "Cleo"}                # the name of k2 was forgotten


def at_desk(tmp_path, **more):
    found = load_drill("turn", "nothing")
    options = RunOptions(plans=("full",), rig="nothing", rate=100.0, start="key", roster=more.pop("roster", ROSTER))
    programme = Rounds(found, options, Session(name="turn", key="k", seed=7), names=NAMES, **more)
    desk = Desk(programme, stage_for(programme, options, tmp_path))
    desk.press(*"y" * len(found.drill.questions))
    return desk


def play(desk):
    desk.press("f", "s")
    desk.end_match()


def crew_on(desk):
    return desk.card[0].replace("\N{NO-BREAK SPACE}", " ").split("crew ")[1][0]


def test_the_next_round_is_offered_to_the_crew_with_fewer_rounds(tmp_path):
    desk, order = at_desk(tmp_path), []
    for swaps in (False, False, True, False, False):
        if swaps:
            desk.press("w")                        # crew B after all
        order.append(crew_on(desk))
        play(desk)
        desk.press("s")
        desk.go_on()
    assert "".join(order) + crew_on(desk) == "ABBABA"


def test_a_crew_alone_goes_on(tmp_path):
    desk = at_desk(tmp_path, roster={})
    play(desk)
    desk.press("s")
    desk.go_on()
    assert not [line for line in desk.card if "crew" in line], "there is no other to tell it from"
    assert not [line for line in desk.card if line.startswith("Crew")]


@pytest.mark.parametrize(
    ("roster", "offered"), [({}, True), ({"A": ROSTER["A"]}, False), (ROSTER, True)], ids=["nobody named", "one", "two"]
)
def test_the_next_crew_is_offered_unless_there_is_but_one(tmp_path, roster, offered):
    desk = at_desk(tmp_path, roster=roster)
    assert ("crew" in dict(desk.programme.keys(desk.phase))) is offered
    play(desk)
    assert ("crew A" in desk.programme.picture().title) is (len(roster) == 2)
    desk.press("s")
    desk.go_on()
    desk.press("w")                                # who comes later is let in all the same
    assert crew_on(desk) == ("A" if len(roster) == 2 else "B")


def test_the_evenings_key_for_a_drill_pressed_twice_says_nothing_of_periods(tmp_path):
    desk = at_desk(tmp_path)
    assert desk.press("b") == ""
    desk.press("f", "s")
    assert desk.phase == "waiting"


def test_the_card_says_who_plays_and_the_header_holds_keys_alone(tmp_path):
    desk = at_desk(tmp_path)
    assert desk.status.named == "Crew A: driver Ann"
    assert desk.programme.piece(0).facts["people"] == ROSTER["A"]
    play(desk)
    desk.press("s")
    desk.go_on()
    assert desk.status.named == "Crew B: driver Cleo"
    assert "Cleo" not in (desk.stage.last_folder / "journal.jsonl").read_text("utf-8")


@pytest.mark.parametrize(("pauses", "does", "ends"), [(True, "pause the drill", False), (False, "end the drill", True)])
def test_the_result_says_how_to_leave_and_what_that_does(tmp_path, pauses, does, ends):
    desk = at_desk(tmp_path, pauses=pauses)
    play(desk)
    shown = desk.stage.keymap.keyed(desk.stage.keymap.offers(
        desk.phase, waits=False, variants=False, callable_cues=(), besides=desk.programme.keys(desk.phase)
    ))
    assert ("q", does) in [(entry.key, entry.does) for entry in shown[:MOST_KEYS]]
    desk.press("q")
    assert (ENDED in (desk.stage.last_folder / "journal.jsonl").read_text("utf-8")) is ends


def test_who_holds_a_round_reads_that_it_will_not_count_and_its_result_says_why(tmp_path):
    desk = at_desk(tmp_path)
    desk.press("f", "s")
    desk.after(5.2)
    assert desk.press("p") == "held: this round will not count"
    assert desk.press("p") == ""
    desk.end_match()
    told = " ".join(desk.status.result)
    assert "the clock was held" in told
    assert "the laptop slept" not in told
