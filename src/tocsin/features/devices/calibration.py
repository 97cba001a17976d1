"""Find how fast a controller's clock runs against this laptop's, from its answers over a minute. Pure.

A ceramic resonator is off by up to 0.5 % (common practice; crystals by some 50 parts in a million): 0.8 s in a match of
158 s. The board tells its clock as the last byte of a question came (``Latch``), so each answer bounds when that was:
after the question was sent, before the answer was here. A rate that no pair of answers contradicts lies between two
bounds, however unevenly a USB adapter delays (the bound of Cristian 1989, between two exchanges). The laptop's own
crystal is the reference: what it is off by stays in the figure.
"""

from collections.abc import Sequence
from itertools import combinations, pairwise

import msgspec

from tocsin.errors import DeviceError
from tocsin.translation import tr
from tocsin.units import NS_PER_S

LASTS_NS = 60 * NS_PER_S
EVERY_NS = NS_PER_S                    # how often the board is asked
CLOCK_BITS = 32                        # microseconds of the board's clock wrap after 71.6 minutes
TICK_NS = 4_000                        # its clock counts in steps of 4 us
MOST_PPM = 20_000                      # what a board's settings take
MOST_ERROR_PPM = 500                   # 0.08 s in 158 s: a third of what a person is late by (own choice)
_FEWEST = 3
_NS_PER_US = 1_000


class Latch(msgspec.Struct, frozen=True, kw_only=True):
    """One answer: the board's clock showed ``chip_us`` (32 bits, wrapping) between ``sent_ns`` and ``got_ns`` here."""

    sent_ns: int
    got_ns: int
    chip_us: int


class ClockRate(msgspec.Struct, frozen=True, kw_only=True):
    """How fast a board's clock runs, in parts per million too fast (below 0: too slow). The true figure lies within
    ``error_ppm`` of it."""

    ppm: int
    error_ppm: int


def clock_rate(latches: Sequence[Latch]) -> ClockRate:
    """Return the rate of a board's clock by its answers, oldest first. Raises DeviceError for what is no steady clock,
    or too few or too slow answers to know it within ``MOST_ERROR_PPM``."""
    if len(latches) < _FEWEST:
        raise DeviceError(
            tr("the board answered {count} times: its clock cannot be told", count=len(latches)),
            hint=tr("leave it plugged in for the whole minute, and close what else uses its port"),
        )
    chip_ns = _unwrapped_ns(latches)
    low = float("-inf")
    high = float("inf")
    for (one, one_ns), (other, other_ns) in combinations(zip(latches, chip_ns, strict=True), 2):
        passed_ns = other_ns - one_ns
        low = max(low, (passed_ns - TICK_NS) / (other.got_ns - one.sent_ns))
        if other.sent_ns > one.got_ns:
            high = min(high, (passed_ns + TICK_NS) / (other.sent_ns - one.got_ns))
    if low > high or abs(low + high - 2) > 2 * MOST_PPM / 1e6:
        raise _unsteady()
    middle, half = (low + high) / 2 - 1, (high - low) / 2
    rate = ClockRate(ppm=round(middle * 1e6), error_ppm=int(half * 1e6) + 1)
    if rate.error_ppm > MOST_ERROR_PPM:
        raise DeviceError(
            tr("the board answers too slowly to tell its clock: ±{error} millionths", error=rate.error_ppm),
            hint=tr("plug it into this laptop itself, without a hub, and try again"),
        )
    return rate


def _unwrapped_ns(latches: Sequence[Latch]) -> list[int]:
    """Return the board's times in nanoseconds since the first one. Raises DeviceError if the board began anew."""
    found = [0]
    for old, new in pairwise(latches):
        passed_ns = (new.chip_us - old.chip_us) % (1 << CLOCK_BITS) * _NS_PER_US
        longest_ns = new.got_ns - old.sent_ns
        if passed_ns > longest_ns + longest_ns * MOST_PPM // 1_000_000 + TICK_NS:
            raise _unsteady()
        found.append(found[-1] + passed_ns)
    return found


def _unsteady() -> DeviceError:
    return DeviceError(
        tr("the board's clock did not run on: it began anew, or runs by more than 2 % wrong"),
        hint=tr("check its plug and its supply, and try again; a board of another speed than 16 MHz does not do"),
    )
