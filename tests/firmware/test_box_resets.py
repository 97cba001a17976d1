"""A box that is reset at random moments of a match: whatever the cause, no cue comes twice and none early; where the
power went it is idle and silent.

Ten lives; TOCSIN_EXAMPLES=500 takes 500.
"""

import os

import pytest

from tests.support.firmware.box import Hands, box_file, duty, motors, ns
from tests.support.firmware.box_resets import (
    DUE_MS,
    LATE_MS,
    LEDS,
    PRESS_MS,
    UNTIL_MS,
    befall,
    colour,
    reset_block,
    strength,
)
from tests.support.firmware.chip import POWER
from tests.support.firmware.toolchain import needs_chip
from tocsin.units import NS_PER_MS

LIVES = int(os.environ.get("TOCSIN_EXAMPLES", "10"))
BEGAN_MS = PRESS_MS - LATE_MS
BY_DUTY = {duty(strength(n)): n for n in range(len(DUE_MS))}
BY_COLOUR = {bytes(colour(n)) * LEDS: n for n in range(len(DUE_MS))}


def shaken(life):
    """Return (cue, ms) of each time that a cue's strength began at the motor."""
    return [(BY_DUTY[motor.strong], motor.ms) for motor in motors(life) if motor.strong]


def lit(life):
    """Return (cue, ms) of each time that a cue's light began at the strip."""
    found, last = [], None
    for frame in life.frames:
        if frame.data != last and any(frame.data):
            found.append((BY_COLOUR[frame.data], frame.begin_ns / NS_PER_MS))
        last = frame.data
    return found


@needs_chip
@pytest.mark.parametrize("seed", range(LIVES))
def test_no_cue_comes_twice_or_early(seed):
    hands = Hands(seed=seed + 1)
    hands.watch_motors()
    lived = befall(seed, hands)
    life = hands.run(box_file(reset_block(), f"resets{os.getpid()}"), ns(lived.end_ms))
    for events, what in ((shaken(life), "motor"), (lit(life), "strip")):
        cues = [cue for cue, _ in events]
        once = [cue for cue in cues if what == "motor" or DUE_MS[cue] not in UNTIL_MS]
        assert len(once) == len(set(once)), (what, events, lived)
        for cue, ms in events:
            assert ms >= BEGAN_MS + DUE_MS[cue] - 1.5, (what, events, lived)
    without_power = [ms for ms, cause in lived.resets if cause is None or cause & POWER]
    if without_power:
        late = [ms for _, ms in (*shaken(life), *lit(life)) if ms > without_power[0] + 2]
        assert late == [], (late, lived)
    elif lived.resets[-1][0] + 400 < lived.resync_ms:
        # It was lost, and the resync was seen: all that is left comes, as late as the press.
        left = [n for n, due_ms in enumerate(DUE_MS) if BEGAN_MS + due_ms > lived.resync_ms + 25]
        assert left == [cue for cue, ms in shaken(life) if ms > lived.resync_ms + 25 and cue in left]


@needs_chip
def test_without_a_reset_each_comes_once():
    """So that a box that never does anything does not pass for one that does nothing twice."""
    hands = Hands()
    hands.watch_motors()
    hands.press(PRESS_MS)
    life = hands.run(box_file(reset_block(), f"resets{os.getpid()}"), ns(BEGAN_MS + DUE_MS[-1] + 200))
    assert [cue for cue, _ in shaken(life)] == list(range(len(DUE_MS)))
    assert {cue for cue, _ in lit(life)} >= set(range(len(DUE_MS))) - {3, 4, 5}
    for cue, ms in shaken(life):
        assert -0.5 <= ms - BEGAN_MS - DUE_MS[cue] <= 2
