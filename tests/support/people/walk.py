"""A ``tocsin devices --try`` process before people who read its questions and answer what they really notice."""

import json
import os
import re
import signal
import subprocess
import threading
from collections.abc import Sequence
from pathlib import Path
from typing import Any

import psutil

from tests.support.stands.stand import TOCSIN, Pads, Strip, wait_for

QUESTION = re.compile(r"(\d): ([a-zA-Z ]+?)(?=[,;])")


class Walk:
    """The process; what it says is collected line by line, and answers are lines of its stdin or keys of a terminal."""

    def __init__(
        self,
        folder: Path,
        *arguments: str,
        env: dict[str, str] | None = None,
        terminal: bool = False,
        within: Sequence[str] = (),
    ) -> None:
        base = {**os.environ, "SDL_AUDIODRIVER": "disk", "SDL_DISKAUDIOFILE": str(folder / "sound.pcm")}
        base["XDG_STATE_HOME"] = str(folder / "state")
        base.pop("DISPLAY", None)
        self._terminal = terminal
        if terminal:
            self.keyboard, stdin = os.openpty()
        else:
            stdin, self.keyboard = os.pipe()
        self.process = subprocess.Popen(
            [*within, *TOCSIN, "devices", "--try", "--json", *arguments],
            env={**base, **(env or {})}, stdin=stdin, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True,
            start_new_session=True,
        )  # fmt: skip
        os.close(stdin)
        self.lines: list[str] = []
        self._read = 0
        self._reader = threading.Thread(target=self._collect, daemon=True)
        self._reader.start()

    def _collect(self) -> None:
        assert self.process.stderr is not None
        for line in self.process.stderr:
            self.lines.append(line.rstrip("\n"))

    def hear(self, text: str, timeout_s: float = 120) -> str:
        """Wait for the next line that holds a text, and return it."""

        def found() -> str:
            while self._read < len(self.lines):
                self._read += 1
                if text in self.lines[self._read - 1]:
                    return self.lines[self._read - 1]
            assert self.process.poll() is None, "\n".join(self.lines)
            return ""

        try:
            line: str = wait_for(found, timeout_s)
        except AssertionError:
            raise AssertionError(f"'{text}' was not said; said was:\n" + "\n".join(self.lines)) from None
        return line

    def answer(self, key: str) -> None:
        """Type an answer."""
        os.write(self.keyboard, key.encode() if self._terminal else f"{key}\n".encode())

    def name(self, question: str, form: str) -> None:
        """Answer a question by the number that stands before a form in it."""
        choices = {title: number for number, title in QUESTION.findall(question)}
        self.answer(choices[form])

    def workers(self) -> list[psutil.Process]:
        """Return the worker processes that run now."""
        return [child for child in psutil.Process(self.process.pid).children() if "tocsin.worker" in child.cmdline()]

    def interrupt(self) -> None:
        """Press Ctrl-C."""
        self.process.send_signal(signal.SIGINT)

    def end_input(self) -> None:
        """End the pipe that the answers come from."""
        if self.keyboard >= 0:
            os.close(self.keyboard)
        self.keyboard = -1

    def finish(self, timeout_s: float = 120) -> tuple[int, dict[str, Any]]:
        """Wait for the end; return the exit code and the result."""
        code = self.process.wait(timeout_s)
        self._reader.join(5)
        assert self.process.stdout is not None
        out = self.process.stdout.read()
        return code, json.loads(out) if out.strip() else {}

    def end(self) -> None:
        """End the process, if it has not ended, and let go of everything."""
        self.process.kill()
        self.process.wait(10)
        self._reader.join(5)
        for pipe in (self.process.stdout, self.process.stderr):
            if pipe is not None:
                pipe.close()
        self.end_input()

    @property
    def said(self) -> str:
        """All that was said to people."""
        return "\n".join(self.lines)


class Hand:
    """A hand on a virtual pad: it feels what the motors do, and tells the forms apart as a person would."""

    def __init__(self, pads: Pads, pad: str) -> None:
        self._pads = pads
        self.pad = pad
        self._felt = len(pads.motors(pad))

    def felt(self) -> str:
        """Return what was felt since the last call, nothing if the pad stood still."""
        wait_for(lambda: self._pads.off(self.pad))
        told = self._pads.motors(self.pad)[self._felt :]
        self._felt += len(told)
        pulses_ms: list[float] = []
        since_ns = None
        for at_ns, low, high in told:
            if low or high:
                since_ns = at_ns if since_ns is None else since_ns
            elif since_ns is not None:
                pulses_ms.append((at_ns - since_ns) / 1e6)
                since_ns = None
        if len(pulses_ms) == 3:
            return "three short"
        if len(pulses_ms) == 1:
            return "one long" if pulses_ms[0] > 700 else "one short"
        return "nothing" if not pulses_ms else f"{len(pulses_ms)} pulses"


def seen(strip: Strip) -> str:
    """Return the colour of the strip's last frame in words."""
    red, green, blue = strip.frames[-1][1][0]
    return {(True, False, False): "red", (False, True, False): "green", (False, False, True): "blue"}.get(
        (red > 0, green > 0, blue > 0), "nothing"
    )


def confirm_pad(walk: Walk, hand: Hand) -> None:
    """Answer a pad's two questions by what is felt."""
    walk.hear("in both hands")
    walk.answer("y")
    for _ in range(2):
        question = walk.hear("What did you feel?")
        walk.name(question, hand.felt())
