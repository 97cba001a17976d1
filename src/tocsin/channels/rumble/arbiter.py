"""Decide for one pad which pattern its motors play now, as a series of device calls. Pure; time is an argument.

The rules it keeps:

* A pad plays one pattern at a time, since a new effect replaces the old one in the drivers. The highest priority wins,
  the newest among equals. A pattern of lower priority that comes meanwhile is outranked and never played; a replaced
  pattern is not resumed: half a triple would be a form that nobody has learned.
* Steps are timed from the pattern's begin, not from the previous call, so that delays do not add up. A pattern that
  begins more than ``LATE_NS`` late is played whole from now instead: its form matters more than its end.
* Calls of one pattern lie at least ``APART_NS`` apart (faster ones crash some pads' radio firmware, SDL #6435).
* Each call carries a duration that is finite and longer than the step by ``MARGIN_NS``: no gap between two steps, and
  an end by SDL itself should this process hang. Silence and the end are explicit stops.
* Equal steps in a row are one step; SDL repeats a running rumble to the pad by itself.
"""

from collections.abc import Hashable, Iterator

import msgspec

from tocsin.model.pattern import RumblePattern, RumbleStep
from tocsin.units import NS_PER_MS, NS_PER_S

LATE_NS = 20 * NS_PER_MS
APART_NS = 50 * NS_PER_MS
MARGIN_NS = 100 * NS_PER_MS
# SDL caps a duration at 65.535 s; what lasts longer is called again.
LONGEST_NS = 60 * NS_PER_S


class Buzz(msgspec.Struct, frozen=True):
    """A call that sets both motors, 0 to 1, for at most ``ms`` milliseconds."""

    strong: float
    weak: float
    ms: int


class Stop(msgspec.Struct, frozen=True):
    """A call that stops both motors."""


Call = Buzz | Stop


class _Slice(msgspec.Struct, frozen=True):
    """A span of a pattern with the same strengths, in nanoseconds from the pattern's begin."""

    begin_ns: int
    end_ns: int
    strong: float
    weak: float

    @property
    def silent(self) -> bool:
        return self.strong == 0 and self.weak == 0


class _Running(msgspec.Struct):
    """The pattern that plays: ``next`` is the index of the part that is to be called next."""

    key: Hashable
    priority: int
    begin_ns: int
    parts: tuple[_Slice, ...]
    next: int = 0

    def due_ns(self) -> int:
        """Return when the next part, or the end after the last one, is due."""
        if self.next < len(self.parts):
            return self.begin_ns + self.parts[self.next].begin_ns
        return self.begin_ns + self.parts[-1].end_ns


class Arbiter:
    """The patterns of one pad; ``strength`` 0 to 1 scales all of them."""

    def __init__(self, strength: float = 1.0) -> None:
        self._strength = strength
        self._running: _Running | None = None
        self._called_ns: int | None = None         # the running pattern's newest call
        self._turning = False                      # whether the motors turn, as far as calls say
        self._stop = False                         # whether a stop is due whatever runs

    @property
    def playing(self) -> Hashable | None:
        """The key of the pattern that plays, or None."""
        return self._running.key if self._running else None

    def begin(self, key: Hashable, pattern: RumblePattern, begin_ns: int, now_ns: int, priority: int) -> bool:
        """Take a pattern that begins at ``begin_ns``; return False if it is outranked.

        ``step`` gives its first call.
        """
        if self._running is not None and self._running.priority > priority:
            return False
        if now_ns - begin_ns > LATE_NS:
            begin_ns = now_ns
        self._running = _Running(key, priority, begin_ns, tuple(_parts(pattern, self._strength)))
        self._called_ns = None
        # What the replaced pattern left turning must not run on into the silence before a begin that lies ahead.
        self._stop = self._turning and begin_ns > now_ns
        return True

    def end(self, key: Hashable) -> None:
        """End the pattern if it is playing; ``step`` then gives the stop."""
        if self._running is not None and self._running.key == key:
            self._running = None
            self._stop = self._turning

    def clear(self) -> None:
        """Forget all patterns: the motors were stopped, or the pad is gone."""
        self._running = None
        self._called_ns = None
        self._turning = self._stop = False

    def next_ns(self) -> int | None:
        """Return when ``step`` has the next call, in shared nanoseconds, or None if nothing plays. May lie in the
        past."""
        if self._stop:
            return 0
        if self._running is None:
            return None
        due_ns = self._running.due_ns()
        return due_ns if self._called_ns is None else max(due_ns, self._called_ns + APART_NS)

    def step(self, now_ns: int) -> Call | None:
        """Return the device call that is due at ``now_ns``, or None. Missed steps are left out."""
        due_ns = self.next_ns()
        if due_ns is None or now_ns < due_ns:
            return None
        if self._stop:
            self._stop = self._turning = False
            return Stop()
        part = self._advance(now_ns)
        call = self._call(part, now_ns)
        if call is not None:
            self._called_ns = now_ns
        return call

    def _advance(self, now_ns: int) -> _Slice | None:
        """Go to the part that holds at ``now_ns`` and return it; None, and nothing runs any more, after the last."""
        running = self._running
        assert running is not None  # next_ns said so
        at_ns = now_ns - running.begin_ns
        while running.next < len(running.parts) and running.parts[running.next].end_ns <= at_ns:
            running.next += 1
        if running.next == len(running.parts):
            self._running = None
            return None
        part = running.parts[running.next]
        if part.begin_ns > at_ns:                  # the part before still holds, and was called already
            return running.parts[running.next - 1] if running.next else None
        running.next += 1
        return part

    def _call(self, part: _Slice | None, now_ns: int) -> Call | None:
        if part is None or part.silent:
            was_turning, self._turning = self._turning, False
            return Stop() if was_turning else None
        assert self._running is not None  # a part came from it
        self._turning = True
        left_ns = self._running.begin_ns + part.end_ns - now_ns
        return Buzz(part.strong, part.weak, -(-(left_ns + MARGIN_NS) // NS_PER_MS))


def _parts(pattern: RumblePattern, strength: float) -> Iterator[_Slice]:
    """Yield a pattern's parts in order: equal neighbours joined, none longer than one call can last."""
    at_ns, begin_ns = 0, 0
    last: RumbleStep | None = None
    for step in pattern.steps * pattern.times:
        if last is not None and (step.strong, step.weak) != (last.strong, last.weak):
            yield from _pieces(begin_ns, at_ns, last, strength)
            begin_ns = at_ns
        last = step
        at_ns += step.lasts_ns
    if last is not None:
        yield from _pieces(begin_ns, at_ns, last, strength)


def _pieces(begin_ns: int, end_ns: int, step: RumbleStep, strength: float) -> Iterator[_Slice]:
    while begin_ns < end_ns:
        # No rest shorter than two calls may lie apart is left over.
        until_ns = end_ns if end_ns - begin_ns < LONGEST_NS + APART_NS else begin_ns + LONGEST_NS
        yield _Slice(begin_ns, until_ns, step.strong * strength, step.weak * strength)
        begin_ns = until_ns
