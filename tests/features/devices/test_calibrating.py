"""A board's clock compared with the laptop's over a port: a simulated board on a pseudo-terminal whose clock is off."""

import sys
import time

import pytest

from tests.support.channels.simulated_board import SimulatedBoard
from tocsin.cli.main import main
from tocsin.errors import DeviceError
from tocsin.features.devices.calibrating import calibrate
from tocsin.units import NS_PER_MS

pytestmark = [
    pytest.mark.devices,
    pytest.mark.skipif(sys.platform != "linux", reason="the board reads the port's baud in Linux' way"),
]
# Often enough for a busy machine to answer some of them soon.
LASTS_NS, EVERY_NS = 8000 * NS_PER_MS, 30 * NS_PER_MS


class ClockBoard(SimulatedBoard):
    """A board that answers what its clock shows, by so many millionths wrong; it begins anew at an answer."""

    def __init__(self, folder, ppm, anew_at=None):
        self._ppm, self._anew_at, self._asked_for = ppm, anew_at, 0
        super().__init__(folder)

    def _command(self, payload):
        if payload != b"K":
            super()._command(payload)
            return
        self._asked_for += 1
        us = round(time.perf_counter() * (1_000_000 + self._ppm))
        us -= 3_000_000_000 if self._asked_for == self._anew_at else 0
        self._answer(payload + (us % (1 << 32) // 4 * 4).to_bytes(4, "big"))


@pytest.fixture(autouse=True)
def state(monkeypatch, tmp_path):
    monkeypatch.setenv("XDG_STATE_HOME", str(tmp_path / "state"))


@pytest.mark.parametrize("ppm", [-5000, 5000])
def test_it_is_found_written_and_read_back(tmp_path, ppm):
    said = []
    with ClockBoard(tmp_path, ppm) as board:
        report = calibrate(str(board.link), None, said.append, lasts_ns=LASTS_NS, every_ns=EVERY_NS)
    told = next(line for line in said if "millionths" in line)
    error_ppm = int(told.split("±")[1].split(":")[0])
    assert abs(report.settings.clock_ppm - ppm) <= error_ppm <= 500
    assert board.kept.clock_ppm == report.settings.clock_ppm
    assert report.before is not None
    assert report.before.clock_ppm == 0


def test_a_board_that_begins_anew_keeps_what_it_had(tmp_path):
    with ClockBoard(tmp_path, 0, anew_at=6) as board, pytest.raises(DeviceError, match="did not run on"):
        calibrate(str(board.link), None, lambda line: None, lasts_ns=LASTS_NS, every_ns=EVERY_NS)
    assert board.kept.clock_ppm == 0


@pytest.mark.parametrize(("options", "said"), [
    (["--calibrate"], "--calibrate is for a strip's board"),
    (["--controller", "/dev/ttyUSB7", "--calibrate", "--leds", "30"], "sets a board's clock and nothing else"),
])  # fmt: skip
def test_what_does_not_go_with_it_is_refused(options, said, capsys):
    assert main(["devices", *options]) == 2
    assert said in capsys.readouterr().err
