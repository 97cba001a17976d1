"""Two crews swapped in mid-drill, four people: whose round is whose, in the files, in `tocsin runs`, after a crash, and
after a name was forgotten."""

import json
import shutil
from pathlib import Path

import pytest

from tests.support.people.two_crews import CUT_SHORT, PLAYED, ROSTER, play
from tocsin.cli.main import main
from tocsin.journal.people import People

pytestmark = pytest.mark.devices


@pytest.fixture(scope="module")
def shared(tmp_path_factory):
    """Both lives of the drill, once for all that is read in them."""
    return play(tmp_path_factory.mktemp("crews"))


def headers(shared):
    return [shared.after.records(number)[0]["options"] for number in range(len(PLAYED))]


def named(people, names):
    return {role: names.get(key, key) for role, key in people.items()}


@pytest.fixture
def listed(shared, capsys):
    """Return how `tocsin runs --json` lists the rounds, the first of the evening first."""

    def rows(*arguments, runs=shared.runs):
        assert main(["runs", "--runs", str(runs), "--json", *arguments]) == 0
        return list(reversed(json.loads(capsys.readouterr().out)))

    return rows


def test_each_rounds_header_holds_the_people_of_its_own_crew(shared):
    names = People(shared.runs).names
    for (crew, number, _), options in zip(PLAYED, headers(shared), strict=True):
        assert (options["drill"]["crew"], options["drill"]["round"]) == (crew, number)
        assert named(options["people"], names) == ROSTER[crew]


def test_all_rounds_are_of_the_plan_that_was_given_also_behind_the_crash(shared):
    for number in range(len(PLAYED)):
        header = shared.after.records(number)[0]
        assert (header["timeline"]["plan"], header["timeline"]["game"]) == ("Call", "Short and sharp")
        assert [Path(path).name for path in header["options"]["plans"]] == ["plan.toml"]
        assert 'name = "Call"' in "".join(file["text"] for file in header["files"])
        assert "plans/full.toml" not in [file["name"] for file in header["files"]]


def test_names_stand_in_no_file_but_the_one_that_holds_them(shared):
    for path in shared.runs.rglob("journal.jsonl"):
        text = path.read_text("utf-8")
        assert not [name for people in ROSTER.values() for name in people.values() if name in text]


def test_the_list_says_whose_round_it_was(shared, listed):
    names = People(shared.runs).names
    rows = listed()
    assert [(row["crew"], row["round"], named(row["people"], names)) for row in rows] == [
        (crew, number, ROSTER[crew]) for crew, number, _ in PLAYED
    ]
    assert [row["people_unknown"] for row in rows] == [False] * len(PLAYED)
    assert len({row["session"] for row in rows}) == 1
    cleo = [number for number, (crew, _, _) in enumerate(PLAYED) if crew == "B"]
    assert [rows.index(row) for row in listed("--who", "Cleo")] == cleo
    assert [rows.index(row) for row in listed("--crew", "B")] == cleo


def test_results_are_those_of_the_rounds(listed):
    clean = [row["clean"] for row in listed()]
    assert clean[:CUT_SHORT] + clean[CUT_SHORT + 1 :] == [not pushes for n, (_, _, pushes) in enumerate(PLAYED)
                                                          if n != CUT_SHORT]


def test_series_and_goal_are_of_the_crew_that_plays_also_after_a_crash(shared):
    """A terminal has no cross. Crew B was not clean, then clean; crew A was clean twice, once on each side of it."""
    assert shared.before.hearing("Crew B: x ●")
    assert not shared.before.hearing("Crew A: ● ")
    assert shared.after.hearing("Crew A: ● ●")
    told = shared.after.lines[shared.after.lines.index(shared.after.hearing("Crew A: Goal")[-1]) :]
    assert told[0].startswith("Crew A: Goal reached: 2 clean of 2. 2 of 2 clean")
    assert told[1].strip() == "● ●"
    assert told[2].startswith("Crew B: Goal reached: 2 clean of 2. 2 of 3 clean")
    assert told[3].strip() == "× ● ●"


def test_no_crew_knows_its_rounds_from_having_watched_the_other(shared):
    dealt = [options["drill"]["condition"]["setup"] for options in headers(shared)]
    of = {crew: [one for (who, _, _), one in zip(PLAYED, dealt, strict=True) if who == crew] for crew in ROSTER}
    assert of["A"][1] == of["A"][2], "the round that was cut short comes again as it was dealt"
    assert sorted(of["B"]) == ["left", "middle", "right"]


def test_a_forgotten_name_is_gone_and_the_rounds_stay_whose_they_were(shared, listed, tmp_path, capsys, monkeypatch):
    monkeypatch.setenv("XDG_STATE_HOME", str(tmp_path / "state"))      # not the lock and voices of whoever tests
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path / "cache"))
    runs = shutil.copytree(shared.runs, tmp_path / "runs")
    before = listed(runs=runs)
    assert main(["runs", "--runs", str(runs), "--forget", "Cleo", "--yes"]) == 0
    capsys.readouterr()
    assert set(People(runs).names.values()) == {"Ann", "Ben", "Dan"}
    assert listed(runs=runs) == before, "journals hold keys alone"
    assert main(["runs", "--runs", str(runs)]) == 0
    shown = capsys.readouterr().out
    assert "Cleo" not in shown
    assert shown.count("driver Ann operator Ben") == shown.count("operator Dan") == len(PLAYED) // 2
    assert shared.code == 0
