"""People at the window of a drill: they read what stands on it, and press keys by the window system."""

import json
import time
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import NamedTuple

from tests.support import BENCH
from tests.support.channels.screen_stand import Server
from tests.support.people.evening import Evening, Press
from tests.support.stands.stand import Pads

HELD_S = 0.08                          # a tap: longer than a busy window's turn


class Stroke(NamedTuple):
    """A key as hands knew it: it went down between the two times of ``down``, and came up between those of ``up``."""

    key: str
    down: tuple[int, int]
    up: tuple[int, int] | None = None


class Hands:
    """Hands at the laptop's keys. ``strokes`` is what they did, in its order: nothing of it comes from Tocsin."""

    def __init__(self, server: Server) -> None:
        self._server = server
        self.strokes: list[Stroke] = []
        self._down: dict[str, int] = {}

    def tap(self, key: str) -> Stroke:
        """Press a key for a moment, now."""
        self.go(key, down=True)
        time.sleep(HELD_S)
        return self.go(key, down=False)

    def go(self, key: str, *, down: bool) -> Stroke:
        """Let a key go down or come up, now."""
        before_ns = time.perf_counter_ns()
        self._server.key(key, down=down)
        span = before_ns, time.perf_counter_ns()
        if down:
            self._down[key] = len(self.strokes)
            self.strokes.append(Stroke(key, span))
            return self.strokes[-1]
        place = self._down.pop(key)
        self.strokes[place] = self.strokes[place]._replace(up=span)
        return self.strokes[place]

    def let_go(self) -> None:
        """Let all keys come up."""
        for key in tuple(self._down):
            self.go(key, down=False)


def presses(
    strokes: list[Stroke], actions: dict[str, str], ended_ns: int, shares: tuple[float, float], taken_ns: int
) -> list[Press]:
    """Return what strokes say: downs and ups at ``shares``, from 0 to 1, between the first time at which each may have
    happened and the last at which a window has taken it, ``taken_ns`` behind the hand; in the order of the hand."""
    spans = [(one.down, place, 0) for place, one in enumerate(strokes)]
    spans += [(one.up, place, 1) for place, one in enumerate(strokes) if one.up is not None]
    at_ns: dict[tuple[int, int], int] = {}
    newest_ns = 0
    for (first_ns, last_ns), place, which in sorted(spans):
        newest_ns = max(newest_ns + 1, first_ns + round(shares[which] * (last_ns + taken_ns - first_ns)))
        at_ns[place, which] = newest_ns
    found = []
    for place, one in enumerate(strokes):
        if one.key in actions:
            end_ns = at_ns.get((place, 1), ended_ns)
            found.append(Press(actions[one.key], at_ns[place, 0], end_ns if end_ns < ended_ns else None))
    return found


class AtTheWindow(Evening):
    """An evening whose people look at the window; what stands there is told by the bench file in its worker."""

    def __init__(
        self, folder: Path, server: Server, pads: Pads, *arguments: str, command: str = "drill",
        screen: str = "window", environment: dict[str, str] | None = None,
    ) -> None:  # fmt: skip
        self._window_log = folder / "window.jsonl"
        self._read_to = 0
        self._rows: dict[str, str] = {}
        self.history: list[dict[str, str]] = []    # all that ever stood there
        bench = {
            **pads.env, "TOCSIN_BENCH": str(BENCH / "window_bench.py"), "TOCSIN_BENCH_WINDOW": str(self._window_log),
            "XDG_CACHE_HOME": str(folder / "cache"), **(environment or {}),
        }  # fmt: skip
        super().__init__(folder, *arguments, display=server.name, screen=screen, bench=bench, command=command)

    @property
    def rows(self) -> dict[str, str]:
        """What stands on the window, by the names of its rows."""
        for rows in self._fresh():
            self.history.append(rows)
            self._rows = rows
        return self._rows

    @property
    def prompt(self) -> str:
        """What a person is to do now."""
        return self.rows.get("prompt", "")

    @property
    def card(self) -> list[str]:
        """What is said of the round that comes."""
        return [text for name, text in self.rows.items() if name.startswith("card")]

    def wait(self, ready: Callable[[], bool], what: str, timeout_s: float = 120) -> None:
        """Wait until something stands there, or the process has ended."""
        try:
            self._await(lambda: ready() or self.process.poll() is not None, what, timeout_s)
        except AssertionError as error:
            raise AssertionError(f"{error}\non the window: {self.rows}") from None

    @property
    def ended(self) -> bool:
        """Whether the process has ended."""
        return self.process.poll() is not None

    def _fresh(self) -> Iterator[dict[str, str]]:
        if not self._window_log.exists() or self._window_log.stat().st_size <= self._read_to:
            return
        with self._window_log.open("rb") as file:
            file.seek(self._read_to)
            for line in file:
                if line.endswith(b"\n"):
                    self._read_to += len(line)
                    yield json.loads(line)["rows"]
