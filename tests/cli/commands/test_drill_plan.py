"""``tocsin drill`` and ``tocsin check`` with a plan and a game in place of a drill's: what does not fit is said."""

from pathlib import Path

import pytest

from tests.support.config.bundled_copies import copied
from tocsin.cli.main import main

Output = pytest.CaptureFixture[str]


@pytest.mark.parametrize("command", ["drill", "check"])
def test_what_the_given_plan_lacks_is_said_with_its_line_and_exit_20(
    command: str, tmp_path: Path, capsys: Output
) -> None:
    plan = copied(tmp_path / "ours.toml", "plans/full.toml", ("break_off", "let_go"))
    assert main([command, "break_off", "--plan", str(plan)]) == 20
    said = " ".join("".join(capsys.readouterr()).split())
    assert f"{plan}, line" in said
    assert "This plan has no lead 'break_off', which the drill drills/break_off.toml moves." in said


def test_a_plan_that_fits_is_checked_with_the_drill(tmp_path: Path, capsys: Output) -> None:
    plan = copied(tmp_path / "ours.toml", "plans/full.toml", ('name = "Full"', 'name = "Ours"'))
    assert main(["check", "break_off", "--plan", str(plan), "--game", "casting_day"]) == 0
    assert "2 files" in capsys.readouterr().out


@pytest.mark.parametrize(
    ("arguments", "why"),
    [
        (["drill", "--resume", "--plan", "full"], "leave out --plan, --game"),
        (["drill", "--resume", "--game", "casting_day"], "leave out --plan, --game"),
        (["drill", "break_off", "--plan", "fulll"], "there is no bundled plan 'fulll'"),
        (["check", "full", "--plan", "quiet"], "--plan is for drills"),
        (["runs", "--json", "--csv"], "not both"),
    ],
)
def test_what_makes_no_sense_is_refused(arguments: list[str], why: str, capsys: Output) -> None:
    assert main(arguments) == 2
    assert why in " ".join(capsys.readouterr().err.split())
