"""A worker process as the conductor sees it: started, talked to, ended."""

import contextlib
import subprocess
import sys
from collections.abc import Callable

import psutil

from tocsin.app.messages import Down, Hello, MessageError, Up, decode_up, encode
from tocsin.app.pipe import LineReader, LineWriter
from tocsin.model.plan import ChannelName
from tocsin.model.rig import Rig

_LONGEST_TOLD = 2000                   # bytes of a line that the journal keeps as a fault
_NO_WINDOW: int = getattr(subprocess, "CREATE_NO_WINDOW", 0)       # Windows only

Post = Callable[["WorkerProcess", "Up | str | None"], None]
"""What a worker's threads call: a message, a line of its stderr, or None at the end of its stdout."""


class WorkerProcess:
    """A running ``python -m tocsin.worker CHANNEL`` in a process group of its own, so that Ctrl-C, Ctrl-Z and a
    closed terminal do not reach it (Windows: without a console)."""

    def __init__(self, channel: ChannelName, rig: Rig, now_ns: int, post: Post) -> None:
        self.channel = channel
        self._post = post
        # -P: a file of the user's folder that is named like a library must not be imported instead of it.
        self._popen = subprocess.Popen(
            [sys.executable, "-P", "-m", "tocsin.worker", channel],
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            stderr=subprocess.PIPE,
            bufsize=0,
            start_new_session=sys.platform != "win32",
            creationflags=_NO_WINDOW,
        )
        self.pid = self._popen.pid
        self.hello_ns = now_ns
        stdin, stdout, stderr = self._popen.stdin, self._popen.stdout, self._popen.stderr
        if stdin is None or stdout is None or stderr is None:
            raise RuntimeError("Popen was asked for three pipes")
        self._stdin = stdin
        self._stderr_reader = LineReader(stderr.fileno(), self._on_stderr, lambda: None, f"{channel}-stderr")
        self._reader = LineReader(stdout.fileno(), self._on_line, self._on_end, f"{channel}-out")
        self._writer = LineWriter(stdin.fileno(), f"{channel}-in")
        self.send(Hello(rig=rig, now_ns=now_ns))

    @property
    def start_time(self) -> float:
        """When the process was started, in seconds since the epoch, to tell it from a later one of the same pid."""
        try:
            return float(psutil.Process(self.pid).create_time())
        except psutil.Error:
            return 0.0

    def send(self, message: Down, *, droppable: bool = False) -> None:
        """Queue a message; never blocks."""
        self._writer.send(encode(message), droppable=droppable)

    def gone(self) -> bool:
        """Return whether the process has ended."""
        return self._popen.poll() is not None

    def exit_text(self) -> str:
        """Return how the process ended, in words."""
        code = self._popen.poll()
        if code is None:
            return "still running"
        return f"ended by signal {-code}" if code < 0 else f"ended with exit code {code}"

    def kill(self) -> None:
        """End the process at once, also when it is stopped."""
        with contextlib.suppress(OSError):
            self._popen.kill()

    def finish(self, timeout_s: float) -> bool:
        """Let the process make its device safe and end, then kill it if it does not; return whether it ended itself."""
        self._writer.finish(timeout_s=0.1)
        with contextlib.suppress(OSError):
            self._stdin.close()
        try:
            self._popen.wait(timeout_s)
            return True
        except subprocess.TimeoutExpired:
            self.kill()
            self._popen.wait(2)
            return False
        finally:
            self._reader.join(0.5)
            self._stderr_reader.join(0.2)

    def _on_line(self, line: bytes) -> None:
        try:
            message = decode_up(line)
        except MessageError:
            # A library that prints on stdout must not be taken for a message; what it says is a fault.
            self._on_stderr(line)
            return
        self._post(self, message)

    def _on_stderr(self, line: bytes) -> None:
        self._post(self, line[:_LONGEST_TOLD].decode("utf-8", "replace"))

    def _on_end(self) -> None:
        self._post(self, None)
