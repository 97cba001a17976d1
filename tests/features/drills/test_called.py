"""What people are asked and told as a round is called, on the field and on the bench."""

import pytest
from msgspec.structs import replace

from tests.support.runner.stage_stand import Desk, stage_for
from tocsin.analysis.rounds.variation import Condition
from tocsin.config import bundle
from tocsin.config.drills import load_drill
from tocsin.features.drills.card import coach_line
from tocsin.features.drills.rounds import Rounds
from tocsin.features.records.round_files import Session
from tocsin.model.drill import Drill
from tocsin.runner.options import RunOptions

RATE = RunOptions(plans=("full",), rig="nothing", rate=100.0, start="key")


def called(tmp_path, name, **session):
    found = load_drill(name, "nothing")
    programme = Rounds(found, RATE, Session(name=name, key="k", seed=7, **session))
    return Desk(programme, stage_for(programme, RATE, tmp_path)), found.drill


def card(desk):
    return [line.replace("\N{NO-BREAK SPACE}", " ") for line in desk.card]


def offered(desk):
    return {action for action, _ in desk.programme.keys(desk.phase)}


def test_on_the_bench_nobody_is_asked_about_a_field_or_the_robots_battery(tmp_path):
    """Somebody who reads each word, from the first question to the last result."""
    desk, drill = called(tmp_path, "words")
    read = [desk.ask, *card(desk)]
    desk.press(*"y" * len(drill.questions))
    for number in range(1, drill.rounds + 1):
        read += [desk.ask, *card(desk)]
        assert card(desk)[0] == f"Round {number} of 3"
        assert offered(desk) == {"crew", "leave"}
        assert desk.ask == "", "nothing is to be said first"
        desk.press("s")
        assert desk.phase == "waiting"
        read += [desk.ask, *desk.end_match(), desk.ask]
        desk.press("s")
        if number < drill.rounds:
            desk.go_on()
    assert desk.programme.finished
    assert not [line for line in read if "field" in line.lower() or "not stop" in line]
    of_battery = [line for line in read if "battery" in line.lower()]
    assert len(of_battery) == 2, "only that it is out"
    assert all(line.startswith((drill.questions[0], drill.safely[0])) for line in of_battery)


def test_on_the_bench_a_round_that_comes_again_and_another_crew_are_asked_no_more(tmp_path):
    desk, drill = called(tmp_path, "words")
    desk.press(*"y" * len(drill.questions), "w")
    assert desk.ask == ""
    desk.press("s", "x", "x")
    desk.end_match()
    desk.go_on()
    assert desk.ask == ""
    desk.press("s")
    assert desk.phase == "waiting"


def test_on_the_field_every_round_waits_for_the_word_that_it_is_clear(tmp_path):
    desk, drill = called(tmp_path, "turn")
    desk.press(*"y" * len(drill.questions))
    assert "Nobody on the field?" in desk.ask
    assert offered(desk) == {"clear", "crew", "battery", "leave"}


def test_a_battery_past_its_rounds_is_said_as_the_next_round_is_called(tmp_path):
    desk, drill = called(tmp_path, "break_off")
    desk.press(*"y" * len(drill.questions))
    for had in range(drill.battery_rounds):
        told = {0: "", 1: ", battery had 1 round"}.get(had, f", battery had {had} rounds")
        assert card(desk)[0] == f"Round {had + 1} of 12{told}"
        assert not [line for line in card(desk) if "change it" in line]
        desk.press("f", "s")
        desk.end_match()
        desk.press("s")
        desk.go_on()
    assert card(desk)[:2] == ["Round 4 of 12", "Battery had 3 rounds: change it, key e"]
    desk.press("e", *"y" * len(drill.questions))
    assert not [line for line in card(desk) if "battery" in line.lower()]


@pytest.mark.parametrize("had", [3, 4, 7])
def test_it_is_said_until_the_battery_was_changed_and_never_where_nobody_said_how_long_one_lasts(tmp_path, had):
    desk, drill = called(tmp_path / "limited", "break_off", on_battery=had)
    desk.press(*"y" * len(drill.questions))
    assert card(desk)[1] == f"Battery had {had} rounds: change it, key e"
    desk, drill = called(tmp_path / "free", "turn", on_battery=had)
    desk.press(*"y" * len(drill.questions))
    assert card(desk)[0].endswith(f", battery had {had} rounds")
    assert not [line for line in card(desk) if "change it" in line]
    assert Drill(name="", trains="", place="field", plan="", rounds=1).battery_rounds == 0


def test_what_the_safety_text_says_of_batteries_is_what_the_card_goes_by():
    for name in bundle.names("drills"):
        drill = load_drill(name, "nothing").drill
        said = [line for line in drill.safely if "battery every" in line]
        assert bool(said) == bool(drill.battery_rounds), name
        assert not said or ("every three rounds" in said[0] and drill.battery_rounds == 3)


def test_the_card_says_who_halves_the_speed_why_for_how_many_rounds_and_from_where_rounds_count(tmp_path):
    desk, drill = called(tmp_path, "turn")
    desk.press(*"y" * len(drill.questions))
    half = [line for line in card(desk) if "HALF SPEED" in line]
    assert half == [
        "Driver: HALF SPEED, to try the set-up safely: "
        "rounds 1 to 4 do not count, round 5 is the first that does"
    ]
    desk, drill = called(tmp_path / "later", "turn", places={"A": 4})
    desk.press(*"y" * len(drill.questions))
    assert not [line for line in card(desk) if "HALF SPEED" in line]


def test_the_card_tells_the_coach_what_to_do_at_which_sign_and_no_time_that_drivers_could_count_to(tmp_path):
    told = set()
    for place in range(12):
        desk, drill = called(tmp_path / str(place), "break_off", places={"A": place})
        desk.press(*"y" * len(drill.questions))
        told |= {line for line in card(desk) if line.startswith("Coach")}
    assert told == {"Coach: say nothing", "Coach: call HOME aloud as soon as the screen says CALL HOME"}


@pytest.mark.parametrize(
    ("shows", "shift_ns", "line"),
    [
        (("clock", "ahead"), (), "Coach: call HOME aloud at 0:22"),
        (("clock",), (), "Coach: call HOME aloud as soon as the screen says CALL HOME"),
        (("clock", "ahead"), (0, 1), "Coach: call HOME aloud as soon as the screen says CALL HOME"),
    ],
)
def test_the_coach_has_a_time_only_where_the_drill_hides_nothing_and_moves_nothing(shows, shift_ns, line):
    found = load_drill("fork", "nothing")
    plan = found.files.plans[0]
    drill = replace(found.drill, shows=shows, vary=replace(found.drill.vary, shift_ns=shift_ns))
    calling = Condition(number=1, half_speed=False, coach="calling")
    assert coach_line(calling, drill, plan.plan, plan.timeline) == line
    alone = replace(plan.plan, cues=tuple(cue for cue in plan.plan.cues if not cue.announces))
    without = replace(drill, shows=())
    assert coach_line(calling, without, alone, plan.timeline) == "Coach: call HOME aloud as soon as it comes"


def test_that_tocsin_is_no_stop_is_said_once_before_the_drill_and_not_at_every_round(tmp_path):
    desk, drill = called(tmp_path, "break_off")
    assert [line for line in card(desk) if "not stop" in line] == [
        "Tocsin does not stop any robot."
    ]
    desk.press(*"y" * len(drill.questions))
    assert desk.ask.replace("\N{NO-BREAK SPACE}", " ") == "Nobody on the field? Press f."
    assert not [line for line in card(desk) if "not stop" in line]
