"""Matches are judged like rounds: what simulated people's hands did, against the result of the journal that it left."""

import json
from pathlib import Path
from typing import Any, get_args

import pytest
from msgspec.structs import replace

from tests.support.people.drive_team import Habit
from tests.support.people.match_team import CALL_S, OPTIONS, PlayedMatch, match_desk, play
from tests.support.people.reckoned_round import apart, told
from tocsin.cli.main import main
from tocsin.config.load import load
from tocsin.features.records.matches import Matches
from tocsin.features.records.rows import RowMaker
from tocsin.journal.place import JOURNAL_NAME
from tocsin.journal.reader import read
from tocsin.units import NS_PER_S as S

HABITS: tuple[Habit, ...] = get_args(Habit)
SLACK_NS = S // 50                     # the ends of keys and the call lie on turns of the loop
TIMES = ("break_off_margin_s", "turn_s", "way_s", "home_margin_s", "contact_s")
FIGURES = ("contacts", "home", "cost_points", "gain_points", "watched")


@pytest.fixture
def match(tmp_path: Path) -> PlayedMatch:
    return play(match_desk(tmp_path), "breaks off", 1)


def rows(runs: Path, capsys: pytest.CaptureFixture[str]) -> list[dict[str, Any]]:
    capsys.readouterr()
    assert main(["runs", "--runs", str(runs), "--json"]) == 0
    found: list[dict[str, Any]] = json.loads(capsys.readouterr().out)
    return found


def shown(runs: Path, run: str, capsys: pytest.CaptureFixture[str]) -> str:
    capsys.readouterr()
    assert main(["runs", "--runs", str(runs), "--show", run]) == 0
    return capsys.readouterr().out


def without_marks(folder: Path) -> None:
    journal = folder / JOURNAL_NAME
    kept = [line for line in journal.read_text("utf-8").splitlines() if json.loads(line)["kind"] != "mark"]
    journal.write_text("\n".join([*kept, ""]), "utf-8")


@pytest.mark.parametrize("habit", HABITS)
@pytest.mark.parametrize("seed", range(5))
def test_a_match_comes_to_what_the_hands_log_says(tmp_path: Path, habit: Habit, seed: int) -> None:
    played = play(match_desk(tmp_path), habit, seed)
    report = RowMaker().report(read(played.folder))
    assert report is not None
    assert apart(told(report.result), [played.reckoned], SLACK_NS) == []
    assert report.result.counted


@pytest.mark.parametrize("habit", HABITS)
def test_a_match_by_keys_by_video_and_by_the_robots_log_is_one_result(
    tmp_path: Path, habit: Habit, capsys: pytest.CaptureFixture[str]
) -> None:
    played = play(match_desk(tmp_path), habit, 3)
    runs = tmp_path / "runs"
    (tmp_path / "video.csv").write_text(played.video_table() + f"{CALL_S},called,\n", "utf-8")
    (tmp_path / "robot.log").write_text(played.robots_log(), "utf-8")
    seen = ["--runs", str(runs), "--seen", "0:00=match.begin"]
    video = ["--video", str(tmp_path / "video.csv")]
    assert main(["log", *video, *seen, "--label", "video"]) == 0
    assert main(["log", "--robot", str(tmp_path / "robot.log"), "--runs", str(runs), "--label", "robot"]) == 0
    robot = next(folder.name for folder in runs.iterdir() if folder.name.endswith("robot"))
    (tmp_path / "video.csv").write_text(played.video_table(), "utf-8")
    assert main(["mark", robot, *video, *seen]) == 0
    found = {row["kind"]: row for row in rows(runs, capsys)}
    calls = {kind: row["call"] for kind, row in found.items()}
    assert calls == {"match": "landed", "video": "marked", "robot": "landed"}
    by_keys = found["match"]
    for row in found.values():
        assert {name: row[name] for name in FIGURES} == {name: by_keys[name] for name in FIGURES}
        for name in TIMES:
            assert row[name] == pytest.approx(by_keys[name], abs=0.02), (row["kind"], name)


def test_a_video_that_does_not_say_when_it_was_called_counts_from_the_plan(
    match: PlayedMatch, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    (tmp_path / "video.csv").write_text(match.video_table(), "utf-8")
    runs = tmp_path / "logged"
    log = ["log", "--video", str(tmp_path / "video.csv"), "--seen", "0:00=match.begin", "--runs", str(runs)]
    assert main(log) == 0
    assert "the planned call; nobody noted the real one." in capsys.readouterr().out
    (row,) = rows(runs, capsys)
    reckoned_s = (match.reckoned.turn_ns or 0) / S
    assert (row["call"], row["turn_s"]) == ("planned", pytest.approx(reckoned_s, abs=0.02))
    capsys.readouterr()
    assert main(["runs", "--runs", str(runs)]) == 0
    assert f"~{row['turn_s']:.1f}" in capsys.readouterr().out


def test_a_match_that_nobody_marked_is_not_clean_but_unknown_until_somebody_says_that_they_watched(
    match: PlayedMatch, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    without_marks(match.folder)
    runs = match.folder.parent
    (row,) = rows(runs, capsys)
    assert (row["clean"], row["watched"], row["push_at_call"]) == (None, False, None)
    assert "Not judged: nobody marked this." in shown(runs, match.folder.name, capsys)
    assert main(["runs", "--runs", str(runs)]) == 0
    assert "nobody marked this" in capsys.readouterr().out
    assert main(["mark", match.folder.name, "--runs", str(runs), "--watched"]) == 0
    (row,) = rows(runs, capsys)
    assert (row["watched"], row["push_at_call"], row["contacts"]) == (True, False, 0)


@pytest.mark.parametrize("broken", ["rig", "plan", "patterns"])
def test_a_file_that_judges_nothing_hides_no_result_when_this_version_refuses_it(
    match: PlayedMatch, capsys: pytest.CaptureFixture[str], broken: str
) -> None:
    """It was parsed with all the others, and every run on a rig that no longer loads had lost its result."""
    before = rows(match.folder.parent, capsys)
    journal = match.folder / JOURNAL_NAME
    text = journal.read_text("utf-8")
    assert f"tocsin-{broken}/1" in text
    journal.write_text(text.replace(f"tocsin-{broken}/1", f"tocsin-{broken}/9"), "utf-8")
    assert rows(match.folder.parent, capsys) == before
    assert before[0]["net_points"] is not None


def test_a_run_of_an_earlier_version_is_judged_alike(match: PlayedMatch, capsys: pytest.CaptureFixture[str]) -> None:
    """Its header said less: nothing but files and timeline is needed."""
    (before,) = rows(match.folder.parent, capsys)
    journal = match.folder / JOURNAL_NAME
    header, *rest = journal.read_text("utf-8").splitlines()
    journal.write_text("\n".join([json.dumps(json.loads(header) | {"options": {}}), *rest, ""]), "utf-8")
    (row,) = rows(match.folder.parent, capsys)
    assert row == before | {"at": ""}
    assert row["leads_s"]["break_off"] == 4.0
    assert set(row["thresholds"].values()) <= {True, False}
    assert row["thresholds"]


def test_a_match_whose_game_this_version_refuses_says_so(
    match: PlayedMatch, capsys: pytest.CaptureFixture[str]
) -> None:
    journal = match.folder / JOURNAL_NAME
    journal.write_text(journal.read_text("utf-8").replace("tocsin-game/1", "tocsin-game/9"), "utf-8")
    (row,) = rows(match.folder.parent, capsys)
    assert (row["clean"], row["uncounted"]) == (None, ["its files cannot be read by this version"])


@pytest.mark.parametrize(
    ("dropped", "verdict", "told"),
    [
        (("contact", "spilled"), "Clean.", "Contacts are not judged: in this game they cost nothing."),
        (("under_belfry", "half_under"), "Clean.", "Home is not judged: this game pays nothing for it."),
    ],
)
def test_a_match_of_a_game_with_less_at_stake_says_what_is_not_judged(
    tmp_path: Path, dropped: tuple[str, ...], verdict: str, told: str
) -> None:
    files = load(None, ("full",), "nothing")
    found = files.plans[0]
    game = replace(found.game, thresholds=(), stakes=tuple(one for one in found.game.stakes if one.id not in dropped))
    desk = match_desk(tmp_path, Matches(files._replace(plans=(found._replace(game=game),)), OPTIONS))
    play(desk, "breaks off", 8)
    picture = desk.programme.picture()
    assert desk.result[0] == verdict
    assert told in " ".join(desk.result)
    assert picture is not None
    assert picture.reason == told.rstrip(".")


def test_a_push_without_an_end_gives_bounds_in_the_row_and_no_margin(
    match: PlayedMatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """As a key whose going up the window never heard of: it was a margin 20 s too late."""
    journal = match.folder / JOURNAL_NAME
    lines = [json.loads(line) for line in journal.read_text("utf-8").splitlines()]
    for line in lines:
        if line["kind"] == "mark" and line["label"] == "contact":
            line |= {"end_ns": None, "open": True}
    journal.write_text("\n".join([*map(json.dumps, lines), ""]), "utf-8")
    (row,) = rows(match.folder.parent, capsys)
    turn_s = (match.reckoned.turn_ns or 0) / S
    pushed_s = next(deed.begin_s for deed in match.deeds if deed.label == "contact")
    assert row["break_off_margin_s"] is None
    bounds = [row[f"break_off_margin_at_{end}_s"] for end in ("least", "most")]
    assert bounds == pytest.approx([118 - CALL_S - turn_s, 118 - pushed_s], abs=0.02)
    assert (row["break_off_at_least_s"], row["break_off_at_most_s"]) == (0, pytest.approx(turn_s, abs=0.02))
    assert (row["push_at_call"], row["open_marks"]) == (True, 1)
