"""A disk in trouble below one folder, for child processes of tests (Linux, with gcc).

>>> disk = Disk(tmp_path / "library")
>>> subprocess.run([...], env={**os.environ, **disk.env(runs, calls="write,fsync", fails=errno.ENOSPC)})
"""

import shutil
import subprocess
import sys
from pathlib import Path

SOURCE = Path(__file__).with_name("disk.c")


def lacking() -> str:
    """Return why this machine cannot play a disk in trouble, or nothing."""
    if sys.platform != "linux":
        return "a disk in trouble is preloaded, which only Linux does this way"
    return "" if shutil.which("gcc") else "a disk in trouble needs gcc"


class Disk:
    """The library, built into a folder; what it does is told by the environment of a child."""

    def __init__(self, folder: Path) -> None:
        folder.mkdir(parents=True, exist_ok=True)
        self._library = folder / "disk.so"
        self.hung = folder / "hung"            # while this file is there, calls wait
        subprocess.run(
            ["gcc", "-shared", "-fPIC", "-O2", "-Wall", "-Werror", "-o", self._library, SOURCE, "-ldl"],
            check=True, timeout=60,
        )  # fmt: skip

    def env(self, below: Path, calls: str = "", *, fails: int = 0, delay_ms: int = 0) -> dict[str, str]:
        """Return what the environment of a child needs beside the rest; it can hang whenever ``hang`` is called."""
        given = {"DISK_CALLS": calls, "DISK_ERRNO": str(fails or ""), "DISK_DELAY_MS": str(delay_ms or "")}
        found = {name: value for name, value in given.items() if value}
        return {"LD_PRELOAD": str(self._library), "DISK_BELOW": str(below), "DISK_HANGS": str(self.hung), **found}

    def hang(self) -> None:
        """Let every call wait from now on."""
        self.hung.touch()

    def answer(self) -> None:
        """Let calls that wait go on."""
        self.hung.unlink(missing_ok=True)
