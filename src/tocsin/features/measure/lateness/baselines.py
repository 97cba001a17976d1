"""Measure the simple ways that a programmer would try first: a program with a window that calls events by itself.

Each way gets the times of the events and a call for each, and returns the function that the window's loop calls once a
frame. All share one process, as they would in practice: Python runs one of its threads at a time, and drawing delays
them.
"""

import sched
import sys
import threading
from collections.abc import Callable, Iterable, Sequence
from types import ModuleType
from typing import TYPE_CHECKING

import msgspec

from tocsin import monotime
from tocsin.channels.screen.window import start_display
from tocsin.channels.sdl import import_pygame
from tocsin.units import NS_PER_MS, NS_PER_S

if TYPE_CHECKING:
    from pygame import Surface

FRAMES_A_SECOND = 60
SIZE = (1280, 720)
AHEAD_NS = 300 * NS_PER_MS             # the first event lies this far ahead of the begin of the loop
GIVE_UP_NS = 3 * NS_PER_S              # so long after the last event nothing more is waited for

Hit = Callable[[int], None]
"""What a way calls for an event, with the time at which it was due."""
Poll = Callable[[int], None]
"""What the window's loop calls once a frame, with the time."""


class BaselineTimes(msgspec.Struct, frozen=True, kw_only=True):
    """How late each way was, in milliseconds; ``window`` says whether there was a display to draw on."""

    late_ms: dict[str, list[float]]
    window: bool


def frame_loop(due_ns: Sequence[int], hit: Hit) -> Poll:
    """Check the clock once a frame."""
    left = list(due_ns)

    def poll(now_ns: int) -> None:
        while left and now_ns >= left[0]:
            hit(left.pop(0))

    return poll


def timers(due_ns: Sequence[int], hit: Hit) -> Poll:
    """Start a ``threading.Timer`` for each event."""
    for at_ns in due_ns:
        timer = threading.Timer((at_ns - monotime.now_ns()) / NS_PER_S, hit, [at_ns])
        timer.daemon = True
        timer.start()
    return _nothing


def scheduler(due_ns: Sequence[int], hit: Hit) -> Poll:
    """Run a ``sched.scheduler`` in a thread."""
    plan = sched.scheduler(lambda: monotime.now_ns() / NS_PER_S, lambda s: monotime.sleep_ns(round(s * NS_PER_S)))
    for at_ns in due_ns:
        plan.enterabs(at_ns / NS_PER_S, 0, hit, (at_ns,))
    threading.Thread(target=plan.run, daemon=True).start()
    return _nothing


def _nothing(now_ns: int) -> None:
    return


WAYS: dict[str, Callable[[Sequence[int], Hit], Poll]] = {
    "frame loop": frame_loop,
    "threading.Timer": timers,
    "sched": scheduler,
}


def play(times: str) -> None:
    """Play events at ``times`` (a JSON list of milliseconds after the begin) by each way in turn; print how late they
    were as a line of JSON."""
    times_ms = msgspec.json.decode(times, type=list[int])
    pygame = import_pygame("screen")
    window = None if start_display(pygame) else pygame.display.set_mode(SIZE)
    begin_ns = monotime.now_ns() + AHEAD_NS
    due_ns = [begin_ns + ms * NS_PER_MS for ms in times_ms]
    late_ms: dict[str, list[float]] = {way: [] for way in WAYS}
    polls = [_begin(way, due_ns[no :: len(WAYS)], late_ms[way]) for no, way in enumerate(WAYS)]
    _draw(pygame, window, polls, lambda: sum(map(len, late_ms.values())) >= len(due_ns), due_ns[-1] + GIVE_UP_NS)
    pygame.quit()
    sys.stdout.write(msgspec.json.encode(BaselineTimes(late_ms=late_ms, window=window is not None)).decode() + "\n")
    sys.stdout.flush()


def _begin(way: str, due_ns: Sequence[int], late_ms: list[float]) -> Poll:
    def hit(at_ns: int) -> None:
        late_ms.append((monotime.now_ns() - at_ns) / NS_PER_MS)

    return WAYS[way](due_ns, hit)


def _draw(
    pygame: ModuleType, window: "Surface | None", polls: Iterable[Poll], done: Callable[[], bool], until_ns: int
) -> None:
    """Draw 60 frames a second until done; without a window only poll as often."""
    clock = pygame.time.Clock()
    frame = 0
    while not done() and (now_ns := monotime.now_ns()) < until_ns:
        for poll in polls:
            poll(now_ns)
        if window is not None:
            pygame.event.pump()
            window.fill([24 + frame % 8] * 3)          # every frame is another one, and none of them is a flash
            pygame.display.flip()
        frame += 1
        clock.tick(FRAMES_A_SECOND)
