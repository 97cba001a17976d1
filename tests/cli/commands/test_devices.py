"""``tocsin devices``: with nothing there, with a pseudo-terminal, a display, a sound driver; and when it may not."""

import json
import os
import shutil
import subprocess
import sys
import tempfile
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from tests.support.stands.stand import PADS, Pads
from tocsin.cli.main import main

RIG = """\
format = "tocsin-rig/1"
name = "Stand"
drives_robot = false
"""
Output = pytest.CaptureFixture[str]
pytestmark = pytest.mark.devices


@pytest.fixture(autouse=True)
def bare(monkeypatch: pytest.MonkeyPatch) -> None:
    """Take the display and the sound away that the machine may have."""
    for name in ("DISPLAY", "WAYLAND_DISPLAY", "SDL_VIDEODRIVER"):
        monkeypatch.delenv(name, raising=False)
    monkeypatch.setenv("SDL_AUDIODRIVER", "none_of_these")


def devices(capsys: Output, *arguments: str) -> dict[str, Any]:
    """Return what ``tocsin devices --json`` tells; it ends well whatever there is."""
    assert main(["devices", "--json", *arguments]) == 0
    captured = capsys.readouterr()
    assert captured.err == ""
    told: dict[str, Any] = json.loads(captured.out)
    return told


def rig(folder: Path, text: str) -> str:
    """Write a rig; return its path."""
    path = folder / "stand.toml"
    path.write_text(RIG + text, encoding="utf-8")
    return str(path)


def missing(told: dict[str, Any]) -> dict[str, str]:
    return {entry["device"]: entry["mend"] for entry in told["missing"]}


needs_no_display = pytest.mark.skipif(sys.platform in ("win32", "darwin"), reason="there always is a display")


@needs_no_display
def test_with_nothing_there_every_device_is_missing_with_its_fix(capsys: Output) -> None:
    told = devices(capsys)
    assert (told["rig"], told["pads"], told["displays"], told["sound"]["opens"]) == (None, [], [], False)
    assert {"pads", "display", "loudspeaker"} <= missing(told).keys()
    assert "DISPLAY" in missing(told)["display"]
    assert all(missing(told).values())
    assert told["packages"] == ["pygame"] or told["packages"] == ["pygame-ce"]
    assert told["sdl"]["pads"]["hints"]["SDL_JOYSTICK_HIDAPI"] == "0"


@pytest.mark.skipif(sys.platform != "linux", reason="SDL's virtual pads are found in this system's way")
def test_equal_pads_are_listed_one_by_one(capsys: Output, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    for name, value in Pads(tmp_path).env.items():
        monkeypatch.setenv(name, value)
    told = devices(capsys, "--rig", rig(tmp_path, PADS + "confirmed = 2031-03-01\n"))
    assert [(pad["name"], pad["usb"], pad["roles"]) for pad in told["pads"]] == [
        ("Pad A", "1209:0001", ["driver"]),
        ("Pad B", "1209:0001", ["operator"]),
    ]
    assert Pads(tmp_path).motors("a") == []
    assert [(one["device"], one["on"]) for one in told["confirmed"]] == [
        ("driver's pad", ""),
        ("operator's pad", "2031-03-01"),
    ]


@needs_no_display
def test_people_read_the_same(capsys: Output) -> None:
    assert main(["devices", "--rig", "practice_bench"]) == 0
    out = capsys.readouterr().out
    lines = out.splitlines()
    current = "Current from USB, at most, as the devices say themselves"
    for title in ("Pads", "Serial ports", current, "Displays", "Sound", "Power", "Missing"):
        assert title in lines
    assert "Drivers" not in lines
    assert "pad of the driver (the first pad):" in out
    assert "no port has the USB ids 1209:0004" in out
    assert "try them: tocsin devices --try --rig practice_bench" in out


def test_drivers_are_shown_where_they_are_asked_for(capsys: Output, tmp_path: Path) -> None:
    assert main(["devices", "--drivers", "--rig", rig(tmp_path, "")]) == 0
    out = capsys.readouterr().out
    assert "Drivers\n  installed: pygame" in out
    assert "SDL_JOYSTICK_HIDAPI=0" in out


def test_what_a_rig_does_not_have_is_not_missing(capsys: Output, tmp_path: Path) -> None:
    told = devices(capsys, "--rig", rig(tmp_path, ""))
    assert (told["rig"], missing(told)) == ("Stand", {})


@pytest.mark.skipif(sys.platform == "win32", reason="there are no pseudo-terminals")
def test_a_pseudo_terminal_is_the_strip_and_has_no_usb_ids(capsys: Output, tmp_path: Path) -> None:
    master, slave = os.openpty()
    name = os.ttyname(slave)
    try:
        told = devices(capsys, "--rig", rig(tmp_path, f'[light]\nport = "{name}"\n'))
    finally:
        os.close(slave)
        os.close(master)
    assert [(port["usb"], port["why"]) for port in told["ports"] if port["strip"]] == [("", "")]
    assert missing(told) == {}


def test_a_strip_that_is_named_and_not_there_is_missing(capsys: Output, tmp_path: Path) -> None:
    told = devices(capsys, "--rig", rig(tmp_path, '[light]\nport = "/dev/nothing_here"\n'))
    assert "there is no such port" in missing(told)["strip"]
    assert not any(port["strip"] for port in told["ports"])


@pytest.mark.skipif(sys.platform != "linux" or os.geteuid() != 0, reason="only root can become somebody else")
def test_a_port_that_is_not_permitted_comes_with_the_command_that_fixes_it() -> None:
    # Not below tmp_path, whose folders belong to root alone; python too is found by root alone on some machines.
    with tempfile.TemporaryDirectory() as folder:
        Path(folder).chmod(0o755)
        port = Path(folder) / "port"
        port.touch(mode=0o600)
        rig_text = json.dumps({"name": "", "light": {"port": str(port)}})
        script = (
            "import os, sys\n"
            "from tocsin.probe import main\n"
            "os.setgroups([]); os.setgid(65534); os.setuid(65534)\n"
            f"sys.exit(main(['ports', {rig_text!r}]))"
        )
        told = subprocess.run(
            [sys.executable, "-c", script], capture_output=True, text=True, timeout=60, check=False
        )
    assert (told.returncode, told.stderr) == (0, "")
    found = json.loads(told.stdout)
    assert (found["strip"], "usermod -aG dialout" in found["why"]) == (str(port), True)


@pytest.fixture
def display() -> Iterator[str]:
    """Give an X server with one display of 1024 x 600."""
    if shutil.which("Xvfb") is None:
        pytest.skip("there is no Xvfb")
    reading, writing = os.pipe()
    server = subprocess.Popen(
        ["Xvfb", "-displayfd", str(writing), "-screen", "0", "1024x600x24", "-nolisten", "tcp"],
        pass_fds=[writing], stderr=subprocess.DEVNULL,
    )  # fmt: skip
    os.close(writing)
    with os.fdopen(reading) as pipe:
        name = f":{pipe.readline().strip()}"
    yield name
    server.terminate()
    server.wait(10)


def test_displays_are_listed_with_their_sizes(
    display: str, capsys: Output, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("DISPLAY", display)
    told = devices(capsys, "--rig", rig(tmp_path, "[screen]\ndisplay = 1\n"))
    assert told["displays"] == [{"number": 0, "width": 1024, "height": 600, "screen": True}]
    assert told["sdl"]["displays"]["driver"] == "x11"
    assert list(missing(told)) == ["display 1"]


def test_a_loudspeaker_that_opens_is_not_missing(
    capsys: Output, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("SDL_AUDIODRIVER", "dummy")
    told = devices(capsys, "--rig", rig(tmp_path, "[sound]\n"))
    assert (told["sound"]["opens"], told["sdl"]["sound"]["driver"], missing(told)) == (True, "dummy", {})


def test_a_rig_with_mistakes_is_refused_with_all_of_them(capsys: Output, tmp_path: Path) -> None:
    assert main(["devices", "--rig", rig(tmp_path, "[light]\nleds = -1\nbuad = 9600\n")]) == 20
    captured = capsys.readouterr()
    assert captured.out == ""
    said = " ".join(captured.err.split())
    assert "stand.toml, line 5:" in said
    assert "stand.toml, line 6:" in said


def test_a_rig_that_is_not_there_is_usage(capsys: Output) -> None:
    assert main(["devices", "--rig", "practice_bensh"]) == 2
    assert "did you mean practice_bench?" in capsys.readouterr().err


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        (["--only", "light"], "--only says what --try tries"),
        (["--try", "--only", "lamp"], "'lamp' is not a channel"),
        (["--try", "--drivers"], "--drivers goes with the list"),
        (["--write", "new.toml", "--rig", "nothing"], "it takes no --rig"),
        (["--write", "new.txt"], "did you mean new.toml?"),
        (["--write", "there.toml"], "there.toml is there already"),
        (["--write", "."], "is a folder"),
        (["--try", "--write", "there.toml"], "there.toml is there already"),
    ],
)
def test_what_does_not_go_together_is_usage_and_nothing_is_touched(
    capsys: Output, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, arguments: list[str], said: str
) -> None:
    monkeypatch.chdir(tmp_path)
    Path("there.toml").write_text("mine", encoding="utf-8")
    try:
        code = main(["devices", *arguments])
    except SystemExit as left:                         # as argparse leaves
        code = int(str(left.code))
    assert code == 2
    assert said in capsys.readouterr().err
    assert [path.name for path in tmp_path.iterdir()] == ["there.toml"]
    assert Path("there.toml").read_text(encoding="utf-8") == "mine"


@needs_no_display
def test_a_rig_is_written_of_what_is_plugged_in(
    capsys: Output, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("SDL_AUDIODRIVER", "dummy")
    path = tmp_path / "my rigs" / "new.toml"
    assert main(["devices", "--write", str(path)]) == 0
    assert str(path) in capsys.readouterr().out
    assert main(["check", str(path)]) == 0
    told = devices_of(capsys, path)
    assert (missing(told), [one["device"] for one in told["confirmed"]]) == ({}, ["loudspeaker"])


@pytest.mark.skipif(sys.platform != "linux", reason="SDL's virtual pads are found in this system's way")
def test_pads_for_whom_a_new_rig_has_no_role_are_told(
    capsys: Output, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    for name, value in Pads(tmp_path, tuple("abcdefg")).env.items():
        monkeypatch.setenv(name, value)
    path = tmp_path / "new.toml"
    assert main(["devices", "--write", str(path)]) == 0
    assert "7 pads and 5 roles: the new rig leaves out 6: Pad F (1209:0001); 7: Pad G" in capsys.readouterr().out
    assert path.read_text("utf-8").count("[[pad]]") == 5


def devices_of(capsys: Output, path: Path) -> dict[str, Any]:
    """Return what is told of a rig, whatever was printed before."""
    capsys.readouterr()
    return devices(capsys, "--rig", str(path))
