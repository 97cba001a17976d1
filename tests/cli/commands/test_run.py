"""``tocsin run``: what is refused before anything is opened."""

from pathlib import Path

import pytest

from tocsin.cli.main import main

Output = pytest.CaptureFixture[str]


def refused(capsys: Output, *arguments: str) -> list[str]:
    """Return what a refused call says on stderr; nothing else is said, nothing recorded."""
    assert main(["run", *arguments]) == 2
    captured = capsys.readouterr()
    assert captured.out == ""
    return captured.err.splitlines()


@pytest.mark.parametrize(
    ("moment", "says", "hint"),
    [
        ("driver.end-35", "is not in Casting Day", "did you mean driver.end-35s?"),
        ("driver.endd-35s", "is not in Casting Day", "did you mean driver.end-35s?"),
        ("drivr.endd-35s", "is not in Casting Day", "did you mean driver.end-35s?"),
        ("no_contact.begin-brake_off", "is not in Casting Day", "did you mean no_contact.begin-break_off?"),
        ("late", "is not in Casting Day", "moments here: match, auto, pause, driver, settle, endgame"),
        ("mark.swap", "nobody knows in advance", "moments here: match, auto"),
        # 136 s (2:16) and 4 s to settle: the bundled game's own figures
        ("driver.end-350s", "214s before the match begins; the match lasts 2:16, and robots settle for 4s", "each"),
        ("driver.end+5s", "is 1s after everything has ended; the match lasts 2:16", "moments here"),
        ("settle.end", "by then everything has ended; the match lasts 2:16", "moments here"),
        ("2:24", "is not in Casting Day", "auto 0:28 to 0:00, pause 0:11 to 0:00, driver 1:37 to 0:00"),
        ("auto@0:31", "is not in Casting Day", "did you mean driver@0:31?"),
        ("0:24.5", "is not in Casting Day", "did you mean match.begin+00:24.5 or match.end-00:24.5?"),
        ("", "--from names no moment", "--from driver.end-35s"),
        (" ", "--from names no moment", "--from driver.end-35s"),
    ],
)
def test_a_moment_that_is_none_of_the_match_is_one_line_and_a_hint(
    moment: str, says: str, hint: str, capsys: Output
) -> None:
    lines = refused(capsys, "--from", moment, "--start", "now")
    assert len(lines) == 2
    assert lines[0].startswith("tocsin: ")
    assert says in lines[0]
    assert hint in lines[1]


@pytest.mark.parametrize(
    ("also", "named"),
    [
        (["--plan", "quiet"], "--plan"),
        (["--rate", "1"], "--rate"),                    # the default too: it was asked for
        (["--rig", "nothing", "--from", "driver.end-35s"], "--rig, --from"),
        (["--start", "now", "--only", "light", "--screen", "none", "--label", "x", "--game", "short_pour"], "--start"),
    ],
)
def test_what_would_have_no_effect_beside_resume_is_refused(also: list[str], named: str, capsys: Output) -> None:
    lines = refused(capsys, "--resume", *also)
    assert len(lines) == 2
    assert "leave out " in lines[0]
    assert named in lines[0]
    assert lines[1].strip() == "only --runs, --board and --json go with it"


def test_resume_goes_with_runs_and_json(tmp_path: Path, capsys: Output, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("XDG_STATE_HOME", str(tmp_path / "state"))
    assert main(["run", "--resume", "--runs", str(tmp_path), "--json"]) == 22
    assert "there is no run to go on with" in capsys.readouterr().err


@pytest.mark.parametrize(
    ("arguments", "says"),
    [
        (["--match", "14"], "--match is the number of an event's match"),
        (["--at", "event", "--only", "sound,light"], "at an event the sound is off"),
    ],
)
def test_what_an_event_day_cannot_be_is_refused(arguments: list[str], says: str, capsys: Output) -> None:
    assert says in " ".join(refused(capsys, *arguments, "--start", "now"))


@pytest.mark.parametrize("number", ["0", "1000", "14a", "-1", "1.5"])
def test_a_matchs_number_is_a_whole_one(number: str, capsys: Output) -> None:
    with pytest.raises(SystemExit) as ended:
        main(["run", "--at", "event", f"--match={number}", "--start", "now"])
    assert ended.value.code == 2
    assert f"'{number}' is not a whole number from 1 to 999" in capsys.readouterr().err
