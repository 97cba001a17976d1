"""When the machine itself stood still: a probe of real-time priority that sleeps and looks at the clock.

Started as a program it prints a line for each stall: when it began (nanoseconds of the clock that Tocsin's processes
share) and how long it lasted. It ends with the end of its stdin. What Tocsin loses while the probe was on time too is
Tocsin's own fault.
"""

import contextlib
import os
import subprocess
import sys
import threading
import time

SLICE_NS = 5_000_000
STALL_NS = 30_000_000                  # a fifth of the shortest late limit
BEFORE_NS = 2_000_000_000              # what is prepared may be hit that long before it falls due


class Stalls:
    """The probe beside an attack; a context, so that it ends with it."""

    def __init__(self) -> None:
        self._found: list[tuple[int, int]] = []
        self._process = subprocess.Popen(
            [sys.executable, "-m", "tests.attacks.stalls"], stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True
        )
        self.realtime = self._line() == "realtime"
        threading.Thread(target=self._read, daemon=True).start()

    def __enter__(self) -> "Stalls":
        return self

    def __exit__(self, *_: object) -> None:
        self._process.stdin.close()
        self._process.wait(10)

    @property
    def count(self) -> int:
        """How many there have been."""
        return len(self._found)

    @property
    def worst_ms(self) -> float:
        """The longest."""
        return max((lasted for _, lasted in self._found), default=0) / 1e6

    def near(self, at_ns: int) -> float:
        """Return how many ms the longest stall took that may have touched what was due at a time; 0 if none did."""
        return max((lasted for begin, lasted in self._found if begin - STALL_NS < at_ns < begin + lasted + BEFORE_NS),
                   default=0) / 1e6

    def _line(self) -> str:
        return self._process.stdout.readline().strip()

    def _read(self) -> None:
        while line := self._line():
            begin, lasted = map(int, line.split())
            self._found.append((begin, lasted))


def probe() -> None:
    """Sleep and look, until stdin ends."""
    granted = "ordinary"
    with contextlib.suppress(AttributeError, OSError):
        os.sched_setscheduler(0, os.SCHED_FIFO, os.sched_param(20))
        granted = "realtime"
    print(granted, flush=True)
    threading.Thread(target=lambda: (sys.stdin.read(), os._exit(0)), daemon=True).start()
    before_ns = time.perf_counter_ns()
    while True:
        time.sleep(SLICE_NS / 1e9)
        now_ns = time.perf_counter_ns()
        if now_ns - before_ns - SLICE_NS > STALL_NS:
            print(before_ns, now_ns - before_ns, flush=True)
        before_ns = now_ns


if __name__ == "__main__":
    probe()
