"""The steps of an evening at a scripted terminal: who is there, which drills, and what it came to."""

from collections import deque

import pytest

from tests.support.config.own_project import make_project
from tocsin.features.evening.drills import again, plan_lines, planned
from tocsin.features.evening.picture import picture
from tocsin.features.evening.result import CrewResult, DrillResult, EveningResult, each_once, lines_of
from tocsin.features.evening.seats import ask_who, seats_of
from tocsin.features.records.forgetting import forget, sought
from tocsin.journal.people import People
from tocsin.journal.tonight import PlannedDrill, Tonight
from tocsin.runner.options import RunOptions

BEGAN = "2031-03-01T18:00:00.000Z"


class Script:
    """A terminal whose answers are known beforehand; it keeps what was said."""

    def __init__(self, *answers):
        self._answers = deque(answers)
        self.said = []

    def say(self, line):
        self.said.append(line)

    def key(self, question, keys):
        self.said.append(question)
        answer = self._answers.popleft()
        assert answer in keys, (question, keys)
        return answer

    def line(self, question):
        self.said.append(question)
        return self._answers.popleft()


def seated(tmp_path, crews, *answers):
    """Answer who is there until that is right; return who is, by name."""
    people, script = People(tmp_path), Script(*answers)
    keys = {crew: {role: people.keep(name) for role, name in of.items()} for crew, of in crews.items()}
    tonight = Tonight(began=BEGAN, seats=seats_of(keys))
    while not ask_who(tonight, people, script):
        pass
    names = people.names
    return {crew: {role: names[key] for role, key in of.items()} for crew, of in tonight.roster.items()}, script.said


CREWS = {"A": {"driver": "Ann", "operator": "Ben"}, "B": {"driver": "Cleo"}}


@pytest.mark.parametrize(
    ("crews", "answers", "roster"),
    [
        (CREWS, "y", CREWS),
        (CREWS, "2y", {"A": {"driver": "Ann"}, "B": {"driver": "Cleo"}}),
        (CREWS, "3y", {"A": CREWS["A"]}),
        (CREWS, "33y", CREWS),
        (CREWS, ["n", "Dora", "5", "y"], {**CREWS, "B": {"driver": "Cleo", "operator": "Dora"}}),
        (CREWS, ["n", "Dora", "1", "y"], {**CREWS, "A": {"driver": "Dora", "operator": "Ben"}}),
        (CREWS, ["n", "Dora", "7", "y"], {**CREWS, "C": {"driver": "Dora"}}),
        (CREWS, ["n", "  ", "y"], CREWS),
        (CREWS, ["n", "ann", "1", "y"], CREWS),                         # known already: no second key
        ({}, "y", {}),
        ({}, ["n", "Ann", "1", "y"], {"A": {"driver": "Ann"}}),
    ],
)  # fmt: skip
def test_who_is_there(crews, answers, roster, tmp_path):
    found, _ = seated(tmp_path, crews, *answers)
    assert found == roster


def test_who_was_displaced_can_be_brought_back_and_takes_the_place(tmp_path):
    found, said = seated(tmp_path, CREWS, "n", "Dora", "1", "1", "y")
    assert found["A"]["driver"] == "Ann"
    assert any("not here  Ann" in line for line in said)


def test_a_crew_without_operator_is_fine_and_one_that_is_not_there_is_said(tmp_path):
    _, said = seated(tmp_path, CREWS, "1", "2", "y")
    assert "  Crew B has no operator: that is fine." in said
    assert "  Crew A is not there." in said


def drill(title, state, rounds=12):
    return PlannedDrill(
        name=title.lower(), title=title, trains=f"{title} in time", rounds=rounds, key=title, seed=1, state=state
    )


def test_the_plan_says_in_words_which_drill_is_which():
    tonight = Tonight(began=BEGAN, drills=[drill("Push", "done"), drill("Turn", "to come"), drill("Fork", "to come")])
    tonight.place = 1
    lines = list(plan_lines(tonight))
    assert [line[5:13].strip() for line in lines[1:]] == ["done", "next", "to come"]
    assert lines[2].startswith("> 2  next")


def test_a_drill_once_more_is_dealt_anew():
    first = drill("Push", "done")
    second = again(first)
    assert (second.name, second.state) == (first.name, "to come")
    assert second.key != first.key


def crew(letter, shapes, clean, left=0):
    counted = sum(shape in ("filled", "cross", "question") for shape in shapes)
    unclear = shapes.count("question")
    return CrewResult(crew=letter, shapes=tuple(shapes), counted=counted, clean=clean, open=unclear, left=left)


PLAYED = [
    DrillResult(
        title="Push", state="done", key="4f",
        crews=(crew("A", ["filled", "cross", "open"], 1), crew("B", ["question"], 0, 2)),
    ),
    DrillResult(title="Turn", state="skipped", key="5a"),
    DrillResult(title="Fork", state="to come", key="6b"),
]


def result(drills):
    unconfirmed = ("strip (skipped)",)
    return EveningResult(day="2031-03-01", project="Bell crew", drills=tuple(drills), unconfirmed=unconfirmed)


def test_the_result_says_what_was_counted_and_clean_and_what_is_left_open():
    assert list(lines_of(result(PLAYED), {})) == [
        "Evening of 2031-03-01, Bell crew: 4 rounds, 3 counted, 1 of these clean.",
        "  Push: crew A ●×○ 1 of 2 clean; crew B ? 0 of 1 clean",
        "Left open: Push, crew B: 2 rounds to play; Turn skipped; Fork not begun; 1 round without enough marks "
        "(`tocsin runs --show 4f`).",
        "Devices that nobody confirmed: strip (skipped).",
    ]


@pytest.mark.parametrize("count", [0, 1, 5, 6, 24])
def test_it_is_never_more_than_ten_lines_with_picture_and_list(count):
    played = [PLAYED[0]] * count
    assert len(list(lines_of(result(played), {}))) <= 8
    assert picture(result(played), {}).startswith(b"\x89PNG")


def test_equal_evenings_give_equal_pictures_and_others_do_not():
    assert picture(result(PLAYED), {}) == picture(result(PLAYED), {})
    assert picture(result(PLAYED), {}) != picture(result(PLAYED[1:]), {})


def test_a_drill_of_tonight_knows_the_patterns_that_its_plan_shares(tmp_path):
    make_project(tmp_path)
    options = RunOptions(plans=(), patterns=(str(tmp_path / "patterns" / "ours.toml"),))
    found = planned(str(tmp_path / "drills" / "turn.toml"), lambda drill, roster: options)
    assert found.title == "Turn"


HALF_SPEED = CrewResult(
    crew="A", shapes=("open", "filled", "open"), counted=1, clean=1, open=0, left=9,
    people={"driver": "1a2b3c4d", "operator": "5e6f7a8b"}, seconds=("+1.1", "-0.4", ""),
)  # fmt: skip
NAMES = {"1a2b3c4d": "Ann"}


def test_a_drill_that_was_played_twice_stands_there_once_with_names_and_seconds():
    twice = [
        DrillResult(title="Push", state="on", key="4f", crews=(HALF_SPEED,)),
        DrillResult(title="Push", state="done", key="5f", crews=(crew("A", ["filled"], 1),)),
        DrillResult(title="Push", state="to come", key="6f"),
    ]
    assert [drill.title for drill in each_once(twice)] == ["Push"]
    assert list(lines_of(result(twice[:1]), NAMES))[:3] == [
        "Evening of 2031-03-01, Bell crew: 3 rounds, 1 counted, 1 of these clean.",
        "  Push: crew A (Ann) ○●○ 1 of 1 clean, seconds to spare (+1.1) -0.4 (-)",
        "Left open: Push, crew A: 9 rounds to play.",
    ]
    lines = list(lines_of(result(twice), NAMES))
    assert len([line for line in lines if "Push" in line and line.startswith("  ")]) == 1
    assert "not begun" not in " ".join(lines)


def test_a_picture_shows_names_and_says_in_its_file_whose_by_key():
    drawn = result([DrillResult(title="Push", state="on", key="4f", crews=(HALF_SPEED,))])
    assert picture(drawn, NAMES) != picture(drawn, {})
    assert b"1a2b3c4d" in picture(drawn, NAMES)
    assert b"1a2b3c4d" not in picture(drawn, {})


def test_a_picture_goes_with_a_name_that_is_forgotten(tmp_path, monkeypatch):
    monkeypatch.setenv("XDG_STATE_HOME", str(tmp_path / "state"))
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path / "cache"))
    people = People(tmp_path)
    key = people.keep("Ann")
    shown, other = tmp_path / "evening_2031-03-01.png", tmp_path / "evening_2031-03-02.png"
    drawn = result([DrillResult(title="Push", state="on", key="4f", crews=(HALF_SPEED,))])
    crews = (CrewResult(crew="A", shapes=("open",), counted=0, clean=0, open=0, left=1, people={"driver": key}),)
    shown.write_bytes(picture(result([DrillResult(title="Push", state="on", key="4f", crews=crews)]), {key: "Ann"}))
    other.write_bytes(picture(drawn, NAMES))
    with sought(tmp_path, "Ann") as found:
        forget(found, frozenset())
    assert not shown.exists()
    assert other.exists()


def test_a_begun_drill_is_said_to_be_and_how_far_each_crew_has_come():
    begun = drill("Push", "on")
    begun.played = {"B": 0, "A": 1}
    lines = list(plan_lines(Tonight(began=BEGAN, drills=[begun, drill("Turn", "to come")])))
    assert lines[1].startswith("> 1  begun    Push")
    assert lines[2].strip() == "crew A 1 of 12, crew B 0 of 12"
