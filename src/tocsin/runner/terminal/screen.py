"""Show the match in a terminal without a window: a live countdown, or plain lines if the output is no terminal.

A thread of its own draws and writes, so that a slow terminal, or a pipe that nobody reads, delays nothing else. It
draws only changes.
"""

import contextlib
import os
import threading
from collections.abc import Iterable, Iterator
from queue import SimpleQueue
from typing import TYPE_CHECKING, TextIO

import msgspec

from tocsin import monotime
from tocsin.model.clock.schedule import Key, Shot
from tocsin.model.display.boards import BoardsSign
from tocsin.model.display.round_picture import SHAPES, bar_text
from tocsin.model.display.status import Status
from tocsin.model.display.view_model import ViewModel, ViewModelMaker, foremost
from tocsin.model.timeline.timeline import Timeline
from tocsin.readable import readable_line
from tocsin.runner.terminal.code import can_draw, code_columns, code_text
from tocsin.translation import tr
from tocsin.units import NS_PER_MS

# rich is loaded where a picture is drawn: it takes a tenth of a second, and where a window is, nothing needs it.
if TYPE_CHECKING:
    from rich.console import Console, RenderableType
    from rich.text import Text

REDRAW_S = 0.05
TEST, TEST_NS = tr("TEST"), 500 * NS_PER_MS
JOIN_S = 1.0                           # a terminal that takes nothing must not hold up the end
MOST_UNSAID = 200                      # lines that wait for a reader that does not read
# Terminals that cannot take back what was written: they get lines, as files do.
_NO_PICTURE = ("dumb", "unknown")
_DIGITS_WIDTH = 5
_MOST = 400                            # characters of a line: no terminal shows more of one
_BRIEFEST = 3
_CONTACT = "mark.contact"
_NO_SPANS = tr("Press {key} as a contact begins; its end only a phone or a video tells")
_TOO_SMALL = tr("Make this terminal larger: then it shows a code for phones")
_NO_CODE = tr("This terminal cannot show a code: `tocsin board --address watch` gives the address for phones")
_LEAST_BESIDE = 36                     # columns of words and frame beside a code: 80 in all are enough
_BAR_COLUMNS = 70                      # in a terminal of 80, within its frame
# What older consoles and log files cannot show.
_PLAIN = str.maketrans({"–": "-", "·": "-", "±": "+-", "×": "x"})
# Where even these cannot be shown, a "?" in their place would say something: that a round cannot be told.
_PLAINER = str.maketrans({"●": "*", "•": "*", "○": "o", "\N{NO-BREAK SPACE}": " "})


class TerminalScreen:
    """Shows the newest view and the words of the present cues. Its methods return at once.

    While a ``live`` one shows, nothing else may print to its terminal: that would tear the picture.
    """

    def __init__(self, stream: TextIO) -> None:
        self._stream = stream
        self.live = stream.isatty() and os.environ.get("TERM") not in _NO_PICTURE
        self._maker: ViewModelMaker | None = None
        self._status: Status | None = None
        self._shots: dict[Key, Shot] = {}
        # For lines: words, each behind what was said just before it.
        self._words: SimpleQueue[tuple[ViewModel | None, str]] = SimpleQueue()
        self._test_until_ns = 0
        self._lock = threading.Lock()
        self._leave = threading.Event()
        self._thread: threading.Thread | None = None

    def start(self) -> None:
        """Begin to show: a live picture in a terminal, lines elsewhere."""
        work = self._draw if self.live else self._write
        self._thread = threading.Thread(target=work, name="terminal", daemon=True)
        self._thread.start()

    def stop(self) -> None:
        """Write the remaining lines, stop and restore the terminal."""
        self._leave.set()
        if self._thread is not None:
            self._thread.join(JOIN_S)
            self._thread = None

    def load(self, timeline: Timeline) -> None:
        """Take the timeline to show from now on."""
        with self._lock:
            self._maker = ViewModelMaker(timeline)
            self._shots.clear()

    def show(self, status: Status) -> None:
        """Take a new status."""
        with self._lock:
            self._status = status

    def begin(self, shot: Shot) -> None:
        """Show the word of a cue."""
        with self._lock:
            fresh = shot.key not in self._shots
            self._shots[shot.key] = shot
        if fresh and not self.live and self._words.qsize() < MOST_UNSAID:
            at_ns = monotime.now_ns() if shot.resumed else shot.begin_ns
            before, view = self._view(at_ns - NS_PER_MS), self._view(at_ns + NS_PER_MS)
            self._words.put((before, _line(view.digits if view else "", shot.firing.word.upper())))

    def end(self, shot: Shot) -> None:
        """Take the word of a cue away."""
        with self._lock:
            self._shots.pop(shot.key, None)

    def test(self, now_ns: int) -> None:
        """Show the word of the preflight for half a second."""
        with self._lock:
            self._test_until_ns = now_ns + TEST_NS
        if not self.live:
            self._words.put((None, _line("", TEST)))

    def _view(self, now_ns: int) -> ViewModel | None:
        with self._lock:
            if self._maker is None or self._status is None:
                return None
            return self._maker.at(self._status, now_ns)

    def _word(self) -> str:
        with self._lock:
            shot = foremost(self._shots.values())
            tests = monotime.now_ns() < self._test_until_ns
        return shot.firing.word.upper() if shot else TEST if tests else ""

    def _draw(self) -> None:
        from rich.console import Console
        from rich.live import Live

        console = Console(file=self._stream, highlight=False)
        with (
            contextlib.suppress(OSError, ValueError),           # the terminal was closed
            Live(
                console=console, auto_refresh=False, transient=True, redirect_stdout=False, redirect_stderr=False
            ) as live,
        ):
            shown: tuple[ViewModel, str, tuple[int, int]] | None = None
            while not self._leave.wait(REDRAW_S):
                view, word = self._view(monotime.now_ns()), self._word()
                if view is not None and (view, word, console.size) != shown:
                    shown = (view, word, console.size)
                    live.update(fitted(view, word, console), refresh=True)

    def _write(self) -> None:
        told: ViewModel | None = None
        leaving = False
        with contextlib.suppress(OSError, ValueError):          # nobody reads any more
            while not leaving:
                leaving = self._leave.wait(REDRAW_S)
                lines: list[str] = []
                while not self._words.empty():
                    before, word = self._words.get()
                    lines += news(told, before) if before is not None else []
                    lines.append(word)
                    told = before or told
                view = self._view(monotime.now_ns())
                lines += news(told, view) if view is not None else []
                told = view or told
                if lines:
                    self._stream.write("".join(f"{self._readable(line)}\n" for line in lines))
                    self._stream.flush()

    def _readable(self, line: str) -> str:
        encoding = self._stream.encoding or "ascii"
        plain = readable_line(line, _MOST).translate(_PLAIN)
        try:
            plain.encode(encoding)
        except UnicodeEncodeError:
            plain = plain.translate(_PLAINER).encode(encoding, "replace").decode(encoding)
        return plain


def news(before: ViewModel | None, view: ViewModel) -> Iterator[str]:
    """Yield a line for each sentence that is new; a count is not news."""
    if before is None or before.heading != view.heading:
        yield view.heading
    if before is None or before.scribe != view.scribe:
        yield from (_line("", line) for line in scribe_lines(view))
    if before is None or before.title != view.title:
        yield _line(view.digits, view.title)
    if view.sign and (before is None or before.sign != view.sign):
        yield from (_line("", line) for line in view.sign)
    if view.card and (before is None or before.card != view.card):
        yield from (_line("", line) for line in view.card)
    if view.typed and (before is None or before.typed != view.typed):
        yield _line("", tr("Display {typed}", typed=view.typed))
    if view.prompt and (before is None or before.prompt != view.prompt):
        yield _line("", view.prompt)
    if view.clear and (before is None or not before.clear):
        yield _line("", view.clear)
    if view.boards and (before is None or _told(before.boards) != _told(view.boards)):
        yield from (_line("", line) for line in _told(view.boards))
    for window in view.windows:
        if before is None or window not in before.windows:
            yield _line(view.digits, window)
    for alarm in view.alarms:
        if before is None or alarm not in before.alarms:
            yield _line(view.digits, f"! {alarm.what}: {alarm.fix}" if alarm.fix else f"! {alarm.what}")
    said = () if before is None else (before.notice, *before.earlier)
    yield from (_line("", text) for text in (*reversed(view.earlier), view.notice) if text and text not in said)
    if view.result and (before is None or before.result != view.result):
        yield from (_line("", line) for line in view.result)
    if view.outside and (before is None or before.outside != view.outside):
        yield _line("", view.outside)
    if view.video and (before is None or before.video != view.video):
        yield _line("", view.video)


def fitted(view: ViewModel, word: str, console: "Console") -> "RenderableType":
    """Return the picture in a frame, as brief as the terminal's height demands; with a code beside it where there is
    room for that. Devices and facts give way to a code only if somebody asked for it by a key."""
    from rich.console import Group
    from rich.panel import Panel

    sign = view.boards
    if sign is not None and sign.code:
        briefs = range(1 + (_BRIEFEST if sign.urgent else 1)) if can_draw(console) else ()
        for brief, large in ((brief, large) for brief in briefs for large in (True, False)):
            if console.width < code_columns(sign.code, large=large) + _LEAST_BESIDE:
                continue
            panel = Panel(_beside(picture(view, word, brief), sign, large=large), title=_text(view.heading))
            if len(console.render_lines(panel)) < console.height:
                return panel
        view = msgspec.structs.replace(view, boards=msgspec.structs.replace(sign, what=_instead(console)))
    for brief in range(_BRIEFEST + 1):
        panel = Panel(Group(*picture(view, word, brief)), title=_text(view.heading))
        if len(console.render_lines(panel)) < console.height:
            break
    return panel


def _instead(console: "Console") -> str:
    """Return what stands in place of a code that this terminal does not show."""
    return _TOO_SMALL if can_draw(console) else _NO_CODE


def _beside(words: Iterable["Text"], sign: BoardsSign, *, large: bool) -> "RenderableType":
    """Return words with the code at their right."""
    from rich.console import Group
    from rich.table import Table

    table = Table.grid(expand=True, padding=(0, 2, 0, 0))
    table.add_column(ratio=1)
    table.add_column(width=code_columns(sign.code, large=large), no_wrap=True)
    table.add_row(Group(*words), code_text(sign.code, large=large))
    return table


def picture(view: ViewModel, word: str, brief: int = 0) -> Iterator["Text"]:
    """Yield the lines of the live picture, the count first. Colour only repeats what the words say.

    ``brief``, 0 to 3, says how much is left out: first the devices' states, then everything that is no news.
    """
    yield _text(f" {word} " if word else "", style="bold black on yellow" if word else "")
    yield _text(f"{view.title}   {view.digits}".strip(), style="bold")
    yield from (_text(line, style="bold") for line in view.sign)
    yield from (_text(line) for line in view.card)
    if view.typed:
        yield _text(tr("Display  {typed}", typed=view.typed), style="bold yellow")
    if view.prompt:
        yield _text(view.prompt, style="bold yellow")
    if view.clear:
        yield _text(view.clear, style="bold")
    if view.boards:
        said = view.boards.lines[: 2 if brief else None]
        yield from (_text(line, style="" if n else "bold yellow") for n, line in enumerate(said))
    for window in view.windows:
        yield _text(tr("now  {window}", window=window), style="yellow")
    for ahead in view.ahead[: 1 if brief == _BRIEFEST else None]:
        yield _text(tr("next {line}", line=ahead.line))
    for alarm in view.alarms:
        fix = "" if brief == _BRIEFEST else alarm.fix
        yield _text(f"! {alarm.what} !  {fix}".rstrip(), style="bold reverse")
    yield from (_text(line, style="bold") for line in scribe_lines(view))
    yield from (_text(text) for text in (view.notice, *(view.earlier if brief < _BRIEFEST else ())) if text)
    result = _result(view)
    yield from (_text(line) for line in (result[:1] if brief == _BRIEFEST else result))
    if view.outside:
        yield _text(view.outside, style="bold")
    if view.video:
        yield _text(view.video)
    if brief < 2:
        yield _text("")
        yield from _devices(view, brief)
        yield _text("   ".join(view.facts), style="dim")
    yield _text("   ".join(f"{entry.key}: {entry.does}" for entry in view.keys), style="dim")


def scribe_lines(view: ViewModel) -> tuple[str, ...]:
    """Return a scribe's keys in a line, and in another what a terminal cannot do: no key tells it that it goes up."""
    if not view.scribe:
        return ()
    keys = "    ".join(f"{entry.key} {entry.does.capitalize()}" for entry in view.scribe)
    spans = [entry for entry in view.scribe if entry.action == _CONTACT]
    return (keys, *(_NO_SPANS.format(key=entry.key) for entry in spans))


def _told(sign: BoardsSign | None) -> tuple[str, ...]:
    """Return what is told of boards where no code can stand; a count of seconds is not news."""
    return () if sign is None or sign.urgent else (sign.address or sign.what, *sign.who, *sign.why)


def _result(view: ViewModel) -> tuple[str, ...]:
    """Return the result's lines: its picture where there is one."""
    picture = view.picture
    if picture is None:
        return view.result
    verdict = "   ".join(part for part in (f"{SHAPES[picture.shape]} {picture.word.upper()}", picture.number) if part)
    said = (text for text in (picture.reason, picture.dealt) if text)
    return (verdict, *said, *bar_text(picture, _BAR_COLUMNS))


def _devices(view: ViewModel, brief: int) -> Iterator["Text"]:
    if view.phase in ("standby", "scrapped") and not brief:
        yield from (_text(f"{fact.subject}: {fact.condition}  {fact.text}".rstrip()) for fact in view.devices)
    else:
        yield _text("   ".join(f"{fact.subject} {fact.condition}" for fact in view.devices), style="dim")


def _line(digits: str, what: str) -> str:
    return f"{digits:>{_DIGITS_WIDTH}}  {what}"


def _text(text: str, style: str = "") -> "Text":
    """Return text that is no mark-up, whatever others wrote in it, and steers nothing."""
    from rich.text import Text

    return Text(readable_line(text, _MOST), style=style)
