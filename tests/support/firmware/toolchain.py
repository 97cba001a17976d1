"""Find the compiler and the emulator, and build the boards' images and the runner, once, into ``build/firmware``.

On a user's machine tests that need them are skipped where they are missing. CI installs them, so there they must run.
"""

import os
import shutil
import subprocess
from functools import cache
from pathlib import Path

import pytest
from filelock import FileLock

from tests.support import PROJECT

SOURCE = PROJECT / "src" / "firmware"
SHIPPED = PROJECT / "src" / "tocsin" / "firmware"
BUILD = PROJECT / "build" / "firmware"
RUNNER = Path(__file__).with_name("runner.c")
SIMAVR = Path("/usr/include/simavr/sim_avr.h")
AVR8JS = "avr8js@0.21.0"
INSTALL = "apt install gcc-avr avr-libc libsimavr-dev libelf-dev avrdude"

_missing = [name for name in ("avr-gcc", "gcc", "make") if shutil.which(name) is None]
_missing += [] if SIMAVR.exists() else ["libsimavr"]


def needs_chip(test):
    """Mark a test that builds a board's program and runs it on the emulated chip."""
    skips = bool(_missing) and not os.environ.get("CI")
    reason = f"{', '.join(_missing)} missing: no board's program was tried; {INSTALL}"
    return pytest.mark.devices(pytest.mark.skipif(skips, reason=reason)(test))


@cache
def image(board: str) -> Path:
    """Return the .hex of a board, built anew if its sources are newer. Raises AssertionError if that fails."""
    path = BUILD / f"{board}.hex"
    return _made(["make", "-s", "-C", str(SOURCE), f"BUILD={BUILD}", str(path)], path)


@cache
def runner() -> Path:
    """Return the program that runs an image on the emulated chip."""
    made = BUILD / "runner"
    if made.exists() and made.stat().st_mtime > RUNNER.stat().st_mtime:
        return made
    flags = ["-O2", "-std=gnu11", "-Wall", "-Wextra", "-I/usr/include/simavr"]
    return _made(["gcc", *flags, "-o", str(made), str(RUNNER), "-lsimavr", "-lelf"], made)


@cache
def avr8js() -> Path:
    """Return the folder of the second emulator, installed by npm if it is not there. Skips where that fails."""
    folder = PROJECT / "build" / "npm"
    package = folder / "node_modules" / "avr8js"
    command = ["npm", "install", "--silent", "--no-audit", "--no-fund", "--prefix", str(folder), AVR8JS]
    with _locked():
        if not package.exists() and shutil.which("npm"):
            folder.mkdir(parents=True, exist_ok=True)
            subprocess.run(command, check=False, capture_output=True, timeout=120)
    if not package.exists():
        assert not os.environ.get("CI"), f"CI installs avr8js: {' '.join(command)}"
        pytest.skip(f"avr8js is missing, the second emulator was not asked: {' '.join(command)}")
    return package


def _made(command: list[str], path: Path) -> Path:
    with _locked():
        done = subprocess.run(command, capture_output=True, text=True, timeout=120)
    assert done.returncode == 0, done.stdout + done.stderr
    return path


def _locked() -> FileLock:
    BUILD.mkdir(parents=True, exist_ok=True)
    return FileLock(BUILD / ".lock")
