"""A terminal of a person's own: the process in it is led by it, so that closing it hangs the process up."""

import codecs
import contextlib
import fcntl
import os
import pty
import re
import select
import signal
import struct
import sys
import termios
import threading
import time
from pathlib import Path

_CODES = re.compile(r"\x1b\[[0-9;?]*[A-Za-z]")
_BEGUN = re.compile(r"\x1b(\[[0-9;?]*)?$")               # the rest comes with what is read next


class Terminal:
    """A process in a terminal that controls it; ``shown`` is all that was written, without control sequences."""

    def __init__(
        self, folder: Path, *arguments: str, columns: int = 80, shell: bool = False, env: dict[str, str] | None = None
    ) -> None:
        environment = {name: value for name, value in os.environ.items() if name not in ("DISPLAY", "WAYLAND_DISPLAY")}
        environment |= {
            "TERM": "xterm", "SDL_AUDIODRIVER": "dummy", "XDG_STATE_HOME": str(folder / "state"), "HOME": str(folder),
            **(env or {}),
        }  # fmt: skip
        words = [sys.executable, "-m", "tocsin", *arguments]
        if shell:
            words = ["/bin/bash", "--norc", "--noprofile", "-i"]
        self.pid, self._master = pty.fork()
        if self.pid == 0:                              # in the child, which becomes the command
            signal.signal(signal.SIGHUP, signal.SIG_DFL)
            fcntl.ioctl(0, termios.TIOCSWINSZ, struct.pack("HHHH", 24, columns, 0, 0))
            os.execvpe(words[0], words, environment)
        self._shown = ""
        self._closes = threading.Event()
        self._ended: int | None = None
        self._thread = threading.Thread(target=self._read, daemon=True)
        self._thread.start()

    def _read(self) -> None:
        # Not one long read: while a thread is in it, a terminal that is closed stays open.
        letters = codecs.getincrementaldecoder("utf-8")("replace")
        text = ""
        with contextlib.suppress(OSError):
            while not self._closes.is_set():
                if select.select([self._master], [], [], 0.1)[0]:
                    text += letters.decode(os.read(self._master, 4096))
                    begun = _BEGUN.search(text)
                    whole = text[: begun.start()] if begun else text
                    self._shown += _CODES.sub("", whole).replace("\r", "")
                    text = text[len(whole) :]

    @property
    def shown(self) -> str:
        """All that was written, without control sequences; a picture that is drawn again and again comes to megabytes,
        and people look often."""
        return self._shown

    def type(self, keys: str) -> None:
        """Type."""
        os.write(self._master, keys.encode())

    def close(self) -> None:
        """Close the terminal: its process is hung up."""
        self._closes.set()
        self._thread.join(5)
        with contextlib.suppress(OSError):
            os.close(self._master)

    def end(self, seconds: float = 120) -> int | None:
        """Return the exit code, below 0 for a signal; None if the process is still there by then."""
        until = time.monotonic() + seconds
        while self._ended is None and time.monotonic() < until:
            pid, status = os.waitpid(self.pid, os.WNOHANG)
            if pid:
                self._ended = os.waitstatus_to_exitcode(status)
            else:
                time.sleep(0.02)
        return self._ended

    def kill(self) -> None:
        """Leave nothing behind."""
        if self.end(0.1) is None:
            with contextlib.suppress(ProcessLookupError):
                os.kill(self.pid, signal.SIGKILL)
            self.end(10)
        self.close()
