"""Compute what strip and screen show at any time of a track, as the plan asks for it: before the flash guard."""

import math
from abc import ABC, abstractmethod
from bisect import bisect_left, bisect_right
from collections.abc import Iterable, Iterator, Sequence
from functools import lru_cache
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from tocsin.lint.subject import Devices
from tocsin.lint.tracks import PlacedFiring, ShownSpan, foremost
from tocsin.model.clock.schedule import Shot
from tocsin.model.pattern import STANDING, LightPattern, Patterns, Rgb, ScreenPattern
from tocsin.model.safety import BLACK
from tocsin.units import LONGEST_NS, NS_PER_MS, NS_PER_S

# How finely what fades is looked at; what jumps is looked at when it does, as near as strips can tell jumps apart.
STEP_NS = 5 * NS_PER_MS
SWELL_STEP_NS = 20 * NS_PER_MS         # of a screen's field, which takes a second and more
NEAREST_JUMPS_NS = 2 * NS_PER_MS
_SHORTEST_SWELL_NS = NS_PER_S          # of a screen's field
_KEPT = 4096                           # frames of moving patterns that are kept

Colours = NDArray[np.uint8]            # regions by red, green, blue


class _Ways(NamedTuple):
    """How often a LED grows brighter or darker behind the begin of its span, and in each half cycle after the first."""

    behind_begin: int
    half_cycle: int


# A LED jumps as a half cycle of a blink begins, once somewhere in one of a chase, twice in a sweep's as it passes.
_WAYS = {
    "plain": _Ways(0, 0), "bands": _Ways(0, 0), "on_off": _Ways(0, 1), "swell": _Ways(1, 1), "queue": _Ways(1, 1),
    "shuttle": _Ways(2, 2), "ebb": _Ways(1, 0), "apart": _Ways(0, 0),
}  # fmt: skip


class Fact(NamedTuple):
    """The look of a span relative to a moment: equal facts look the same."""

    pattern: str
    begin_ns: int
    end_ns: int
    phase_ns: int


class FrameKey(NamedTuple):
    """All that decides a frame's colours: the pattern, the nanoseconds since it began, and a share: for a strip that of
    its remaining time, for a screen 1 with the full field and 0 with the frame alone."""

    pattern: str
    elapsed_ns: int
    share: float


class DeviceShow(ABC):
    """One device over a track. ``shares`` are the regions' shares of its area, 0 to 1, shape (regions,)."""

    shares: NDArray[np.float64]

    def __init__(self, placed: Sequence[PlacedFiring]) -> None:
        self.spans = foremost(placed)
        self._begins = [span.begin_ns for span in self.spans]
        self._dark: Colours = np.zeros((len(self.shares), 3), np.uint8)

    def frames(self, times: Sequence[int]) -> tuple[Colours, NDArray[np.int64]]:
        """Return the different looks (sRGB, shape (looks, regions, 3)), and the index of the look at each time (shape
        (times,)).

        ``times`` are nanoseconds after the track's origin, rising.
        """
        looks: dict[FrameKey | None, int] = {}
        frames: list[int] = []
        for span in self.within(times[0], times[-1] + 1):
            first, last = bisect_left(times, span.begin_ns), bisect_left(times, span.end_ns)
            frames += [looks.setdefault(None, len(looks))] * (first - len(frames))
            known = [(None, last - first)] if span.placed is None else self._looks(span.placed, times[first:last])
            for look, count in known:
                frames += [looks.setdefault(look, len(looks))] * count
        frames += [looks.setdefault(None, len(looks))] * (len(times) - len(frames))
        drawn: Colours = np.array([self._dark if look is None else self._drawn(look) for look in looks], np.uint8)
        return drawn, np.array(frames, np.int64)

    def within(self, begin_ns: int, end_ns: int) -> list[ShownSpan]:
        """Return the spans that lie at least in part between two times."""
        place = max(0, bisect_right(self._begins, begin_ns) - 1)
        found: list[ShownSpan] = []
        while place < len(self.spans) and self.spans[place].begin_ns < end_ns:
            if self.spans[place].end_ns > begin_ns:
                found.append(self.spans[place])
            place += 1
        return found

    def facts(self, begin_ns: int, end_ns: int) -> tuple[Fact, ...]:
        """Return all facts that decide the look between two times, relative to the first."""
        return tuple(self._fact(span, begin_ns, end_ns) for span in self.within(begin_ns, end_ns))

    def turns(self) -> Iterator[int]:
        """Yield the times, in any order, from which on light somewhere grows brighter, or darker, in another way than
        before: one time for each way, so some come twice. A second holds at most one change for each of them, and one
        that had already begun; in the midst of a sweep two."""
        ways = 0
        for span in self.spans:
            # A sweep that is cut off may have had two under way: the second is told where it ends.
            yield from [span.begin_ns] * max(1, ways)
            ways = 0
            if span.placed:
                ways = self._under_way(span.placed)
                yield from self._turns(span, span.placed)
        if self.spans:
            yield from [self.spans[-1].end_ns] * max(1, ways)

    def _fact(self, span: ShownSpan, begin_ns: int, end_ns: int) -> Fact:
        first = max(span.begin_ns - begin_ns, 0)
        last = min(span.end_ns, end_ns) - begin_ns
        if span.placed is None:
            return Fact("", first, last, 0)
        return Fact(span.placed.firing.pattern, first, last, self._phase(span.placed, begin_ns + first))

    @abstractmethod
    def _looks(self, placed: PlacedFiring, times: Sequence[int]) -> Iterable[tuple[FrameKey, int]]:
        """Yield how a firing looks at times that rise, and at how many of them in a row."""

    @abstractmethod
    def _drawn(self, look: FrameKey) -> Colours:
        """Return the colours of a look, sRGB 0 to 255, shape (regions, 3)."""

    @abstractmethod
    def _phase(self, placed: PlacedFiring, at_ns: int) -> int:
        """Return where in its cycle a look is."""

    @abstractmethod
    def _under_way(self, placed: PlacedFiring) -> int:
        """Return how many changes of one place may be under way at any time."""

    @abstractmethod
    def _turns(self, span: ShownSpan, placed: PlacedFiring) -> Iterable[int]:
        """Yield the turns of a look within a span, but for the jump at its begin."""

    @staticmethod
    def _every(span: ShownSpan, origin_ns: int, every_ns: int) -> range:
        """Return the times at whole multiples of a step from an origin, inside a span."""
        first = -(-(span.begin_ns - origin_ns) // every_ns) * every_ns + origin_ns
        return range(first, span.end_ns, every_ns)


class LightShow(DeviceShow):
    """The strip."""

    def __init__(self, placed: Sequence[PlacedFiring], patterns: Patterns, devices: Devices, leds: int) -> None:
        self.shares = np.full(leds, 1 / leds)
        super().__init__(placed)
        self._patterns = patterns.light
        self._devices = devices
        self._leds = leds

        @lru_cache(_KEPT)
        def colours(look: FrameKey) -> Colours:
            return np.array(devices.strip_colours(self._patterns[look.pattern], leds, *look[1:]), np.uint8)

        self._colours = colours

    def moments(self, begin_ns: int, end_ns: int) -> list[int]:
        """Return the times in between at which a frame differs from the one before."""
        found: list[int] = []
        for span in self.within(begin_ns, end_ns):
            found += [span.begin_ns, span.end_ns]
            if span.placed:
                inside = ShownSpan(max(span.begin_ns, begin_ns), min(span.end_ns, end_ns), span.placed)
                found += self._changes(inside, span.placed)
        return found

    def _changes(self, span: ShownSpan, placed: PlacedFiring) -> Iterator[int]:
        """Yield when the colours of a pattern change within a span."""
        pattern = self._pattern(placed)
        if pattern.form == "ebb":
            whole_ns = placed.end_ns - placed.begin_ns
            ends = (placed.end_ns - lit * whole_ns // self._leds for lit in range(self._leds))
            yield from (at_ns for at_ns in ends if span.begin_ns <= at_ns < span.end_ns)
        elif pattern.form == "swell":
            yield from self._every(span, placed.begin_ns, STEP_NS)
        jumps = self._devices.strip_jumps_ns(pattern, self._leds)
        if len(jumps) * NEAREST_JUMPS_NS > pattern.cycle_ns:
            yield from self._every(span, placed.begin_ns, NEAREST_JUMPS_NS)
            return
        for jump_ns in jumps:
            yield from self._every(span, placed.begin_ns + jump_ns, pattern.cycle_ns)

    def _looks(self, placed: PlacedFiring, times: Sequence[int]) -> Iterable[tuple[FrameKey, int]]:
        name = placed.firing.pattern
        pattern = self._patterns[name]
        if pattern.form == "ebb":
            whole_ns = max(1, placed.end_ns - placed.begin_ns)
            # As many lit LEDs look the same, so that few frames have to be kept.
            lit = (math.ceil((placed.end_ns - at_ns) / whole_ns * self._leds) for at_ns in times)
            return [(FrameKey(name, 0, (count - 0.5) / self._leds), 1) for count in lit]
        if pattern.form in STANDING:
            return [(FrameKey(name, 0, 1.0), len(times))]
        return [(FrameKey(name, (at_ns - placed.begin_ns) % pattern.cycle_ns, 1.0), 1) for at_ns in times]

    def _drawn(self, look: FrameKey) -> Colours:
        return self._colours(look)

    def _pattern(self, placed: PlacedFiring) -> LightPattern:
        return self._patterns[placed.firing.pattern]

    def _phase(self, placed: PlacedFiring, at_ns: int) -> int:
        pattern = self._pattern(placed)
        if pattern.form == "ebb":
            # What is left and of how much: the two in one number.
            whole_ns = placed.end_ns - placed.begin_ns
            return whole_ns * LONGEST_NS + placed.end_ns - at_ns
        if pattern.form in STANDING:
            return 0
        return (at_ns - placed.begin_ns) % pattern.cycle_ns

    def _under_way(self, placed: PlacedFiring) -> int:
        return _WAYS[self._pattern(placed).form].behind_begin

    def _turns(self, span: ShownSpan, placed: PlacedFiring) -> Iterator[int]:
        pattern = self._pattern(placed)
        ways = _WAYS[pattern.form]
        yield from [span.begin_ns] * ways.behind_begin
        if ways.half_cycle:
            for at_ns in self._every(span, placed.begin_ns, max(1, pattern.cycle_ns // 2)):
                if at_ns > span.begin_ns:
                    yield from [at_ns] * ways.half_cycle


class ScreenShow(DeviceShow):
    """The screen: full field, then the frame; the words on their black plate are not counted."""

    def __init__(self, placed: Sequence[PlacedFiring], patterns: Patterns, devices: Devices) -> None:
        sides, middle = devices.side_share, 0.5 - devices.side_share
        parts = np.array([sides, sides, middle, middle])       # half of either is the one colour, half the other
        self.shares = np.concatenate([(1 - devices.frame_share) * parts, devices.frame_share * parts])
        super().__init__(placed)
        self._patterns = patterns.screen
        self._devices = devices

        @lru_cache(_KEPT)
        def colours(look: FrameKey) -> Colours:
            """Return the four colours of the field and those of the frame; they go by the time since the begin."""
            pattern = self._patterns[look.pattern]
            shot = Shot(firing=placed[0].firing, instance=0, begin_ns=0, end_ns=None)
            shown = devices.field_colours(pattern, shot, look.elapsed_ns)
            dark: tuple[Rgb, ...] = (BLACK,) * len(shown)
            frame = shown if look.share or pattern.frame != "none" else dark
            return np.array([*(shown if look.share else dark), *frame], np.uint8)

        self._colours = colours

    def moments(self, begin_ns: int, end_ns: int) -> list[int]:
        """Return the times in between at which a frame differs from the one before."""
        found: list[int] = []
        for span in self.within(begin_ns, end_ns):
            found += [span.begin_ns, span.end_ns]
            if span.placed:
                pattern = self._pattern(span.placed)
                found.append(self._devices.full_until_ns(pattern, _shot(span.placed)))
                if pattern.cycle_ns:
                    inside = ShownSpan(max(span.begin_ns, begin_ns), min(span.end_ns, end_ns), span.placed)
                    found += self._every(inside, span.placed.begin_ns, SWELL_STEP_NS)
                    found += self._turns(inside, span.placed)
        return found

    def _looks(self, placed: PlacedFiring, times: Sequence[int]) -> Iterable[tuple[FrameKey, int]]:
        name, pattern = placed.firing.pattern, self._pattern(placed)
        full = bisect_left(times, self._devices.full_until_ns(pattern, _shot(placed)))
        if not pattern.cycle_ns:
            return [(FrameKey(name, 0, 1.0), full), (FrameKey(name, 0, 0.0), len(times) - full)]
        return [(FrameKey(name, at_ns - placed.begin_ns, float(n < full)), 1) for n, at_ns in enumerate(times)]

    def _drawn(self, look: FrameKey) -> Colours:
        return self._colours(look)

    def _pattern(self, placed: PlacedFiring) -> ScreenPattern:
        return self._patterns[placed.firing.pattern]

    def _phase(self, placed: PlacedFiring, at_ns: int) -> int:
        pattern = self._pattern(placed)
        elapsed_ns = at_ns - placed.begin_ns
        full_ns = max(0, self._devices.full_until_ns(pattern, _shot(placed)) - at_ns)
        swell_ns = elapsed_ns % max(pattern.cycle_ns, _SHORTEST_SWELL_NS) if pattern.cycle_ns else 0
        return full_ns * LONGEST_NS + swell_ns

    def _under_way(self, placed: PlacedFiring) -> int:
        return 1 if self._pattern(placed).cycle_ns else 0

    def _turns(self, span: ShownSpan, placed: PlacedFiring) -> Iterator[int]:
        pattern = self._pattern(placed)
        full_ns = self._devices.full_until_ns(pattern, _shot(placed))
        if span.begin_ns < full_ns < span.end_ns:
            yield full_ns
        if pattern.cycle_ns:
            yield span.begin_ns
            half_ns = max(pattern.cycle_ns, _SHORTEST_SWELL_NS) // 2
            yield from (at_ns for at_ns in self._every(span, placed.begin_ns, half_ns) if at_ns > span.begin_ns)


def _shot(placed: PlacedFiring) -> Shot:
    return Shot(firing=placed.firing, instance=0, begin_ns=placed.begin_ns, end_ns=placed.end_ns)
