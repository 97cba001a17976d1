"""The LEDs' pin itself holds WCAG 2.2's limit of three flashes in any second, whatever bytes come.

Measured from the pin's edges by `tocsin.model.safety`, which has WCAG's definitions, and once more on linear light,
since that is what LEDs do with their bytes. Of red flashes the text of WCAG 2.2 counts.
"""

import random
from typing import get_args

import pytest
from hypothesis import settings

from tests.support.firmware import line
from tests.support.firmware.chip import EXTERNAL, Script
from tests.support.firmware.toolchain import image, needs_chip
from tocsin.channels.light.forms import colours_at
from tocsin.model import safety
from tocsin.model.pattern import LightForm, LightPattern
from tocsin.units import NS_PER_MS, NS_PER_S

LEDS = 10
BAUD = 250_000
MOST_CHANGES = 2 * safety.WCAG_FLASHES
LIVES = settings.default.max_examples
BLACK, WHITE = bytes(3 * LEDS), bytes([255]) * (3 * LEDS)


def rgb(data):
    return [tuple(data[at : at + 3]) for at in range(0, 3 * LEDS, 3)]


def worst(life, gain=1):
    """Return the most opposing changes of luminance in any second, of a LED or the mean, in sRGB and in linear light; a
    strip that is dimmed by ``gain`` counts as if that were its full light."""
    frames = []
    for shown in life.frames:
        frames.append((shown.end_ns, [tuple(min(255, gain * value) for value in led) for led in rgb(shown.data)]))
    return max(safety.most_general(frames), linear_changes(frames))


def linear_changes(frames):
    """As WCAG counts flashes, on light that is proportional to the bytes; written from its text."""
    rows = [[0.2126 * r / 255 + 0.7152 * g / 255 + 0.0722 * b / 255 for r, g, b in leds] for _, leds in frames]
    rows = [[*row, sum(row) / len(row)] for row in rows]
    times = [at_ns for at_ns, _ in frames]
    most = 0
    for series in set(zip(*rows, strict=True)):
        for begin in range(1, len(series)):
            changes, way, low, high = 0, 0, series[begin - 1], series[begin - 1]
            for place in range(begin, len(series)):
                if times[place] >= times[begin] + NS_PER_S:
                    break
                level = series[place]
                if way <= 0 and level - low >= 0.1 and low < 0.8:
                    changes, way, low, high = changes + 1, 1, level, level
                elif way >= 0 and high - level >= 0.1 and level < 0.8:
                    changes, way, low, high = changes + 1, -1, level, level
                low, high = min(low, level), max(high, level)
            most = max(most, changes)
    return most


def alternating(source, count):
    return [(WHITE, BLACK)[n % 2] for n in range(count)]


def random_leds(source, count):
    return [bytes(v for _ in range(LEDS) for v in [source.choice((0, 255))] * 3) for _ in range(count)]


def in_turns(source, count):
    """LEDs light up one after another, so that only their mean flashes often."""
    frames, leds = [], [0] * LEDS
    for n in range(count):
        half = range(0, LEDS, 2) if n // 2 % 2 else range(1, LEDS, 2)
        for led in half:
            leds[led] = 255 * (n % 2)
        frames.append(bytes(v for led in leds for v in [led] * 3))
    return frames


def ramps(source, count):
    return [bytes([abs(n * 12 % 510 - 255)]) * (3 * LEDS) for n in range(count)]


def steps(source, count):
    """Fades that go on and turn anywhere."""
    level, way, frames = 0, 1, []
    for _ in range(count):
        way = -way if source.random() < 0.2 else way
        level = min(255, max(0, level + way * source.randint(5, 60)))
        frames.append(bytes([level]) * (3 * LEDS))
    return frames


def chaos(source, count):
    some = [BLACK, WHITE, *(line.picture(source, LEDS, most) for most in (40, 255) for _ in range(count // 4 + 1))]
    return [source.choice(some) for _ in range(count)]


ATTACKS = (alternating, random_leds, in_turns, ramps, steps, chaos)


def attacked(attack, seed, gain=1):
    """Return a life of a strip that is sent an attack, with resets and silences between."""
    source = random.Random(f"{attack.__name__} {seed}")
    script = Script(baud=BAUD, eeprom=line.eeprom(leds=LEDS, baud=BAUD))
    at_ns, pace_ns = 1_000 * NS_PER_MS, source.choice((8, 20, 45, 90, 140, 160, 200)) * NS_PER_MS
    for frame in attack(source, 5 * NS_PER_S // pace_ns):
        data = bytes(value // gain for value in frame)
        script.send(at_ns, source.choice((line.tpm2, line.adalight))(data))
        at_ns += pace_ns
        if seed % 3 == 2 and source.random() < 0.02:
            script.reset(at_ns, EXTERNAL)
        if source.random() < 0.01:
            at_ns += source.randrange(3 * NS_PER_S)
    return script.run(image("strip"), at_ns + 200 * NS_PER_MS)


@needs_chip
@pytest.mark.parametrize("attack", ATTACKS)
def test_no_second_holds_more_than_three_flashes(attack):
    seen = 0
    for seed in range(max(3, LIVES // 5)):
        found = worst(attacked(attack, seed))
        assert found <= MOST_CHANGES, seed
        seen = max(seen, found)
    assert seen >= 4                                 # it did flash: nothing is held that need not be


@needs_chip
def test_a_dimmed_strip_is_held_as_well():
    """A rig of 60 LEDs and 400 mA lights them to a ninth: what is full there counts as full."""
    for seed, attack in enumerate((alternating, in_turns, steps)):
        assert 4 <= worst(attacked(attack, seed, gain=9), gain=9) <= MOST_CHANGES, attack


@needs_chip
def test_red_that_is_as_light_as_what_it_changes_with_is_held():
    """Red and a green of its luminance: no general flash at all."""
    red, green = bytes((200, 0, 0)) * LEDS, bytes((0, 59, 0)) * LEDS
    script = Script(baud=BAUD, eeprom=line.eeprom(leds=LEDS, baud=BAUD))
    for n in range(60):
        script.send((1_300 + 50 * n) * NS_PER_MS, line.tpm2((red, green)[n % 2]))
    life = script.run(image("strip"), 5 * NS_PER_S)
    frames = [(shown.end_ns, rgb(shown.data)) for shown in life.frames]
    assert 4 <= safety.most_red(frames) <= MOST_CHANGES


@needs_chip
def test_no_form_of_the_strip_waits_that_the_programs_own_guard_lets_out():
    """Two flashes a second, the most that Tocsin sends, and all that moves."""
    forms = ("plain", "swell", "on_off", "shuttle", "queue", "ebb", "bands", "apart")
    assert set(forms) == set(get_args(LightForm))
    for seed, form in enumerate(forms):
        source = random.Random(seed)
        colours = tuple(source.sample([safety.OKABE_ITO[name] for name in ("white", "yellow", "sky_blue", "black")], 2))
        cycle_ns = source.choice((500, 700, 1_000, 1_300, 2_000)) * NS_PER_MS
        pattern = LightPattern(form=form, colours=colours, cycle_ns=cycle_ns, width=0.2, lasts_ns=3 * NS_PER_S)
        guard = safety.FlashGuard(LEDS)
        script = Script(baud=BAUD, eeprom=line.eeprom(leds=LEDS, baud=BAUD))
        sent = []
        for at_ns in range(0, 3 * NS_PER_S, 25 * NS_PER_MS):
            wanted = colours_at(pattern, LEDS, at_ns, 1 - at_ns / (3 * NS_PER_S))
            sent.append(bytes(value for led in guard.admit(at_ns, wanted) for value in led))
            script.send(1_300 * NS_PER_MS + at_ns, line.tpm2(sent[-1]))
        life = script.run(image("strip"), 4_400 * NS_PER_MS)
        assert [frame.data for frame in life.frames[1:]] == sent, form


@needs_chip
def test_few_frames_wait_where_every_led_changes_as_often_as_the_program_lets_it():
    """Random colours at 40 frames a second: the program's guard dates changes to a millisecond, the board's to 150."""
    source = random.Random(3)
    guard = safety.FlashGuard(LEDS)
    script = Script(baud=BAUD, eeprom=line.eeprom(leds=LEDS, baud=BAUD))
    for n in range(120):
        at_ns = (1_300 + 25 * n) * NS_PER_MS
        wanted = [source.choice(list(safety.OKABE_ITO.values())) for _ in range(LEDS)]
        script.send(at_ns, line.tpm2(bytes(value for led in guard.admit(at_ns, wanted) for value in led)))
    life = script.run(image("strip"), 5 * NS_PER_S)
    assert len(life.frames) > 0.75 * 120


@needs_chip
def test_what_is_held_back_is_shown_as_soon_as_it_may_be():
    """The end of a row of flashes is what stays, so it must not be lost: a strip that should be white is."""
    script = Script(baud=BAUD, eeprom=line.eeprom(leds=LEDS, baud=BAUD))
    for n in range(21):
        script.send((1_500 + 30 * n) * NS_PER_MS, line.tpm2((WHITE, BLACK)[n % 2]))
    life = script.run(image("strip"), 4 * NS_PER_S)
    assert life.frames[-1].data == WHITE
    assert life.frames[-1].begin_ns < (1_500 + 600 + 1_200) * NS_PER_MS


@needs_chip
def test_nothing_is_lit_in_the_first_second_of_a_life():
    """A loose plug must not flash either: nobody knows what was shown before."""
    script = Script(baud=BAUD, eeprom=line.eeprom(leds=LEDS, baud=BAUD))
    at_ns = 0
    for _ in range(60):
        at_ns += 50 * NS_PER_MS
        script.send(at_ns, line.tpm2(WHITE))
    for n in range(1, 4):
        script.reset(n * 700 * NS_PER_MS, EXTERNAL)
    life = script.run(image("strip"), 4 * NS_PER_S)
    lit = [frame.begin_ns for frame in life.frames if any(frame.data)]
    assert lit
    assert all(not at_ns < begin < at_ns + NS_PER_S for at_ns, _ in life.resets for begin in lit)
