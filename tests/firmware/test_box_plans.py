"""Random plans in the box, played whole on the emulated chip, against the plan's own timeline: each change of the
motors to two milliseconds, each picture of the strip to a frame's time.

A dozen plans; TOCSIN_EXAMPLES=300 takes 300.
"""

import ctypes
import os
import random
import shutil
import subprocess

import pytest

from tests.support.firmware.box import READY_MS, START, Hands, box_file, duty, motors, ns
from tests.support.firmware.box_oracle import LATE_MS, RING_OUT_MS, SURE_MS, Box, Stretch
from tests.support.firmware.box_plans import random_box_source
from tests.support.firmware.toolchain import BUILD, SOURCE, needs_chip
from tocsin.model.plan import ROLES
from tocsin.model.safety import flicker
from tocsin.units import NS_PER_MS

PLANS = int(os.environ.get("TOCSIN_EXAMPLES", "12"))
LEDS = 8
FRAME_MS = 10
SLACK_MS = 12                          # a frame, and what drawing takes
STEP = 4                               # of 255: what a swell moves in a few milliseconds
BEFORE_MS = 300                        # dark after power came


def lived(source, rng):
    """Return when start is pressed, as (ms of the press), and the stretches that follow; periods that wait for a person
    wait for a while."""
    presses, stretches = [], []
    press_ms = READY_MS + rng.randint(0, 200)
    segments = source.timeline.segments
    for rank, segment in enumerate(segments):
        # The edge lies late in a millisecond and is seen at the next.
        presses.append(press_ms + 0.8)
        began_ms, first_ms = press_ms + 1 - LATE_MS, press_ms + 1 + SURE_MS
        slots = [slot for slot in source.timeline.periods if slot.anchor == segment.anchor]
        ends_ms = -(-(segment.lasts_ns or slots[-1].begin_ns + 10**9) // NS_PER_MS)
        press_ms = began_ms + ends_ms + rng.randint(150, 600)
        stretches.append(Stretch(rank, began_ms, first_ms, press_ms + 1 + SURE_MS))
    over_ms = stretches[-1].began_ms + ends_ms + RING_OUT_MS
    stretches[-1] = stretches[-1]._replace(until_ms=10**9)
    return presses, stretches, over_ms


@pytest.fixture(scope="module")
def guard():
    """The box's flash guard as a library of this machine; what it lets through is tried in test_box_guard."""
    gcc = shutil.which("gcc")
    made = BUILD / "apart.so"
    subprocess.run(
        [gcc, "-std=gnu99", "-O1", "-shared", "-fPIC", str(SOURCE / "box_apart.c"), "-o", str(made)], check=True
    )
    return ctypes.CDLL(str(made))


def strip_frames(guard, box, stretches, end_ms, late_ms=0):
    """Return (ms, bytes) of the frames that the strip should get, one a change, if the box looks that late."""
    swings, shown = ctypes.create_string_buffer(3 * (LEDS + 1)), ctypes.create_string_buffer(3 * LEDS)
    guard.apart_begin(swings, LEDS)
    found = []
    for ms in range(BEFORE_MS, end_ms, FRAME_MS):
        wanted = bytes(value for colour in box.strip(stretches, ms + late_ms) for value in colour)
        if guard.apart_admit(swings, shown, wanted, LEDS):
            found.append((ms, shown.raw[: 3 * LEDS]))
    return found


def near(data, ms, frames):
    """Return whether some frames show nearly these bytes within a frame's time of a moment: a box that was busy draws a
    millisecond later, by which a swell is a step further and an edge may fall into the next frame."""
    begun = [one for at_ms, one in frames if at_ms <= ms - SLACK_MS][-1:] or [bytes(len(data))]
    around = [one for at_ms, one in frames if ms - SLACK_MS < at_ms <= ms + SLACK_MS]
    return any(max(abs(a - b) for a, b in zip(one, data, strict=True)) <= STEP for one in (*begun, *around))


def rounded(frame):
    """Return a frame with its time in whole nanoseconds."""
    return round(frame[0]), frame[1]


def played(seed):
    """Return a plan's box, its life and the stretches of it."""
    rng = random.Random(f"life {seed}")
    source, block = random_box_source(seed, LEDS)
    presses, stretches, over_ms = lived(source, rng)
    hands = Hands(seed=seed + 1)
    hands.watch_motors()
    for press_ms in presses:
        hands.press(press_ms, START)
    life = hands.run(box_file(block, f"plan{os.getpid()}"), ns(over_ms + 50))
    used = {firing.role for firing in source.timeline.firings if firing.channel == "rumble"}
    role = ROLES[0] if ROLES[0] in used else None              # a new box is the first role's
    return Box(source, role, LEDS), life, stretches, over_ms


@needs_chip
@pytest.mark.parametrize("seed", range(PLANS))
def test_motor_and_strip_are_the_timelines(guard, seed):
    box, life, stretches, over_ms = played(seed)
    expected = box.motor(stretches, over_ms)
    found = [motor for motor in motors(life) if motor.ms < over_ms]
    assert [tuple(motor[1:]) for motor in found] == [(duty(strong), duty(weak)) for _, strong, weak in expected]
    for motor, (ms, _, _) in zip(found, expected, strict=True):
        assert -0.2 <= motor.ms - ms <= 2, (motor, ms)

    wanted = strip_frames(guard, box, stretches, over_ms)
    shown, last = [], bytes(3 * LEDS)
    for frame in life.frames[1:]:
        if frame.data != last and frame.begin_ns < ns(over_ms):
            shown.append((frame.begin_ns / NS_PER_MS, frame.data))
            last = frame.data
    # A busy box looks a millisecond or two late, and then another edge may be the one that the guard holds back.
    late = [strip_frames(guard, box, stretches, over_ms, late_ms) for late_ms in (1, 2)]
    strange = [(ms, data.hex()) for ms, data in shown if not any(near(data, ms, one) for one in (wanted, *late))]
    assert strange == []
    sure = [(ms, data) for ms, data in wanted if all(near(data, ms, one) for one in late)]
    assert [(ms, data.hex()) for ms, data in sure if not near(data, ms, shown)] == []
    assert life.parts == []
    colours = [(at_ms * NS_PER_MS, [tuple(data[n : n + 3]) for n in range(0, len(data), 3)]) for at_ms, data in shown]
    assert flicker([(0, [(0, 0, 0)] * LEDS), *map(rounded, colours)]).within(3), "WCAG's own limit, on the pin"


def test_the_random_plans_hold_everything():
    """Motors and strips that never do anything would agree too. Without the chip, over as many plans as are played."""
    changes = lit = waits = cut = 0
    for seed in range(12):
        rng = random.Random(f"life {seed}")
        source, _ = random_box_source(seed, LEDS)
        presses, stretches, over_ms = lived(source, rng)
        used = {firing.role for firing in source.timeline.firings if firing.channel == "rumble"}
        box = Box(source, ROLES[0] if ROLES[0] in used else None, LEDS)
        changes += len(box.motor(stretches, over_ms))
        lit += sum(box.strip(stretches, ms) != [(0, 0, 0)] * LEDS for ms in range(0, over_ms, 100))
        waits += len(presses) > 1
        cut += any(firing.until is not None and firing.channel == "light" for firing in source.timeline.firings)
    assert changes > 40
    assert lit > 100
    assert waits >= 2
    assert cut >= 4
