"""Questions that are asked once an evening of people, by every command that lights up, shakes or sounds."""

import msgspec
import pytest

from tests.support.runner.stage_stand import Desk, stage_for
from tocsin.config.drills import load_drill
from tocsin.features.drills.rounds import Rounds
from tocsin.features.records.round_files import Session
from tocsin.features.trial.questions import FLASHES, LOUDNESS, SOMEBODY_NEW, Questions, of_signals
from tocsin.journal.answers import Answers
from tocsin.model.plan import CHANNELS
from tocsin.runner.options import RunOptions

OPTIONS = RunOptions(plans=("full",), rig="nothing", start="key")


def drill_desk(tmp_path, name, people=(), key="k1"):
    found = load_drill(name, "nothing")
    answers = Answers(tmp_path / "runs", people)
    programme = Rounds(found, OPTIONS, Session(name=name, key=key, seed=7), answers=answers)
    return Desk(programme, stage_for(programme, OPTIONS, tmp_path)), found.drill


def asked(desk):
    """Answer with yes what is asked, and return it."""
    found = []
    while len(found) < 9 and "y: yes" in (ask := desk.ask.replace("\N{NO-BREAK SPACE}", " ")):
        found.append(ask.partition(" y: yes")[0])
        desk.press("y")
    return found


def test_a_drill_asks_of_field_light_and_loudness_and_the_next_one_of_nothing_again(tmp_path):
    desk, drill = drill_desk(tmp_path, "break_off", ["ann", "ben"])
    questions = asked(desk)
    assert questions == [*drill.questions, FLASHES, LOUDNESS.replace("{key}", "t")]
    desk, drill = drill_desk(tmp_path, "turn", ["ann"], "k2")
    assert asked(desk) == []
    assert "Nobody on the field?" in desk.ask, "this is said before each round"
    assert [line for line in desk.card if line in drill.safely] == list(drill.safely), "what it warns of stands there"


def test_somebody_new_is_asked_for(tmp_path):
    asked(drill_desk(tmp_path, "break_off", ["ann"])[0])
    desk, drill = drill_desk(tmp_path, "turn", ["ann", "dora"], "k2")
    questions = (*drill.questions, FLASHES, LOUDNESS.replace("{key}", "t"))
    assert asked(desk) == [SOMEBODY_NEW + question for question in questions]
    assert asked(drill_desk(tmp_path, "fork", ["dora"], "k3")[0]) == []


def test_a_new_battery_asks_of_the_field_alone(tmp_path):
    desk, drill = drill_desk(tmp_path, "break_off")
    asked(desk)
    desk.press("e")
    assert asked(desk) == list(drill.field_questions) == [q for q in drill.questions if "glasses" not in q]


def test_where_a_drill_does_not_tell_its_questions_apart_a_new_battery_asks_all_of_them(tmp_path):
    text = (
        'format = "tocsin-drill/1"\nname = "Own"\ntrains = "x"\nplace = "field"\nplan = "full"\nrounds = 2\n'
        'questions = ["Glasses {on} (all)?", "Field empty?"]\n'
    )
    (tmp_path / "own.toml").write_text(text, "utf-8")
    desk, drill = drill_desk(tmp_path, str(tmp_path / "own.toml"))
    assert asked(desk)[:2] == ["Glasses {on} (all)?", "Field empty?"]
    notes = [note.text for note in desk.programme.take_notes()]
    assert notes[0] == "Glasses {on} (all)? yes"
    desk.press("e")
    assert asked(desk) == ["Glasses {on} (all)?", "Field empty?"]
    assert msgspec.structs.asdict(drill)["field_questions"] == drill.questions


def test_what_a_bench_drill_asks_of_the_robot_holds_for_that_drill_alone(tmp_path):
    desk, drill = drill_desk(tmp_path, "words", key="k1")
    assert asked(desk)[0] == drill.questions[0]
    assert asked(drill_desk(tmp_path, "words", key="k1")[0]) == [], "the same drill, gone on with"
    assert asked(drill_desk(tmp_path, "words", key="k2")[0]) == list(drill.questions)


def test_a_no_is_not_kept_and_what_comes_first_each_time_is_neither(tmp_path):
    answers = Answers(tmp_path)
    questions = Questions([FLASHES], answers)
    questions.put_first("Is the robot off?")
    questions.answer("yes", 0)
    questions.answer("no", 0)
    assert questions.open
    again = Questions([FLASHES], Answers(tmp_path))
    again.put_first("Is the robot off?")
    for _ in range(2):
        assert again.open
        again.answer("yes", 0)
    assert not again.open
    assert not Questions([FLASHES], Answers(tmp_path)).open
    assert not Answers(tmp_path).known("Is the robot off?")


@pytest.mark.parametrize(
    ("channels", "found"),
    [((), ()), (("rumble",), ()), (("light",), (FLASHES,)), (("sound",), (LOUDNESS,)), (CHANNELS, (FLASHES, LOUDNESS))],
)
def test_only_what_is_there_is_asked_about(channels, found):
    assert of_signals(channels) == found
