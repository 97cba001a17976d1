"""The box's states and buttons on the emulated chip: what its lamp, motors, strip and buzzer do."""

import os
import random

import pytest

from tests.support.firmware import line
from tests.support.firmware.box import (
    CALL,
    PRACTICE,
    READY_MS,
    RESYNC,
    ROLE,
    START,
    TCCR2A,
    Hands,
    box_file,
    duty,
    motors,
    ns,
)
from tests.support.firmware.box_resets import DUE_MS, LATE_MS, LEDS, reset_block, reset_source, strength
from tests.support.firmware.chip import BROWN_OUT
from tests.support.firmware.toolchain import image, needs_chip
from tocsin.export.box.block import plan_block
from tocsin.units import NS_PER_MS

BEGAN_MS = READY_MS + 0.8 - LATE_MS
DUTIES = [duty(strength(n)) for n in range(len(DUE_MS))]


def lived(hands, until_ms, block=None):
    """Return a box's life, with motors and lamp recorded."""
    hands.watch_motors()
    hands.log("C0")
    return hands.run(box_file(reset_block() if block is None else block, f"test{os.getpid()}"), ns(until_ms))


def lamp(life, begin_ms, end_ms):
    """Return for how many of these milliseconds the lamp was on, and how often it went on."""
    edges = [(at_ns / NS_PER_MS, level) for at_ns, level in life.pins["C0"]]
    level = next((level for at, level in reversed(edges) if at <= begin_ms), 0)
    on_ms, last_ms, times = 0.0, begin_ms, 0
    for at_ms, new in [*((at, new) for at, new in edges if begin_ms < at < end_ms), (end_ms, level)]:
        on_ms += (at_ms - last_ms) * level
        times += new > level
        level, last_ms = new, at_ms
    return on_ms, times


def strengths(life):
    """Return the duties of the strong motor as they began."""
    return [motor.strong for motor in motors(life) if motor.strong]


@needs_chip
@pytest.mark.parametrize("pin", [START, RESYNC, CALL, ROLE])
def test_what_is_low_as_power_comes_is_no_press(pin):
    hands = Hands()
    hands.pin(ns(0.01), pin, 0)
    hands.pin(ns(4500), pin, 1)
    hands.press(4700.8)
    life = lived(hands, 5200)
    assert strengths(life) == DUTIES[:2], "nothing before it was let go, and start works after that"
    assert motors(life)[0].ms > 4700
    assert 0.3 <= lamp(life, 500, 4500)[0] / 4000 <= 0.7, "idle meanwhile"


@needs_chip
def test_the_first_edge_counts_however_the_contact_bounces():
    """12 ms of bouncing; contacts bounce for some milliseconds (common practice, no source)."""
    rng = random.Random(3)
    hands = Hands()
    at_ms = READY_MS + 0.8
    hands.pin(ns(at_ms), START, 0)
    for step in range(1, 13):
        hands.pin(ns(at_ms + step + rng.random() * 0.8), START, rng.randint(0, 1))
    hands.pin(ns(at_ms + 13.9), START, 0)
    hands.pin(ns(at_ms + 200), START, 1)
    life = lived(hands, BEGAN_MS + DUE_MS[1] + 100)
    assert [motor.ms - BEGAN_MS for motor in motors(life) if motor.strong] == [
        pytest.approx(DUE_MS[0], abs=2), pytest.approx(DUE_MS[1], abs=2)
    ]  # fmt: skip


@needs_chip
def test_a_spike_is_no_press():
    hands = Hands()
    for n in range(20):
        hands.press(READY_MS + 70 * n + 0.8, START, lasts_ms=1 + n % 9)
    life = lived(hands, READY_MS + 2200)
    assert motors(life) == []


@needs_chip
def test_start_held_for_three_seconds_scraps_the_match_and_not_the_one_it_began():
    hands = Hands()
    hands.press(READY_MS + 0.8, START, lasts_ms=3400)                  # began it, and goes on being held
    hands.press(4300.8, START, lasts_ms=2500)                          # too short
    hands.press(7000.8, START, lasts_ms=3100)
    hands.press(10_400.8, START)
    life = lived(hands, 10_400 + 500)
    assert strengths(life) == [*DUTIES, *DUTIES[:2]], "a match to its end, and the begin of another"
    assert lamp(life, 5000, 9900) == (4900, 0)
    assert lamp(life, 10_010, 10_390)[0] < 380


@needs_chip
def test_after_the_end_it_rests_before_it_is_idle_again():
    """A press as the match ends must not begin another one: dark lamp for five seconds, then idle."""
    hands = Hands()
    hands.reset(ns(1000), BROWN_OUT)                                   # nothing ran: idle
    hands.press(1500.8)
    began_ms = 1500.8 - LATE_MS
    hands.press(began_ms + 31_000 + 2000 + 1000)                       # the period and its ringing out are over
    hands.press(began_ms + 31_000 + 2000 + 5000 + 500)
    life = lived(hands, began_ms + 31_000 + 2000 + 5000 + 1200)
    assert strengths(life) == [*DUTIES, *DUTIES[:3]]
    assert lamp(life, began_ms + 33_100, began_ms + 37_900) == (0, 0)


@needs_chip
def test_a_known_clock_is_moved_by_a_likely_press_only():
    """The display changes to 0:30 a second after the begin. A press 700 ms behind that is taken, one at 0:12 is not."""
    hands = Hands()
    hands.press(READY_MS + 0.8)
    hands.press(BEGAN_MS + 1000 + LATE_MS + 400, RESYNC)
    hands.press(BEGAN_MS + 1000 + LATE_MS + 12_000, RESYNC)
    life = lived(hands, BEGAN_MS + 14_000)
    times = {motor.strong: motor.ms - BEGAN_MS for motor in motors(life) if motor.strong}
    assert strengths(life) == DUTIES, "none again, though the clock was set back by 0.4 s"
    for n, due_ms in enumerate(DUE_MS):
        late_ms = 400 if due_ms > 1670 else 0
        assert times[DUTIES[n]] == pytest.approx(due_ms + late_ms, abs=3)


@needs_chip
def test_the_call_counts_as_given_even_through_a_reset():
    """Cue 5, due at 1.3 s, is called at 0.75 s; the chip is reset at 0.85 s and resynced as the display shows 0:30."""
    hands = Hands()
    hands.press(READY_MS + 0.8)
    hands.press(BEGAN_MS + 750, CALL, lasts_ms=50)
    hands.reset(ns(BEGAN_MS + 850), BROWN_OUT)
    hands.press(BEGAN_MS + 1000 + LATE_MS, RESYNC)
    life = lived(hands, BEGAN_MS + 2600)
    assert strengths(life).count(DUTIES[5]) == 1
    assert strengths(life)[-3:] == DUTIES[6:], "the others that are left come"


@needs_chip
def test_the_pulse_of_a_lost_clock_comes_once_however_often_the_supply_dips():
    hands = Hands()
    hands.press(READY_MS + 0.8)
    for n in range(6):
        hands.reset(ns(1500 + 700 * n), BROWN_OUT)
    life = lived(hands, 6500)
    faint = [motor for motor in motors(life) if motor.weak]
    assert [motor.weak for motor in faint] == [duty(60)]
    assert lamp(life, 5500, 6500)[1] in (1, 2), "fast: at most two blinks in a second"
    assert not any(any(frame.data) for frame in life.frames if frame.begin_ns > ns(1500)), "the strip stays dark"


@needs_chip
def test_a_program_that_hangs_is_lost_within_two_seconds():
    hands = Hands()
    hands.press(READY_MS + 0.8)
    hands.hang(ns(1500))
    life = lived(hands, 3500)
    assert [cause for _, cause in life.resets][1:] == [8]
    assert [motor.weak for motor in motors(life) if motor.weak] == [duty(60)]


@needs_chip
def test_below_4200_mv_it_is_dark_and_still_and_stays_so_for_five_seconds():
    """The clock runs on meanwhile. 4.2 V by the chip's own reference, exact here."""
    hands = Hands()
    hands.supply(0, 5000)
    hands.press(READY_MS + 0.8)
    hands.supply(ns(BEGAN_MS + 850), 4100)
    hands.supply(ns(BEGAN_MS + 1500), 5000)
    hands.press(7500.8, CALL)
    life = lived(hands, 8200)
    assert strengths(life) == [*DUTIES[:2], DUTIES[5]], "from 0.85 s on nothing, then the call"
    dark = [frame for frame in life.frames if ns(BEGAN_MS + 900) < frame.begin_ns < ns(BEGAN_MS + 6400)]
    assert not any(any(frame.data) for frame in dark)
    assert 0 < lamp(life, 2500, 6500)[0] < 500, "a short blink each two seconds"


@needs_chip
def test_4250_mv_is_enough():
    hands = Hands()
    hands.supply(0, 4250)
    hands.press(READY_MS + 0.8)
    life = lived(hands, BEGAN_MS + DUE_MS[1] + 100)
    assert strengths(life) == DUTIES[:2]


@needs_chip
def test_the_role_is_chosen_by_hold_and_outlasts_the_power():
    """The plan has cues for the driver alone, the first role: a hold finds no other, and says its number by blinks."""
    source = reset_source()
    block = plan_block(source, leds=LEDS, order="RGB", max_ma=20_000, brightness=1.0)
    hands = Hands()
    hands.press(READY_MS, ROLE, lasts_ms=1300)
    hands.power(ns(3000))
    hands.press(3800.8)
    life = lived(hands, 4700, block)
    assert strengths(life) == DUTIES[:5], "the only role of the plan is not left"
    _, blinks = lamp(life, READY_MS + 1000, READY_MS + 2200)
    assert blinks == 1


@needs_chip
@pytest.mark.parametrize("damage", ["none", "crc", "layout"])
def test_without_a_whole_plan_it_says_so_and_does_nothing(damage):
    block = bytearray(reset_block())
    if damage == "crc":
        block[200] ^= 1
    elif damage == "layout":
        block[4] += 1
    hands = Hands()
    hands.watch_motors()
    hands.log("C0")
    hands.press(READY_MS + 0.8)
    hands.press(1500, CALL)
    file = image("box") if damage == "none" else box_file(bytes(block), f"bad{os.getpid()}")
    hands.send(ns(2200), line.command(b"I"))
    life = hands.run(file, ns(5000))
    assert motors(life) == []
    assert not any(any(frame.data) for frame in life.frames)
    assert lamp(life, 400, 4496)[1] == 4, "two short blinks in two seconds"
    assert line.answers(life.said)[0][:2] == b"IB", "it still says who it is"


@needs_chip
@pytest.mark.parametrize("practice", [True, False])
def test_the_buzzer_sounds_with_the_jumper_only(practice):
    from tests.support.firmware.box_plans import random_box_source

    source, block = next(
        made for made in (random_box_source(seed, LEDS) for seed in range(100))
        if any(
            firing.channel == "sound" and firing.when == "" and firing.begin.anchor == "match"
            and 300 * NS_PER_MS < firing.begin.offset_ns < 1500 * NS_PER_MS for firing in made[0].timeline.firings
        )
    )  # fmt: skip
    assert source.timeline.firings
    hands = Hands()
    hands.watch(TCCR2A)
    if practice:
        hands.pin(ns(1), PRACTICE, 0)
    hands.press(READY_MS + 0.8)
    life = lived(hands, READY_MS + 1500, block)
    sounds = any(value & 0x10 for _, value in life.watched[TCCR2A])
    assert sounds is practice


@needs_chip
def test_settings_over_the_line_go_before_the_plans():
    """Six LEDs in BGR instead of the plan's two in RGB; frames on the line light nothing."""
    hands = Hands()
    settings = line.settings(leds=6, order="BGR")
    hands.send(ns(800), line.command(b"W" + settings))
    hands.send(ns(1000), line.tpm2(bytes(range(1, 19))))
    hands.send(ns(1100), line.command(b"I"))
    hands.press(1200.8)
    life = lived(hands, 1200 + 400)
    written, asked = line.answers(life.said)
    assert written == asked
    assert written[5:14] == settings[:9]
    lit = [frame.data for frame in life.frames if any(frame.data)]
    assert lit[0] == bytes((10, 1, 1)) * 6


@needs_chip
@pytest.mark.parametrize(
    ("kept", "counts"),
    [({"leds": 50, "max_ma": 3700}, 400), ({"leds": 50, "max_ma": 200}, 200)],
    ids=["a strip's controller before", "lower than the plan's"],
)
def test_the_lower_of_both_limits_counts(kept, counts):
    """A board that was the controller of a strip with a supply of its own keeps that strip's limit; the battery of the
    box has a fuse of 1 A."""
    block = plan_block(reset_source(), leds=30, order="GRB", max_ma=400, brightness=1.0)
    assert limit_of(block, line.eeprom(**kept)) == counts


@needs_chip
def test_a_limit_below_what_the_kept_leds_draw_dark_is_no_limit_of_another_size():
    """45 mA less 1 mA a LED for 50 of them is below nothing, and unsigned it would be everything."""
    block = plan_block(reset_source(), leds=30, order="GRB", max_ma=45, brightness=1.0)
    assert limit_of(block, line.eeprom(leds=50, max_ma=3700)) == 51


def limit_of(block, eeprom):
    """Return the most mA that a box says of itself after power."""
    hands = Hands(eeprom=eeprom)
    hands.send(ns(READY_MS), line.command(b"I"))
    (said,) = line.answers(hands.run(box_file(block, f"limit{os.getpid()}"), ns(READY_MS + 100)).said)
    return int.from_bytes(said[9:11], "big")
