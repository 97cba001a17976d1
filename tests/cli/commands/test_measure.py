"""``tocsin measure``: which way is taken, what is refused before any device is opened, and each way's help."""

import os
import subprocess
import sys
from pathlib import Path

import pytest

from tocsin.cli.commands.measure import WAYS
from tocsin.cli.main import main

Output = pytest.CaptureFixture[str]


@pytest.fixture(autouse=True)
def own_folders(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Keep the user's own lock and runs out of it."""
    monkeypatch.setenv("XDG_STATE_HOME", str(tmp_path / "state"))
    monkeypatch.setenv("XDG_DATA_HOME", str(tmp_path / "data"))


def left(capsys: Output, *arguments: str) -> tuple[int, str, str]:
    """Return exit code, stdout and stderr of a call, whether it returns or ends the program."""
    try:
        code = main(["measure", *arguments])
    except SystemExit as end:
        code = int(end.code or 0)
    captured = capsys.readouterr()
    return code, captured.out, captured.err


def test_help_names_all_that_can_be_measured(capsys: Output) -> None:
    code, out, err = left(capsys, "--help")
    assert (code, err) == (0, "")
    for way in WAYS:
        assert f"\n  {way} " in out


@pytest.mark.parametrize("way", WAYS)
def test_each_way_has_a_help_of_its_own(way: str, capsys: Output) -> None:
    code, out, err = left(capsys, way, "--help")
    assert (code, err) == (0, "")
    assert f"usage: tocsin measure {way}" in out
    assert "examples:" in out


@pytest.mark.parametrize(
    ("arguments", "hint"),
    [(["latness"], "did you mean `tocsin measure lateness`?"), (["weather"], "there is lateness")],
)
def test_a_word_that_is_none_of_them_is_one_line_and_a_hint(arguments: list[str], hint: str, capsys: Output) -> None:
    code, out, err = left(capsys, *arguments)
    assert (code, out) == (2, "")
    assert err.startswith(f"tocsin: '{arguments[0]}' cannot be measured\n  {hint}")


@pytest.mark.parametrize("way", [[], ["lateness"]])
@pytest.mark.parametrize(
    ("arguments", "says"),
    [
        (["--events", "0"], "'0' is not a whole number from 1 to 2000"),
        (["--events", "2001"], "'2001' is not a whole number from 1 to 2000"),
        (["--events", "many"], "'many' is not a whole number from 1 to 2000"),
        (["--events", "²"], "'²' is not a whole number"),
        (["--busy", "65"], "'65' is not a whole number from 1 to 64"),
        (["--only", "smell"], "'smell' is not a channel"),
        (["--rig", "nowhere"], "there is no bundled rig 'nowhere'"),
        (["--rig", "beside_robot", "--only", "rumble"], "its pads are left alone"),
        (["-o", "late.gif"], "a picture ends in .svg or .png or .pdf"),
    ],
)
def test_what_does_not_fit_is_refused_before_anything_moves(
    way: list[str], arguments: list[str], says: str, capsys: Output
) -> None:
    code, out, err = left(capsys, *way, *arguments)
    assert (code, out) == (2, "")
    assert says in err
    assert len(err.splitlines()) == 2


def test_a_file_of_somebody_else_is_not_drawn_over(tmp_path: Path, capsys: Output) -> None:
    mine = tmp_path / "late.svg"
    mine.write_text("<svg/>", "utf-8")
    code, out, err = left(capsys, "-o", str(mine))
    assert (code, out) == (2, "")
    assert "Tocsin did not make it" in err
    assert mine.read_text("utf-8") == "<svg/>"


@pytest.mark.parametrize("channel", ["light", "rumble", "sound,light"])
def test_a_channel_that_the_rig_lacks_is_refused_before_anything_is_said(channel: str, capsys: Output) -> None:
    code, out, err = left(capsys, "--only", channel)               # of the bundled rig `nothing`
    lacking = channel.rpartition(",")[2]
    assert (code, out) == (21, "")
    assert err == (
        f"tocsin: {lacking} was asked for, but the rig 'Nothing plugged in' has no device for it\n"
        f"  name another with --rig, or leave {lacking} out\n"
    )


@pytest.mark.parametrize(
    "way", [["-o"], ["lateness", "-o"], ["delays", "--rig", "practice_bench", "--template"]], ids=lambda way: way[0]
)
def test_a_file_that_cannot_be_written_is_told_before_anybody_has_waited(
    way: list[str], tmp_path: Path, capsys: Output
) -> None:
    (tmp_path / "file").write_text("mine", "utf-8")
    path = tmp_path / "file" / "late.svg"
    code, out, err = left(capsys, *way, str(path))
    assert (code, out) == (2, "")
    assert err.startswith(f"tocsin: {path} cannot be ")
    assert "a file is in the way: move it" in err
    assert [name.name for name in tmp_path.iterdir()] == ["file"]


def test_the_way_of_measuring_says_which_exit_code_that_has(capsys: Output) -> None:
    for way in ([], ["lateness"], ["delays"]):
        assert "2 usage, or FILE cannot be written" in left(capsys, *way, "--help")[1]


def test_a_mistake_in_the_rig_is_told_with_its_line(tmp_path: Path, capsys: Output) -> None:
    rig = tmp_path / "rig.toml"
    rig.write_text('format = "tocsin-rig/1"\nname = "Stand"\ndrives_robot = true\npriority = "realtime"\n', "utf-8")
    code, out, err = left(capsys, "--rig", str(rig))
    assert (code, out) == (20, "")
    assert "rig.toml, line 4:" in " ".join(err.split())
    assert not [name for _, _, names in os.walk(tmp_path / "data") for name in names]


@pytest.mark.devices
@pytest.mark.skipif(sys.platform == "win32", reason="/proc and TMPDIR are not Windows'")
def test_no_room_for_what_it_keeps_meanwhile_is_one_line_and_a_hint(tmp_path: Path) -> None:
    # tempfile.tempdir is the documented way to choose the folder (Python's library reference, tempfile).
    script = (
        "import sys, tempfile\n"
        "tempfile.tempdir = '/proc/nothing'\n"
        "from tocsin.cli.main import main\n"
        "sys.exit(main(['measure', '--events', '1']))\n"
    )
    done = subprocess.run([sys.executable, "-c", script], capture_output=True, text=True, timeout=60, check=False)
    assert done.returncode == 22
    assert done.stderr.startswith("tocsin: no folder for temporary files: ")
    assert len(done.stderr.splitlines()) == 2
