"""Pictures of what stands on a window in each state of a drill, for a person to look at."""

import threading
import time
from pathlib import Path
from queue import PriorityQueue
from typing import Any

from PIL import ImageGrab

from tests.support.channels.screen_stand import Server
from tests.support.people.reckoned_round import Clock
from tocsin.units import NS_PER_S

FIELD_S, FRAME_S = 0.6, 2.3            # behind a cue: it has the full field for 1.5 s, then a frame
DRAWN_S = 0.3                          # until a busy window shows what it has worked out


class Photographer:
    """Takes each picture once, in a folder if one is wanted. What is planned is taken by a thread, so that nobody who
    presses keys has to wait for it."""

    def __init__(self, server: Server, folder: Path | None, name: str) -> None:
        self._server, self._folder, self._name = server, folder, name
        self._todo: PriorityQueue[tuple[int, str]] = PriorityQueue()
        self._left = threading.Event()
        self._one_at_a_time = threading.Lock()
        self.taken: set[str] = set()
        self._shot = 0
        if folder is not None:
            folder.mkdir(parents=True, exist_ok=True)
            threading.Thread(target=self._work, daemon=True).start()

    def take(self, what: str) -> None:
        """Take a picture now."""
        if self._is_wanted(what):
            time.sleep(DRAWN_S)
            self._shoot(what)

    def plan(self, what: str, at_ns: int) -> None:
        """Take a picture at a time."""
        if self._is_wanted(what):
            self._todo.put((at_ns, what))

    def plan_cues(self, firings: list[dict[str, Any]], clock: Clock, from_ns: int) -> None:
        """Take each word that comes on the window from a time on, with its full field and with its frame."""
        for firing in firings:
            at_ns = 0 if firing["match_ns"] is None else clock.real_ns(firing["match_ns"] / NS_PER_S)
            if firing["channel"] == "screen" and at_ns > from_ns:
                for part, after_s in (("field", FIELD_S), ("frame", FRAME_S)):
                    self.plan(f"cue {firing['word'].lower()} {part}", at_ns + round(after_s * NS_PER_S))

    def close(self) -> None:
        """Take no more."""
        self._left.set()

    def _is_wanted(self, what: str) -> bool:
        if self._folder is None or what in self.taken:
            return False
        self.taken.add(what)
        return True

    def _work(self) -> None:
        while not self._left.is_set():
            at_ns, what = self._todo.get()
            while (ahead_ns := at_ns - time.perf_counter_ns()) > 0 and not self._left.is_set():
                time.sleep(min(0.05, ahead_ns / NS_PER_S))
                if not self._todo.empty() and self._todo.queue[0][0] < at_ns:      # something nearer came in between
                    self._todo.put((at_ns, what))
                    at_ns, what = self._todo.get()
            self._shoot(what)

    def _shoot(self, what: str) -> None:
        assert self._folder is not None
        with self._one_at_a_time:
            # In this process: another one would come too late on a busy machine.
            picture = ImageGrab.grab(xdisplay=self._server.name)
            self._shot += 1
            picture.save(self._folder / f"{self._name}-{self._shot:02d}-{what.replace(' ', '_')}.png", compress_level=1)
