"""``tocsin check``: what it reads, what it says, how it ends."""

import json
from pathlib import Path

import pytest

from tocsin.cli.main import main
from tocsin.config.starter import copy_bundled

BAD = """\
format = "tocsin-plan/1"
name = "Bad"
game = "harbour_haul"

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
    return tmp_path


def test_files_without_mistakes_are_counted(capsys: Output) -> None:
    assert main(["check", "full"]) == 0
    assert capsys.readouterr().out == "1 file: no mistakes\n"


def test_every_mistake_is_said_with_its_line(folder: Path, capsys: Output) -> None:
    (folder / "bad.toml").write_text(BAD, encoding="utf-8")
    assert main(["check", "bad.toml"]) == 20
    captured = capsys.readouterr()
    assert "bad.toml, line 7" in captured.out
    assert "bad.toml, line 8" in captured.out
    assert "rumble" in captured.out
    assert captured.out.endswith("2 mistakes.\n")
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
    assert json.loads(capsys.readouterr().out) == {"files": ["plans/quiet.toml"], "problems": []}


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
    assert main(["check", "full", "--game", "quay_dash"]) == 20
    assert "plans/full.toml, line" in capsys.readouterr().out


@pytest.mark.parametrize(
    ("arguments", "hint"),
    [
        (["ful"], "did you mean full?"),
        (["nothing_there.toml"], "tocsin init"),
        (["full", "--game", "harbor_haul"], "harbour_haul"),
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
