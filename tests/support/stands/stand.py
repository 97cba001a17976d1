"""A test stand of real parts: a pseudo-terminal with a decoder of its own for the strip, and whole processes."""

import contextlib
import json
import os
import signal
import subprocess
import sys
import threading
import time
from pathlib import Path
from typing import Any

import msgspec
import psutil

from tests.support import BENCH

TOCSIN = [sys.executable, "-m", "tocsin"]
LEDS = 30
RIG = """
format = "tocsin-rig/1"
name = "Test stand"
drives_robot = false
priority = "realtime"
{pads}
[light]
port = "{port}"
leds = {leds}
max_ma = 5000
[sound]
"""
PADS = """
[[pad]]
role = "driver"
order = 1
[[pad]]
role = "operator"
order = 2
"""


class Strip:
    """A strip's controller: decodes the bytes of a pseudo-terminal, written from the protocols' texts alone.

    ``frames`` holds (time in ns, list of colours). While ``deaf`` it reads nothing, as a hung board would.
    """

    def __init__(self, folder: Path) -> None:
        import pty
        import tty

        self.link = folder / "strip"
        self.frames: list[tuple[int, list[tuple[int, int, int]]]] = []
        self.protocols: set[str] = set()       # of the frames
        self.garbage = 0
        self.deaf = False
        self._pty, self._tty = pty, tty
        self._master = -1
        self._slave = -1
        self.plug_in()

    def plug_in(self) -> None:
        """Appear under the same name as a new device."""
        self._master, self._slave = self._pty.openpty()
        self._tty.setraw(self._slave)
        self.link.unlink(missing_ok=True)
        self.link.symlink_to(os.ttyname(self._slave))
        threading.Thread(target=self._read, args=(self._master,), daemon=True).start()

    def pull_out(self) -> None:
        """Go away, as a pulled plug would."""
        self.link.unlink(missing_ok=True)
        os.close(self._slave)
        os.close(self._master)
        self._master = self._slave = -1

    def send(self, data: bytes) -> None:
        """Say something to whoever has the port open."""
        os.write(self._master, data)

    def _read(self, master: int) -> None:
        data = b""
        while True:
            if self.deaf:
                time.sleep(0.01)
                continue
            try:
                chunk = os.read(master, 4096)
            except OSError:
                return
            if not chunk:
                return
            at_ns = time.perf_counter_ns()
            data += chunk
            data = self._decode(data, at_ns)

    def _decode(self, data: bytes, at_ns: int) -> bytes:
        while len(data) >= 6:
            header, colours = _header(data)
            if not header:
                data = data[1:]
                self.garbage += 1
                continue
            size = header + colours + (1 if data[0] == 0xC9 else 0)
            if len(data) < size:
                break
            body = data[header : header + colours]
            self.protocols.add("tpm2" if header == 4 else "adalight")
            self.frames.append((at_ns, [tuple(body[k : k + 3]) for k in range(0, len(body), 3)]))  # type: ignore[misc]
            data = data[size:]
        return data

    @property
    def black(self) -> bool:
        """Whether the last frame is black."""
        return bool(self.frames) and not any(any(colour) for colour in self.frames[-1][1])


def _header(data: bytes) -> tuple[int, int]:
    """Return the length of the header that a frame begins with, TPM2 or Adalight, and of its colours; 0 for none."""
    if data[:2] == b"\xc9\xda":
        return 4, int.from_bytes(data[2:4], "big")
    high, low, check = data[3:6]
    is_adalight = data[:3] == b"Ada" and check == high ^ low ^ 0x55
    return (6, 3 * (high * 256 + low + 1)) if is_adalight else (0, 0)


class Pads:
    """SDL's virtual pads in the rumble worker, plugged in and out by a test; what their motors were told."""

    def __init__(self, folder: Path, names: tuple[str, ...] = ("a", "b")) -> None:
        self._scenario = folder / "scenario.json"
        self._control = folder / "control.jsonl"
        self._log = folder / "motors.jsonl"
        self._scenario.write_text(json.dumps([{"at_ms": 0, **self._entry("attach", name)} for name in names]), "utf-8")
        bench = BENCH / "pads_bench.py"
        self.env = {
            "TOCSIN_BENCH": str(bench),
            "TOCSIN_BENCH_SCENARIO": str(self._scenario),
            "TOCSIN_BENCH_CONTROL": str(self._control),
            "TOCSIN_BENCH_LOG": str(self._log),
        }

    @staticmethod
    def _entry(verb: str, pad: str, button: int = 0) -> dict[str, str | int]:
        return {"do": verb, "pad": pad, "usb": "1209:0001", "name": f"Pad {pad.upper()}", "button": button}

    def do(self, verb: str, pad: str, button: int = 0) -> None:
        """Plug a pad in or out (attach, detach), or press or release a button of it, while the run goes on."""
        with self._control.open("a", encoding="utf-8") as file:
            file.write(json.dumps(self._entry(verb, pad, button)) + "\n")

    def motors(self, pad: str) -> list[tuple[int, int, int]]:
        """Return (time in ns, low, high) of everything a pad's motors were told."""
        if not self._log.exists():
            return []
        lines = [json.loads(line) for line in self._log.read_text("utf-8").splitlines() if line.endswith("}")]
        return [(line["at_ns"], line["low"], line["high"]) for line in lines if line["pad"] == pad]

    def off(self, pad: str) -> bool:
        """Return whether a pad's motors were told to stand last."""
        told = self.motors(pad)
        return not told or told[-1][1:] == (0, 0)


class Run:
    """A ``tocsin run`` process, or of another ``command``; its output is collected so that it never blocks."""

    def __init__(
        self,
        folder: Path,
        *arguments: str,
        env: dict[str, str] | None = None,
        rig: str | None = None,
        terminal: bool = False,
        command: str = "run",
    ) -> None:
        self.runs = folder / "runs"
        rig_arguments = ["--rig", rig] if rig else []
        base = {**os.environ, "SDL_AUDIODRIVER": "disk", "SDL_DISKAUDIOFILE": str(folder / "sound.pcm")}
        base["XDG_STATE_HOME"] = str(folder / "state")
        base["XDG_CACHE_HOME"] = str(folder / "cache")
        base.pop("DISPLAY", None)
        self.process = subprocess.Popen(
            [*TOCSIN, command, "--runs", str(self.runs), "--json", *rig_arguments, *arguments],
            env={**base, **(env or {})},
            stdin=self._stdin(terminal),
            stdout=subprocess.PIPE,
            stderr=subprocess.PIPE,
            text=True,
            start_new_session=True,
        )
        self.pid = self.process.pid

    def _stdin(self, terminal: bool) -> int:
        if not terminal:
            return subprocess.DEVNULL
        self._keyboard, self._terminal = os.openpty()
        return self._terminal

    def press(self, keys: str) -> None:
        """Type on the run's terminal."""
        os.write(self._keyboard, keys.encode())

    def finish(self, timeout_s: float = 120) -> tuple[int, dict[str, Any], str]:
        """Wait for the end; return exit code, summary and stderr."""
        out, err = self.process.communicate(timeout=timeout_s)
        return self.process.returncode, json.loads(out) if out.strip() else {}, err

    def kill(self) -> None:
        """End the conductor at once."""
        self.process.send_signal(signal.SIGKILL)
        self.process.communicate(timeout=10)

    def worker(self, channel: str) -> psutil.Process:
        """Return the channel's worker, waiting for it."""
        return wait_for(lambda: next(iter(workers(self.pid, channel)), None))

    def records(self) -> list[dict[str, Any]]:
        """Return the newest journal's records so far."""
        journals = sorted(self.runs.glob("*/journal.jsonl"))
        if not journals:
            return []
        found = []
        for line in journals[-1].read_bytes().splitlines():            # whoever waits asks fifty times a second
            with contextlib.suppress(msgspec.DecodeError):
                found.append(msgspec.json.decode(line))
        return found

    def await_record(self, timeout_s: float = 120, **wanted: object) -> dict[str, Any]:
        """Wait until a record holds all of these keys and values."""
        return wait_for(
            lambda: next((r for r in self.records() if all(r.get(k) == v for k, v in wanted.items())), None), timeout_s
        )


def workers(pid: int, channel: str = "") -> list[psutil.Process]:
    """Return the worker processes of a conductor."""
    try:
        children = psutil.Process(pid).children()
    except psutil.Error:
        return []
    words = ((child, _words(child)) for child in children)
    return [child for child, said in words if "tocsin.worker" in said and channel in ("", *said)]


def _words(process: psutil.Process) -> list[str]:
    """Return a command line; empty for one that has just ended."""
    try:
        return process.cmdline()
    except psutil.Error:
        return []


def wait_for(ready: Any, timeout_s: float = 120) -> Any:
    """Poll until ``ready`` returns something; fail after the limit."""
    limit = time.monotonic() + timeout_s
    while time.monotonic() < limit:
        if value := ready():
            return value
        time.sleep(0.02)
    raise AssertionError(f"nothing within {timeout_s} s")


def gone(processes: list[psutil.Process], timeout_s: float = 10) -> bool:
    """Return whether all these processes end within the limit."""
    _, alive = psutil.wait_procs(processes, timeout=timeout_s)
    return not alive


def rig_file(folder: Path, strip: Strip | None = None, *, pads: bool = False) -> str:
    """Write a rig for the stand; return its path."""
    text = RIG.format(port=strip.link if strip else "/dev/nothing", leds=LEDS, pads=PADS if pads else "")
    path = folder / "rig.toml"
    path.write_text(text, "utf-8")
    return str(path)


def firings(records: list[dict[str, Any]], channel: str = "", outcome: str = "") -> list[dict[str, Any]]:
    """Return the firing records, perhaps of one channel or outcome."""
    found = [r for r in records if r["kind"] == "firing"]
    return [r for r in found if channel in ("", r["channel"]) and outcome in ("", r["outcome"])]

