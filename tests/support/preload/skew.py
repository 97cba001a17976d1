"""A wall clock that steps, a machine that sleeps, another machine, for child processes of tests (Linux, with gcc).

>>> env = build(tmp_path); skew = Skew(env)
>>> child = subprocess.Popen([...], env={**os.environ, **env})
>>> skew.sleep_ns = 90 * NS_PER_S          # the child's machine has slept for 90 s
>>> skew.step_wall_ns = -3600 * NS_PER_S   # its wall clock was set back an hour

Both are totals since the process began, and reach all processes that were started with this environment, at once.

>>> skew.other_machine(ahead_ns=10**12, ppm=40)     # before the child begins: its monotonic clock is another one
"""

import mmap
import os
import shutil
import subprocess
import sys
import time
from collections.abc import Mapping
from pathlib import Path

SOURCE = Path(__file__).with_name("skew.c")
_BYTES = 40


def lacking() -> str:
    """Return why this machine cannot skew clocks, or nothing."""
    if sys.platform != "linux":
        return "skewed clocks are preloaded, which only Linux does this way"
    return "" if shutil.which("gcc") else "skewed clocks need gcc"


def build(folder: Path) -> dict[str, str]:
    """Compile the library into a folder; return what the environment of the child needs beside the rest."""
    library, file = folder / "skew.so", folder / "skew.ns"
    subprocess.run(
        ["gcc", "-shared", "-fPIC", "-O2", "-Wall", "-Werror", "-o", library, SOURCE, "-ldl"], check=True
    )  # fmt: skip
    file.write_bytes(bytes(_BYTES))
    return {"LD_PRELOAD": str(library), "SKEW_FILE": str(file)}


class Skew:
    """The clocks of one environment, to be set while its processes run."""

    def __init__(self, env: Mapping[str, str]) -> None:
        file = os.open(env["SKEW_FILE"], os.O_RDWR)
        try:
            # Written as whole numbers, so that a child never reads half of one.
            self._ns = memoryview(mmap.mmap(file, _BYTES)).cast("q")
        finally:
            os.close(file)

    @property
    def step_wall_ns(self) -> int:
        """How far the wall clock has been stepped, in nanoseconds."""
        return self._ns[0]

    @step_wall_ns.setter
    def step_wall_ns(self, ns: int) -> None:
        self._ns[0] = ns

    @property
    def sleep_ns(self) -> int:
        """How long the machine has slept, in nanoseconds."""
        return self._ns[1]

    @sleep_ns.setter
    def sleep_ns(self, ns: int) -> None:
        self._ns[1] = ns

    def other_machine(self, ahead_ns: int, ppm: float = 0.0) -> None:
        """Let the monotonic clock be ahead by so much from now on, and run faster by so many parts in a million."""
        self._ns[4], self._ns[3], self._ns[2] = time.perf_counter_ns(), round(ppm * 1000), ahead_ns

    def shown_ns(self, real_ns: int) -> int:
        """Return what the environment's monotonic clock shows at a real time of this process's."""
        faster = (real_ns - self._ns[4]) * self._ns[3]
        return real_ns + self._ns[2] + (abs(faster) // 10**9 * (1 if faster >= 0 else -1))

    def real_ns(self, shown_ns: int) -> int:
        """Return the real time at which the environment's monotonic clock shows this one, to the nanosecond or so."""
        real_ns = shown_ns - self._ns[2]
        for _ in range(3):
            real_ns -= self.shown_ns(real_ns) - shown_ns
        return real_ns
