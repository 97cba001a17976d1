"""``tocsin devices --controller``: a simulated board on a pseudo-terminal, asked, set, and written into a rig."""

import contextlib
import io
import json
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest
from serial.tools import list_ports, list_ports_common

from tests.support.channels.simulated_board import SimulatedBoard
from tocsin.cli.main import main
from tocsin.config.load import load_rig

Output = pytest.CaptureFixture[str]
pytestmark = [
    pytest.mark.devices,
    pytest.mark.skipif(sys.platform != "linux", reason="the board reads the port's baud in Linux' way"),
]
RIG = """\
format = "tocsin-rig/1"
name = "Bench"                # ours

[light]
port = "{port}"
order = "GRB"                 # found out by trying
"""


class Typed(io.StringIO):
    """A terminal at which somebody has typed this."""

    def isatty(self) -> bool:
        return True


@pytest.fixture(autouse=True)
def nobody_there(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    """Let nobody be at the keyboard, and take the display and the sound away that the machine may have."""
    monkeypatch.setenv("XDG_STATE_HOME", str(tmp_path / "state"))
    monkeypatch.setattr(sys, "stdin", io.StringIO())
    for name in ("DISPLAY", "WAYLAND_DISPLAY", "SDL_VIDEODRIVER"):
        monkeypatch.delenv(name, raising=False)
    monkeypatch.setenv("SDL_AUDIODRIVER", "none_of_these")


@pytest.fixture
def board(tmp_path: Path) -> Iterator[SimulatedBoard]:
    with SimulatedBoard(tmp_path) as there:
        yield there


@pytest.fixture
def rig(tmp_path: Path, board: SimulatedBoard) -> Path:
    path = tmp_path / "ours.toml"
    path.write_text(RIG.format(port=board.link), encoding="utf-8")
    return path


def test_it_is_asked_and_the_rig_stays_where_nobody_says_yes(board: SimulatedBoard, rig: Path, capsys: Output) -> None:
    before = rig.read_text("utf-8")
    assert main(["devices", "--controller", "--rig", str(rig)]) == 0
    out = capsys.readouterr().out
    assert "a strip's controller, Tocsin's firmware, version 1" in out
    assert '    order = "RGB"' in out
    assert "    leds = 60" in out
    assert "stays as it is" in out
    assert rig.read_text("utf-8") == before


def test_it_is_set_and_the_rig_is_written_on_a_yes(
    board: SimulatedBoard, rig: Path, capsys: Output, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(sys, "stdin", Typed("yes\n"))
    wanted = ["--leds", "90", "--order", "rgb", "--max-ma", "360", "--baud", "500000"]
    assert main(["devices", "--controller", "--rig", str(rig), *wanted]) == 0
    out = capsys.readouterr().out
    assert "LEDs 60 -> 90" in out
    assert f"wrote {rig}" in out
    light = load_rig(str(rig)).light
    assert light is not None
    assert (light.leds, light.order, light.max_ma, light.baud, light.protocol) == (90, "RGB", 360, 500_000, "tpm2")
    assert "# ours" in rig.read_text("utf-8")
    assert (board.kept.leds, board.kept.order, board.kept.max_ma, board.kept.baud) == (90, 0, 360, 2)
    assert main(["devices", "--controller", "--rig", str(rig)]) == 0
    assert "A rig for this board says" not in capsys.readouterr().out          # it does already


def test_a_bundled_rig_is_not_written(board: SimulatedBoard, capsys: Output) -> None:
    assert main(["devices", "--controller", str(board.link), "--rig", "practice_bench"]) == 0
    assert "practice_bench comes with Tocsin and stays as it is" in capsys.readouterr().out


def test_a_new_rig_has_what_the_board_says(board: SimulatedBoard, tmp_path: Path, capsys: Output) -> None:
    new = tmp_path / "new.toml"
    assert main(["devices", "--controller", str(board.link), "--leds", "30", "--write", str(new)]) == 0
    light = load_rig(str(new)).light
    assert light is not None
    assert (light.leds, light.baud, light.protocol, light.order, light.max_ma) == (30, 250_000, "tpm2", "RGB", 390)
    assert light.port == str(board.link)
    assert main(["check", str(new)]) == 0


@pytest.mark.parametrize(("answer", "code"), [("y\n", 0), ("\n", 2)])
def test_the_only_port_on_usb_is_opened_on_a_yes_alone(
    board: SimulatedBoard, capsys: Output, monkeypatch: pytest.MonkeyPatch, answer: str, code: int
) -> None:
    """It may be a robot's controller, which restarts as its port is opened."""
    listed = list_ports_common.ListPortInfo(str(board.link), skip_link_detection=True)
    listed.vid, listed.pid = 0x1209, 0x0001
    monkeypatch.setattr(list_ports, "comports", lambda: [listed])
    monkeypatch.setattr(sys, "stdin", Typed(answer))
    assert main(["devices", "--controller"]) == code
    assert board.starts == (0 if code else 1)
    captured = capsys.readouterr()
    assert "it may be another device" in captured.err if code else 'usb = "1209:0001"' in captured.out


def test_json_stands_alone_on_stdout(board: SimulatedBoard, capsys: Output) -> None:
    assert main(["devices", "--controller", str(board.link), "--json"]) == 0
    captured = capsys.readouterr()
    told = json.loads(captured.out)
    assert told["settings"] == {"leds": 60, "order": "GRB", "max_ma": 390, "baud": 115_200, "clock_ppm": 0}
    assert told["rig"]["leds"] == 60
    assert "nothing on them may move" in captured.err


def test_nobody_there_is_21_with_what_to_look_at(tmp_path: Path, capsys: Output) -> None:
    with SimulatedBoard(tmp_path, foreign="tpm2") as board:
        assert main(["devices", "--controller", str(board.link)]) == 21
    err = capsys.readouterr().err
    assert "no board answers, tried at 250000, 115200, 500000 baud" in err
    assert "a strip: hardware_notes/light.md; a box: hardware_notes/box.md" in err


@pytest.mark.parametrize(
    ("arguments", "told"),
    [
        (["--leds", "60"], "--leds sets a strip's board"),
        (["--max-ma", "400"], "--max-ma sets a strip's board"),
        (["--controller", "X", "--max-ma", "20"], "from 50 to 20000"),
        (["--controller", "X", "--leds", "0"], "from 1 to 2000"),
        (["--controller", "X", "--order", "RGBW"], "GRB"),
        (["--controller", "X", "--baud", "9600"], "250000"),
        (["--controller", "X", "--try"], "one board and nothing else"),
    ],
)
def test_what_makes_no_sense_is_refused_before_any_port_is_opened(
    arguments: list[str], told: str, capsys: Output
) -> None:
    with contextlib.suppress(SystemExit):                      # what the parser refuses
        assert main(["devices", *arguments]) == 2
    assert told in capsys.readouterr().err
