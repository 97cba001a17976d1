"""`tocsin init` offers to rewrite the older names that stand in a folder, and does it only when it is asked to."""

import io
import json
import os
import shutil
import sys
from pathlib import Path

import pytest

from tests.support import PROJECT
from tocsin.cli.main import main
from tocsin.config.checking import examine
from tocsin.config.file_cache import FileCache
from tocsin.config.load import load
from tocsin.config.project import find_project

Output = pytest.CaptureFixture[str]
BEFORE = PROJECT / "tests" / "cases" / "folder_before"
PROJECT_FILE = """\
format = "tocsin-project/1"
name = "Ours"
game = "games/harbour_haul.toml"
plan = ["plans/first.toml"]
rig = "driver_station"      # beside the robot's program
"""


@pytest.fixture
def team(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """Return a folder with a project file and older names in it, and stand beside it."""
    monkeypatch.chdir(tmp_path)
    shutil.copytree(BEFORE, tmp_path / "team")
    (tmp_path / "team" / "first_long_way.txt").unlink()
    (tmp_path / "team" / "tocsin.toml").write_text(PROJECT_FILE, encoding="utf-8")
    return tmp_path / "team"


def bytes_of(folder: Path) -> dict[str, bytes]:
    return {path.relative_to(folder).as_posix(): path.read_bytes() for path in folder.rglob("*") if path.is_file()}


class Typed(io.StringIO):
    """A terminal's keyboard."""

    def isatty(self) -> bool:
        return True


def answer(monkeypatch: pytest.MonkeyPatch, *lines: str) -> None:
    monkeypatch.setattr(sys, "stdin", Typed("".join(f"{line}\n" for line in lines)))


def older(folder: Path) -> list[str]:
    """Return the files in which older names stand."""
    return [name for name, _ in examine([f"{folder}/"]).older]


CHANGED = ["plans/first.toml", "plans/full.toml", "plans/quiet.toml", "plans/words.toml", "tocsin.toml"]


def assert_rewritten(team: Path, before: dict[str, bytes]) -> None:
    after = bytes_of(team)
    assert {f"{name}.before": before[name] for name in CHANGED} == {
        name: held for name, held in after.items() if name.endswith(".before")
    }
    assert [name for name in sorted(before) if after[name] != before[name]] == CHANGED
    assert older(team) == []


def test_a_project_is_offered_it_in_one_question(
    team: Path, monkeypatch: pytest.MonkeyPatch, capsys: Output
) -> None:
    before = bytes_of(team)
    plan = load(None, ["team/plans/first.toml"], "nothing", FileCache()).plans
    answer(monkeypatch, "no")
    assert main(["init", "team"]) == 0
    out = capsys.readouterr().out
    assert 'plans/first.toml has older names, which are read as before: "blip" in line 15 is "hello" now;' in out
    assert '"driver_station" in line 5 is "beside_robot" now' in out
    assert out.count("Rewrite them, and keep a copy of each file? [yes]") == 1
    assert "They stay as they are. tocsin init team --names rewrites them without asking." in out
    assert bytes_of(team) == before
    answer(monkeypatch, "")
    assert main(["init", "team"]) == 0
    assert 'Rewritten in plans/first.toml: "blip" in line 15 is "hello" now;' in capsys.readouterr().out
    assert_rewritten(team, before)
    assert load(None, ["team/plans/first.toml"], "nothing", FileCache()).plans == plan
    project = find_project(team, {})
    assert project is not None
    assert project.rig == "beside_robot"
    assert "rig = \"beside_robot\"        # beside the robot's program" in (team / "tocsin.toml").read_text("utf-8")
    answer(monkeypatch)                                        # nobody is asked again
    assert main(["init", "team"]) == 0
    assert "older" not in capsys.readouterr().out


def test_the_option_does_it_without_asking(team: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    before = bytes_of(team)
    answer(monkeypatch)
    assert main(["init", "team", "--names"]) == 0
    assert_rewritten(team, before)


def test_a_script_is_told_and_nothing_is_written(team: Path, monkeypatch: pytest.MonkeyPatch, capsys: Output) -> None:
    before = bytes_of(team)
    with Path(os.devnull).open(encoding="utf-8") as nothing:
        monkeypatch.setattr(sys, "stdin", nothing)
        assert main(["init", "team"]) == 0
    assert "tocsin init team --names rewrites them without asking." in capsys.readouterr().out
    assert bytes_of(team) == before


def test_times_and_names_are_written_together(team: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    answer(monkeypatch)
    mine = (team / "plans" / "first.toml").read_bytes()
    assert main(["init", "team", "--names", "--off", "5s"]) == 0
    text = (team / "plans" / "first.toml").read_text("utf-8")
    assert 'break_off = "5s"' in text
    assert "blip" not in text
    assert (team / "plans" / "first.toml.before").read_bytes() == mine
    assert not (team / "plans" / "first.toml.before2").exists()


def test_a_folder_without_a_project_has_its_names_rewritten_and_nothing_else(team: Path, capsys: Output) -> None:
    (team / "tocsin.toml").unlink()
    before = bytes_of(team)
    assert main(["init", "team", "--names"]) == 0
    after = bytes_of(team)
    assert set(after) - set(before) == {f"{name}.before" for name in CHANGED[:-1]}
    assert older(team) == []
    capsys.readouterr()
    assert main(["init", "team", "--names"]) == 0
    assert "Its files have no older names." in capsys.readouterr().out
    assert bytes_of(team) == after
    assert main(["init", "nowhere", "--names"]) == 2


def test_names_and_leads_of_a_folder_of_before_are_written_in_one_go(team: Path) -> None:
    (team / "tocsin.toml").unlink()
    mine = (team / "plans" / "first.toml").read_text("utf-8")
    assert main(["init", "team", "--upgrade", "--names", "--home", "9s"]) == 0
    added = [line for line in (team / "plans" / "first.toml").read_text("utf-8").splitlines()
             if line not in mine.splitlines()]  # fmt: skip
    assert [line.split(" #")[0].strip() for line in added] == [
        'home = "13s"', 'rumble = "hello"', 'light = "no_touch"', 'screen = "no_touch"',
    ]  # fmt: skip
    assert (team / "plans" / "first.toml.before").read_text("utf-8") == mine
    assert not (team / "plans" / "first.toml.before2").exists()
    assert older(team) == []


def test_check_says_it_in_one_line_a_file(team: Path, monkeypatch: pytest.MonkeyPatch, capsys: Output) -> None:
    monkeypatch.chdir(team)
    monkeypatch.setenv("TOCSIN_PROJECT", "tocsin.toml")
    assert main(["check", "--json"]) == 0
    notes = json.loads(capsys.readouterr().out)["notes"]
    (project,) = (note for note in notes if note.startswith("tocsin.toml has older names"))
    assert project.endswith('"driver_station" in line 5 is "beside_robot" now. `tocsin init . --names` rewrites them.')
    (plan,) = (note for note in notes if note.startswith(f"plans{os.sep}first.toml has older names"))
    assert plan.endswith('"keep_off" in lines 38, 39 is "no_touch" now. `tocsin init . --names` rewrites them.')
    assert main(["init", ".", "--names"]) == 0
    capsys.readouterr()
    assert main(["check", "--json"]) == 0
    assert not [note for note in json.loads(capsys.readouterr().out)["notes"] if "older" in note]
