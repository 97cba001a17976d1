"""Record the bytes that a real `tocsin run` writes to its strip, with their times."""

import os
import pty
import threading
import time
import tty
from pathlib import Path

from tests.support.stands.stand import Run

RIG = """\
format = "tocsin-rig/1"
name = "Kiln"
drives_robot = false
[light]
port = "{port}"
leds = {leds}
baud = {baud}
protocol = "tpm2"
max_ma = 5000
"""


class Recording:
    """A pseudo-terminal in place of the board: ``chunks`` holds (time in ns, bytes), as they were written."""

    def __init__(self, folder: Path) -> None:
        self.chunks: list[tuple[int, bytes]] = []
        self.port = folder / "strip"
        self._master, self._slave = pty.openpty()
        tty.setraw(self._slave)
        self.port.symlink_to(os.ttyname(self._slave))
        threading.Thread(target=self._read, daemon=True).start()

    def _read(self) -> None:
        while data := os.read(self._master, 65536):
            self.chunks.append((time.monotonic_ns(), data))


def recorded(folder: Path, leds: int, baud: int, *arguments: str) -> list[tuple[int, bytes]]:
    """Return what a run wrote, with times from its first byte on. Raises AssertionError if it failed."""
    recording = Recording(folder)
    rig = folder / "rig.toml"
    rig.write_text(RIG.format(port=recording.port, leds=leds, baud=baud), "utf-8")
    run = Run(folder, "--start", "now", "--screen", "none", *arguments, rig=str(rig))
    code, _, err = run.finish(600)
    assert code == 0, err
    begin_ns = recording.chunks[0][0]
    return [(at_ns - begin_ns, data) for at_ns, data in recording.chunks]
