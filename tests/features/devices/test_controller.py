"""What ``tocsin devices --controller`` finds, does and says, with a simulated board on a real pseudo-terminal."""

import sys

import msgspec
import pytest
from serial.tools import list_ports, list_ports_common

from tests.support.channels.simulated_board import Kept, SimulatedBoard
from tocsin.channels.light.blocks import Settings
from tocsin.errors import DeviceError, UsageError
from tocsin.features.devices.controller import ask_controller, port_of
from tocsin.features.devices.controller_settings import Changes, cautions, changed, light_of
from tocsin.model.rig import Light

pytestmark = [
    pytest.mark.devices,
    pytest.mark.skipif(sys.platform != "linux", reason="the board reads the port's baud in Linux' way"),
]
KEPT = Settings(leds=60, order="GRB", max_ma=390, baud=115_200)


@pytest.fixture(autouse=True)
def own_lock(tmp_path, monkeypatch):
    monkeypatch.setenv("XDG_STATE_HOME", str(tmp_path / "state"))


@pytest.fixture
def board(tmp_path):
    with SimulatedBoard(tmp_path) as there:
        yield there


def asked(board, light=None, **changes):
    said = []
    report = ask_controller(str(board.link), light, Changes(**changes), said.append)
    return report, "\n".join(said)


def listed(monkeypatch, *names):
    """Let the system list these ports on USB, each of the same maker."""
    ports = []
    for name in names:
        port = list_ports_common.ListPortInfo(str(name), skip_link_detection=True)
        port.vid, port.pid = 0x1209, 0x0001
        ports.append(port)
    monkeypatch.setattr(list_ports, "comports", lambda: ports)


def test_who_it_is_is_said_and_nothing_is_written(board):
    report, said = asked(board)
    assert report.settings == KEPT
    assert report.before is None
    assert board.asked.count(b"I") == len(board.asked)
    for part in ("60, of 200 at most", "GRB", "390 mA", "115200 baud", "restarted by its reset line"):
        assert part in said
    assert "nothing on them may move" in said


def test_what_is_changed_is_written_read_back_and_said(board):
    report, said = asked(board, leds=30, max_ma=400)
    assert report.settings == Settings(leds=30, order="GRB", max_ma=400, baud=250_000)
    assert report.before == KEPT
    assert (board.kept.leds, board.kept.max_ma, board.kept.baud) == (30, 400, 1)
    written = said.partition("read back:")[2]
    for line in ("LEDs 60 -> 30", "limit in mA 390 -> 400", "baud 115200 -> 250000"):
        assert line in written
    assert "order" not in written


def test_what_it_has_already_is_not_written_again(tmp_path):
    with SimulatedBoard(tmp_path, kept=Kept(baud=1)) as board:
        report, said = asked(board, leds=60, order="GRB")
        assert report.before is None
        assert not any(payload[:1] == b"W" for payload in board.asked)
    assert "already: nothing was written" in said


@pytest.mark.parametrize(
    ("change", "told"), [({"leds": 201}, "1 to 200"), ({"max_ma": 30_000}, "50 to 20000"), ({"baud": 9600}, "115200"),
     ({"max_ma": 60}, "dark LEDs")]
)  # fmt: skip
def test_what_the_board_does_not_take_is_refused_before_it_is_sent(board, change, told):
    with pytest.raises(UsageError, match=told) as caught:
        asked(board, **change)
    assert "nothing was written" in caught.value.hint
    assert board.kept == Kept()


def test_the_better_baud_comes_with_a_change_unless_another_is_given():
    """250,000 baud is exact for 16 MHz (ATmega328P datasheet, table of baud rates: 0.0 %, at 115,200 2.1 %)."""
    assert changed(KEPT, Changes()).baud == 115_200
    assert changed(KEPT, Changes(leds=3)).baud == 250_000
    assert changed(KEPT, Changes(leds=3, baud=115_200)).baud == 115_200
    assert changed(KEPT, Changes(baud=500_000)).baud == 500_000
    assert changed(msgspec.structs.replace(KEPT, baud=500_000), Changes(leds=3)).baud == 500_000


def test_a_rig_is_told_what_it_lacks_for_this_board(board):
    light = Light(port=str(board.link), protocol="adalight", leds=30, order="GRB", max_ma=300)
    report, _ = asked(board, light, baud=250_000)
    assert report.rig == {"protocol": "tpm2", "leds": 60, "baud": 250_000, "order": "RGB"}
    fits = Light(port=str(board.link), leds=60, baud=250_000, max_ma=390)
    assert asked(board, fits)[0].rig == {}


def test_a_rig_never_allows_more_than_the_board_gives_and_stays_at_less(board):
    for mine, told in ((400, 390), (390, None), (200, None)):
        light = Light(port=str(board.link), leds=60, max_ma=mine)
        assert asked(board, light)[0].rig.get("max_ma") == told


def test_a_limit_that_somebody_gives_goes_into_the_rig_too(board):
    light = Light(port=str(board.link), leds=60, max_ma=200, baud=250_000)
    assert asked(board, light, max_ma=360)[0].rig == {"max_ma": 360}


def test_a_new_rig_gets_all_of_it(board, monkeypatch):
    listed(monkeypatch, board.link)
    report, _ = asked(board)
    assert light_of(report) == Light(usb="1209:0001", leds=60, max_ma=390)


def test_a_rig_that_looks_elsewhere_is_told_the_port(board, tmp_path):
    other = Light(port=str(tmp_path / "other"), leds=60, max_ma=390)
    report, _ = asked(board, other)
    assert report.rig == {"port": str(board.link)}


def test_a_board_of_others_is_told_apart_from_none(tmp_path):
    with SimulatedBoard(tmp_path, foreign="adalight") as board, pytest.raises(DeviceError, match="greets at 115200"):
        asked(board)


def test_a_box_needs_no_rig(board, monkeypatch):
    who = board._who
    monkeypatch.setattr(board, "_who", lambda kept=None: b"IB" + who(kept)[2:])
    report, said = asked(board)
    assert (report.firmware, report.rig) == ("box", {})
    assert "without a laptop" in said


def test_the_port_is_the_given_one_the_rigs_or_the_only_one_and_that_is_a_guess(board, monkeypatch, tmp_path):
    listed(monkeypatch, board.link)
    other = str(tmp_path / "other")
    assert port_of(other, Light(port=str(board.link))) == (other, False)
    assert port_of("", Light(usb="1209:0001")) == (str(board.link), False)
    assert port_of("", None) == (str(board.link), True)
    listed(monkeypatch, board.link, other)
    with pytest.raises(UsageError, match="which port"):
        port_of("", None)
    listed(monkeypatch)
    with pytest.raises(UsageError, match="no port on USB"):
        port_of("", None)
    with pytest.raises(DeviceError, match="1209:0001"):
        port_of("", Light(usb="1209:0001"))
    with pytest.raises(UsageError, match="package"):
        port_of("", Light(device="lamp"))


def test_what_is_no_port_is_never_opened(monkeypatch):
    monkeypatch.delenv("TOCSIN_BENCH")
    with pytest.raises(DeviceError, match="not a serial port"):
        port_of("/etc/hosts", None)


def test_a_better_baud_is_advised_where_there_is_one():
    """ATmega328P datasheet, table of baud rates at 16 MHz: 115,200 is 2.1 % off, 250,000 exact."""
    for baud, told in ((115_200, 1), (250_000, 0), (500_000, 0)):
        lines = list(cautions(Settings(leds=60, order="GRB", max_ma=390, baud=baud)))
        assert [line.count("--baud 250000") for line in lines] == [1] * told


@pytest.mark.parametrize(
    ("leds", "max_ma", "told"), [(60, 390, 0), (60, 450, 0), (60, 451, 1), (144, 306, 0), (144, 288, 1), (200, 300, 1),
                                 (60, 5000, 1)],
)  # fmt: skip
def test_more_than_a_usb_port_gives_and_too_little_for_the_strip_are_said(leds, max_ma, told):
    """USB 2.0: 500 mA, some 50 of them the board's own (estimate), 1 mA a dark LED (measured by others)."""
    assert len(list(cautions(Settings(leds=leds, order="GRB", max_ma=max_ma, baud=250_000)))) == told
