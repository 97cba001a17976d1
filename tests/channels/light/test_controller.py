"""The exchange of command blocks with a simulated board on a real pseudo-terminal, whatever state the board is in."""

import sys

import pytest
import serial

from tests.support.channels.simulated_board import Kept, SimulatedBoard
from tocsin.channels.light.blocks import Settings
from tocsin.channels.light.controller import Controller, NotTakenError, SilentError, meet
from tocsin.channels.light.port import PortError

pytestmark = [
    pytest.mark.devices,
    pytest.mark.skipif(sys.platform != "linux", reason="the board reads the port's baud in Linux' way"),
]
NEW = Settings(leds=144, order="RGB", max_ma=2000, baud=250_000, clock_ppm=-120)


@pytest.fixture
def board(tmp_path):
    with SimulatedBoard(tmp_path) as there:
        yield there


def met(board, baud=250_000):
    controller = Controller(str(board.link), baud)
    return controller, meet(controller)


@pytest.mark.parametrize("at", [0, 1, 2])
@pytest.mark.parametrize("first", [115_200, 250_000])
def test_a_board_is_found_at_each_baud_that_it_may_have(tmp_path, at, first):
    with SimulatedBoard(tmp_path, kept=Kept(leds=30, baud=at)) as board:
        controller, found = met(board, first)
        with controller:
            assert found.settings.leds == 30
            assert controller.baud == found.settings.baud == (115_200, 250_000, 500_000)[at]


def test_a_board_is_asked_nothing_while_it_boots(tmp_path):
    with SimulatedBoard(tmp_path, boots_s=0.5, kept=Kept(baud=1)) as board:
        controller, _ = met(board)
        with controller:
            assert (board.early, board.asked[0]) == (0, b"I")
            assert board.starts == 1                   # it was opened once, whatever was tried


@pytest.mark.parametrize("baud", [115_200, 250_000, 500_000])
def test_what_is_stored_is_read_back_at_the_new_baud(board, baud):
    controller, _ = met(board)
    with controller:
        wanted = Settings(leds=144, order="RGB", max_ma=2000, baud=baud, clock_ppm=-120)
        assert controller.store(wanted).settings == wanted
        assert controller.baud == baud
    again, found = met(board)
    with again:
        assert found.settings == wanted


@pytest.mark.parametrize("tears", [[1], [20], [3, 7], [0, 1], [0, 20, 20], [19, 0, 2]])
def test_torn_answers_are_asked_for_again(board, tears):
    board.tears = list(tears)
    controller, _ = met(board)
    with controller:
        assert controller.store(NEW).settings == NEW
    assert board.kept.leds == 144


def test_a_write_whose_answer_is_lost_is_found_out_by_asking(board):
    """The board has changed its baud by then, as it must."""
    controller, _ = met(board)
    with controller:
        board.tears = [20]
        assert controller.store(NEW).settings == NEW


def test_a_board_that_goes_silent_while_it_is_written_is_an_error(board):
    controller, _ = met(board)
    board.deaf = True
    with controller, pytest.raises(SilentError):
        controller.store(NEW)
    assert board.kept == Kept()


@pytest.mark.parametrize(("error", "told"), [(1, "command"), (2, "length"), (3, "range"), (4, "checksum"), (9, "why")])
def test_what_the_board_refuses_comes_with_its_reason(board, error, told):
    controller, _ = met(board)
    with controller:
        board.refuses = error
        with pytest.raises(NotTakenError, match=told):
            controller.store(NEW)


@pytest.mark.parametrize(("foreign", "greeted"), [("adalight", True), ("tpm2", False)])
def test_a_board_of_others_does_not_say_who_it_is_and_nothing_is_taken_for_it(tmp_path, foreign, greeted):
    with SimulatedBoard(tmp_path, foreign=foreign) as board, pytest.raises(SilentError) as caught:
        met(board)
    assert caught.value.greeted == greeted
    assert not greeted or caught.value.baud == 115_200


def test_a_baud_that_the_port_cannot_do_is_found_out_before_the_board_has_it(board, monkeypatch):
    """A driver that refuses it, as those of some adapters do."""
    controller, _ = met(board)

    def refuse(port, baud):
        raise ValueError(f"Failed to set custom baud rate ({baud})")

    monkeypatch.setattr(serial.Serial, "_set_special_baudrate", refuse)
    with controller, pytest.raises(PortError, match="failed to set custom baud rate"):
        controller.store(NEW)
    assert board.kept == Kept()


def test_a_port_that_goes_away_is_an_error_of_the_port(tmp_path):
    board = SimulatedBoard(tmp_path, kept=Kept(baud=1))
    controller, _ = met(board)
    board.close()
    with controller, pytest.raises(PortError, match="unplugged"):
        controller.identity()


def test_a_command_of_another_kind_comes_with_its_times(board):
    """The seam for whoever calibrates the board's clock: what is asked, and when the answer came."""
    controller, _ = met(board)
    with controller:
        first, second = controller.ask(b"K"), controller.ask(b"K")
    assert first.payload[:1] == b"K"
    assert len(first.payload) == 5
    assert first.sent_ns < first.came_ns <= second.sent_ns < second.came_ns
    told = [int.from_bytes(reply.payload[1:], "big") for reply in (first, second)]
    assert 0 < (told[1] - told[0]) % (1 << 32) <= (second.came_ns - first.sent_ns) // 1000 + 1
