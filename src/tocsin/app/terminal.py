"""The face in a terminal, where no window is: a live countdown, or plain lines where the output is no terminal.

A thread of its own draws, so that a slow terminal holds up nobody.
"""

import contextlib
import threading
from collections.abc import Iterator
from typing import TextIO

from rich.console import Console, Group
from rich.live import Live
from rich.panel import Panel
from rich.text import Text

from tocsin import monotime
from tocsin.model.face import Face, FaceMaker, foremost
from tocsin.model.schedule import Key, Shot
from tocsin.model.timeline import Timeline
from tocsin.model.view import View
from tocsin.units import NS_PER_S

REDRAW_S = 0.1
FULL_NS = 3 * NS_PER_S                 # a struck cue's word stays this long in a terminal, which nobody watches closely


class TerminalFace:
    """Shows the newest view and the words of the cues that last."""

    def __init__(self, stream: TextIO) -> None:
        self._stream = stream
        self._live_wanted = stream.isatty()
        self._console = Console(file=stream, highlight=False, soft_wrap=True)
        self._maker: FaceMaker | None = None
        self._view: View | None = None
        self._shots: dict[Key, Shot] = {}
        self._lock = threading.Lock()
        self._leave = threading.Event()
        self._thread: threading.Thread | None = None
        self._said = ""

    def start(self) -> None:
        """Begin to draw, if the stream is a terminal."""
        if self._live_wanted:
            self._thread = threading.Thread(target=self._draw, name="terminal", daemon=True)
            self._thread.start()

    def stop(self) -> None:
        """Draw no more and give the terminal back as it was."""
        self._leave.set()
        if self._thread is not None:
            self._thread.join(1.0)
            self._thread = None

    def load(self, timeline: Timeline) -> None:
        """Take the timeline that is shown from now on."""
        with self._lock:
            self._maker = FaceMaker(timeline)
            self._shots.clear()

    def show(self, view: View) -> None:
        """Take new facts; in plain output say what has changed of them in a line."""
        with self._lock:
            self._view = view
        if not self._live_wanted:
            face = self._face()
            self._say(face.notice if face and face.notice else _headline(face))

    def begin(self, shot: Shot) -> None:
        """Show the word of a cue."""
        with self._lock:
            self._shots[shot.key] = shot
        if not self._live_wanted:
            face = self._face()
            digits = face.digits if face else ""
            self._say(f"{digits:>5}  {shot.firing.word.upper()}")

    def end(self, shot: Shot) -> None:
        """Take the word of a cue away."""
        with self._lock:
            self._shots.pop(shot.key, None)

    def _face(self) -> Face | None:
        with self._lock:
            if self._maker is None or self._view is None:
                return None
            return self._maker.at(self._view, monotime.now_ns())

    def _say(self, line: str) -> None:
        if line and line != self._said:
            self._said = line
            with contextlib.suppress(OSError, ValueError):
                print(line, file=self._stream, flush=True)

    def _draw(self) -> None:
        with (
            contextlib.suppress(OSError, ValueError),
            Live(console=self._console, auto_refresh=False, transient=True) as live,
        ):
            while not self._leave.wait(REDRAW_S):
                face = self._face()
                if face is not None:
                    live.update(self._render(face), refresh=True)

    def _render(self, face: Face) -> Panel:
        with self._lock:
            shot = foremost(self._shots.values())
        return Panel(Group(*_lines(face, shot.firing.word.upper() if shot else "")), title=face.heading)


def _headline(face: Face | None) -> str:
    if face is None:
        return ""
    return " - ".join(part for part in (face.title, face.prompt) if part)


def _lines(face: Face, word: str) -> Iterator[Text]:
    """Yield the face's lines: what counts first."""
    yield Text(f" {word} " if word else "", style="bold black on yellow" if word else "")
    yield Text(f"{face.title}  {face.digits}".strip(), style="bold")
    if face.prompt:
        yield Text(face.prompt, style="bold yellow")
    if face.windows:
        yield Text("Now: " + ", ".join(face.windows), style="yellow")
    for ahead in face.ahead:
        yield Text("Next: " + ahead.line)
    for alarm in face.alarms:
        yield Text(f"!! {alarm.what}: {alarm.mend}", style="bold")
    for line in face.result:
        yield Text(line)
    if face.notice:
        yield Text(face.notice)
    yield Text("   ".join(_device(fact.what, fact.state) for fact in face.devices), style="dim")
    yield Text("   ".join(face.facts), style="dim")
    yield Text("   ".join(f"{entry.key}: {entry.does}" for entry in face.keys), style="dim")


def _device(what: str, state: str) -> str:
    return f"{what} {state}"
