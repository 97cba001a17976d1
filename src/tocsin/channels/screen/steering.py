"""Run the steering task of a reaction test: a marker drifts along a line, a person keeps it in the middle by two keys.

A person who only waits for a signal notices it sooner than one who drives. So eyes and one hand get work. The end
result says how well it was done, since a person who lets the marker go had no load.

The drift is the sum of three slow sines from a seed: smooth, not repeating for long, and a function of time alone, so
that it does not depend on how often it is drawn. Nothing flashes: one bright marker moves over a dark line.
"""

import math
import random
from collections.abc import Iterable
from typing import TYPE_CHECKING

from tocsin.channels.device import Event
from tocsin.channels.screen.field import Box, thickness
from tocsin.channels.screen.layout import TextRow
from tocsin.channels.screen.rows import WHITE, YELLOW, view_rows
from tocsin.model.display.view_model import ViewModel
from tocsin.model.safety import BLACK
from tocsin.translation import tr
from tocsin.units import NS_PER_S

if TYPE_CHECKING:
    from pygame import Surface

NOTE = "steering"                      # what the event at its end is called
KEYS = ("left", "right")
FRAME_NS = NS_PER_S // 30
LOOK_NS = 4_000_000                    # keys are looked at this often meanwhile: a press is an answer, too

# In half lengths of the line, from its middle to its end. Our own choice: the keys move the marker faster than it ever
# drifts, so that it can always be held, and alone it is far out most of the time.
DRIFT_PER_S = 0.2                      # of each of the three sines, at the most
KEYS_PER_S = 0.7
PERIODS_S = (7.0, 11.0, 17.0)          # of the sines, each up to a fifth longer or shorter
GATE = 0.15                            # half the width of the middle

_HEIGHT = 0.11                         # of the window
_AWAY = ("title", "digits", "windows", "notice")
_TASK = tr("Keep the marker in the middle")


class Steering:
    """The marker, in the middle at its begin ``now_ns``; times are of the shared clock, rising."""

    def __init__(self, seed: int, now_ns: int) -> None:
        rng = random.Random(seed)
        self._waves = [
            (2 * math.pi / (period_s * (0.8 + 0.4 * rng.random())), 2 * math.pi * rng.random())
            for period_s in PERIODS_S
        ]
        self._begin_ns = self._now_ns = now_ns
        self._at = self._alone = 0.0
        self._area = self._area_alone = 0.0
        self._down: set[str] = set()
        self._frame_ns = now_ns

    @property
    def at(self) -> float:
        """The marker's position: 0 is the middle, -1 and 1 are the ends of the line."""
        return self._at

    def take(self, events: Iterable[Event]) -> None:
        """Take the steering keys from the window's events."""
        for event in events:
            if event.what in KEYS and event.kind in ("press", "release"):
                self.advance(event.at_ns)
                (self._down.add if event.kind == "press" else self._down.discard)(event.what)

    def advance(self, now_ns: int) -> None:
        """Move the marker on to ``now_ns``."""
        lasts_s = (now_ns - self._now_ns) / NS_PER_S
        if lasts_s <= 0:
            return
        drift = self._drifted(now_ns) - self._drifted(self._now_ns)
        self._now_ns = now_ns
        steered = KEYS_PER_S * lasts_s * (("right" in self._down) - ("left" in self._down))
        before, alone = self._at, self._alone
        self._at, self._alone = _on_line(before + drift + steered), _on_line(alone + drift)
        self._area += lasts_s * (abs(before) + abs(self._at)) / 2
        self._area_alone += lasts_s * (abs(alone) + abs(self._alone)) / 2

    def due(self, now_ns: int) -> bool:
        """Return whether the next frame is due, and count it as drawn if so."""
        if now_ns < self._frame_ns:
            return False
        self._frame_ns = max(self._frame_ns + FRAME_NS, now_ns)
        return True

    def note(self, now_ns: int) -> Event:
        """Return the event for the end: mean deviation, the deviation without any key, and the length of time."""
        self.advance(now_ns)
        lasts_s = max((now_ns - self._begin_ns) / NS_PER_S, 1e-9)
        values = {"mean": self._area / lasts_s, "alone": self._area_alone / lasts_s, "lasts_s": lasts_s}
        return Event(kind="note", at_ns=now_ns, what=NOTE, values=values)

    def draw(self, surface: "Surface") -> Box:
        """Draw line, middle and marker; return the box to update on the display."""
        strip = strip_of(Box(0, 0, *surface.get_size()))
        surface.fill(BLACK, strip)
        for part in self._parts(strip):
            surface.fill(WHITE, part)
        surface.fill(YELLOW, self.marker(strip))
        return strip

    def marker(self, strip: Box) -> Box:
        """Return the position of the marker on the window."""
        side = _marker_px(strip)
        middle = strip.x + strip.w // 2 + round(self._at * _half_px(strip))
        return Box(middle - side // 2, strip.y + (strip.h - side) // 2, side, side)

    def _parts(self, strip: Box) -> list[Box]:
        """Return the line and the two posts of its middle, as tall as the strip."""
        thin = max(2, strip.h // 24)
        middle, half = strip.x + strip.w // 2, round(GATE * _half_px(strip)) + _marker_px(strip) // 2
        line = Box(middle - _half_px(strip), strip.y + (strip.h - thin) // 2, 2 * _half_px(strip), thin)
        posts = [Box(middle + side * half - thin // 2, strip.y, thin, strip.h) for side in (-1, 1)]
        return [line, *posts]

    def _drifted(self, at_ns: int) -> float:
        """Return the integral of the drift's speed since the begin, in half lengths."""
        passed_s = (at_ns - self._begin_ns) / NS_PER_S
        return sum(
            DRIFT_PER_S / speed * (math.cos(phase) - math.cos(speed * passed_s + phase)) for speed, phase in self._waves
        )


def strip_of(window: Box) -> Box:
    """Return the strip of the window for the line: at its foot, inside a frame along the edge."""
    thick = thickness(window.w, window.h)
    height = round(_HEIGHT * window.h)
    return Box(window.x + thick, window.bottom - thick - height, window.w - 2 * thick, height)


def above(window: Box) -> Box:
    """Return the part of the window above the line, for words."""
    strip = strip_of(window)
    return Box(window.x, window.y, window.w, strip.y - window.y)


def steering_rows(view: ViewModel, *, focused: bool) -> list[TextRow]:
    """Return the rows of words beside the line: nothing that counts, announces a signal, or answers a press."""
    kept = [row for row in view_rows(view, focused=focused) if row.name not in _AWAY and "ahead" not in row.name]
    task = TextRow("task", _TASK, 0.085, YELLOW, most=2)
    last_top = max((n for n, row in enumerate(kept) if row.place == "top"), default=-1)
    return [*kept[: last_top + 1], task, *kept[last_top + 1 :]]


def _on_line(at: float) -> float:
    return min(1.0, max(-1.0, at))


def _marker_px(strip: Box) -> int:
    return max(4, round(0.5 * strip.h))


def _half_px(strip: Box) -> int:
    return (strip.w - _marker_px(strip)) // 2
