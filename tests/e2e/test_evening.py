"""A rehearsal evening by real keys in a terminal: led from step to step, left and taken up anywhere."""

import json
import os
import signal
import subprocess

import pytest

from tests.support.people.evening_seat import RUNNING, EveningSeat, project_in
from tests.support.stands.stand import TOCSIN
from tocsin.journal.people import People

pytestmark = pytest.mark.devices
LOUD = "Is the sound so low that nobody jumps?"
QUESTIONS = (LOUD, "Glasses on? y: yes", "Field empty? y: yes")


@pytest.fixture
def seats(tmp_path, monkeypatch):
    """Give what begins lives of an evening in a project, one after another."""
    file = project_in(tmp_path)
    monkeypatch.setenv("TOCSIN_PROJECT", str(file))
    lives = []

    def begin(*arguments, **keywords):
        lives.append(EveningSeat(tmp_path, *arguments, **keywords))
        return lives[-1]

    begin.runs = file.parent / "runs"
    begin.lives = lives
    yield begin
    for life in lives:
        life.terminal.kill()


def headers(runs):
    """Return the headers of the rounds, the oldest first."""
    folders = sorted(path for path in runs.iterdir() if path.is_dir())
    return [json.loads((path / "journal.jsonl").read_text("utf-8").partition("\n")[0]) for path in folders]


def test_a_coach_and_two_crews_rehearse_and_nobody_is_asked_twice(seats):
    seat = seats()
    seat.hear("project Bell crew")
    seat.hear("Crew B has no operator: that is fine")
    seat.answer("Who is there?", "y")
    seat.hear("asks for: loudspeaker")
    seat.answer(LOUD, "y")
    seat.answer("Did you hear a tone?", "r")
    seat.answer("Did you hear a tone?", "y")
    seat.hear("loudspeaker: confirmed")
    seat.hear("next Push, 1 round a crew")
    seat.hear("to come Turn")
    seat.answer("What now? b: begin Push", "b")
    seat.play_until("Rest as long as you like")
    seat.press("g")
    # Somebody new: only then, and for that person, everything is asked again.
    seat.answer("What now? b: begin Turn", "w")
    seat.answer("n: somebody new", "n")
    seat.answer("Name", "Dora\n")
    seat.answer("As what?", "5")
    seat.hear("crew B operator here Dora")
    seat.answer("Who is there?", "y")
    asked = len(seat.shown)
    seat.answer("What now? b: begin Turn", "b")
    seat.hear("Somebody is new tonight. Glasses on?")
    seat.press("y")
    seat.play_until("All drills are behind you")
    seat.press("e")
    seat.hear("Evening of")
    seat.hear("crew A (Ann, Ben)")
    seat.hear("Left open: ")
    seat.hear("Picture: ")
    seat.hear("The evening is over and kept")
    seat.hear("`tocsin evening --new` begins another.")
    assert seat.end() == 0
    before, after = seat.shown[:asked], seat.shown[asked:]
    assert before.count(LOUD) == 1
    assert before.count("Nobody on the field?") >= 2
    assert "Somebody is new tonight. Signals sound" in after, "the loudspeaker too, for Dora"
    names = People(seats.runs).names
    played = [(h["options"]["drill"]["crew"], {r: names[k] for r, k in h["options"]["people"].items()})
              for h in headers(seats.runs)]  # fmt: skip
    assert played == [
        ("A", {"driver": "Ann", "operator": "Ben"}), ("B", {"driver": "Cleo"}),
        ("A", {"driver": "Ann", "operator": "Ben"}), ("B", {"driver": "Cleo", "operator": "Dora"}),
    ]  # fmt: skip
    result = seat.terminal.shown.rpartition("Evening of")[2].splitlines()
    assert len(result) <= 10, "ten lines with the picture"
    (drawn,) = seats.runs.glob("evening_*.png")
    assert drawn.read_bytes().startswith(b"\x89PNG")
    # A picture is drawn in the place of the one before, without a line between them; a path stays whole.
    lines = [line for line in seat.terminal.shown.splitlines() if not set(line) & set("│╭╯/")]
    assert max(map(len, lines)) <= 80
    state = (seats.runs / "evening.json").read_text("utf-8")
    assert not [name for name in names.values() if name in state], "keys and no names"


def test_the_result_of_rounds_that_count_says_the_evenings_sentence_and_names_its_page(seats):
    seat = seats(rate="1")
    seat.answer("Who is there?", "y")
    seat.answer(LOUD, "n")
    seat.answer("What now? b: begin Push", "b")
    seat.play_until("Rest as long as you like")
    seat.press("e")
    seat.hear("Evening of")
    seat.hear("This evening, push: Too few count: 2 of 2 rounds do not")    # nobody marked them
    seat.hear("Pictures: ")
    seat.hear("The evening is over and kept")
    assert seat.end() == 0
    (page,) = seats.runs.glob("review_*.png")
    assert page.read_bytes().startswith(b"\x89PNG")
    assert f"/{page.name}" in seat.shown.rpartition("Pictures: ")[2]


def test_after_a_kill_at_each_step_it_goes_on_there_and_asks_nothing_again(seats):
    """Twelve lives of one evening, each ended by kill -9; all that was answered before stays answered."""
    seat = seats()
    answered = []

    def again(sign):
        """Wait for what is due, pull the plug, and wait for the same in the next life."""
        nonlocal seat
        seat.hear(sign)
        seat.kill()
        seat = seats()
        if len(seats.lives) > 1:
            seat.hear("The evening goes on")
        seat.hear(sign)
        asked = [question for question in answered if question in seat.shown]
        assert asked == [], asked

    again("Who is there?")
    seat.press("3")                                    # Cleo is not there
    again("not here Cleo")
    seat.hear("Crew B is not there")
    seat.answer("Who is there?", "y")
    again(LOUD)
    seat.press("y")
    answered.append(LOUD)
    again("Did you hear a tone?")
    seat.press("s")
    answered.append("Did you hear a tone?")
    again("What now? b: begin Push")
    seat.press("b")
    again("Glasses on? y: yes")
    seat.press("y")
    answered.append("Glasses on? y: yes")
    again("Field empty? y: yes")
    seat.press("y")
    answered.append("Field empty? y: yes")
    again("Nobody on the field?")
    seat.press("f")
    seat.answer("s count-in", "s")
    seat.hear(RUNNING)
    seat.kill()                                        # in the midst of a round: it is played again
    seat = seats()
    seat.hear("Nobody on the field?")
    seat.press("f")
    seat.answer("s count-in", "s")
    seat.hear("end of the drill")
    seat.kill()                                        # the result stood there: the round counts
    seat = seats()
    again("Rest as long as you like")
    seat.press("g")
    again("What now? b: begin Turn")
    seat.press("s")
    again("All drills are behind you")
    seat.press("e")
    seat.hear("Evening of")
    seat.hear("Turn skipped")
    assert seat.end() == 0
    rounds = [h["options"]["drill"] for h in headers(seats.runs)]
    assert [one["round"] for one in rounds] == [1, 1], "the first was cut short"
    assert len({one["key"] for one in rounds}) == 1, "one drill, gone on with"


def test_drills_are_changed_for_tonight_by_keys_and_a_file_that_went_away_ends_nothing(seats):
    drills = seats.runs.parent / "drills"
    seat = seats("--rig", "nothing", "--screen", "terminal")
    seat.answer("Who is there?", "y")
    seat.answer(LOUD, "n")
    seat.hear("loudspeaker: skipped, until it is so")
    seat.answer("What now? b: begin Push", "s")
    seat.answer("What now? b: begin Turn, s: skip it tonight, r: Push after all", "r")
    (drills / "push.toml").rename(drills / "away.toml")
    seat.answer("What now? b: begin Push", "b")
    seat.hear("there is no file")
    seat.answer("What now? b: begin Push", "a")
    seat.answer("Which one?", "words nosuch\n")
    seat.hear("there is no bundled drill 'nosuch'")
    seat.hear("> 1 next Words")
    seat.hear("2 to come Push")
    seat.answer("What now? b: begin Words", "e")
    seat.hear("Left open: Words not begun; Push not begun; Turn not begun")
    assert seat.end() == 0
    (drills / "away.toml").rename(drills / "push.toml")
    # The result was shown, and somebody goes on: the same evening; another one only if that is said.
    seat = seats()
    seat.hear("The evening goes on: Ann, Ben, Cleo; 0 of 3 drills done")
    seat.answer("What now? b: begin Words", "q")
    assert seat.end() == 0
    seat = seats("--new")
    seat.answer("Who is there?", "q")
    assert seat.end() == 0


@pytest.mark.parametrize("step", ["people", "name", "devices", "drill"])
@pytest.mark.parametrize("way", ["Ctrl-C", "closed"])
def test_ctrl_c_and_a_closed_terminal_end_any_step_with_their_exit_codes(seats, step, way):
    seat = seats()
    seat.hear("Who is there?")
    if step == "name":
        seat.press("n")
        seat.hear("Name (a nickname")
    elif step in ("devices", "drill"):
        seat.press("y")
        seat.hear(LOUD)
        if step == "drill":
            seat.press("n")
            seat.answer("What now? b: begin Push", "b")
            seat.hear("Glasses on? y: yes")
    if way == "Ctrl-C":
        seat.press("\x03")
        assert seat.end() == 130
        seat.hear("`tocsin evening` goes on from here")
    else:
        seat.terminal.close()
        assert seat.end() in (143, -signal.SIGTERM, -signal.SIGHUP)
    assert json.loads((seats.runs / "evening.json").read_text("utf-8"))["step"] == step.replace("name", "people")


def test_a_bare_tocsin_asks_for_one_key_and_does_it(seats, tmp_path):
    seat = seats(command=())
    seat.hear("Press a key: m: match, e: evening, l: look at plan and runs, q: quit.")
    seat.press("x")
    seat.hear("that is none of these")
    seat.press("e")
    seat.answer("Who is there?", "q")
    assert seat.end() == 0
    seat = seats(command=())
    seat.answer("Press a key: m: match", "l")
    seat.hear("in the game")
    seat.hear("no runs")
    seat.hear("Nothing is recorded yet")
    assert seat.end() == 0
    seat = seats(command=())
    seat.answer("Press a key: m: match", "q")
    assert seat.end() == 0
    seat = seats(command=())
    seat.answer("Press a key: m: match", "\x03")
    assert seat.end() == 130
    seat = seats(command=())
    seat.answer("Press a key: m: match", "m")
    seat.hear("Standby")
    seat.hear("count-in")
    seat.press("q")
    assert seat.end() == 0
    seat = seats(command=())
    seat.hear("Press a key: m: match")
    seat.terminal.close()
    assert seat.end() in (0, 143, -signal.SIGTERM, -signal.SIGHUP)


@pytest.mark.parametrize(("arguments", "says"), [((), "examples:"), (("evening",), "there is no terminal")])
def test_a_script_is_never_asked(arguments, says, tmp_path):
    env = {**os.environ, "XDG_DATA_HOME": str(tmp_path)}
    done = subprocess.run(
        [*TOCSIN, *arguments], env=env, stdin=subprocess.DEVNULL, capture_output=True, text=True, timeout=60,
        check=False,
    )  # fmt: skip
    assert done.returncode == 2
    assert says in done.stdout + done.stderr


def test_q_in_a_drill_pauses_it_and_b_goes_on_with_the_next_round(seats):
    """A coach who leaves each drill by q, as the help line says; nothing is thrown away, and every count is true."""
    push = seats.runs.parent / "drills" / "push.toml"
    push.write_text(push.read_text("utf-8").replace("rounds = 1", "rounds = 2"), "utf-8")
    seat = seats()
    seat.answer("Who is there?", "y")
    seat.answer(LOUD, "n")
    seat.answer("What now? b: begin Push", "b")
    seat.hear("Glasses on? y: yes")
    seat.press("q")                                    # not one round: nothing to rest from
    seat.hear("No round of Push was played")
    asked = len(seat.shown)
    seat.answer("What now? b: begin Push", "b")
    assert "Rest as long" not in seat.shown[:asked]
    seat.play_until("next round")
    seat.press("q")
    seat.hear("Push is paused: crew A 1 of 2, crew B 0 of 2.")
    seat.answer("Rest as long as you like", "g")
    seat.hear("> 1 begun Push, 2 rounds a crew")
    seat.hear("crew A 1 of 2, crew B 0 of 2")
    seat.answer("What now? b: go on with Push", "q")
    assert seat.end() == 0
    seat = seats(rate="30")
    seat.hear("0 of 2 drills done, Push begun.")
    seat.answer("What now? b: go on with Push", "b")
    seat.play_until("Rest as long as you like")
    seat.press("g")
    seat.hear("x 1 done Push")
    seat.answer("r: Push once more", "r")
    seat.hear("Push again from round 1, in a new order: it begins.")
    seat.hear("Nobody on the field?")
    seat.press("q")
    seat.hear("No round of Push was played")
    seat.answer("What now? b: begin Push", "e")
    assert seat.end() == 0
    rounds = [h["options"]["drill"] for h in headers(seats.runs)]
    assert sorted((one["crew"], one["round"]) for one in rounds) == [("A", 1), ("A", 2), ("B", 1), ("B", 2)]
    assert len({one["key"] for one in rounds}) == 1, "one drill, gone on with"
    rates = [h["options"]["rate"] for h in headers(seats.runs)]
    assert (rates[0], rates[-1]) == (40, 30), "at the speed that was asked for last"
