"""The runner's receiver is the datasheet's (ATmega328P, "USART0", section "Data Reception"): two characters and the
shift register, DOR0 and FE0, and the errors of rate that it bears. Tried with a program that reads late."""

import subprocess

import pytest

from tests.support.firmware.chip import CHIP_HZ, Script
from tests.support.firmware.toolchain import BUILD, needs_chip
from tocsin.units import NS_PER_MS

RXC, FE, DOR = 0x80, 0x10, 0x08
READER = BUILD.parents[1] / "tests" / "support" / "firmware" / "slow_reader.c"


def reader(folder, divider, twice):
    elf, path = folder / "reader.elf", folder / "reader.hex"
    defined = [f"-DDIVIDER={divider}", f"-DTWICE={int(twice)}"]
    subprocess.run(["avr-gcc", "-Os", "-mmcu=atmega328p", *defined, "-o", elf, READER], check=True)
    subprocess.run(["avr-objcopy", "-O", "ihex", elf, path], check=True)
    return path


def read(life):
    return list(zip(life.said[::2], life.said[1::2], strict=True))


@needs_chip
def test_two_characters_and_the_shift_register_are_held_and_a_fourth_start_bit_loses_one(tmp_path):
    """The sheet: "a Data OverRun occurs when the receive buffer is full (two characters), a new character is waiting in
    the Receive Shift Register, and a new start bit is detected." The flag goes with the next read."""
    path = reader(tmp_path, 16, True)
    for sent, expected in (
        (b"abc", [(RXC, b"a"), (RXC, b"b"), (RXC, b"c")]),
        (b"abcd", [(RXC | DOR, b"a"), (RXC, b"b"), (RXC, b"d")]),
        (b"abcdef", [(RXC | DOR, b"a"), (RXC, b"b"), (RXC, b"f")]),
    ):
        script = Script(baud=115_200)
        script.pin(0, "B1", 0)
        script.send(NS_PER_MS, sent)
        script.pin(5 * NS_PER_MS, "B1", 1)
        life = script.run(path, 20 * NS_PER_MS)
        assert read(life) == [(status, byte[0]) for status, byte in expected]
        assert life.overruns == max(0, len(sent) - 3)


@needs_chip
def test_a_low_stop_bit_is_a_framing_error_of_its_character_alone(tmp_path):
    script = Script(baud=115_200)
    script.pin(0, "B1", 1)
    script.send(NS_PER_MS, b"a")
    script.torn(2 * NS_PER_MS, b"b")
    script.send(3 * NS_PER_MS, b"c")
    life = script.run(reader(tmp_path, 16, True), 10 * NS_PER_MS)
    assert read(life) == [(RXC, ord("a")), (RXC | FE, ord("b")), (RXC, ord("c"))]


@needs_chip
@pytest.mark.parametrize(("twice", "slowest", "fastest"), [(True, -4.00, 3.90), (False, -4.54, 4.58)])
def test_the_errors_of_rate_that_it_bears_are_the_datasheets(tmp_path, twice, slowest, fastest):
    """Datasheet, "Recommended Maximum Receiver Baud Rate Error": the total error by its formulas for 10-bit frames,
    with 8 or 16 samples a bit. Just inside all bytes come whole, well outside they do not: two of three samples decide,
    and the formulas ask for all."""
    divider = 15 if twice else 7
    rate = CHIP_HZ / (8 if twice else 16) / (divider + 1)
    path = reader(tmp_path, divider, twice)
    data = bytes(range(1, 256, 2)) + bytes(range(0, 256, 2))
    for percent, well in ((slowest + 0.2, True), (fastest - 0.2, True), (slowest - 4, False), (fastest + 4, False)):
        script = Script(baud=rate * (1 + percent / 100))
        script.pin(0, "B1", 1)
        for place, byte in enumerate(data):
            script.send(NS_PER_MS + place * NS_PER_MS // 2, bytes((byte,)))
        life = script.run(path, 140 * NS_PER_MS)
        assert ([byte for _, byte in read(life)] == list(data) and life.framings == 0) is well, percent
