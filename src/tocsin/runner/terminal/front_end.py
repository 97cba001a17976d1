"""Use the terminal as the front end if there is no window: the status, the screen's cues, and its keys."""

import sys
from collections.abc import Callable, Iterable, Sequence
from queue import SimpleQueue

from tocsin import monotime
from tocsin.model.clock.origins import Origin
from tocsin.model.clock.schedule import Key, Order, Schedule
from tocsin.model.display.status import Status
from tocsin.model.timeline.timeline import Timeline
from tocsin.runner.options import ScreenMode
from tocsin.runner.terminal.keys import TerminalKeys
from tocsin.runner.terminal.screen import TerminalScreen
from tocsin.workers.protocol import Fired, FiringOutcome


class FrontEnd:
    """The terminal as a front end, if one is wanted.

    ``plays`` is true once the terminal shows the screen's cues; ``interactive`` once a person can press a key.
    """

    def __init__(self, mode: ScreenMode | None, *, json_output: bool) -> None:
        self._mode = mode
        self._stream = sys.stderr if json_output else sys.stdout
        self._terminal: TerminalScreen | None = None
        self._keys: TerminalKeys | None = None
        self._presses: SimpleQueue[tuple[str, int]] = SimpleQueue()
        self._schedule = Schedule((), ())
        self._run = 0
        self.interactive = False

    @property
    def live(self) -> bool:
        """Whether a terminal shows a live picture, into which nothing else may print."""
        return self._terminal is not None and self._terminal.live

    @property
    def plays(self) -> bool:
        """Whether the terminal shows the screen's cues."""
        return self._terminal is not None

    def open(self, window_ready: bool, ring: Callable[[], None]) -> None:
        """Choose window or terminal, now that it is known whether there is a window."""
        if not window_ready and self._mode != "none":
            self._terminal = TerminalScreen(self._stream)
            self._terminal.start()

        def on_key(key: str, at_ns: int) -> None:
            self._presses.put((key, at_ns))
            ring()

        self._keys = TerminalKeys(on_key)
        self.interactive = self._keys.start() or window_ready

    def close(self) -> None:
        """Restore the terminal."""
        if self._keys is not None:
            self._keys.stop()
        if self._terminal is not None:
            self._terminal.stop()

    def load(self, timeline: Timeline, done: Iterable[Key], run: int) -> None:
        """Take the timeline of a run to show from now on; ``done`` are the firings recorded already."""
        self._run = run
        own = [firing for firing in timeline.firings if firing.channel == "screen"] if self.plays else []
        self._schedule = Schedule(own, [segment.anchor for segment in timeline.segments], done=done)
        if self._terminal is not None:
            self._terminal.load(timeline)

    def pressed(self) -> list[tuple[str, int]]:
        """Return keys from the terminal since the last call: name and time. A terminal reports no key up."""
        pressed = []
        while not self._presses.empty():
            pressed.append(self._presses.get())
        return pressed

    def origins(self, origins: Sequence[Origin], variant: str) -> None:
        """Take the present origins."""
        self._schedule.withdraw()
        self._schedule.choose(variant)
        for origin in origins:
            self._schedule.set_origin(origin)

    def give(self, numbers: Sequence[int]) -> None:
        """Take the firings that were given by hand."""
        self._schedule.give(numbers)

    def show_test(self, now_ns: int) -> None:
        """Show the preflight's word for a moment if the terminal stands in for the screen; a window has its own."""
        if self._terminal is not None:
            self._terminal.test(now_ns)

    def next_ns(self) -> int | None:
        """Return when the terminal's next cue is due."""
        return self._schedule.next_ns() if self.plays else None

    def tick(self, now_ns: int) -> list[Fired]:
        """Show in the terminal what is due; return the reports."""
        if self._terminal is None:
            return []
        reports = [self._do(order, self._terminal) for order in self._schedule.due(now_ns)]
        return [report for report in reports if report is not None]

    def _do(self, order: Order, terminal: TerminalScreen) -> Fired | None:
        shot = order.shot
        if order.verb == "skip":
            return Fired(
                shot.firing.no, shot.instance, "skipped", order.why, shot.begin_ns, None, None, run=self._run
            )
        if order.verb == "end":
            terminal.end(shot)
            return None
        began_ns = monotime.now_ns()
        terminal.begin(shot)
        took_ns = monotime.now_ns() - began_ns
        if order.verb == "change":
            return None
        played = order.verb == "begin"
        late_ns = began_ns - shot.begin_ns if played else None
        outcome: FiringOutcome = "played" if played else "resumed"
        return Fired(
            shot.firing.no, shot.instance, outcome, "", shot.begin_ns, late_ns, took_ns, ("terminal",), self._run
        )

    def show(self, status: Status) -> None:
        """Show a status in the terminal, if that is the front end."""
        if self._terminal is not None:
            self._terminal.show(status)
