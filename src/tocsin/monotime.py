"""The one module that reads clocks and sleeps.

Everything else takes the time as an argument. ``now_ns`` is ``time.perf_counter_ns``: on Linux, Windows and macOS it is
one clock for all processes of a machine; the sanity exchange at a worker's start checks it.
"""

import os
import sys
import time
from collections.abc import Callable
from datetime import UTC, date, datetime

from tocsin.units import NS_PER_MS, NS_PER_S

# A longer spin of a real-time process would starve the machine (facts: at most 2 ms). Four processes that wait for one
# instant take the processor from each other, so it is as short as the system's sleep is sure (tests/benchmarks: 0.2 to
# 2 ms made no difference on Linux); Windows sleeps in grains of 0.5 ms and more (from memory, not tested).
SPIN_NS = 2 * NS_PER_MS if sys.platform == "win32" else NS_PER_MS // 2


def now_ns() -> int:
    """Return the shared monotonic time, in nanoseconds."""
    return time.perf_counter_ns()


def wall_text() -> str:
    """Return the wall clock as RFC 3339 text in UTC, for date stamps only."""
    return datetime.now(UTC).isoformat(timespec="milliseconds").replace("+00:00", "Z")


def today() -> date:
    """Return the wall clock's day where this laptop is, for date stamps only."""
    return datetime.now().astimezone().date()


def utc_offset_s(at: datetime) -> int:
    """Return how far the time of day where this laptop is was, or will be, ahead of UTC at a moment.

    Raises ValueError for a moment that the system cannot tell of.
    """
    if sys.platform != "win32":
        time.tzset()                       # the laptop may have been taken elsewhere since this process began
    try:
        return time.localtime(at.timestamp()).tm_gmtoff
    except (OverflowError, OSError) as error:          # OSError: Windows before 1970 (from memory)
        raise ValueError(f"no local time at {at}") from error


def sleep_ns(ns: int) -> None:
    """Sleep about ``ns`` nanoseconds; returns at once for zero and below."""
    if ns > 0:
        time.sleep(ns / NS_PER_S)


def wait_until(due_ns: int, *, share: bool = False) -> None:
    """Return at ``due_ns``, never before: sleep to ``SPIN_NS`` before it, then spin.

    ``share`` gives way while it spins: of processes with one real-time priority the others would otherwise wait until
    this one sleeps.
    """
    while (left_ns := due_ns - time.perf_counter_ns()) > SPIN_NS:
        time.sleep((left_ns - SPIN_NS) / NS_PER_S)
    while time.perf_counter_ns() < due_ns:
        if share:
            give_way()


def give_way() -> None:
    """Let waiting processes of the same priority run first (a no-op on Windows, where no process is real-time)."""
    if sys.platform != "win32":
        os.sched_yield()


def _linux_asleep_ns() -> int:
    return time.clock_gettime_ns(time.CLOCK_BOOTTIME) - time.clock_gettime_ns(time.CLOCK_MONOTONIC)


def _mac_asleep_ns() -> int:
    # CLOCK_MONOTONIC counts on while asleep, CLOCK_UPTIME_RAW does not (from memory, not tested).
    return time.clock_gettime_ns(time.CLOCK_MONOTONIC) - time.clock_gettime_ns(time.CLOCK_UPTIME_RAW)  # type: ignore[attr-defined,unused-ignore]


def _windows_asleep_ns() -> int:
    # The performance counter counts on while asleep, the unbiased interrupt time does not (from memory, not tested).
    import ctypes  # only here: no other system needs it

    ticks = ctypes.c_ulonglong()
    ctypes.windll.kernel32.QueryUnbiasedInterruptTime(ctypes.byref(ticks))  # type: ignore[attr-defined,unused-ignore]
    return time.perf_counter_ns() - ticks.value * 100


def asleep_reader() -> Callable[[], int]:
    """Return a function that reads how long this machine has slept since an arbitrary origin, in nanoseconds.

    Only differences of its readings mean something. Sleep is measured here, never inferred from the wall clock.
    """
    if sys.platform == "win32":
        return _windows_asleep_ns
    if sys.platform == "darwin":
        return _mac_asleep_ns
    return _linux_asleep_ns


def clock_stops_asleep() -> bool:
    """Return whether ``now_ns`` stands still while the machine sleeps; origins must then be moved after a sleep."""
    return sys.platform != "win32"
