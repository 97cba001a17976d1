"""An evening of a drill as a whole process: people press a virtual pad's buttons and type, and read what is said."""

import json
import os
import signal
import subprocess
import threading
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any, NamedTuple

import msgspec
import psutil

from tests.support.stands.stand import TOCSIN, wait_for
from tocsin.units import NS_PER_MS

BUTTONS = (
    "mark.contact", "mark.turned", "mark.home", "undo", "start", "scrap", "clear", "yes", "no", "repeat", "drop",
    "crew", "battery", "leave",
)  # fmt: skip
TAP_NS = 60 * NS_PER_MS                # longer than a busy worker's turn
_PAD = """
[[pad]]
role = "scribe"
order = 1
buttons = {{ {} }}
"""


class Press(NamedTuple):
    """A button that was down from ``begin_ns`` on, until ``end_ns`` (None: it never came up)."""

    action: str
    begin_ns: int
    end_ns: int | None


def rig_text(start: str) -> str:
    """Return a rig with the pad and nothing else; ``start`` are the lines of its table [start]."""
    buttons = ", ".join(f'"{n}" = "{action}"' for n, action in enumerate(BUTTONS))
    head = 'format = "tocsin-rig/1"\nname = "Evening"\ndrives_robot = false\n'
    return f"{head}[start]\n{start}\n{_PAD.format(buttons)}"


class Evening:
    """A process of ``tocsin drill``, or of another ``command``; what it says is collected, and awaited in its order.
    ``display`` is an X server's, or there is none; ``bench`` is what another bench file than the scribe's pad finds in
    its environment."""

    def __init__(
        self, folder: Path, *arguments: str, display: str = "", screen: str = "terminal",
        bench: dict[str, str] | None = None, command: str = "drill",
    ) -> None:  # fmt: skip
        self.runs = folder / "runs"
        self._control, self._log = folder / "control.jsonl", folder / "presses.jsonl"
        env = {
            **os.environ, "XDG_STATE_HOME": str(folder / "state"), "SDL_AUDIODRIVER": "dummy",
            "TOCSIN_BENCH": str(Path(__file__).parent / "people_bench.py"),
            "TOCSIN_BENCH_CONTROL": str(self._control), "TOCSIN_BENCH_LOG": str(self._log),
        }  # fmt: skip
        env.pop("DISPLAY", None)
        env |= {"DISPLAY": display} if display else {}
        env |= bench or {}
        self._keyboard, terminal = os.openpty()
        self.process = subprocess.Popen(
            [*TOCSIN, command, *arguments, "--runs", str(self.runs), *(["--screen", screen] if screen else [])],
            env=env, stdin=terminal,
            stdout=subprocess.PIPE, stderr=subprocess.STDOUT, text=True, encoding="utf-8", start_new_session=True,
        )  # fmt: skip
        os.close(terminal)
        self.lines: list[str] = []
        self._heard = 0
        self._up_ns: dict[str, int] = {}
        self._reader = threading.Thread(target=self._read, daemon=True)
        self._reader.start()

    def _read(self) -> None:
        assert self.process.stdout is not None
        for line in self.process.stdout:
            self.lines.append(line.rstrip("\n").replace("\N{NO-BREAK SPACE}", " "))

    # -- what people do

    def tap(self, action: str) -> None:
        """Press a button for a moment: now, or as soon as the thumb has come up from the last time."""
        begin_ns = max(time.perf_counter_ns(), self._up_ns.get(action, 0) + TAP_NS)
        self._up_ns[action] = begin_ns + TAP_NS
        self.hold(action, begin_ns, begin_ns + TAP_NS)

    def hold(self, action: str, begin_ns: int, end_ns: int | None = None) -> None:
        """Press a button at a time, and let it go at another, or with ``release``."""
        self._put(action, begin_ns, down=True)
        if end_ns is not None:
            self._put(action, end_ns, down=False)

    def release(self, action: str) -> None:
        """Let a button go, now."""
        self._put(action, time.perf_counter_ns(), down=False)

    def _put(self, action: str, at_ns: int, *, down: bool) -> None:
        entry = {"button": BUTTONS.index(action), "down": down, "at_ns": at_ns}
        with self._control.open("a", encoding="utf-8") as file:
            file.write(json.dumps(entry) + "\n")

    def type(self, keys: str) -> None:
        """Type on the terminal."""
        os.write(self._keyboard, keys.encode())

    def presses(self) -> list[Press]:
        """Return what was pressed so far, in the order of the begins."""
        lines = self._log.read_text("utf-8").splitlines() if self._log.exists() else []
        found: list[Press] = []
        down: dict[int, int] = {}
        for entry in map(json.loads, lines):
            if entry["down"]:
                down[entry["button"]] = len(found)
                found.append(Press(BUTTONS[entry["button"]], entry["at_ns"], None))
            else:
                place = down.pop(entry["button"])
                found[place] = found[place]._replace(end_ns=entry["at_ns"])
        return found

    # -- what they see

    def hear(self, text: str, timeout_s: float = 120) -> str:
        """Wait for the next line that holds a text; return it."""

        def heard() -> str:
            while self._heard < len(self.lines):
                self._heard += 1
                if text in self.lines[self._heard - 1]:
                    return self.lines[self._heard - 1]
            assert self.process.poll() is None or self._reader.is_alive(), f"it ended without: {text}"
            return ""

        return self._await(heard, f"'{text}' was not said", timeout_s)

    def hearing(self, text: str) -> list[str]:
        """Return the lines that hold a text, heard or not."""
        return [line for line in self.lines if text in line]

    def folders(self) -> list[Path]:
        """Return the rounds' folders, the oldest first."""
        return sorted(path for path in self.runs.iterdir() if path.is_dir()) if self.runs.exists() else []

    def records(self, number: int = -1) -> list[dict[str, Any]]:
        """Return the whole records of a round so far."""
        data = (self.folders()[number] / "journal.jsonl").read_bytes()
        return [msgspec.json.decode(line) for line in data[: data.rfind(b"\n") + 1].splitlines()]

    def await_round(self, number: int, timeout_s: float = 120, **wanted: object) -> dict[str, Any]:
        """Wait until the round of that number, from 1, has a record with these keys and values; return it."""

        def found() -> dict[str, Any] | None:
            if len(self.folders()) < number or not (self.folders()[number - 1] / "journal.jsonl").exists():
                return None
            rows = self.records(number - 1)
            return next((row for row in rows if all(row.get(key) == value for key, value in wanted.items())), None)

        return self._await(found, f"round {number} has no {wanted}", timeout_s)

    def _await(self, ready: Callable[[], Any], what: str, timeout_s: float) -> Any:
        try:
            return wait_for(ready, timeout_s)
        except AssertionError as error:
            tail = "\n".join(self.lines[-30:])
            raise AssertionError(f"{what}: {error}\n{tail}") from None

    # -- how it ends

    def kill(self) -> None:
        """End the conductor at once, as a crash would; its workers see to their devices and go."""
        workers = psutil.Process(self.process.pid).children()
        self.process.send_signal(signal.SIGKILL)
        self.process.wait(10)
        psutil.wait_procs(workers, timeout=10)
        self.close()

    def finish(self) -> int:
        """Wait for the end; return the exit code."""
        code = self.process.wait(120)
        self.close()
        return code

    def close(self) -> None:
        """Give back what is left of it, also if a test failed in between."""
        if self.process.poll() is None:
            self.process.kill()
            self.process.wait(10)
        self._reader.join(5)
        if self.process.stdout is not None:
            self.process.stdout.close()
        if self._keyboard >= 0:
            os.close(self._keyboard)
            self._keyboard = -1
