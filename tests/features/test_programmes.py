"""Drills, reaction tests, previews and measurements as programmes, on a stage without processes and devices.

What people are asked, what their answers lead to, what is played next, and what stands in its journal.
"""

import re
import shlex
import shutil
from pathlib import Path

import msgspec
import pytest

from tests.support.runner.stage_stand import NOW_NS, Desk, notice, plain_stage, ready, stage_for
from tocsin.cli.main import main
from tocsin.config import bundle
from tocsin.config.drills import load_drill
from tocsin.config.load import load
from tocsin.errors import UsageError
from tocsin.features.drills.rounds import Rounds
from tocsin.features.measure.lateness.round import LatenessRound
from tocsin.features.preview.cue import previews_of
from tocsin.features.preview.programme import DARK_NS, Previews
from tocsin.features.reactions.programme import Participant, Reactions
from tocsin.features.records.round_files import Session
from tocsin.features.trial.answer_keys import rig_of_test
from tocsin.features.trial.guided import Guided
from tocsin.features.trial.questions import FLASHES, LOUDNESS, ROBOT_OFF, SOMEBODY_NEW, Questions
from tocsin.journal import records
from tocsin.journal.answers import Answers
from tocsin.journal.short_name import short_name
from tocsin.model.display.view_model import ViewModelMaker
from tocsin.model.plan import CHANNELS
from tocsin.model.timeline.timeline import MATCH, Point
from tocsin.runner.options import ROUND, RunOptions
from tocsin.runner.programme import Programme
from tocsin.runner.stage import Front
from tocsin.runner.status import status_of
from tocsin.units import NS_PER_S as S

RATE = RunOptions(plans=("full",), rig="nothing", rate=100.0, start="key")


# -- a drill ----------------------------------------------------------------------------------------------------------


def drill_desk(tmp_path, name="turn", seed=7, roster=None, names=None, runs=None, rate=RATE.rate, **session):
    found = load_drill(name, "nothing")
    options = msgspec.structs.replace(RATE, roster=roster or {}, runs=runs, rate=rate)
    programme = Rounds(found, options, Session(name=name, key="k", seed=seed, **session), names=names)
    return Desk(programme, stage_for(programme, options, tmp_path))


@pytest.fixture
def drill(tmp_path):
    return drill_desk(tmp_path)


def answer_all(desk):
    desk.press(*"y" * 9)
    assert "Nobody on the field" in desk.ask


def played(desk):
    """Say that the field is clear, start, and play a round to its end."""
    desk.press("f", "s")
    assert desk.phase == "waiting"
    return desk.end_match()


def test_no_round_begins_before_the_questions_and_the_word_that_the_field_is_clear(drill):
    assert drill.press("s") == "answer the safety questions first"
    assert drill.press("n") == "nothing begins yet: fix it, then answer yes"
    answer_all(drill)
    assert drill.press("s") == "say first that the field is clear"
    drill.press("f")
    assert drill.ask == ""
    drill.press("s")
    assert drill.phase == "waiting"
    notes = [(note.what, note.text.rsplit(" ", 1)[-1]) for note in drill.programme.take_notes()]
    assert notes[0] == ("safety", "no")
    assert notes[-1] == ("field clear", "")
    assert set(notes[1:-1]) == {("safety", "yes")}
    assert drill.programme.take_notes() == []


def test_a_round_that_was_played_gives_a_result_and_the_next_one_its_own_condition(drill):
    answer_all(drill)
    first = drill.stage.piece
    assert first.facts[ROUND]["round"] == 1
    assert played(drill)
    assert "next round" in drill.ask
    drill.press("s")
    drill.go_on()
    assert drill.stage.piece.facts[ROUND]["round"] == 2
    assert drill.card[0].replace("\N{NO-BREAK SPACE}", " ").startswith("Round 2 of 12")
    assert any(line.startswith("Rest: ") for line in drill.card)
    drill.after(61)
    assert not any(line.startswith("Rest: ") for line in drill.card)


def test_while_a_round_rings_out_its_keys_wait_for_the_result(drill):
    answer_all(drill)
    drill.press("f", "s")
    while drill.phase != "over":
        drill.after(0.25)
    assert drill.press("s") == "round just over: its result comes at once"
    assert not drill.stage.wants_next


def test_a_round_that_cannot_be_told_offers_video_at_once_by_a_command_that_works(tmp_path, capsys):
    desk = drill_desk(tmp_path, "break_off", runs=tmp_path / "runs", rate=1.0)
    answer_all(desk)
    while desk.programme.session.place < 2:            # at half speed nothing is judged
        played(desk)
        assert desk.programme.video() == ""
        desk.press("s")
        desk.go_on()
    played(desk)
    offer = desk.programme.video()
    folder = desk.stage.last_folder
    assert offer.startswith(f"By video: tocsin mark {short_name(folder)} ")
    assert offer.endswith("--video marks.csv --seen 0:12.4=driver.end")
    status = status_of(desk.stage, desk.programme, desk.result, desk.now_ns)
    assert status.video == offer
    _, *words = shlex.split(offer.removeprefix("By video: "))
    table = tmp_path / "marks.csv"
    table.write_text("time,label,until\n0:02,contact,0:03\n0:05,turned,\n0:09,home,\n", encoding="utf-8")
    assert main([str(table) if word == "marks.csv" else word for word in words]) == 0
    told = capsys.readouterr().out
    assert "contact" in told
    assert "(from a video)" in told
    desk.press("r")
    assert desk.programme.video() == "", "it is played again"


def test_a_round_that_was_scrapped_is_played_again_from_the_field_clear_on(drill):
    answer_all(drill)
    drill.press("f", "s", "x", "x")
    assert drill.end_match() == ()
    assert drill.notice == "cancelled: the round is played again"
    drill.go_on()
    assert drill.stage.piece.facts[ROUND]["round"] == 1
    assert "Nobody on the field?" in drill.ask


def test_only_keys_that_do_something_are_listed(drill):
    """No key is offered that is refused: first the answers, then the word that the field is clear, then the start."""
    listed = []
    for keys in ("", "y" * 9, "f"):
        drill.press(*keys)
        listed.append({entry.action for entry in status_of(drill.stage, drill.programme, (), NOW_NS).keys})
    offered = [entries & {"start", "clear", "yes"} for entries in listed]
    assert offered == [{"yes"}, {"clear"}, {"start", "clear"}]


def test_a_round_may_be_played_again_or_dropped_with_a_reason(drill):
    answer_all(drill)
    played(drill)
    drill.press("r")
    drill.go_on()
    assert drill.stage.piece.facts[ROUND]["round"] == 1
    played(drill)
    drill.press("d")
    assert drill.ask.startswith("Why not? ")
    drill.press("d")
    assert "next round" in drill.ask, "it counts after all"
    drill.press("d", "2")
    drill.go_on()
    assert drill.stage.piece.facts[ROUND]["round"] == 2
    assert drill.programme.series() == (), "no round counts yet"


KEY_WORDS = re.compile(r"\b[a-z0-9]:\s|page (up|down)|\bkey\b|[Pp]ress [a-z0-9]+")


def test_boards_read_no_key_of_the_laptop_at_any_step_of_a_drill(drill):
    drill.stage.boards.wanted = True
    seen = {}

    def look(step):
        status = status_of(drill.stage, drill.programme, (), NOW_NS)
        seen[step] = status.for_boards.ask
        assert KEY_WORDS.search(status.ask), "at the laptop they stand"
        for text in (status.for_boards.ask, *status.for_boards.card, status.for_boards.notice):
            assert not KEY_WORDS.search(text), (step, text)

    look("questions")
    answer_all(drill)
    seen["clear"] = status_of(drill.stage, drill.programme, (), NOW_NS).for_boards.ask
    played(drill)
    look("result")
    drill.press("d")
    look("why")
    assert seen["result"] == "next round"
    assert seen["why"] == "Why not?"
    assert drill.programme.next_words(drill.phase) == ""


def test_the_button_says_that_the_last_round_is_followed_by_the_end_of_the_drill(drill):
    answer_all(drill)
    said = []
    while not drill.programme.finished and len(said) < 30:
        played(drill)
        said.append(drill.programme.next_words(drill.phase))
        drill.press("s")
        if drill.programme.finished:
            break
        drill.go_on()
    assert said[-1] == "end of the drill"
    assert set(said[:-1]) <= {"next round"}
    assert drill.programme.farewell == "The drill is over: all rounds are played"


def test_crew_and_battery_change_between_rounds_and_stand_in_the_next_header(drill):
    answer_all(drill)
    drill.press("w")
    assert drill.stage.piece.facts[ROUND]["crew"] == "B"
    assert drill.stage.unsent
    played(drill)
    assert drill.press("w") == "only between rounds, before the field is clear"
    drill.press("s")
    drill.go_on()
    assert drill.stage.piece.facts[ROUND]["battery"] == 1
    drill.press("e")
    assert drill.stage.piece.facts[ROUND]["battery"] == 0
    assert "yes" in drill.ask, "a new battery is asked for anew"


def test_each_crew_has_a_series_of_its_own(drill):
    """Two rounds of one crew, then two of the other, in a drill that both share."""
    answer_all(drill)
    for crew in "AABB":
        while drill.stage.piece.facts[ROUND]["crew"] != crew:
            drill.press("w")
        played(drill)
        shown = [line.replace("\N{NO-BREAK SPACE}", " ") for line in drill.programme.result()]
        drill.press("s")
        drill.go_on()
    assert [line[:12] for line in shown if "\N{WHITE CIRCLE}" in line] == ["Crew B: \N{WHITE CIRCLE} \N{WHITE CIRCLE} "]
    told = drill.programme.series()
    assert [line.split(":")[0] for line in told if line.startswith("Crew ")] == ["Crew A", "Crew B"]


def on(drill):
    """Return the crew that is on, the number of its round, and who stands in its journal's header."""
    facts = drill.stage.piece.facts
    return facts[ROUND]["crew"], facts[ROUND]["round"], facts["people"]


def test_the_key_swaps_the_crews_that_are_named_and_each_has_its_own_rounds(tmp_path):
    roster = {"A": {"driver": "a1"}, "B": {"driver": "b1"}}
    drill = drill_desk(tmp_path, roster=roster)
    answer_all(drill)
    played(drill)
    drill.press("s")
    drill.go_on()
    assert on(drill) == ("B", 1, roster["B"]), "the crew with fewer rounds"
    drill.press("w")
    assert on(drill) == ("A", 2, roster["A"])
    drill.press("w")
    assert on(drill) == ("B", 1, roster["B"])


def test_the_people_of_a_crew_stand_on_the_card_and_apart_from_all_that_boards_are_told(tmp_path):
    roster = {"A": {"driver": "a1", "operator": "a2"}}
    drill = drill_desk(tmp_path, roster=roster, names={"a1": "Zebulonia", "a2": "Quirinus"})
    line = "Crew A: driver Zebulonia, operator Quirinus"
    assert line not in shown_card(drill), "while the questions stand"
    answer_all(drill)
    assert shown_card(drill)[1] == line, "behind which round it is"
    nameless = msgspec.structs.replace(drill.status, named="")
    assert b"Zebulonia" not in msgspec.json.encode(nameless)
    assert drill.card == nameless.card


def shown_card(drill):
    return ViewModelMaker(drill.stage.match.timeline).at(drill.status, drill.now_ns).card


def test_of_a_crew_that_nobody_named_it_is_said_that_its_rounds_name_nobody(tmp_path):
    drill = drill_desk(tmp_path, roster={"A": {"driver": "a1"}})
    answer_all(drill)
    assert drill.press("w") == "nobody has said who is in crew B: its rounds name no people"
    assert on(drill) == ("B", 1, {})
    other = drill_desk(tmp_path)
    answer_all(other)
    assert other.press("w") == "", "where nobody is named there is nothing to say"


def test_a_crew_that_has_played_all_its_rounds_gives_way_to_the_one_that_has_not(tmp_path):
    """Two crews, three rounds each: the second has one behind it as the first comes to its last."""
    drill = drill_desk(tmp_path, "three_in_a_row", places={"A": 2, "B": 1})
    answer_all(drill)
    played(drill)
    assert "next round" in drill.ask
    assert drill.press("s") == "crew A has played all its rounds: now crew B"
    drill.go_on()
    assert on(drill)[:2] == ("B", 2)
    drill.press("w")
    assert on(drill)[:2] == ("C", 1), "a third crew may still come in"
    drill.press("w")
    for left in (2, 1):
        assert on(drill)[0] == "B"
        assert not drill.programme.finished
        drill.press("f")
        played(drill)
        assert ("end of the drill" in drill.ask) == (left == 1)
        drill.press("s")
        if left > 1:
            drill.go_on()
    assert drill.programme.finished


def test_the_newest_mark_of_a_round_is_taken_back_in_its_journal(drill):
    answer_all(drill)
    drill.press("f", "s")
    while drill.phase != "running":
        drill.after(0.05)
    assert drill.press("7") == "contact noted"
    drill.end_match()
    assert re.fullmatch(r"undone: contact \d+\.\d s before the end", drill.press("a"))
    assert drill.press("a") == "there is no mark to take back"
    drill.stage.last_folder = None
    assert drill.press("a") == "the round has no journal"


def test_of_a_round_that_nobody_marked_a_person_may_say_that_it_was_watched(tmp_path):
    drill = drill_desk(tmp_path, "fork")
    answer_all(drill)
    played(drill)
    assert drill.result[0].startswith("NOT COUNTED: ")
    assert drill.result[1].startswith("Not judged: nobody marked this.")
    assert ("yes", "watched, nothing to mark") in drill.programme.keys("over")
    assert drill.press("y") == "watched, nothing to mark: recorded"
    assert drill.programme.result()[1].startswith("Not judged: nobody noted whether the robot came home.")
    assert ("undo", "undo mark") in drill.programme.keys("over")
    assert drill.press("y") == ""


def test_all_rounds_make_a_drill(tmp_path):
    desk = drill_desk(tmp_path, "three_in_a_row")
    answer_all(desk)
    for number in (1, 2, 3):
        assert desk.stage.piece.facts[ROUND]["round"] == number
        played(desk)
        desk.press("s")
        if number < 3:
            desk.go_on()
    assert desk.programme.finished


# -- a reaction test --------------------------------------------------------------------------------------------------


def reaction_desk(tmp_path, *there, wanted=CHANNELS, answers=None):
    loaded = load(None, ("full",), "practice_bench")
    plan = loaded.plans[0].plan
    rig_file = next(file for file in loaded.files if file.kind == "rig")
    subject = Participant(
        key="0123abcd", person="89abcdef", role="driver", seed=3, full=False, plan=plan, plan_sha256="0" * 64,
        rig=rig_of_test(loaded.rig, "driver"), rig_file=rig_file, wanted=wanted,
    )  # fmt: skip
    programme = Reactions(subject, msgspec.structs.replace(RATE, rig="practice_bench"), answers=answers)
    desk = Desk(programme, stage_for(programme, RATE, tmp_path))
    ready(desk.stage, *there)
    return desk


def test_of_light_and_loudness_a_person_is_asked_once_an_evening_and_of_the_robot_each_time(tmp_path):
    first = reaction_desk(tmp_path, *CHANNELS, answers=Answers(tmp_path, ["ann"]))
    assert first.ask.startswith(ROBOT_OFF)
    first.press("y")
    assert first.ask.startswith(FLASHES)
    first.press("y", "y")
    assert first.ask == ""
    again = reaction_desk(tmp_path / "again", *CHANNELS, answers=Answers(tmp_path, ["ann"]))
    assert again.ask.startswith(ROBOT_OFF)
    again.press("y")
    assert again.ask == ""
    other = reaction_desk(tmp_path / "other", *CHANNELS, answers=Answers(tmp_path, ["ben"]))
    other.press("y")
    assert other.ask.startswith(SOMEBODY_NEW + FLASHES)


def answer_cautions(desk):
    desk.press(*"y" * 9)
    assert desk.ask == ""


def test_what_is_not_there_is_left_out_once_the_devices_have_spoken(tmp_path):
    desk = reaction_desk(tmp_path, "light", "sound")
    assert desk.press("s") == "answer the questions first"
    answer_cautions(desk)
    channels = {firing.channel for firing in desk.stage.match.timeline.firings}
    assert channels == {"light", "sound"}
    assert desk.stage.unsent
    assert "Not there, so not tested: rumble, screen" in desk.card
    assert "No window, so no steering: answers are faster than with it" in desk.card


def test_with_nothing_there_it_says_so(tmp_path):
    desk = reaction_desk(tmp_path, "rumble")       # of pads the role's own counts
    desk.press(*"y" * 2)
    with pytest.raises(UsageError):
        desk.press(*"y" * 9)


def test_a_block_that_was_scrapped_is_played_again_and_practice_may_be_repeated(tmp_path):
    desk = reaction_desk(tmp_path, "light", "sound")
    answer_cautions(desk)
    assert desk.card[0].startswith("Practice")
    desk.press("s", "x", "x")
    assert desk.end_match() == ()
    assert desk.card[0].startswith("Practice")
    desk.stage.wants_next = True                   # by the start key
    desk.go_on()
    desk.press("s")
    assert desk.end_match()
    desk.press("r")
    desk.go_on()
    assert desk.card[0].startswith("Practice")
    desk.press("s")
    desk.end_match()
    desk.press("s")
    desk.go_on()
    assert desk.card[0].startswith("Block 1 of")


# -- cues by hand -----------------------------------------------------------------------------------------------------


def preview_desk(tmp_path, *, by_key, asked=()):
    options = RunOptions(plans=("quiet",), rig="nothing", start="key")
    files = load(None, options.plans, options.rig)
    found = files.plans[0]
    cues = previews_of(found.plan, found.timeline)
    programme = Previews(files, options, cues, Questions(asked), by_key=by_key)
    return Desk(programme, stage_for(programme, options, tmp_path)).after(0.25)


@pytest.mark.parametrize("by_key", [True, False])
def test_no_cue_comes_before_the_questions_of_light_and_loudness(by_key, tmp_path):
    desk = preview_desk(tmp_path, by_key=by_key, asked=(FLASHES, LOUDNESS))
    assert desk.ask == f"{FLASHES} y: yes, n: no"
    assert desk.press("s") == "answer the question first"
    assert "fix it, then answer yes" in desk.press("n")
    desk.press("y")
    assert desk.ask.startswith("Signals sound without warning. Is the sound so low that nobody jumps (t tries it)?")
    assert desk.after(3).phase == "standby"
    desk.press("y", *("s" if by_key else ""))
    assert desk.after(0.5).phase in ("waiting", "running")


def test_where_nobody_can_answer_cues_come_by_themselves(tmp_path):
    desk = preview_desk(tmp_path, by_key=False, asked=(FLASHES,))
    desk = Desk(desk.programme, desk.stage)
    desk.stage.front = Front(opened=True, interactive=False)
    assert desk.after(0.5).phase in ("waiting", "running")


def test_cues_go_on_and_back_by_keys(tmp_path):
    desk = preview_desk(tmp_path, by_key=True)
    assert desk.press("left") == "", "nothing was shown yet: it begins with the first"
    desk.after(0.5)
    assert desk.phase in ("waiting", "running")
    first = desk.stage.piece.begins
    assert desk.card[0].startswith("1 of ")
    desk.press("s")
    desk.end_match()
    desk.go_on()
    desk.after(0.5)
    assert desk.card[0].startswith("2 of ")
    assert desk.stage.piece.begins.offset_ns > first.offset_ns
    assert desk.press("left", "left") == "that is the first cue"
    assert desk.press("c", "h", "x") != "", "nothing else is done in a preview"
    assert desk.phase in ("waiting", "running")
    desk.press("q")
    assert desk.stage.ending.why == "left"


def test_between_two_cues_the_light_is_given_time_to_go_dark(tmp_path):
    desk = preview_desk(tmp_path, by_key=True)
    desk.press("s")
    desk.after(0.5)
    desk.press("s")
    desk.after(0.25)
    broken_ns = desk.stage.match.broken_ns
    assert broken_ns is not None
    assert desk.stage.match.origins() == ()
    assert not desk.stage.match.over(broken_ns + DARK_NS - 1)
    assert desk.stage.match.over(broken_ns + DARK_NS)


# -- measurements -----------------------------------------------------------------------------------------------------


def guided_desk(tmp_path, begins_by="start"):
    said = []
    files = load(None, RATE.plans, RATE.rig)
    programme = Guided(files, RATE, ("Is the robot off?",), ("Film it",), begins_by, "Keep still", said.append)
    return Desk(programme, stage_for(programme, RATE, tmp_path)), said


def test_a_measurement_begins_by_a_key_once_all_is_answered_and_leaves_at_its_end(tmp_path):
    desk, _ = guided_desk(tmp_path)
    ready(desk.stage, "light")
    assert desk.press("s") == "answer the questions first"
    desk.press("y")
    assert desk.ask == "Press page down or s: begin"
    desk.press("s")
    desk.after(1)
    assert (desk.phase, desk.ask) == ("running", "Keep still")
    desk.end_match()
    assert desk.stage.ending.why == "measured"
    assert "light" not in desk.programme.absent
    assert desk.programme.absent.keys() == {"rumble", "screen", "sound"}
    assert any(isinstance(record, records.OriginRecord) for record in desk.programme.kept)


def test_nobody_who_could_press_a_key_ends_it(tmp_path):
    desk, said = guided_desk(tmp_path)
    desk.stage.front.interactive = False
    desk.after(0.25)
    assert desk.programme.deserted
    assert desk.stage.ending.why == "nobody can press a key"
    assert said == []


def test_a_round_of_lateness_without_any_device_ends_at_once(tmp_path):
    said = []
    files = load(None, RATE.plans, RATE.rig)
    programme = LatenessRound(files, RATE, said.append)
    desk = Desk(programme, stage_for(programme, RATE, tmp_path))
    desk.stage.match.start_now(NOW_NS, 0)
    desk.after(0.25)
    assert programme.idle
    assert desk.stage.ending.why == "no device is there"


# -- a plan -----------------------------------------------------------------------------------------------------------


def test_a_run_begins_where_it_was_asked_to(tmp_path):
    _, stage = plain_stage(tmp_path, "full", from_moment="match.end-30s")
    assert stage.piece.at.offset_ns > 100 * S
    assert plain_stage(tmp_path, "full")[1].piece.at == Point(MATCH, 0)
    assert plain_stage(tmp_path, "full", from_moment="0:22")[1].piece.at == Point(MATCH, 114 * S)


def test_a_plan_that_is_saved_while_devices_open_is_loaded_once_people_can_read_so(tmp_path):
    """Its notice lasts for seconds, and devices of a busy laptop take longer to open: nobody saw what was loaded."""
    plan = Path(shutil.copy(bundle.root() / "plans" / "full.toml", tmp_path))
    options = RunOptions(plans=(str(plan),), rig="nothing")
    programme = Programme(load(None, options.plans, options.rig), options)
    stage = stage_for(programme, options, tmp_path)
    stage.front = Front()
    plan.write_text(plan.read_text("utf-8").replace('break_off = "4s"', 'break_off = "6.5s"'), "utf-8")
    programme.turn(stage, NOW_NS)
    assert notice(stage) == ""
    stage.front = Front(opened=True)
    programme.turn(stage, NOW_NS + 20 * S)
    assert notice(stage, NOW_NS + 20 * S).startswith("reloaded: Full")
