"""A wall clock that steps and a machine that sleeps, for child processes of tests (Linux, with gcc).

>>> env = build(tmp_path); skew = Skew(env)
>>> child = subprocess.Popen([...], env={**os.environ, **env})
>>> skew.sleep_ns = 90 * NS_PER_S          # the child's machine has slept for 90 s
>>> skew.step_wall_ns = -3600 * NS_PER_S   # its wall clock was set back an hour

Both are totals since the process began, and reach all processes that were started with this environment, at once.
"""

import mmap
import os
import shutil
import subprocess
import sys
from collections.abc import Mapping
from pathlib import Path

SOURCE = Path(__file__).with_name("skew.c")
_BYTES = 16


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
    """The two offsets of one environment, to be set while its processes run."""

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
