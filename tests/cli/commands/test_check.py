"""``tocsin check``: what it reads, what it says, how it ends."""

import json
from pathlib import Path

import pytest

from tests.support.journal.recorded_runs import record_push
from tocsin.cli.main import main
from tocsin.config.write.starter import copy_bundled

HEAD = 'format = "tocsin-plan/1"\nname = "Mine"\ngame = "casting_day"\n'
# Red at five flashes a second, no lead, one sense only, and no word of the belfry, which counts 7 s before.
RISKY = HEAD + """\
[[cue]]
id = "no_touch"
at = "no_contact.begin"
light = "alarm"
[pattern.light.alarm]
form = "on_off"
colours = ["#ff0000", "black"]
cycle = "200ms"
lasts = "3s"
"""
# What only warns: four cues of too weak a form.
WEAK = HEAD + "".join(
    f'[[cue]]\nid = "call_{n}"\nat = "driver.end-{24 - 4 * n}s"\nlight = "home"\nrumble = "weak_{n}"\n'
    f'[pattern.rumble.weak_{n}]\nsteps = [ {{ strong = 0.5, lasts = "300ms" }} ]\n'
    for n in range(6)
)  # fmt: skip
RIG = 'format = "tocsin-rig/1"\nname = "Mine"\ndrives_robot = false\n[screen]\n'

BAD = """\
format = "tocsin-plan/1"
name = "Bad"
game = "casting_day"

[[cue]]
id = "home"
at = "no_contact.begin-4"
rumbel = "triple"
"""

Output = pytest.CaptureFixture[str]


@pytest.fixture(autouse=True)
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """Stand in a folder of one's own."""
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("XDG_DATA_HOME", str(tmp_path / "data"))      # no runs of whoever tests
    return tmp_path


def test_files_without_mistakes_are_counted(capsys: Output) -> None:
    assert main(["check", "full"]) == 0
    assert capsys.readouterr().out == "1 file: no mistakes and no findings\n"


def test_every_mistake_is_said_with_its_line(folder: Path, capsys: Output) -> None:
    (folder / "bad.toml").write_text(BAD, encoding="utf-8")
    assert main(["check", "bad.toml"]) == 20
    captured = capsys.readouterr()
    assert "bad.toml, line 7" in captured.out
    assert "bad.toml, line 8" in captured.out
    assert "rumble" in captured.out
    assert "\n2 mistakes.\n\nFix these, then check again" in captured.out
    assert captured.err == ""


def test_json_lists_files_and_problems(folder: Path, capsys: Output) -> None:
    (folder / "bad.toml").write_text(BAD, encoding="utf-8")
    assert main(["check", "--json", "bad.toml", "full"]) == 20
    told = json.loads(capsys.readouterr().out)
    assert told["files"] == ["bad.toml", "plans/full.toml"]
    assert [(problem["file"], problem["line"]) for problem in told["problems"]] == [("bad.toml", 7), ("bad.toml", 8)]
    assert all(problem["code"] and problem["message"] for problem in told["problems"])


def test_json_without_mistakes(capsys: Output) -> None:
    assert main(["check", "--json", "quiet"]) == 0
    assert json.loads(capsys.readouterr().out) == {
        "files": ["plans/quiet.toml"], "problems": [], "findings": [], "notes": []
    }  # fmt: skip


def test_without_arguments_this_folder_is_checked_but_for_other_tools_files(folder: Path, capsys: Output) -> None:
    copy_bundled(folder)
    (folder / "pyproject.toml").write_text('[project]\nname = "ours"\n', encoding="utf-8")
    (folder / "mine.toml").write_text(BAD, encoding="utf-8")
    assert main(["check", "--json"]) == 20
    told = json.loads(capsys.readouterr().out)
    assert {problem["file"] for problem in told["problems"]} == {"mine.toml"}
    assert "pyproject.toml" not in told["files"]
    assert str(Path("plans", "full.toml")) in told["files"]


@pytest.mark.parametrize("arguments", [[], ["./"]])
def test_a_folder_without_files_is_said(arguments: list[str], capsys: Output) -> None:
    assert main(["check", *arguments]) == 2
    assert "tocsin init" in capsys.readouterr().err


def test_a_plan_is_checked_in_another_game(capsys: Output) -> None:
    assert main(["check", "full", "--game", "short_pour"]) == 20
    assert "plans/full.toml, line" in capsys.readouterr().out


@pytest.mark.parametrize(
    ("arguments", "hint"),
    [
        (["ful"], "did you mean full?"),
        (["nothing_there.toml"], "tocsin init"),
        (["full", "--game", "casting_dya"], "casting_day"),
    ],
)
def test_what_is_not_there_is_usage_with_a_hint(arguments: list[str], hint: str, capsys: Output) -> None:
    assert main(["check", *arguments]) == 2
    captured = capsys.readouterr()
    assert hint in captured.err
    assert (captured.out, "Traceback" in captured.err) == ("", False)


@pytest.mark.parametrize(
    "raw",
    [b"", b"\xff\xfe", b"\x00\x01\x02", b"\xe4\xf6\xfc = 1", b"[[[[", b"a = 1e999999",
     b"format = 'tocsin-rig/1'\n[[pad]]"],
)
def test_no_bytes_bring_a_traceback(raw: bytes, folder: Path, capsys: Output) -> None:
    (folder / "odd.toml").write_bytes(raw)
    assert main(["check", "odd.toml"]) == 20
    captured = capsys.readouterr()
    assert "odd.toml" in captured.out
    assert captured.err == ""


# --- findings ---------------------------------------------------------------------------------------------------------


def test_findings_are_said_with_level_code_line_reason_source_and_fix(folder: Path, capsys: Output) -> None:
    (folder / "risky.toml").write_text(RISKY, encoding="utf-8")
    assert main(["check", "risky.toml"]) == 20
    captured = capsys.readouterr()
    words = " ".join(captured.out.split())
    assert "risky.toml, line 11: error (red_flash): 'no_touch' would make the strip flash 5 times in red" in words
    assert '11 | cycle = "200ms"' in words
    assert "Why: Flashing red causes" in words
    assert "(WCAG 2.2, SC 2.3.1)" in words
    assert "Fix: Take another colour" in words
    assert words.endswith(
        "1 file: no mistakes, 2 errors, 3 warnings, 1 piece of advice. "
        "`tocsin check --explain CODE` says more; a code is in ( ). Errors: risky.toml, line 11."
    )
    assert captured.err == ""


def test_only_errors_and_mistakes_end_with_20(folder: Path, capsys: Output) -> None:
    (folder / "weak.toml").write_text(WEAK, encoding="utf-8")
    assert main(["check", "weak.toml"]) == 0
    assert "warnings" in capsys.readouterr().out


def test_many_findings_of_a_code_are_told_by_their_lines(folder: Path, capsys: Output) -> None:
    (folder / "weak.toml").write_text(WEAK, encoding="utf-8")
    main(["check", "weak.toml"])
    out = capsys.readouterr().out
    assert out.count("warning (weak_pulse): A pulse") == 3
    assert "weak.toml: warning (weak_pulse), and 3 more of these, in lines 31, 38, 45" in out
    main(["check", "--json", "weak.toml"])
    told = json.loads(capsys.readouterr().out)
    lines = [finding["line"] for finding in told["findings"] if finding["code"] == "weak_pulse"]
    assert lines == [10, 17, 24, 31, 38, 45]


@pytest.mark.parametrize("columns", ["80", "60"])
def test_findings_fit_the_width(columns: str, folder: Path, monkeypatch: pytest.MonkeyPatch, capsys: Output) -> None:
    monkeypatch.setenv("COLUMNS", columns)
    (folder / "risky.toml").write_text(RISKY, encoding="utf-8")
    (folder / "weak.toml").write_text(WEAK, encoding="utf-8")
    main(["check", "./"])
    main(["check", "--explain", "flash"])
    lines = capsys.readouterr().out.splitlines()
    assert len(lines) > 60
    assert max(map(len, lines)) <= int(columns)


def test_json_holds_all_of_a_finding(folder: Path, capsys: Output) -> None:
    (folder / "risky.toml").write_text(RISKY, encoding="utf-8")
    assert main(["check", "--json", "risky.toml"]) == 20
    told = json.loads(capsys.readouterr().out)
    assert told["problems"] == []
    by_code = {finding["code"]: finding for finding in told["findings"]}
    assert set(by_code) == {"flash", "red_flash", "call_late", "one_sense", "alliance_colour", "window_unannounced"}
    flash = by_code["flash"]
    assert set(flash) == {"code", "level", "file", "line", "column", "message", "why", "limit", "mend"}
    assert (flash["level"], flash["file"], flash["line"], flash["column"]) == ("error", "risky.toml", 11, 9)
    assert "WCAG 2.2" in flash["limit"]


def test_findings_wait_until_a_plan_has_no_mistakes(folder: Path, capsys: Output) -> None:
    (folder / "both.toml").write_text(RISKY.replace("id =", "idd ="), encoding="utf-8")
    (folder / "weak.toml").write_text(WEAK, encoding="utf-8")
    assert main(["check", "--json", "both.toml", "weak.toml"]) == 20
    told = json.loads(capsys.readouterr().out)
    assert {problem["file"] for problem in told["problems"]} == {"both.toml"}
    assert {finding["file"] for finding in told["findings"]} == {"weak.toml"}


def test_a_plan_is_held_against_the_one_rig(folder: Path, capsys: Output) -> None:
    (folder / "rig.toml").write_text(RIG, encoding="utf-8")
    assert main(["check", "--json", "quiet", "rig.toml"]) == 0
    told = json.loads(capsys.readouterr().out)
    assert [finding["code"] for finding in told["findings"]].count("reaches_nobody") == 3
    assert {finding["file"] for finding in told["findings"]} == {"plans/quiet.toml", "rig.toml"}


def test_a_key_that_may_not_be_pressed_beside_a_robot_is_said_once(folder: Path, capsys: Output) -> None:
    keys = RIG.replace("drives_robot = false", "drives_robot = true\n[keys]\nhold = \"space\"")
    (folder / "rig.toml").write_text(keys, encoding="utf-8")
    assert main(["check", "--json", "quiet", "rig.toml"]) == 20
    told = json.loads(capsys.readouterr().out)
    assert [problem["code"] for problem in told["problems"]] == ["key_beside_robot"]
    assert not any("space" in finding["message"] for finding in told["findings"])


def test_a_plan_named_twice_is_inspected_once(folder: Path, capsys: Output) -> None:
    (folder / "weak.toml").write_text(WEAK, encoding="utf-8")
    main(["check", "--json", "weak.toml", "weak.toml"])
    told = json.loads(capsys.readouterr().out)
    assert len([finding for finding in told["findings"] if finding["code"] == "weak_pulse"]) == 6


def test_copies_for_a_team_bring_no_finding(folder: Path, capsys: Output) -> None:
    copy_bundled(folder)
    assert main(["check", "--json"]) == 0
    assert json.loads(capsys.readouterr().out)["findings"] == []


def test_a_file_is_called_by_its_shortest_path(folder: Path, capsys: Output) -> None:
    (folder / "team" / "drills").mkdir(parents=True)
    (folder / "team" / "plans").mkdir()
    drill = 'format = "tocsin-drill/1"\nname = "Mine"\ntrains = "all"\nplan = "../plans/risky.toml"\n'
    (folder / "team" / "drills" / "mine.toml").write_text(drill, encoding="utf-8")
    (folder / "team" / "plans" / "risky.toml").write_text(RISKY.replace("cue", "cew"), encoding="utf-8")
    main(["check", "--json", "team/"])
    told = json.loads(capsys.readouterr().out)
    assert str(Path("team", "plans", "risky.toml")) in {problem["file"] for problem in told["problems"]}
    assert not any(".." in problem["file"] for problem in told["problems"])


def test_the_last_line_names_the_lines_of_errors(folder: Path, capsys: Output) -> None:
    both = RISKY + '[[cue]]\nid = "other"\nat = "driver.begin+9s"\nlight = "home"\nsay = "Stop"\n'
    (folder / "both.toml").write_text(both, encoding="utf-8")
    (folder / "weak.toml").write_text(WEAK, encoding="utf-8")
    assert main(["check", "both.toml", "weak.toml"]) == 20
    assert capsys.readouterr().out.endswith("\nErrors: both.toml, lines 11, 17.\n")
    main(["check", "weak.toml"])
    assert "Errors" not in capsys.readouterr().out


def test_a_single_line_is_said_as_one(folder: Path, capsys: Output) -> None:
    four = WEAK.split('[[cue]]\nid = "call_4"')[0]
    (folder / "weak.toml").write_text(four, encoding="utf-8")
    main(["check", "weak.toml"])
    assert "and 1 more of these, in line 31\n" in capsys.readouterr().out


def test_plans_beside_two_rigs_are_said_to_be_held_against_none(capsys: Output) -> None:
    assert main(["check", "full", "practice_bench", "nothing"]) == 0
    words = " ".join(capsys.readouterr().out.split())
    assert "No plan was checked with a rig: there are 2 (rigs/practice_bench.toml, rigs/nothing.toml)" in words
    main(["check", "--json", "full", "practice_bench", "nothing"])
    notes = json.loads(capsys.readouterr().out)["notes"]
    assert notes[-1].startswith("No plan was checked with a rig")
    main(["check", "full", "practice_bench"])
    assert "No plan was checked" not in capsys.readouterr().out
    main(["check", "practice_bench", "nothing"])
    assert "No plan was checked" not in capsys.readouterr().out


def test_what_a_strip_draws_at_most_stands_beside_what_ports_give(folder: Path, capsys: Output) -> None:
    """60 LEDs with 390 mA: (390 - 60) / 3600 x 255 = 23.4, so 60 x 23 x 60 / 255 + 60 = 384.7 mA, and 50 for the board
    (by hand). USB 2.0, 7.2.1: 500 and 100 mA."""
    head = 'format = "tocsin-rig/1"\nname = "Ours"\ndrives_robot = false\n'
    (folder / "ours.toml").write_text(f'{head}[light]\nport = "COM3"\nleds = 60\nmax_ma = 390\n', encoding="utf-8")
    assert main(["check", "--json", "ours.toml"]) == 0
    assert json.loads(capsys.readouterr().out)["notes"][-1] == (
        "ours.toml: 60 LEDs draw 385 mA at most (max_ma = 390), 60 while dark, and 435 with their board. A USB 2 port "
        "gives 500, one of USB 3 900, one of a hub without its own supply 100."
    )
    (folder / "none.toml").write_text(f"{head}[screen]\n", encoding="utf-8")
    main(["check", "--json", "none.toml"])
    assert json.loads(capsys.readouterr().out)["notes"] == []


def test_a_mistake_hides_others_and_that_is_said(folder: Path, capsys: Output) -> None:
    (folder / "risky.toml").write_text(RISKY.replace("id =", "idd ="), encoding="utf-8")
    assert main(["check", "--json", "risky.toml"]) == 20
    told = json.loads(capsys.readouterr().out)
    assert (len(told["problems"]), told["findings"]) == (1, [])
    assert told["notes"][0].startswith("Fix these, then check again")
    (folder / "risky.toml").write_text(RISKY, encoding="utf-8")
    assert main(["check", "--json", "risky.toml"]) == 20
    told = json.loads(capsys.readouterr().out)
    assert (told["problems"], len(told["findings"]) > 1, told["notes"]) == ([], True, [])


@pytest.mark.parametrize(
    ("code", "part"),
    [("flash", "WCAG 2.2, SC 2.3.1"), ("short_pulse", "common practice, no source"), ("unknown_key", "mistake")],
)
def test_a_code_is_explained(code: str, part: str, capsys: Output) -> None:
    assert main(["check", "--explain", code]) == 0
    assert part in capsys.readouterr().out


@pytest.mark.parametrize("code", ["flash", "unknown_key"])
def test_a_code_is_explained_as_json(code: str, capsys: Output) -> None:
    assert main(["check", "--explain", code, "--json"]) == 0
    told = json.loads(capsys.readouterr().out)
    assert told["code"] == code
    assert told["message"]
    assert told["mend"] or code == "unknown_key"
    assert ("limit" in told) == (told["kind"] == "finding")


@pytest.mark.parametrize("more", [["bad.toml"], ["--game", "short_pour"], ["--runs", "runs"]])
def test_a_code_is_explained_alone(more: list[str], capsys: Output) -> None:
    assert main(["check", "--explain", "flash", *more]) == 2
    captured = capsys.readouterr()
    assert (captured.out, "looks at no files" in captured.err) == ("", True)


def test_an_unknown_code_is_usage_with_the_likely_one(capsys: Output) -> None:
    assert main(["check", "--explain", "flsh"]) == 2
    captured = capsys.readouterr()
    assert (captured.out, "did you mean flash?" in captured.err) == ("", True)


def test_leads_are_held_against_what_the_teams_own_runs_needed(folder: Path, capsys: Output) -> None:
    """The lead is 4 s. A few rounds bound nothing, from 22 on the longest does; of many one or two may be longer."""
    runs = folder / "runs"

    def found() -> dict[str, str]:
        assert main(["check", "full", "--json", "--runs", str(runs)]) == 0
        findings = json.loads(capsys.readouterr().out)["findings"]
        return {one["code"]: f"{one['level']}: {one['message']}" for one in findings}

    assert found() == {}
    for number in range(1, 22):
        record_push(runs, number, 5.2 if number == 1 else 3.1)
    few = found()
    assert list(few) == ["lead_few_rounds"]
    assert few["lead_few_rounds"] == (
        "advice: The lead 'break_off' is 4s. Your 21 rounds are too few to know what you need: play 1 more. "
        "The longest so far took 5.2s."
    )
    record_push(runs, 22, 3.3)
    assert found() == {
        "lead_below_runs": "warning: The lead 'break_off' is 4s, but by your 22 rounds, 9 times in 10 you "
        "need up to 5.2s."
    }
    for number in range(23, 39):
        record_push(runs, number, 3.3)
    assert found() == {}                           # of 38 rounds the second longest is a bound

