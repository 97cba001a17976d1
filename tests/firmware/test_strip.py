"""The strip's controller from power-up to black: greeting, both protocols, the limit of the current, the watchdog."""

import random

import pytest

from tests.support.firmware import line
from tests.support.firmware.chip import WATCHDOG, Script
from tests.support.firmware.toolchain import image, needs_chip
from tocsin.units import NS_PER_MS, NS_PER_S

LEDS = 12
BEGIN_NS = 1_500 * NS_PER_MS
EEPROM = line.eeprom(leds=LEDS)


@needs_chip
def test_power_makes_the_strip_black_before_anything_is_said():
    script = Script(seed=5)
    life = script.run(image("strip"), 3_500 * NS_PER_MS)
    first, *others = life.frames
    assert (first.data, others) == (bytes(3 * line.MOST_LEDS), [])
    assert first.end_ns < 10 * NS_PER_MS
    assert life.said == b"Ada\n" * 4                     # at once, and each second of silence
    assert life.answers[0][0] > first.end_ns


@needs_chip
@pytest.mark.parametrize("encode", [line.tpm2, line.adalight])
def test_both_protocols_light_the_strip_and_only_one_is_answered(encode):
    pictures = line.steady(random.Random(1), LEDS, 3)
    script = Script(eeprom=EEPROM)
    for place, picture in enumerate(pictures):
        script.send(BEGIN_NS + place * 100 * NS_PER_MS, encode(picture))
    life = script.run(image("strip"), 2 * NS_PER_S)
    assert [frame.data for frame in life.frames[1:]] == pictures
    assert life.said.count(line.TAKEN) == (3 if encode is line.tpm2 else 0)
    sent_ns = BEGIN_NS + len(encode(pictures[0])) * 10 * NS_PER_S // 115_200
    assert 0 < life.frames[1].begin_ns - sent_ns < NS_PER_MS
    if encode is line.tpm2:
        taken = [at_ns for at_ns, byte in life.answers if byte == line.TAKEN[0]]
        assert 0 < taken[0] - life.frames[1].end_ns < NS_PER_MS


@needs_chip
def test_frames_of_both_protocols_may_alternate_without_a_gap():
    pictures = line.steady(random.Random(2), LEDS, 12)
    script = Script(eeprom=EEPROM)
    script.send(BEGIN_NS, b"".join((line.tpm2, line.adalight)[n % 2](one) for n, one in enumerate(pictures)))
    life = script.run(image("strip"), 2 * NS_PER_S)
    assert [frame.data for frame in life.frames[1:]] == pictures


@needs_chip
def test_a_frame_for_another_number_of_leds_lights_the_first_ones_once_it_is_sure():
    """A rig that says fewer LEDs than the board, or more: the second frame of that length is shown."""
    for leds in (5, 40):
        pictures = line.steady(random.Random(leds), leds, 3)
        script = Script(eeprom=EEPROM)
        for place, picture in enumerate(pictures):
            script.send(BEGIN_NS + place * 100 * NS_PER_MS, line.tpm2(picture))
        life = script.run(image("strip"), 2 * NS_PER_S)
        whole = [picture[: 3 * LEDS].ljust(3 * LEDS, b"\0") for picture in pictures]
        assert [frame.data for frame in life.frames[1:]] == whole[1:]


@needs_chip
def test_the_current_stays_below_the_limit_and_the_scale_never_rises_again():
    leds, max_ma = 20, 200
    script = Script(eeprom=line.eeprom(leds=leds, max_ma=max_ma))
    dim, white = bytes([60]) * (3 * leds), bytes([255]) * (3 * leds)
    for place, picture in enumerate((dim, white, dim)):
        script.send(BEGIN_NS + place * 400 * NS_PER_MS, line.tpm2(picture))
    life = script.run(image("strip"), 3 * NS_PER_S)
    _, before, bright, after = life.frames
    # 20 mA a colour at full light and 1 mA a LED: common practice, no source.
    for frame in life.frames[1:]:
        assert sum(frame.data) * 20 / 255 + leds <= max_ma
    assert sum(bright.data) * 20 / 255 + leds > 0.9 * max_ma
    assert set(before.data) <= {37, 38}                  # 180 of 282 mA
    assert max(after.data) < min(before.data)


@needs_chip
def test_a_program_that_hangs_restarts_black_and_says_why():
    script = Script(eeprom=EEPROM)
    picture = line.steady(random.Random(3), LEDS, 1)[0]
    script.send(BEGIN_NS, line.tpm2(picture))
    script.hang(BEGIN_NS + 200 * NS_PER_MS)
    script.send(BEGIN_NS + 1_500 * NS_PER_MS, line.command(b"I"))
    life = script.run(image("strip"), BEGIN_NS + 1_600 * NS_PER_MS)
    assert [frame.data for frame in life.frames[1:]] == [picture, bytes(3 * line.MOST_LEDS)]
    # "1.0 s" of an oscillator that nobody trims; datasheet, "Watchdog Timer Prescale Select".
    assert [cause for _, cause in life.resets] == [1, WATCHDOG]
    assert 800 * NS_PER_MS < life.resets[1][0] - BEGIN_NS - 200 * NS_PER_MS < 1_200 * NS_PER_MS
    assert line.answers(life.said)[-1][-1] == WATCHDOG


@needs_chip
def test_a_board_that_works_is_not_reset_by_its_watchdog():
    script = Script(baud=250_000, eeprom=line.eeprom(leds=200, baud=250_000))
    for place, picture in enumerate(line.steady(random.Random(9), 200, 80)):
        script.send(BEGIN_NS + place * 26 * NS_PER_MS, line.tpm2(picture))
    life = script.run(image("strip"), 4 * NS_PER_S)
    assert len(life.resets) == 1
    assert len(life.frames) == 81
