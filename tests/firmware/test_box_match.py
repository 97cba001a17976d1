"""The plan that comes with Tocsin, in the box, from the official 0:30 on: a whole match takes a minute of emulation.

A box that lost its clock joins there, as it would at an event.
"""

import pytest

from tests.support.export.exported_plans import bundled
from tests.support.firmware.box import READY_MS, RESYNC, START, Hands, box_file, duty, motors, ns
from tests.support.firmware.box_oracle import LATE_MS, SURE_MS, Box, Stretch
from tests.support.firmware.chip import BROWN_OUT
from tests.support.firmware.toolchain import needs_chip
from tocsin.export.box.block import plan_block
from tocsin.units import NS_PER_MS

LEDS = 30
AT_30_S_MS = 106_000                  # worked out by hand: 28 s, 11 s, and 97 s of which 30 are left
HOME_MS = 114_000                     # 0:22
PRESS_MS = 1800.8


@needs_chip
@pytest.mark.parametrize("role", ["driver"])
def test_the_end_of_the_match_comes_as_planned_after_a_reset(role):
    source = bundled("full")
    block = plan_block(source, leds=LEDS, order="GRB", max_ma=20_000, brightness=1.0)
    hands = Hands()
    hands.watch_motors()
    hands.press(READY_MS + 0.8, START)
    hands.reset(ns(1000), BROWN_OUT)
    hands.press(PRESS_MS, RESYNC)
    edge_ms = int(PRESS_MS) + 1
    began_ms = edge_ms - LATE_MS - AT_30_S_MS
    end_ms = began_ms + HOME_MS + 3000
    life = hands.run(box_file(block, "full"), ns(end_ms))
    expected = Box(source, role, LEDS).motor([Stretch(0, began_ms, edge_ms + SURE_MS, 10**9)], end_ms)
    assert expected[0][0] == began_ms + HOME_MS, "three pulses of home, and nothing that has passed"
    found = [motor for motor in motors(life) if motor.ms > PRESS_MS]
    assert [tuple(motor[1:]) for motor in found] == [(duty(strong), duty(weak)) for _, strong, weak in expected]
    for motor, (ms, _, _) in zip(found, expected, strict=True):
        assert -0.2 <= motor.ms - ms <= 5, "a frame of 30 LEDs is drawn and sent in between"
    lit = [frame for frame in life.frames if any(frame.data) and frame.begin_ns > ns(PRESS_MS)]
    # Purple and white blocks of six LEDs, green first on the wire (configs/patterns/light.toml: home).
    assert lit[0].data == 2 * (bytes((121, 204, 167)) * 6 + bytes((255, 255, 255)) * 6) + bytes((121, 204, 167)) * 6
    assert 0 <= lit[0].begin_ns / NS_PER_MS - began_ms - HOME_MS <= 15
