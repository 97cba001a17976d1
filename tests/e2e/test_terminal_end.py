"""A match in a terminal: what stands in it after the picture, and that nothing is written into the picture."""

import os
import re
import signal
import subprocess
import sys

import pytest
from stand import TOCSIN, wait_for

pytestmark = [pytest.mark.devices, pytest.mark.skipif(sys.platform == "win32", reason="pseudo-terminals are POSIX")]

_GIVEN_BACK = "\x1b[?25h"              # the cursor is visible again (ECMA-48 private mode 25)
_CODES = re.compile(r"\x1b\[[0-9;?]*[A-Za-z]")


class Seat:
    """A person at a terminal of 80 by 24, and all that was written to it."""

    def __init__(self, folder, *arguments):
        import fcntl
        import struct
        import termios
        import threading

        self._master, slave = os.openpty()
        fcntl.ioctl(slave, termios.TIOCSWINSZ, struct.pack("HHHH", 24, 80, 0, 0))
        base = {name: value for name, value in os.environ.items() if name not in ("DISPLAY", "WAYLAND_DISPLAY")}
        self.process = subprocess.Popen(
            [*TOCSIN, "run", "--runs", str(folder / "runs"), *arguments],
            env={
                **base, "SDL_AUDIODRIVER": "disk", "SDL_DISKAUDIOFILE": str(folder / "sound.pcm"), "TERM": "xterm",
                "XDG_STATE_HOME": str(folder / "state"),
            },
            stdin=slave, stdout=slave, stderr=slave, start_new_session=True,
        )  # fmt: skip
        os.close(slave)
        self.text = ""
        self._thread = threading.Thread(target=self._read, daemon=True)
        self._thread.start()

    def _read(self):
        try:
            while data := os.read(self._master, 4096):
                self.text += data.decode("utf-8", "replace")
        except OSError:
            pass

    def press(self, keys):
        os.write(self._master, keys.encode())

    def end(self):
        """Return the exit code, what was written up to the end of the picture, and what behind it."""
        code = self.process.wait(60)
        self._thread.join(5)
        picture, _, behind = self.text.rpartition(_GIVEN_BACK)
        return code, picture, _CODES.sub("", behind).replace("\r", "")

    def close(self):
        if self.process.poll() is None:
            self.process.kill()
            self.process.wait(10)
        self._thread.join(5)
        os.close(self._master)


@pytest.fixture
def seat(tmp_path):
    taken = Seat(tmp_path, "--from", "driver.end-10s", "--rate", "4")
    wait_for(lambda: "Standby" in taken.text, 60)
    yield taken
    taken.close()


def started(seat):
    """Press start until a count-in is seen that was not seen before: standby takes keys once every device is open."""
    before = len(seat.text)

    def begun():
        seat.press("s")
        return "Match begins in" in seat.text[before:]

    wait_for(begun)


def ended(tmp_path):
    """Return how many runs have an end in their journals."""
    return sum('"kind":"end"' in path.read_text("utf-8") for path in (tmp_path / "runs").glob("*/journal.jsonl"))


def only_in_the_frame(picture, words):
    """Return whether words that stand in the picture never begin a line of their own."""
    return words not in [line.strip() for line in _CODES.sub("", picture).replace("\r", "\n").split("\n")]


@pytest.mark.parametrize("way", ["left", "ctrl_c"])
def test_after_the_picture_the_summary_and_the_record_are_said(seat, tmp_path, way):
    started(seat)
    if way == "left":
        seat.press("x")
        wait_for(lambda: "Match scrapped." in seat.text)
        seat.press("q")
    else:
        seat.process.send_signal(signal.SIGINT)
    code, picture, behind = seat.end()
    assert code == (0 if way == "left" else 130)
    (run,) = (tmp_path / "runs").iterdir()
    assert behind.lstrip("\n").startswith("Match scrapped.\n")
    assert f"Journal: {run}" in behind
    assert only_in_the_frame(picture, "Match scrapped.")


def test_each_match_of_an_evening_is_summed_up(seat, tmp_path):
    for matches in (1, 2):
        started(seat)
        wait_for(lambda matches=matches: ended(tmp_path) == matches, 30)
    seat.press("q")
    code, picture, behind = seat.end()
    assert code == 0
    assert behind.count("Match over. ") == 2
    assert behind.count("Journal: ") == 2
    assert only_in_the_frame(picture, "Match over.")
