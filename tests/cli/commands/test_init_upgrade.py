"""Folders that the first ``tocsin init`` wrote: they load and drill as they are, and are rewritten once asked for."""

import io
import os
import shutil
import sys
from pathlib import Path

import pytest

from tests.support import PROJECT
from tocsin.cli.main import main
from tocsin.config.checking import check
from tocsin.config.drills import load_drill
from tocsin.config.load import load
from tocsin.config.project import find_project
from tocsin.config.write.starter import answered_in
from tocsin.units import NS_PER_S

Output = pytest.CaptureFixture[str]
# Written by the command of the version before; what a rewrite does not look at is left out.
BEFORE = PROJECT / "tests" / "cases" / "folder_before"
S = NS_PER_S


@pytest.fixture
def team(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """Return a folder of the version before, with answers of 7 s and 4 s, and stand beside it."""
    monkeypatch.chdir(tmp_path)
    shutil.copytree(BEFORE, tmp_path / "team")
    (tmp_path / "team" / "first_long_way.txt").unlink()
    return tmp_path / "team"


@pytest.fixture
def long_way(team: Path) -> Path:
    """Return the same for a way home of 25 s: then that answer stood in the plan, and the other one nowhere."""
    shutil.copy(BEFORE / "first_long_way.txt", team / "plans" / "first.toml")
    return team


def bytes_of(folder: Path) -> dict[str, bytes]:
    """Return what stands in each file of a folder."""
    return {str(path.relative_to(folder)): path.read_bytes() for path in folder.rglob("*") if path.is_file()}


class Typed(io.StringIO):
    """A terminal's keyboard."""

    def isatty(self) -> bool:
        return True


def answer(monkeypatch: pytest.MonkeyPatch, *lines: str) -> None:
    """Let somebody type these lines."""
    monkeypatch.setattr(sys, "stdin", Typed("".join(f"{line}\n" for line in lines)))


def test_it_loads_and_drills_as_it_is(team: Path) -> None:
    assert check([f"{team}/"]) == ()
    assert load(None, [str(team / "plans" / "first.toml")], str(team / "rigs" / "practice_bench.toml"))
    for drill in sorted((team / "drills").glob("*.toml")):
        assert load_drill(str(drill), "nothing").drill.rounds
    on_own = load_drill(str(team / "drills" / "break_off.toml"), "nothing", str(team / "plans" / "first.toml"))
    assert on_own.files.plans[0].plan.name == "First plan"


@pytest.mark.parametrize("way", ["", "long"])
def test_brought_up_to_date_it_is_a_project_on_its_own_plan(
    way: str, team: Path, request: pytest.FixtureRequest
) -> None:
    if way:
        request.getfixturevalue("long_way")
    before = bytes_of(team)
    missing = ["--off", "5s"] if way else ["--home", "9s"]
    assert main(["init", "team", "--upgrade", *missing]) == 0
    project = find_project(team, {})
    assert project is not None
    assert project.rig is not None
    assert project.event_plan == str(team / "plans" / "quiet.toml")
    for plan in (*project.plans, project.event_plan):
        loaded = load(None, [plan], project.rig)
        assert answered_in(loaded.plans[0].plan) == ((25 * S, 5 * S) if way else (9 * S, 4 * S))
        assert loaded.game.name == "Harbour Haul"
    assert [Path(drill).stem for drill in project.drills] == ["words", "turn", "break_off"]
    for drill in project.drills[1:]:
        assert load_drill(drill, project.rig).files.plans[0].plan.name == "First plan"
    assert check([f"{team}/"]) == ()
    after = bytes_of(team)
    for name, held in before.items():
        assert held in (after[name], after.get(f"{name}.before")), f"{name} is lost"


def test_what_people_changed_stays_as_it_is(team: Path, capsys: Output) -> None:
    changed = {"drills/turn.toml": "rest", "plans/quiet.toml": "say"}
    for name, word in changed.items():
        text = (team / name).read_text("utf-8")
        (team / name).write_text(text.replace(f"{word} = ", f"# ours\n{word} = ", 1), encoding="utf-8")
    mine = {name: (team / name).read_bytes() for name in changed}
    assert main(["init", "team", "--upgrade", "--home", "9s"]) == 0
    assert {name: (team / name).read_bytes() for name in changed} == mine
    out = capsys.readouterr().out
    assert all(f"{name} was changed by people and stays." in out for name in changed)
    assert check([f"{team}/"]) == ()


def test_only_the_leads_are_added_to_the_teams_plan(team: Path) -> None:
    plan = team / "plans" / "first.toml"
    mine = plan.read_text("utf-8").replace('say = "Home"', 'say = "Home now"    # ours')
    plan.write_text(mine, encoding="utf-8")
    assert main(["init", "team", "--upgrade", "--home", "9s"]) == 0
    added = [line for line in plan.read_text("utf-8").splitlines() if line not in mine.splitlines()]
    assert [line.split(" #")[0].strip() for line in added] == ['home = "13s"']
    assert plan.with_name("first.toml.before").read_text("utf-8") == mine


def test_it_is_offered_in_one_question(team: Path, monkeypatch: pytest.MonkeyPatch, capsys: Output) -> None:
    before = bytes_of(team)
    answer(monkeypatch, "no")
    assert main(["init", "team"]) == 0
    out = capsys.readouterr().out
    assert out.count("Bring it up to date? [yes]") == 1
    assert "Nothing was written. tocsin init team --upgrade does it without asking." in out
    assert bytes_of(team) == before
    answer(monkeypatch, "", "9s")                              # Enter is yes; the way home stood nowhere
    assert main(["init", "team"]) == 0
    out = capsys.readouterr().out
    assert out.count(" [") == 2
    assert find_project(team, {}) is not None
    assert main(["init", "team"]) == 0                         # nobody is asked again
    assert "Bring it" not in capsys.readouterr().out


def test_a_script_is_told_and_nothing_is_written(team: Path, monkeypatch: pytest.MonkeyPatch, capsys: Output) -> None:
    before = bytes_of(team)
    with Path(os.devnull).open(encoding="utf-8") as nothing:
        monkeypatch.setattr(sys, "stdin", nothing)
        assert main(["init", "team"]) == 0
    assert "--upgrade does it without asking" in capsys.readouterr().out
    assert bytes_of(team) == before


def test_a_folder_made_by_hand_becomes_a_project_too(team: Path) -> None:
    """One plan of their own under another name, its game beside the folders."""
    (team / "plans" / "first.toml").rename(team / "plans" / "ours.toml")
    plan = team / "plans" / "ours.toml"
    plan.write_text(plan.read_text("utf-8").replace("../games/harbour_haul.toml", "../haul.toml"), encoding="utf-8")
    (team / "games" / "harbour_haul.toml").rename(team / "haul.toml")
    for bundled in ("full", "quiet"):
        (team / "plans" / f"{bundled}.toml").unlink()
    for drill in (team / "drills").glob("*.toml"):
        drill.unlink()
    assert main(["init", "team", "--upgrade", "--home", "9s"]) == 0
    project = find_project(team, {})
    assert project is not None
    assert (project.plans, project.game) == ((str(plan),), str(team / "haul.toml"))
    assert load_drill(str(team / "drills" / "break_off.toml"), "nothing").files.game.name == "Harbour Haul"


def test_what_an_interrupted_init_left_half_done_is_completed(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: Output
) -> None:
    """A folder that was there already is filled file by file, the project file last."""
    monkeypatch.chdir(tmp_path)
    game = ["--autonomous=none", "--driver=2:00", "--digits=0:20", "--windows=0:20", "--contact=20"]
    assert main(["init", ".", *game, "--home=7s", "--off=4s", "--who=none"]) == 0
    whole = bytes_of(tmp_path)
    for name in ("tocsin.toml", "drills/fork.toml", "rigs/nothing.toml"):
        (tmp_path / name).unlink()
    capsys.readouterr()
    assert main(["init", ".", "--upgrade"]) == 0
    assert bytes_of(tmp_path) == whole
    assert "changed by people" not in capsys.readouterr().out


def test_a_plan_with_mistakes_is_told_and_nothing_is_written(team: Path, capsys: Output) -> None:
    plan = team / "plans" / "first.toml"
    plan.write_text(plan.read_text("utf-8").replace("no_contact", "no_contakt"), encoding="utf-8")
    before = bytes_of(team)
    assert main(["init", "team", "--upgrade", "--home", "9s"]) == 20
    assert "no_contakt" in capsys.readouterr().err
    assert bytes_of(team) == before
