"""Commands in a team's folder mean its project, say so on stderr, and refuse a bad one with all its mistakes."""

import json
from pathlib import Path

import pytest

from tests.support.config.own_project import TEXT, make_project
from tests.support.journal.recorded_runs import record_push
from tocsin.cli.main import COMMANDS, main
from tocsin.cli.people import people_of, roster_of
from tocsin.cli.project import Meant, meant_here
from tocsin.config import bundle
from tocsin.config.project import project_path
from tocsin.errors import UsageError

Output = pytest.CaptureFixture[str]
TWO_CREWS = TEXT + '[crew.B]\ndriver = "00000002"\n'


@pytest.fixture(autouse=True)
def below(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """Stand in a folder below a project's."""
    make_project(tmp_path)
    folder = tmp_path / "notes"
    folder.mkdir()
    monkeypatch.chdir(folder)
    monkeypatch.setenv("XDG_DATA_HOME", str(tmp_path / "data"))      # no runs of whoever tests
    monkeypatch.delenv("TOCSIN_PROJECT")
    return folder


def test_preview_shows_the_own_plan(capsys: Output) -> None:
    assert main(["preview", "--json"]) == 0
    told = capsys.readouterr()
    assert json.loads(told.out)["plan"] == "First"
    assert told.err == "project Bell crew (../tocsin.toml): plan first\n"


def test_options_overrule_the_project_and_a_name_is_first_its_own(capsys: Output) -> None:
    assert main(["preview", "--json", "--plan", "calm"]) == 0
    told = capsys.readouterr()
    assert json.loads(told.out)["plan"] == "Calm"
    assert told.err == "project Bell crew (../tocsin.toml)\n"
    assert main(["preview", "--json", "--plan", "full"]) == 0
    assert json.loads(capsys.readouterr().out)["plan"] == "Full"


def test_without_a_project_the_bundled_example_is_said_to_be_one(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: Output
) -> None:
    (tmp_path / "tocsin.toml").unlink()
    if project_path(tmp_path, {}) is not None:
        pytest.skip("somebody's project lies above the folder of temporary files")
    assert main(["preview", "--json"]) == 0
    told = capsys.readouterr()
    assert json.loads(told.out)["plan"] == "Full"
    assert told.err == "no tocsin.toml from here up: the bundled example\n"
    assert main(["preview", "--json", "--plan", str(tmp_path / "plans" / "calm.toml"), "--game", "nowhere"]) == 2
    assert "bundled example" not in capsys.readouterr().err
    monkeypatch.setenv("TOCSIN_PROJECT", "")
    assert main(["preview", "--json"]) == 0
    assert capsys.readouterr().err == "", "a script that wants none knows what it gets"


def test_check_without_arguments_checks_the_project_and_all_that_it_names(tmp_path: Path, capsys: Output) -> None:
    code = main(["check"])
    told = capsys.readouterr().out
    assert code == 0, told
    assert told.startswith("Looked at ../tocsin.toml and the 7 files that it names.\n")
    assert "8 files: no mistakes" in told
    ours = tmp_path / "patterns" / "ours.toml"
    ours.write_text(ours.read_text("utf-8").replace("orange", "ornge"), "utf-8")
    drill = tmp_path / "drills" / "turn.toml"
    drill.write_text(drill.read_text("utf-8").replace("rounds = 12", "rounds = 0"), "utf-8")
    assert main(["check", "--json"]) == 20
    found = json.loads(capsys.readouterr().out)
    assert {Path(one["file"]).name for one in found["problems"]} == {"ours.toml", "turn.toml"}


def test_check_finds_the_mistakes_of_the_project_beside_those_of_its_files(tmp_path: Path, capsys: Output) -> None:
    path = tmp_path / "tocsin.toml"
    path.write_text(path.read_text("utf-8").replace('"quiet"]', '"quite"]'), "utf-8")
    plan = tmp_path / "plans" / "first.toml"
    plan.write_text(plan.read_text("utf-8").replace("no_contact.begin", "no_contact.bgin"), "utf-8")
    assert main(["check", "--json"]) == 20
    found = json.loads(capsys.readouterr().out)["problems"]
    assert {(Path(one["file"]).name, one["line"]) for one in found} == {("tocsin.toml", 3), ("first.toml", 8)}
    assert any(one["fix"] for one in found)


def test_check_notes_keys_without_a_name_and_plans_of_another_game(tmp_path: Path, capsys: Output) -> None:
    game = tmp_path / "games" / "ours.toml"
    game.parent.mkdir()
    game.write_bytes((bundle.root() / "games" / "casting_day.toml").read_bytes())
    make_project(tmp_path, TEXT.replace("plan = [", 'game = "ours"\nplan = [', 1))
    (tmp_path / "runs").mkdir()
    (tmp_path / "runs" / "people.json").write_text('{"people": {"3f2a91bc": "Ann"}}', "utf-8")
    assert main(["check", "--json"]) == 0
    notes = json.loads(capsys.readouterr().out)["notes"]
    assert [note for note in notes if "00000001 has no name" in note]
    assert not [note for note in notes if "3f2a91bc" in note]
    assert [note for note in notes if note.startswith("../plans/first.toml is for the game games/casting_day.toml")]
    assert not [note for note in notes if note.startswith("plans/quiet.toml")], "a bundled one is played in ours"


def test_react_offers_the_people_of_the_project_where_nobody_is_named(tmp_path: Path, capsys: Output) -> None:
    make_project(tmp_path, TWO_CREWS)
    runs = tmp_path / "runs"
    runs.mkdir()
    (runs / "people.json").write_text('{"people": {"3f2a91bc": "Ann", "00000002": "Cleo"}}', "utf-8")
    refused = ["react", "--channels", "sound", "--plan", "quiet"]      # before anything is opened
    assert main(refused) == 2
    offer = "nobody is named: --who says whose answers these are, e.g. driver=Ann, driver=Cleo"
    assert offer in " ".join(capsys.readouterr().err.split())
    assert main([*refused, "--who", "Ann"]) == 2
    assert "nobody is named" not in capsys.readouterr().err


def test_a_name_that_is_nothing_is_told_with_what_is_there(capsys: Output) -> None:
    assert main(["preview", "--plan", "frist"]) == 2
    told = " ".join(capsys.readouterr().err.split())
    assert "there is no plan 'frist' in the project, and none bundled" in told
    assert "did you mean first?" in told


def test_a_file_of_a_project_that_is_not_taken_says_so(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: Output
) -> None:
    monkeypatch.chdir(tmp_path.parent)
    monkeypatch.setenv("TOCSIN_PROJECT", "")
    (tmp_path / "plans" / "calm.toml").write_text((bundle.root() / "plans" / "quiet.toml").read_text("utf-8"), "utf-8")
    calm = str(tmp_path / "plans" / "calm.toml")
    assert main(["preview", "--json", "--plan", calm]) == 0
    assert capsys.readouterr().err == "", "who wants no project knows"
    monkeypatch.delenv("TOCSIN_PROJECT")
    assert main(["preview", "--json", "--plan", calm]) == 0
    assert "tocsin.toml is not used: go to its folder" in capsys.readouterr().err
    assert main(["check", calm]) == 0
    assert "tocsin.toml is not used: go to its folder" in capsys.readouterr().err
    assert main(["check", tmp_path.name]) == 0
    assert "is not used" not in capsys.readouterr().err


def test_check_of_a_folder_means_the_project_in_it(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: Output
) -> None:
    make_project(tmp_path / "elsewhere" / "team")
    monkeypatch.chdir(tmp_path / "elsewhere")
    monkeypatch.setenv("TOCSIN_PROJECT", "")
    assert main(["check", "team"]) == 0, capsys.readouterr().out


# A command, and what it needs so that nothing but the project file is wrong.
EVERY = {
    "run": [], "drill": ["break_off"], "follow": ["127.0.0.1#t=none"], "board": ["--address", "watch"], "react": [],
    "mark": [], "log": ["--robot", "log.txt"], "runs": [], "review": [],
    "advise": [], "check": [], "preview": [], "export": ["--to", "json"], "measure": ["lateness"], "devices": [],
}  # fmt: skip


@pytest.mark.parametrize("command", [*EVERY, "measure delays", "measure start"])
def test_every_command_tells_all_mistakes_of_a_bad_project(command: str, tmp_path: Path, capsys: Output) -> None:
    words = command.split()
    path = tmp_path / "tocsin.toml"
    path.write_text(path.read_text("utf-8").replace('"3f2a91bc"', '"Ann"').replace('"runs"', '"../runs"'), "utf-8")
    assert main([*words, *(EVERY.get(command, []))]) == 20
    told = capsys.readouterr()
    text = told.out + told.err
    assert "line 7" in text
    assert "line 17" in text
    assert "--who driver=NAME" in " ".join(text.split())


def test_no_command_is_forgotten() -> None:
    assert set(COMMANDS) - set(EVERY) <= {"init", "evening"}


def test_runs_lie_in_the_projects_folder(tmp_path: Path, capsys: Output) -> None:
    record_push(tmp_path / "runs", 1, 2.0)
    assert main(["runs", "--json"]) == 0
    told = capsys.readouterr()
    (row,) = json.loads(told.out)
    assert Path(row["folder"]).parent.resolve() == tmp_path / "runs"
    assert told.err == "project Bell crew (../tocsin.toml): runs in ../runs\n"
    assert main(["runs", "--json", "--runs", str(tmp_path / "none")]) == 0
    assert json.loads(capsys.readouterr().out) == []


def test_the_crews_people_play_where_nobody_is_named(tmp_path: Path) -> None:
    meant = meant_here()
    assert people_of([], None, tmp_path, meant) == {"driver": "3f2a91bc", "operator": "00000001"}
    assert roster_of([], tmp_path, meant) == {"A": {"driver": "3f2a91bc", "operator": "00000001"}}
    assert list(roster_of(["B.driver=Cleo"], tmp_path, meant)) == ["B"], "who is named stands alone"


def test_of_several_crews_none_is_guessed(tmp_path: Path, capsys: Output) -> None:
    make_project(tmp_path, TWO_CREWS)
    meant = meant_here()
    assert people_of([], None, tmp_path, meant) == {}
    meant.tell()
    assert "--crew A, B says whose" in capsys.readouterr().err
    assert people_of([], "B", tmp_path, meant_here()) == {"driver": "00000002"}
    with pytest.raises(UsageError, match="crew C has no names yet"):
        people_of([], "C", tmp_path, meant_here())
    with pytest.raises(UsageError, match="not both"):
        people_of(["driver=Ann"], "A", tmp_path, meant_here())
    with pytest.raises(UsageError, match="crew A has no names yet: no tocsin"):
        people_of([], "A", tmp_path, Meant(None))


def test_a_named_person_is_told_with_the_line_to_write(tmp_path: Path, capsys: Output) -> None:
    people = people_of(["driver=Ann"], None, tmp_path, meant_here())
    told = capsys.readouterr().err
    assert f'below [crew.A] in ../tocsin.toml, one a line: driver = "{people["driver"]}"' in told
    assert "Ann" not in told
