"""A board's clock rate from its answers: worked by hand, and always within its bound, however late answers come."""

import random

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tocsin.errors import DeviceError
from tocsin.features.devices.calibration import EVERY_NS, LASTS_NS, MOST_ERROR_PPM, Latch, clock_rate

US = 1_000
MS = 1_000_000
S = 1_000_000_000


def minute(ppm, rng, out_ms, back_ms, begin_us=0):
    """Return a minute's answers of a board whose clock counts 4 us, questions and answers under way for up to so many
    milliseconds."""
    found = []
    for n in range(LASTS_NS // EVERY_NS + 1):
        sent_ns = 5 * S + n * EVERY_NS
        latched_ns = sent_ns + rng.randint(300 * US, max(int(out_ms * MS), 300 * US))
        got_ns = latched_ns + rng.randint(300 * US, max(int(back_ms * MS), 300 * US))
        chip_us = begin_us + latched_ns * (1_000_000 + ppm) // 1_000_000 // 1000 // 4 * 4
        found.append(Latch(sent_ns=sent_ns, got_ns=got_ns, chip_us=chip_us % (1 << 32)))
    return found


def test_three_answers_worked_by_hand():
    """0.25 % fast: 25,062,500 us in 25 s. A millisecond of doubt at either end is 1 / 50,000 of fifty seconds."""
    latches = [
        Latch(sent_ns=0, got_ns=MS, chip_us=0),
        Latch(sent_ns=25 * S, got_ns=25 * S + MS, chip_us=25_062_500),
        Latch(sent_ns=50 * S, got_ns=50 * S + MS, chip_us=50_125_000),
    ]
    rate = clock_rate(latches)
    assert (rate.ppm, rate.error_ppm) == (2500, 21)        # 50.125 s in 49.999 to 50.001 s, 4 us either way


@pytest.mark.parametrize("ppm", [-5000, 5000])
def test_a_resonator_that_is_off_by_half_a_percent_is_found(ppm):
    """0.5 %: the tolerance of ceramic resonators (common practice, no source)."""
    rate = clock_rate(minute(ppm, random.Random(1), 2, 3))
    assert abs(rate.ppm - ppm) <= rate.error_ppm <= 100


@given(
    st.integers(-15_000, 15_000), st.randoms(use_true_random=False), st.floats(0.3, 12), st.floats(0.3, 12),
    st.integers(0, (1 << 32) - 1),
)
def test_the_true_rate_lies_within_the_bound(ppm, rng, out_ms, back_ms, begin_us):
    rate = clock_rate(minute(ppm, rng, out_ms, back_ms, begin_us))
    assert abs(rate.ppm - ppm) <= rate.error_ppm <= MOST_ERROR_PPM


def test_a_clock_that_wraps_runs_on():
    straight = clock_rate(minute(1234, random.Random(2), 1, 1))
    assert clock_rate(minute(1234, random.Random(2), 1, 1, begin_us=(1 << 32) - 30_000_000)) == straight


def test_a_board_that_began_anew_is_no_clock():
    latches = minute(0, random.Random(3), 1, 1)
    anew = [*latches[:30], *(Latch(sent_ns=one.sent_ns, got_ns=one.got_ns, chip_us=one.chip_us - 30_000_000)
                             for one in latches[30:])]  # fmt: skip
    with pytest.raises(DeviceError, match="began anew"):
        clock_rate(anew)


def test_a_clock_that_jumps_forward_is_none():
    latches = minute(0, random.Random(4), 1, 1)
    jumped = [*latches[:30], *(Latch(sent_ns=one.sent_ns, got_ns=one.got_ns, chip_us=one.chip_us + 15_000)
                               for one in latches[30:])]  # fmt: skip
    with pytest.raises(DeviceError, match="did not run on"):
        clock_rate(jumped)


def test_a_board_of_half_the_speed_is_none():
    latches = [Latch(sent_ns=n * S, got_ns=n * S + MS, chip_us=n * 500_000) for n in range(60)]
    with pytest.raises(DeviceError, match="2 % wrong"):
        clock_rate(latches)


@pytest.mark.parametrize("count", [0, 1, 2])
def test_too_few_answers_are_refused(count):
    with pytest.raises(DeviceError, match=f"answered {count} times"):
        clock_rate(minute(0, random.Random(5), 1, 1)[:count])


def test_answers_that_take_long_are_refused_with_the_figure():
    latches = [Latch(sent_ns=n * S, got_ns=n * S + 50 * MS, chip_us=n * 1_000_000 + 25_000) for n in range(60)]
    with pytest.raises(DeviceError, match=r"too slowly.*±8"):
        clock_rate(latches)
