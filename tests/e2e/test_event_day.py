"""An event day by real keys: three matches with a crash between, on a window; a pit without one; a script."""

import json
import re
from datetime import timedelta

import pytest

from tests.support.channels.screen_stand import MISSING, Server
from tests.support.people.event_team import EventTeam, project
from tests.support.stands.stand import Run, wait_for
from tests.support.stands.terminal import Terminal
from tocsin import monotime
from tocsin.journal.place import EVENT_RULES_NAME
from tocsin.units import NS_PER_MS

pytestmark = pytest.mark.devices
LATE = ("--from", "driver.end-30s", "--rate", "2")


@pytest.fixture
def team(tmp_path):
    if MISSING:
        pytest.skip(MISSING)
    server = Server((1366, 768))
    team = EventTeam(tmp_path, server)
    yield team
    team.close()
    server.close()


def records_of(folder):
    return [json.loads(line) for line in (folder / "journal.jsonl").read_text("utf-8").splitlines()]


def test_a_drive_team_plays_three_matches_of_an_event_with_a_crash_between(team):
    window = team.open("--at", "event", "--match", "13", *LATE)
    team.see("Rules asked")
    team.see("sound off")
    assert "Quiet" in window.rows["heading"]           # the plan of events
    team.press("y", "Up")
    team.see("EVENT DAY, match 14, sound off")

    team.press("t")
    team.see("Preflight: all there; tried: driver, operator, light, screen")
    told = "\n".join(text for rows in window.history for text in rows.values())
    steps = [int(number) for number in re.findall(r"Preflight (\d) of \d: ", told)]
    assert steps == sorted(steps)                      # a window of a busy machine may leave one out
    assert steps
    first, second = ([at_ns for at_ns, low, _ in team.pads.motors(pad) if low] for pad in "ab")
    assert second[0] - first[0] > 500 * NS_PER_MS      # one after another, so that each hand knows which is meant
    assert any(any(map(any, colours)) for _, colours in team.strip.frames)

    team.press("s")
    team.see("next match")
    team.press("s")
    team.see("EVENT DAY, match 15, sound off")
    assert "Rules asked:" not in window.rows["prompt"]
    team.press("s")
    team.await_folders(2)
    team.see("Hands on")                                # the count-in is over: the period runs
    window.kill()

    window = team.open("--resume", screen="")
    team.see("next match")
    team.press("s")
    team.see("EVENT DAY, match 16, sound off")
    assert "Rules asked:" not in window.rows["prompt"]
    team.see("allowed at the field")
    team.press("s")
    team.see("next match")
    team.press("q")
    assert window.finish() == 0

    rows = team.runs()
    assert [(row["match"], row["at"], row["outcome"]) for row in rows] == [(n, "event", "over") for n in (14, 15, 16)]
    assert [row["plan"] for row in rows] == ["Quiet"] * 3
    assert not team.sound.exists()                     # nothing was ever played
    folders = sorted(path for path in (team.folder / "runs").iterdir() if path.is_dir())
    notes = [{r["what"]: r["text"] for r in records_of(folder) if r["kind"] == "note"} for folder in folders]
    assert all(note["event"] == "sound off" for note in notes)
    assert notes[0]["preflight"] == "all there; tried: driver, operator, light, screen"
    assert notes[0]["event rules"].startswith("asked")
    resumed = [r for r in records_of(folders[1]) if r["kind"] == "fault" and r["what"] == "resumed"]
    assert len(resumed) == 1
    assert not any(r["kind"] == "firing" and r["channel"] == "sound" and r["outcome"] != "skipped"
                   for folder in folders for r in records_of(folder))  # fmt: skip


def test_in_a_terminal_of_80_columns_a_laptop_that_may_not_stand_there_is_told_so(tmp_path, monkeypatch):
    monkeypatch.setenv("TOCSIN_PROJECT", str(project(tmp_path, "/dev/none")))
    terminal = Terminal(tmp_path, "run", "--at", "event", *LATE)
    wait_for(lambda: "Rules asked" in terminal.shown)
    terminal.type("s")
    wait_for(lambda: "say first whether the event's rules were asked" in terminal.shown)
    terminal.type("n")
    wait_for(lambda: "Leave it in the pit, use the card:" in terminal.shown)
    assert "tocsin export --to card --plan quiet -o card.pdf" in terminal.shown
    terminal.type("\x1b[C\x1b[A")                      # right, up
    wait_for(lambda: "EVENT DAY, match 11, sound off" in terminal.shown)
    terminal.type("t")
    wait_for(lambda: "Preflight: MISSING driver, operator, light; tried: screen" in terminal.shown)
    assert "TEST" in terminal.shown
    assert "sound: off  off at an event" in terminal.shown
    terminal.type("s")
    wait_for(lambda: "next match" in terminal.shown)
    terminal.type("s")
    wait_for(lambda: "EVENT DAY, match 12, sound off" in terminal.shown)
    assert "Leave it in the pit" in terminal.shown.rsplit("EVENT DAY, match 12", 1)[1]
    terminal.type("q")
    assert terminal.end() == 0
    assert max(map(len, terminal.shown.split("\n"))) <= 2 * 80     # one frame replaces another in its line
    kept = json.loads((tmp_path / "runs" / EVENT_RULES_NAME).read_text("utf-8"))
    assert [answer["allowed"] for answer in kept["answers"]] == [False]


def test_a_script_is_asked_nothing_and_hears_nothing(tmp_path):
    path = project(tmp_path, "/dev/none")
    run = Run(
        tmp_path, "--at", "event", "--match", "7", "--start", "now", "--rate", "100", "--screen", "none",
        env={"TOCSIN_PROJECT": str(path)},
    )  # fmt: skip
    code, summary, said = run.finish()
    assert code == 0
    assert "sound" not in summary["channels"]
    assert "An event day: the sound is off" in said
    assert "Rules asked" not in said
    assert not (tmp_path / "sound.pcm").exists()
    [folder] = [path for path in run.runs.iterdir() if path.is_dir()]
    assert records_of(folder)[0]["options"]["match"] == 7


def test_on_a_day_of_the_project_practice_stays_practice_and_says_what_an_event_would_be(tmp_path):
    today = monotime.today()
    dates = ", ".join(f"{today + timedelta(days=days)}" for days in (-1, 0, 1))        # also over midnight
    env = {"TOCSIN_PROJECT": str(project(tmp_path, "/dev/none", dates))}
    run = Run(tmp_path, "--start", "now", "--rate", "100", "--screen", "none", env=env)
    code, summary, said = run.finish()
    assert code == 0
    assert "sound" in summary["channels"]
    told = " ".join(said.split())
    assert "Today is an event day, but this run is practice." in told
    assert "`tocsin run --at event` turns the sound off, plays plan quiet" in told
    [folder] = [path for path in run.runs.iterdir() if path.is_dir()]
    assert records_of(folder)[0]["options"]["at"] == "practice"
