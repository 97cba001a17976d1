"""The program and the strip's real firmware: the emulated chip's answers, replayed, and what its silence is taken for.

The chip is not coupled live to a port: an emulator that a busy machine slows down would answer too late.
"""

import sys
import time

import msgspec
import pytest

from tests.support.channels.simulated_board import SimulatedBoard
from tests.support.firmware import line
from tests.support.firmware.chip import Script
from tests.support.firmware.toolchain import image, needs_chip
from tocsin.channels.light.blocks import Settings, write_payload
from tocsin.channels.light.protocol import encode, frame_interval_ns
from tocsin.channels.light.replies import ANSWER_NS, DEAF_NS, Replies
from tocsin.features.devices.controller import ask_controller
from tocsin.features.devices.controller_settings import Changes
from tocsin.model.rig import Light
from tocsin.units import NS_PER_MS, NS_PER_S

OLD = Settings(leds=60, order="GRB", max_ma=390, baud=115_200)
NEW = Settings(leds=144, order="BGR", max_ma=1500, baud=250_000)
AT_115, WRITTEN, AT_250, OVER = (NS_PER_S + place * 300 * NS_PER_MS for place in range(1, 5))


class ReplayedBoard(SimulatedBoard):
    """A board that says what the chip said to the same commands; ``said`` is by the payload and the baud's number."""

    def __init__(self, folder, said):
        self._said = said
        super().__init__(folder)

    def _command(self, payload):
        self.asked.append(payload)
        self.say(self._said[payload, self.kept.baud])
        if payload[:1] == b"W":
            time.sleep(0.01)                               # the new baud comes after the answer
            self.kept = msgspec.structs.replace(self.kept, baud=1)


@needs_chip
@pytest.mark.skipif(sys.platform != "linux", reason="the board reads the port's baud in Linux' way")
def test_the_firmware_is_asked_set_and_read_back(tmp_path, monkeypatch):
    monkeypatch.setenv("XDG_STATE_HOME", str(tmp_path / "state"))
    who, write = b"I", write_payload(NEW)
    script = Script(baud=250_000)
    script.send(NS_PER_S, line.command(who))               # at a baud that the board does not have yet
    script.baud(115_200)
    script.send(AT_115, line.command(who))
    script.send(WRITTEN, line.command(write))
    script.baud(250_000)
    script.send(AT_250, line.command(who))
    life = script.run(image("strip"), OVER)
    between = {
        begin: bytes(byte for ns, byte in life.answers if begin <= ns < end)
        for begin, end in ((NS_PER_S, AT_115), (AT_115, WRITTEN), (WRITTEN, AT_250), (AT_250, OVER))
    }
    assert line.answers(between[NS_PER_S]) == []
    said = {(who, 0): between[AT_115], (write, 0): between[WRITTEN], (who, 1): between[AT_250]}
    with ReplayedBoard(tmp_path, said) as board:
        lines = []
        report = ask_controller(
            str(board.link), None, Changes(leds=144, order="BGR", max_ma=1500, baud=250_000), lines.append
        )
    assert (report.firmware, report.version, report.most_leds) == ("strip", 1, line.MOST_LEDS)
    assert (report.before, report.settings) == (OLD, NEW)
    assert report.restarted_by == "power"
    assert "  LEDs 60 -> 144" in lines
    assert life.eeprom[:20] == line.eeprom(leds=144, order="BGR", max_ma=1500, baud=250_000)


LIGHT = Light(leds=30, baud=250_000, max_ma=5000)
EEPROM = line.eeprom(leds=30, baud=250_000)


def judged(life, sent_ns, until_ns):
    """Return what the board is taken for each half second, as a worker looks at its port, and the frames missed."""
    replies, verdicts, missed = Replies(greets=True, acknowledges=True), [], 0
    events = sorted([*((ns, None) for ns in sent_ns), *life.answers], key=lambda event: event[0])
    for look_ns in range(500 * NS_PER_MS, until_ns, 500 * NS_PER_MS):
        heard = b""
        for at_ns, byte in [event for event in events if look_ns - 500 * NS_PER_MS <= event[0] < look_ns]:
            if byte is None:
                replies.wrote(at_ns)
            else:
                heard += bytes((byte,))
        replies.heard(heard)
        missed += replies.lost_one(look_ns)
        verdicts.append(replies.verdict(look_ns))
    return verdicts, missed


@needs_chip
def test_a_board_that_works_is_never_deaf_and_misses_no_frame():
    """As fast as the program ever sends, then a frame a second, as it keeps a dark strip."""
    fast = range(NS_PER_S, 2 * NS_PER_S, frame_interval_ns(LIGHT))
    sent_ns = [*fast, *range(3 * NS_PER_S, 6 * NS_PER_S, NS_PER_S)]
    script = Script(baud=250_000, eeprom=EEPROM)
    for no, at_ns in enumerate(sent_ns):
        script.send(at_ns, encode(LIGHT, [(0, 40 + no % 2, 60)] * 30))
    life = script.run(image("strip"), 6 * NS_PER_S)
    assert life.said.count(line.TAKEN) == len(sent_ns)
    verdicts, missed = judged(life, sent_ns, 6 * NS_PER_S)
    assert (set(verdicts), missed) == ({"hears"}, 0)


@needs_chip
def test_a_torn_frame_is_missed_and_a_chip_that_hangs_is_back_before_it_is_called_deaf():
    """Its watchdog restarts it after a second."""
    sent_ns = [*range(2 * NS_PER_S, 8 * NS_PER_S, NS_PER_S)]
    script = Script(baud=250_000, eeprom=EEPROM)
    whole = encode(LIGHT, [(0, 40, 60)] * 30)
    for at_ns in sent_ns:
        script.send(at_ns, whole[:50] + whole[51:] if at_ns == 3 * NS_PER_S else whole)
        if at_ns == 5 * NS_PER_S:
            script.hang(at_ns + 500 * NS_PER_MS)
    life = script.run(image("strip"), 9 * NS_PER_S)
    verdicts, missed = judged(life, sent_ns, 9 * NS_PER_S)
    assert life.resets
    assert "deaf" not in verdicts
    assert missed >= 2                                     # the torn one, and those that the hanging chip did not take


@needs_chip
def test_a_board_whose_line_is_cut_is_deaf_although_it_greets():
    heard_ns = [*range(2 * NS_PER_S, 5 * NS_PER_S, NS_PER_S)]
    cut_ns = [*range(5 * NS_PER_S, 10 * NS_PER_S, NS_PER_S)]
    script = Script(baud=250_000, eeprom=EEPROM)
    for at_ns in heard_ns:
        script.send(at_ns, encode(LIGHT, [(0, 40, 60)] * 30))
    life = script.run(image("strip"), 10 * NS_PER_S)
    verdicts, _ = judged(life, [*heard_ns, *cut_ns], 10 * NS_PER_S)
    assert life.said.count(b"Ada\n") >= 4
    deaf_from = verdicts.index("deaf")
    assert set(verdicts[:deaf_from]) <= {"silent", "hears"}
    assert set(verdicts[deaf_from:]) == {"deaf"}
    assert ANSWER_NS < DEAF_NS <= (deaf_from + 1) * 500 * NS_PER_MS - 5 * NS_PER_S < 2 * DEAF_NS
