"""A person's seat: a terminal of 80 by 24 with a whole process in it, and all that was written to it."""

import fcntl
import os
import re
import struct
import subprocess
import termios
import threading
from pathlib import Path

from tests.support.stands.stand import TOCSIN

_GIVEN_BACK = "\x1b[?25h"              # the cursor is visible again (ECMA-48 private mode 25)
_CODES = re.compile(r"\x1b\[[0-9;?]*[A-Za-z]")


def plain(text: str) -> str:
    """Return what was written without control sequences."""
    return _CODES.sub("", text).replace("\r", "")


class Seat:
    """A person at a terminal; ``text`` is all that was written to it."""

    def __init__(self, folder: Path, *arguments: str, command: str = "run") -> None:
        self._master, slave = os.openpty()
        fcntl.ioctl(slave, termios.TIOCSWINSZ, struct.pack("HHHH", 24, 80, 0, 0))
        base = {name: value for name, value in os.environ.items() if name not in ("DISPLAY", "WAYLAND_DISPLAY")}
        self.process = subprocess.Popen(
            [*TOCSIN, command, "--runs", str(folder / "runs"), *arguments],
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

    def _read(self) -> None:
        try:
            while data := os.read(self._master, 4096):
                self.text += data.decode("utf-8", "replace")
        except OSError:
            pass

    @property
    def shown(self) -> str:
        """All that was written, without control sequences."""
        return plain(self.text)

    def press(self, keys: str) -> None:
        """Type."""
        os.write(self._master, keys.encode())

    def end(self) -> tuple[int, str, str]:
        """Return the exit code, what was written up to the end of the picture, and what behind it."""
        code = self.process.wait(120)
        self._thread.join(5)
        picture, _, behind = self.text.rpartition(_GIVEN_BACK)
        return code, picture, plain(behind)

    def close(self) -> None:
        """Leave nothing behind."""
        if self.process.poll() is None:
            self.process.kill()
            self.process.wait(10)
        self._thread.join(5)
        os.close(self._master)
