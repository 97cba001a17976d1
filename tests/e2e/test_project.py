"""A team's project played by whole processes, from a folder below it: what is taken, what the journal keeps."""

import json
import os
import signal
import subprocess
from pathlib import Path

import pytest

from tests.support.config.own_project import TEXT, make_project
from tests.support.people.evening import Evening, rig_text
from tests.support.people.eventful_evening import GAME, PLAN
from tests.support.people.two_crews import DRILL
from tests.support.stands.stand import TOCSIN, wait_for
from tocsin.journal.reader import read

pytestmark = pytest.mark.devices

TEAM = TEXT.replace('rig = "practice_bench"\n', "")       # nothing is plugged in here


@pytest.fixture
def team(tmp_path: Path) -> Path:
    make_project(tmp_path, TEAM)
    return tmp_path


def environment(team: Path) -> dict[str, str]:
    env = {**os.environ, "XDG_STATE_HOME": str(team / "state"), "XDG_DATA_HOME": str(team / "data"),
           "SDL_AUDIODRIVER": "nothing"}  # fmt: skip
    del env["TOCSIN_PROJECT"]
    return env


def tocsin(team: Path, *arguments: str) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        [*TOCSIN, *arguments], cwd=team / "plans", env=environment(team), capture_output=True, text=True, timeout=120,
        stdin=subprocess.DEVNULL, check=False,
    )  # fmt: skip


def test_a_match_is_the_projects_and_its_run_lies_in_it(team: Path) -> None:
    done = tocsin(team, "run", "--start", "now", "--from", "driver.end-5s", "--rate", "20", "--json", "--screen",
                  "none")  # fmt: skip
    assert done.returncode == 0, done.stderr
    assert json.loads(done.stdout)["outcome"] == "over", "stdout is the summary's alone"
    assert done.stderr.startswith("project Bell crew (../tocsin.toml): plans first, quiet, crew A\n")
    (folder,) = (team / "runs").glob("*Z*")
    header = read(folder).header
    assert header.options["people"] == {"driver": "3f2a91bc", "operator": "00000001"}
    assert any("[pattern.light.ours]" in file.text for file in header.files)
    assert header.options["language"] == "de"
    listed = tocsin(team, "runs", "--json")
    (row,) = json.loads(listed.stdout)
    assert row["plan"] == "First"
    assert row["people"] == {"driver": "3f2a91bc", "operator": "00000001"}


def test_a_match_that_was_cut_short_goes_on_without_the_files(team: Path) -> None:
    cut = subprocess.Popen(
        [*TOCSIN, "run", "--start", "now", "--from", "driver.end-30s", "--screen", "none", "--json"],
        cwd=team / "plans", env=environment(team), stdin=subprocess.DEVNULL, stdout=subprocess.DEVNULL,
        stderr=subprocess.DEVNULL,
    )  # fmt: skip

    def begun() -> bool:
        return any('"origin"' in path.read_text("utf-8") for path in (team / "runs").glob("*/journal.jsonl"))

    try:
        wait_for(begun)
    finally:
        cut.send_signal(signal.SIGKILL)
        cut.wait(60)
    (team / "patterns" / "ours.toml").unlink()
    path = team / "tocsin.toml"
    path.write_text(path.read_text("utf-8").replace('patterns = ["patterns/ours.toml"]\n', ""), "utf-8")
    done = tocsin(team, "run", "--resume", "--json")
    assert done.returncode == 0, done.stderr
    assert json.loads(done.stdout)["outcome"] == "over"
    assert "runs in ../runs" in done.stderr


def test_a_drill_of_the_projects_own_is_its_crews(team: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.delenv("TOCSIN_PROJECT")
    monkeypatch.chdir(team / "plans")
    for name, text in (("plans/game", GAME), ("plans/short", PLAN), ("rigs/short", rig_text('count_in = "1s"')),
                       ("drills/short", DRILL.replace('plan = "full"', 'plan = "../plans/short.toml"'))):  # fmt: skip
        (team / f"{name}.toml").write_text(text, "utf-8")
    path = team / "tocsin.toml"
    path.write_text(path.read_text("utf-8").replace('name = "B', 'rig = "short"\nname = "B'), "utf-8")
    evening = Evening(team, "short")
    try:
        evening.hear("project Bell crew (../tocsin.toml): rig short, crew A")
        evening.hear("Is the field empty?")
        evening.tap("yes")
        evening.hear("Round 1 of 3")
        evening.tap("clear")
        evening.hear("count-in")
        evening.tap("start")
        evening.await_round(1, kind="origin", anchor="match")
    finally:
        evening.close()
    header = read(evening.folders()[0]).header
    assert header.options["people"] == {"driver": "3f2a91bc", "operator": "00000001"}
    assert header.options["drill"]["crew"] == "A"
    assert any("[pattern.light.ours]" in file.text for file in header.files)
