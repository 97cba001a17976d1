"""A board's settings: written over the line, kept through power cuts in the middle of a write, refused when wrong."""

import random
import struct

import pytest

from tests.support.firmware import line
from tests.support.firmware.chip import EXTERNAL, POWER, Script
from tests.support.firmware.toolchain import image, needs_chip
from tocsin.units import NS_PER_MS, NS_PER_S

ASKED = line.command(b"I")


def info(kind, leds, order, max_ma, baud, ppm, cause):
    return b"I" + struct.pack(">cBH", kind, 1, line.MOST_LEDS) + line.settings(
        leds=leds, order=order, max_ma=max_ma, baud=baud, ppm=ppm
    )[:-1] + bytes((cause,))  # fmt: skip


def asked(payload, *, eeprom=b"", baud=115_200):
    """Return what a board answers to one command."""
    script = Script(baud=baud, eeprom=eeprom)
    script.send(100 * NS_PER_MS, line.command(payload))
    life = script.run(image("strip"), 400 * NS_PER_MS)
    return line.answers(life.said)


def test_the_checksum_is_the_published_one():
    assert line.crc8(b"123456789") == 0xF4


@needs_chip
def test_a_new_board_has_the_defaults_and_says_so():
    assert asked(b"I") == [info(b"S", 60, "GRB", 390, 115_200, 0, POWER)]


@needs_chip
def test_settings_are_answered_used_and_kept():
    wanted = line.settings(leds=144, order="BGR", max_ma=1_500, baud=500_000, ppm=-3_000)
    script = Script()
    script.send(100 * NS_PER_MS, line.command(b"W" + wanted))
    script.baud(500_000)
    script.send(300 * NS_PER_MS, ASKED)
    script.power(400 * NS_PER_MS)
    script.send(500 * NS_PER_MS, ASKED)
    life = script.run(image("strip"), 600 * NS_PER_MS)
    kept = info(b"S", 144, "BGR", 1_500, 500_000, -3_000, POWER)
    assert line.answers(life.said) == [kept, kept, kept]
    assert life.eeprom[:20] == 2 * wanted


@needs_chip
@pytest.mark.parametrize("order", line.ORDERS)
def test_each_order_sends_a_colour_where_the_strip_wants_it(order):
    script = Script(eeprom=line.eeprom(leds=2, order=order))
    colours = bytes((10, 90, 30, 40, 80, 60))
    script.send(1_500 * NS_PER_MS, line.tpm2(colours))
    life = script.run(image("strip"), 1_600 * NS_PER_MS)
    assert life.frames[-1].data == line.ordered(colours, order)


@needs_chip
@pytest.mark.parametrize(("payload", "error"), [
    (b"", 1), (b"X", 1), (b"i", 1), (b"II", 2), (b"K\0", 2), (b"W", 2), (b"W" + line.settings() + b"\0", 2),
    (b"W" + line.settings()[:-1] + bytes((line.settings()[-1] ^ 1,)), 4),
    (b"W" + line.settings(leds=0), 3), (b"W" + line.settings(leds=201), 3), (b"W" + line.settings(max_ma=49), 3),
    (b"W" + line.settings(max_ma=20_001), 3), (b"W" + line.settings(ppm=20_001), 3),
    (b"W" + line.settings(ppm=-20_001), 3), (b"W" + line.settings(leds=100, max_ma=100), 3),
    (b"Z" * 300, 1), (b"W" * 300, 2),
])  # fmt: skip
def test_a_wrong_command_is_refused_and_changes_nothing(payload, error):
    script = Script(eeprom=line.eeprom(leds=30))
    script.send(100 * NS_PER_MS, line.command(payload))
    script.send(300 * NS_PER_MS, ASKED)
    life = script.run(image("strip"), 400 * NS_PER_MS)
    refused, after = line.answers(life.said)
    assert refused == bytes((ord("E"), error))
    assert after == info(b"S", 30, "RGB", 20_000, 115_200, 0, POWER)
    assert life.eeprom[:20] == line.eeprom(leds=30)


@needs_chip
@pytest.mark.parametrize("place", [0, 3, 6])
def test_each_code_that_is_none_is_out_of_range(place):
    """Layout, order and baud."""
    data = bytearray(line.settings()[:-1])
    data[place] = 9
    assert asked(b"W" + bytes(data) + bytes((line.crc8(data),)), eeprom=line.eeprom()) == [b"E\x03"]


@needs_chip
def test_a_power_cut_in_the_middle_of_a_write_leaves_the_old_settings_or_the_new():
    """At random moments of the 70 ms that a write takes, again and again on the same board."""
    source = random.Random(17)
    eeprom, kept = line.eeprom(leds=11), line.settings(leds=11)
    outcomes = set()
    for cut in range(24):
        wanted = line.settings(leds=12 + cut, max_ma=300 + 257 * cut, order=line.ORDERS[cut % 6], ppm=-777 * cut)
        script = Script(eeprom=eeprom, seed=cut + 1)
        script.send(60 * NS_PER_MS, line.command(b"W" + wanted))
        script.power(61 * NS_PER_MS + source.randrange(75 * NS_PER_MS))
        script.send(300 * NS_PER_MS, ASKED)
        life = script.run(image("strip"), 350 * NS_PER_MS)
        found = line.answers(life.said.rpartition(b"Ada\n")[2])[-1][5:14]     # an answer may have been cut
        assert found in (kept[:-1], wanted[:-1]), cut
        outcomes.add(found == wanted[:-1])
        eeprom, kept = life.eeprom, found + bytes((line.crc8(found),))
    assert outcomes == {True, False}


@needs_chip
def test_a_strip_that_is_said_to_be_shorter_leaves_no_led_lit_and_both_lengths_work():
    script = Script(eeprom=line.eeprom(leds=20))
    lit, fewer = line.steady(random.Random(1), 20, 1)[0], line.steady(random.Random(2), 5, 1)[0]
    script.send(1_400 * NS_PER_MS, line.tpm2(lit))
    script.send(1_500 * NS_PER_MS, line.command(b"W" + line.settings(leds=5)))
    script.send(3_000 * NS_PER_MS, line.tpm2(fewer))
    life = script.run(image("strip"), 3_100 * NS_PER_MS)
    assert [frame.data for frame in life.frames[1:]] == [lit, bytes(3 * line.MOST_LEDS), fewer]


@needs_chip
def test_a_command_between_frames_disturbs_neither():
    script = Script(eeprom=line.eeprom(leds=6))
    pictures = line.steady(random.Random(5), 6, 3)
    script.send(1_500 * NS_PER_MS, b"".join(ASKED + line.tpm2(picture) for picture in pictures) + ASKED)
    life = script.run(image("strip"), 1_600 * NS_PER_MS)
    assert [frame.data for frame in life.frames[1:]] == pictures
    assert len(line.answers(life.said)) == 4


@needs_chip
def test_the_clock_is_that_of_the_blocks_last_byte():
    """Two questions a known time apart, on chips whose clocks are off."""
    for ppm in (-5_000, 0, 5_000):
        script = Script(ppm=ppm)
        moments = (100 * NS_PER_MS, 2_600 * NS_PER_MS)
        for at_ns in moments:
            script.send(at_ns, line.command(b"K"))
        life = script.run(image("strip"), 3 * NS_PER_S)
        first, last = (struct.unpack(">cI", answer)[1] for answer in line.answers(life.said))
        assert abs(last - first - 2_500_000 * (1 + ppm / 1e6)) < 100


@needs_chip
def test_a_reset_is_told_by_its_cause():
    script = Script()
    script.reset(200 * NS_PER_MS, EXTERNAL)
    script.send(300 * NS_PER_MS, ASKED)
    life = script.run(image("strip"), 400 * NS_PER_MS)
    assert line.answers(life.said)[-1][-1] == EXTERNAL
