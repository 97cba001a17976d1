"""A window stand: an X server of its own, the screen's worker in it, its keyboard, and what can be seen."""

import contextlib
import os
import re
import shutil
import subprocess
import sys
import threading
import time

import numpy as np

from tocsin import monotime
from tocsin.channels.device import Event
from tocsin.model.clock.origins import Origin
from tocsin.model.rig import Rig
from tocsin.workers.protocol import Hello, Load, NewOrigins, Opened, ShowStatus, decode_up, encode

MISSING = [name for name in ("Xvfb", "xdotool", "xwininfo", "xprop", "import") if shutil.which(name) is None]


class Server:
    """An X server with one display of a size."""

    def __init__(self, size):
        self.size = size
        reading, writing = os.pipe()
        self._process = subprocess.Popen(
            ["Xvfb", "-displayfd", str(writing), "-screen", "0", f"{size[0]}x{size[1]}x24", "-nolisten", "tcp"],
            pass_fds=[writing], stderr=subprocess.DEVNULL,
        )  # fmt: skip
        os.close(writing)
        with os.fdopen(reading) as pipe:
            self.name = f":{pipe.readline().strip()}"

    def pixels(self):
        """Return what can be seen, as (row, column, colour)."""
        shot = self._run("import", "-window", "root", "-depth", "8", "rgb:-")
        return np.frombuffer(shot, np.uint8).reshape(self.size[1], self.size[0], 3)

    def focus(self):
        """Give the window the keyboard, as a click does where there is a window manager."""
        window = wait_for(lambda: self._run("xdotool", "search", "--class", "."))
        self._run("xdotool", "windowfocus", "--sync", window.split()[0].decode())

    def blur(self):
        """Take the keyboard away from every window."""
        root = self._run("xwininfo", "-root", "-int").split(b"Window id: ")[1].split()[0].decode()
        self._run("xdotool", "windowfocus", root)

    def properties(self, *names):
        """Return what the only window tells a window manager under each of these names; numbers apart by commas."""
        window = wait_for(lambda: self._run("xdotool", "search", "--class", ".")).split()[0].decode()
        shape = [part for name in names if name == "_NET_WM_ICON" for part in ("-f", name, "32c", "=$0+\\n")]
        told = self._run("xprop", "-id", window, "-notype", "-len", "100000", *shape, *names).decode()
        return dict(re.split(" ?= ?", line, maxsplit=1) for line in told.splitlines())

    def press(self, *keys):
        """Press keys one after another, without waiting for anything between them."""
        self._run("xdotool", "key", *keys)

    def hold(self, key, lasts_s):
        """Press a key for a while."""
        self._run("xdotool", "keydown", key, "sleep", str(lasts_s), "keyup", key)

    def key(self, key, *, down):
        """Let a key go down, or come up; it has reached the server once this returns."""
        self._run("xdotool", "keydown" if down else "keyup", key)

    def close(self):
        self._process.terminate()
        self._process.wait(10)

    def _run(self, *command):
        env = {**os.environ, "DISPLAY": self.name}
        return subprocess.run(command, env=env, capture_output=True, check=False, timeout=30).stdout


class Window:
    """A screen worker. ``display`` None means that there is none."""

    def __init__(self, display, screen=None, *, bench=None, driver=None):
        env = {k: v for k, v in os.environ.items() if k not in ("DISPLAY", "WAYLAND_DISPLAY", "SDL_VIDEODRIVER")}
        env |= {"DISPLAY": display} if display else {}
        env |= {"TOCSIN_BENCH": str(bench)} if bench else {}
        env |= {"SDL_VIDEODRIVER": driver} if driver else {}
        self.process = subprocess.Popen(
            [sys.executable, "-m", "tocsin.worker", "screen"], env=env, stdin=subprocess.PIPE, stdout=subprocess.PIPE,
            stderr=subprocess.PIPE,
        )  # fmt: skip
        self._up = []
        self._reader = threading.Thread(target=self._read, daemon=True)
        self._reader.start()
        rig = Rig(name="Stand", drives_robot=False, screen=screen)
        self.send(Hello(rig=rig, now_ns=monotime.now_ns()))
        self.await_message(Opened)

    def send(self, message):
        self.process.stdin.write(encode(message))
        self.process.stdin.flush()

    def show(self, timeline, patterns, status):
        self.send(Load(timeline=timeline, patterns=patterns))
        self.send(ShowStatus(status=status))

    def start(self, origin_ns):
        """Let the match begin at a time."""
        self.send(NewOrigins(origins=(Origin(anchor="match", origin_ns=origin_ns),), variant=""))

    def messages(self, kind):
        return [message for message in list(self._up) if isinstance(message, kind)]

    def events(self, kind):
        return [told for told in self.messages(Event) if told.kind == kind]

    def await_message(self, kind, which=lambda message: True):
        return wait_for(lambda: next((m for m in self.messages(kind) if which(m)), None))

    def close(self):
        """End the worker as a conductor does that is gone; return its exit code and what it complained of."""
        with contextlib.suppress(OSError):
            self.process.stdin.close()
        code = self.process.wait(20)
        self._reader.join(5)
        complaints = self.process.stderr.read().decode()
        self.process.stdout.close()
        self.process.stderr.close()
        return code, complaints

    def _read(self):
        for line in self.process.stdout:
            self._up.append(decode_up(line))


def wait_for(ready, timeout_s=120):
    """Return what ``ready`` returns once that is true; fail after the limit."""
    end = time.monotonic() + timeout_s
    while not (found := ready()):
        assert time.monotonic() < end, "it did not happen"
        threading.Event().wait(0.02)
    return found
