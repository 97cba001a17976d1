"""Start, message and end processes of ours: apart from supervision, whose rules are tested without processes."""

import contextlib
import subprocess
import sys
from collections.abc import Callable
from typing import Generic, TypeVar

import psutil

from tocsin import monotime
from tocsin.model.plan import ChannelName
from tocsin.model.rig import Rig
from tocsin.pipe import LineReader, LineWriter, MessageError
from tocsin.spawn import start_module
from tocsin.translation import tr
from tocsin.units import NS_PER_MS, NS_PER_S
from tocsin.workers.protocol import Down, Hello, Up, decode_up, encode
from tocsin.workers.slot import Post
from tocsin.workers.suspicion import Evidence, State

Said = TypeVar("Said")

_LONGEST_TOLD = 2000                   # bytes of a line that the journal keeps as a fault
_MOST_TOLD = 100                       # lines a second of what is no message; a traceback has some thirty
_SLOWED_NS = NS_PER_MS                 # over that each line is read so slowly, and none is told
KILLED_S = 0.05                        # a killed process is mostly gone, and its device free, within a millisecond
_STATES: dict[str, State] = {
    psutil.STATUS_STOPPED: "stopped",
    psutil.STATUS_TRACING_STOP: "stopped",
    psutil.STATUS_DISK_SLEEP: "inside",
}
if sys.platform == "linux":
    # Only here is what sleeps told from what waits for the processor; elsewhere everything "runs" (from memory).
    _STATES |= {psutil.STATUS_SLEEPING: "waiting", psutil.STATUS_IDLE: "waiting"}


class LineProcess(Generic[Said]):
    """A module of ours that runs as a process and speaks in lines: what workers and the service have in common.

    It has a process group of its own, so that Ctrl-C, Ctrl-Z and a closed terminal do not reach it (Windows: without a
    console). ``hear`` is called with each message that it says, with a line of its stderr as text, and with None at the
    end of its stdout, from threads that end with the process. Raises OSError if no process can be started.
    """

    def __init__(
        self, module: str, *words: str, name: str, decode: Callable[[bytes], Said],
        hear: Callable[[Said | str | None], None],
    ) -> None:  # fmt: skip
        self._second_ns = self._told = 0       # since when and how many lines were told that are no message
        self._decode = decode
        self._hear = hear
        self._popen = start_module(module, *words, bufsize=0)
        self.pid = self._popen.pid
        stdin, stdout, stderr = self._popen.stdin, self._popen.stdout, self._popen.stderr
        if stdin is None or stdout is None or stderr is None:
            raise RuntimeError("Popen was asked for three pipes")
        # Each pipe is closed by the thread that uses it: nobody else knows when it no longer does.
        self._stderr_reader = LineReader(stderr.fileno(), self._on_stderr, stderr.close, f"{name}-stderr")
        self._reader = LineReader(stdout.fileno(), self._on_line, self._on_end, f"{name}-out")
        self._writer = LineWriter(stdin.fileno(), f"{name}-in", stdin.close)

    def send_line(self, line: bytes, *, droppable: bool = False) -> None:
        """Queue a line; never blocks."""
        self._writer.send(line, droppable=droppable)

    def gone(self) -> bool:
        """Return whether the process has ended."""
        return self._popen.poll() is not None

    def exit_text(self) -> str:
        """Return how the process ended, in words."""
        code = self._popen.poll()
        if code is None:
            return tr("still running")
        return tr("ended by signal {code}", code=-code) if code < 0 else tr("ended with exit code {code}", code=code)

    def kill(self) -> None:
        """End the process at once, even if it is stopped."""
        with contextlib.suppress(OSError):
            self._popen.kill()
        with contextlib.suppress(subprocess.TimeoutExpired):
            self._popen.wait(KILLED_S)

    def leave(self) -> None:
        """Let the process make its device safe and end, once it has read its messages; never blocks."""
        self._writer.finish(timeout_s=0)

    def ended(self, timeout_s: float) -> int | None:
        """Wait for the end of a process that was told to leave; kill it after a limit. Return its exit code, None if
        killed."""
        try:
            code = self._popen.wait(timeout_s)
        except subprocess.TimeoutExpired:
            self.kill()
            return None
        finally:
            self._reader.join(0.5)
            self._stderr_reader.join(0.2)
        return code if code >= 0 else None

    def _on_line(self, line: bytes) -> None:
        try:
            message = self._decode(line)
        except MessageError:
            # A library that prints on stdout must not be taken for a message; what it says is a fault.
            self._on_stderr(line)
            return
        self._hear(message)

    def _on_stderr(self, line: bytes) -> None:
        now_ns = monotime.now_ns()
        if now_ns - self._second_ns >= NS_PER_S:
            self._second_ns, self._told = now_ns, 0
        self._told += 1
        if self._told > _MOST_TOLD + 1:
            monotime.sleep_ns(_SLOWED_NS)      # its pipe fills, and whoever prints without end waits, not everybody
        elif self._told > _MOST_TOLD:
            self._hear(tr("more than {most} lines in a second: the others are left out", most=_MOST_TOLD))
        else:
            self._hear(line[:_LONGEST_TOLD].decode("utf-8", "replace"))

    def _on_end(self) -> None:
        assert self._popen.stdout is not None  # it was read to its end
        self._popen.stdout.close()
        self._hear(None)


class WorkerProcess(LineProcess[Up]):
    """A running ``python -m tocsin.worker CHANNEL``. ``inherited`` tells it that an earlier worker may have left motors
    or LEDs on."""

    def __init__(self, channel: ChannelName, rig: Rig, now_ns: int, post: Post, inherited: bool = False) -> None:
        self.channel, self.hello_ns = channel, now_ns
        super().__init__(
            "tocsin.worker", channel, name=channel, decode=decode_up, hear=lambda message: post(self, message)
        )
        self.send(Hello(rig=rig, now_ns=now_ns, inherited=inherited))

    @property
    def start_time(self) -> float:
        """When the process was started, in seconds since the epoch, to tell it from a later one with the same pid."""
        try:
            return float(psutil.Process(self.pid).create_time())
        except psutil.Error:
            return 0.0

    def send(self, message: Down, *, droppable: bool = False) -> None:
        """Queue a message; never blocks."""
        self.send_line(encode(message), droppable=droppable)

    def evidence(self) -> Evidence | None:
        """Return the system's data on the process, None if there is none."""
        try:
            process = psutil.Process(self.pid)
            with process.oneshot():
                times, switches, status = process.cpu_times(), process.num_ctx_switches(), process.status()
        except (psutil.Error, OSError):
            return None
        return Evidence(
            cpu_ns=round((times.user + times.system) * NS_PER_S),
            switches=switches.voluntary + switches.involuntary,
            state=_STATES.get(status, "untold"),
        )
