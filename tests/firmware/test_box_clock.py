"""A box whose clock runs wrong by half a percent either way: asked over its line, reckoned, set, and then on time.

Answers over twelve seconds, a bound five times as wide as that of a minute; TOCSIN_EXAMPLES=100 and more asks for the
whole minute.
"""

import os
from struct import unpack

import pytest

from tests.support.firmware import line
from tests.support.firmware.box import READY_MS, Hands, box_file, duty, motors, ns
from tests.support.firmware.box_resets import DUE_MS, LATE_MS, reset_block, strength
from tests.support.firmware.toolchain import needs_chip
from tocsin.features.devices.calibration import Latch, clock_rate
from tocsin.units import NS_PER_MS

MINUTE_S = 60 if int(os.environ.get("TOCSIN_EXAMPLES", "25")) >= 100 else 12
# A question's six bytes and the answer's first one, at 115,200 baud: so long at least the two are on their way.
BYTE_NS = 10 * 10**9 / 115_200


def asked(ppm):
    """Return the latches of a box, as a laptop gets them whose USB adapter holds each way up by up to 2 ms."""
    hands = Hands(ppm=ppm)
    sent_ns = [ns(READY_MS + 1000 * n + 137 * (n % 3)) for n in range(MINUTE_S + 1)]
    for at_ns in sent_ns:
        hands.send(at_ns, line.command(b"K"))
    life = hands.run(box_file(reset_block(), f"clock{os.getpid()}"), ns(READY_MS + 1000 * MINUTE_S + 600))
    began_ns = [at for n, (at, byte) in enumerate(life.answers) if byte == 0xC9 and life.answers[n + 1][1] == 0xAA]
    payloads = line.answers(life.said)
    assert len(payloads) == len(sent_ns) == len(began_ns)
    delays_ns = [NS_PER_MS * (n * 7 % 21) // 10 for n in range(2 * len(sent_ns))]
    return [
        Latch(
            sent_ns=at - delays_ns[n], got_ns=round(came + BYTE_NS) + delays_ns[-n - 1],
            chip_us=unpack(">xI", payload)[0],
        )
        for n, (at, came, payload) in enumerate(zip(sent_ns, began_ns, payloads, strict=True))
    ]  # fmt: skip


def cue_ms(ppm, told_ppm):
    """Return how long after the press, less a person's lateness, the last cue of a plan comes by the world's clock."""
    hands = Hands(ppm=ppm, eeprom=line.eeprom(leds=2, ppm=told_ppm))
    hands.watch_motors()
    hands.press(READY_MS + 0.8)
    life = hands.run(box_file(reset_block(), f"clock{os.getpid()}"), ns(READY_MS + DUE_MS[-1] + 100))
    last = next(motor for motor in motors(life) if motor.strong == duty(strength(len(DUE_MS) - 1)))
    return last.ms - READY_MS - 0.8 + LATE_MS


@needs_chip
@pytest.mark.parametrize("ppm", [-5000, 5000])
def test_a_clock_off_by_half_a_percent_is_found_and_put_right(ppm):
    """0.5 %: the tolerance of ceramic resonators (common practice, no source)."""
    rate = clock_rate(asked(ppm))
    assert abs(rate.ppm - ppm) <= rate.error_ppm <= 500
    due_ms = DUE_MS[-1]
    uncorrected_ms = cue_ms(ppm, 0) - due_ms
    assert uncorrected_ms == pytest.approx(-(due_ms - LATE_MS) * ppm / 1e6, abs=2.2), "so far off, over 2 s"
    assert -1.0 <= cue_ms(ppm, rate.ppm) - due_ms <= 2.2
