"""Call the system's speech program: it lists its voices, and writes a phrase as a WAV file.

A phrase reaches the program on its standard input and never stands in a command line or a script, so that quotes,
leading dashes and the like have no meaning there. Input and output are files, not pipes: so a process that the program
leaves behind cannot hold up Tocsin.
"""

import contextlib
import os
import subprocess
import tempfile
import threading
from abc import ABC, abstractmethod
from collections.abc import Mapping
from pathlib import Path
from typing import ClassVar, NamedTuple

import psutil

from tocsin.spawn import Process, start
from tocsin.translation import tr

_LONGEST_TOLD = 120                    # letters of what a program says about its failure


class SpeechError(Exception):
    """A word cannot be made; the message is a clause for people."""


class HangsError(SpeechError):
    """The program did not end in time: it will not be called again."""


class Voice(NamedTuple):
    """A voice: its name for people, the program's name for it, and its languages as tags, the best one first."""

    name: str
    key: str
    languages: tuple[str, ...]


class Invocation(NamedTuple):
    """A call of a program: its arguments, its standard input, and its environment beside ours."""

    arguments: tuple[str, ...]
    said: bytes = b""
    environment: Mapping[str, str] = {}


class Engine(ABC):
    """A program that speaks. A back end writes the three hooks only. ``stop`` may be called from another thread."""

    name: ClassVar[str]

    def __init__(self, program: str) -> None:
        self._program = program
        self._running: subprocess.Popen[bytes] | None = None
        self._stopped = False
        self._lock = threading.Lock()

    def voices(self, limit_s: float) -> tuple[Voice, ...]:
        """Return the voices, the preferred ones first. Raises SpeechError."""
        return self._voices_in(self._run(self._listing(), limit_s))

    def speak(self, phrase: str, voice: Voice, wav: Path, limit_s: float) -> None:
        """Write a phrase as a WAV file of any rate and length. Raises SpeechError."""
        self._run(self._speaking(phrase, voice, wav), limit_s)

    def stop(self) -> None:
        """End the running call, and refuse all later ones."""
        with self._lock:
            self._stopped = True
            if self._running is not None:
                _kill(self._running)

    @abstractmethod
    def _listing(self) -> Invocation:
        """Return the call that prints all voices."""

    @abstractmethod
    def _voices_in(self, text: str) -> tuple[Voice, ...]:
        """Return the voices of what that call printed."""

    @abstractmethod
    def _speaking(self, phrase: str, voice: Voice, wav: Path) -> Invocation:
        """Return the call that writes a phrase to a file."""

    def _run(self, call: Invocation, limit_s: float) -> str:
        """Run the program to its end; return what it printed."""
        with tempfile.TemporaryFile() as said, tempfile.TemporaryFile() as out, tempfile.TemporaryFile() as errors:
            said.write(call.said)
            said.seek(0)
            popen = self._start(call, said.fileno(), out.fileno(), errors.fileno())
            try:
                code = popen.wait(limit_s)
            except subprocess.TimeoutExpired as error:
                raise HangsError(tr(
                    "{name} gave no answer within {limit:g} s", name=self.name, limit=limit_s,
                )) from error
            finally:
                with self._lock:
                    _kill(popen)
                    self._running = None
            out.seek(0)
            errors.seek(0)
            if code:
                why = _last_line(errors.read()) or tr("exit code {code}", code=code)
                raise SpeechError(tr("{name} failed: {why}", name=self.name, why=why))
            return out.read().decode("utf-8", "replace")

    def _start(self, call: Invocation, said: int, out: int, errors: int) -> Process:
        with self._lock:
            if self._stopped:
                raise SpeechError(tr("{name} was stopped", name=self.name))
            try:
                env = {**os.environ, **call.environment}
                command = [self._program, *call.arguments]
                self._running = start(command, stdin=said, stdout=out, stderr=errors, env=env)
            except OSError as error:
                raise SpeechError(tr(
                    "{name} cannot be started: {strerror}", name=self.name,
                    strerror=(error.strerror or str(error)).lower(),
                )) from error
            return self._running


def _kill(popen: Process) -> None:
    """End a program and what it has started; one that has ended already is let go of."""
    if popen.poll() is not None:
        return
    with contextlib.suppress(psutil.Error):
        for child in psutil.Process(popen.pid).children(recursive=True):
            with contextlib.suppress(psutil.Error):
                child.kill()
    with contextlib.suppress(OSError):
        popen.kill()
    with contextlib.suppress(subprocess.TimeoutExpired):
        popen.wait(1)


def _last_line(errors: bytes) -> str:
    lines = [line.strip() for line in errors.decode("utf-8", "replace").splitlines() if line.strip()]
    return lines[-1][:_LONGEST_TOLD] if lines else ""
