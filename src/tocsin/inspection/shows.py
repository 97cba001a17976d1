"""What strip and screen show at any time of a track, as the plan asks for it: before any guard against flashes."""

import math
from abc import ABC, abstractmethod
from bisect import bisect_right
from collections.abc import Iterable, Iterator, Sequence
from functools import lru_cache
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from tocsin.inspection.subject import Devices
from tocsin.inspection.tracks import Placed, Span, foremost
from tocsin.model.pattern import LightPattern, Patterns, Rgb, ScreenPattern
from tocsin.model.safety import BLACK
from tocsin.model.schedule import Shot
from tocsin.units import NS_PER_MS, NS_PER_S

STEP_NS = 20 * NS_PER_MS               # how finely what moves is looked at; a usual strip sends about as often
PHASE_NS = 10 * NS_PER_MS              # rounds that differ by less are taken for the same
MOST_REGIONS = 4                       # of a screen: the two colours of the field, the two of the frame
_SHORTEST_SWELL_NS = NS_PER_S          # of a screen's field
_KEPT = 4096                           # frames of moving patterns that are kept
_TURNS_A_CYCLE = {"blink": 2, "breathe": 2, "chase": 2, "sweep": 4, "solid": 0, "stripes": 0, "fill": 0}

Colours = NDArray[np.uint8]            # regions by red, green, blue


class Fact(NamedTuple):
    """What a span looks like, seen from a moment: equal facts look the same."""

    pattern: str
    begin_ns: int
    end_ns: int
    phase_ns: int


class Show(ABC):
    """One device over a track. ``shares`` are the regions' shares of its area."""

    def __init__(self, placed: Sequence[Placed]) -> None:
        self.spans = foremost(placed)
        self._begins = [span.begin_ns for span in self.spans]

    def span_at(self, at_ns: int) -> Span | None:
        """Return what shows at a time."""
        place = bisect_right(self._begins, at_ns) - 1
        if place < 0 or self.spans[place].end_ns <= at_ns:
            return None
        return self.spans[place]

    def within(self, begin_ns: int, end_ns: int) -> list[Span]:
        """Return the spans that lie in part between two times."""
        place = max(0, bisect_right(self._begins, begin_ns) - 1)
        found: list[Span] = []
        while place < len(self.spans) and self.spans[place].begin_ns < end_ns:
            if self.spans[place].end_ns > begin_ns:
                found.append(self.spans[place])
            place += 1
        return found

    def facts(self, begin_ns: int, end_ns: int) -> tuple[Fact, ...]:
        """Return all that decides what shows between two times, relative to the first."""
        return tuple(self._fact(span, begin_ns, end_ns) for span in self.within(begin_ns, end_ns))

    def turns(self) -> Iterator[int]:
        """Yield the times, in any order, at which light may turn from brighter to darker or back."""
        for span in self.spans:
            yield from (span.begin_ns, span.end_ns)
            if span.placed:
                yield from self._turns(span)

    def _fact(self, span: Span, begin_ns: int, end_ns: int) -> Fact:
        first = max(span.begin_ns - begin_ns, 0)
        last = min(span.end_ns, end_ns) - begin_ns
        if span.placed is None:
            return Fact("", first, last, 0)
        return Fact(span.placed.firing.pattern, first, last, self._phase(span.placed, begin_ns + first))

    @abstractmethod
    def _phase(self, placed: Placed, at_ns: int) -> int:
        """Return where in its cycle a look is."""

    @abstractmethod
    def _turns(self, span: Span) -> Iterable[int]:
        """Yield when a look may turn within a span."""

    @staticmethod
    def _every(span: Span, origin_ns: int, every_ns: int) -> range:
        """Return the times at whole multiples of a step from an origin, inside a span."""
        first = -(-(span.begin_ns - origin_ns) // every_ns) * every_ns + origin_ns
        return range(first, span.end_ns, every_ns)


class LightShow(Show):
    """The strip."""

    def __init__(self, placed: Sequence[Placed], patterns: Patterns, devices: Devices, leds: int) -> None:
        super().__init__(placed)
        self._patterns = patterns.light
        self._leds = leds
        self.shares = np.full(leds, 1 / leds)

        @lru_cache(_KEPT)
        def colours(name: str, elapsed_ns: int, left: float) -> Colours:
            return np.array(devices.strip_colours(self._patterns[name], leds, elapsed_ns, left), np.uint8)

        self._colours = colours
        self._dark: Colours = np.zeros((leds, 3), np.uint8)

    def moments(self, begin_ns: int, end_ns: int) -> list[int]:
        """Return the times in between at which a frame differs from the one before."""
        found: list[int] = []
        for span in self.within(begin_ns, end_ns):
            found += [span.begin_ns, span.end_ns]
            if span.placed and self._pattern(span.placed).form not in ("solid", "stripes"):
                found += self._every(span, span.placed.begin_ns, STEP_NS)
        return found

    def at(self, at_ns: int) -> Colours:
        """Return the colour of each LED at a time."""
        span = self.span_at(at_ns)
        if span is None or span.placed is None:
            return self._dark
        placed = span.placed
        pattern = self._pattern(placed)
        if pattern.form == "fill":
            left = (placed.end_ns - at_ns) / max(1, placed.end_ns - placed.begin_ns)
            # As many lit LEDs look the same, so that few frames have to be kept.
            return self._colours(placed.firing.pattern, 0, (math.ceil(left * self._leds) - 0.5) / self._leds)
        if pattern.form in ("solid", "stripes"):
            return self._colours(placed.firing.pattern, 0, 1.0)
        return self._colours(placed.firing.pattern, (at_ns - placed.begin_ns) % pattern.cycle_ns, 1.0)

    def _pattern(self, placed: Placed) -> LightPattern:
        return self._patterns[placed.firing.pattern]

    def _phase(self, placed: Placed, at_ns: int) -> int:
        pattern = self._pattern(placed)
        if pattern.form == "fill":
            # What is left and of how much: the two in one number.
            whole_ns = placed.end_ns - placed.begin_ns
            return whole_ns // PHASE_NS * NS_PER_S + (placed.end_ns - at_ns) // PHASE_NS
        if not _TURNS_A_CYCLE[pattern.form]:
            return 0
        return (at_ns - placed.begin_ns) % pattern.cycle_ns // PHASE_NS

    def _turns(self, span: Span) -> Iterable[int]:
        assert span.placed is not None
        pattern = self._pattern(span.placed)
        turns = _TURNS_A_CYCLE[pattern.form]
        return self._every(span, span.placed.begin_ns, max(1, pattern.cycle_ns // turns)) if turns else ()


class ScreenShow(Show):
    """The screen: full field, then the frame; the words on their black plate are left out of the account."""

    def __init__(self, placed: Sequence[Placed], patterns: Patterns, devices: Devices) -> None:
        super().__init__(placed)
        self._patterns = patterns.screen
        self._devices = devices
        field, frame = 1 - devices.frame_share, devices.frame_share
        self.shares = np.array([field / 2, field / 2, frame / 2, frame / 2])

    def moments(self, begin_ns: int, end_ns: int) -> list[int]:
        """Return the times in between at which a frame differs from the one before."""
        found: list[int] = []
        for span in self.within(begin_ns, end_ns):
            found += [span.begin_ns, span.end_ns]
            if span.placed:
                found.append(self._devices.full_until_ns(self._pattern(span.placed), _shot(span.placed)))
                if self._pattern(span.placed).cycle_ns:
                    found += self._every(span, span.placed.begin_ns, 5 * STEP_NS)
        return found

    def at(self, at_ns: int) -> Colours:
        """Return the two colours of the field and the two of the frame at a time."""
        span = self.span_at(at_ns)
        if span is None or span.placed is None:
            return np.zeros((MOST_REGIONS, 3), np.uint8)
        pattern, shot = self._pattern(span.placed), _shot(span.placed)
        colours = self._devices.field_colours(pattern, shot, at_ns)
        full = at_ns < self._devices.full_until_ns(pattern, shot)
        dark: tuple[Rgb, Rgb] = (BLACK, BLACK)
        frame = colours if full or pattern.frame != "none" else dark
        return np.array([*(colours if full else dark), *frame], np.uint8)

    def _pattern(self, placed: Placed) -> ScreenPattern:
        return self._patterns[placed.firing.pattern]

    def _phase(self, placed: Placed, at_ns: int) -> int:
        pattern = self._pattern(placed)
        elapsed_ns = at_ns - placed.begin_ns
        full_ns = max(0, self._devices.full_until_ns(pattern, _shot(placed)) - at_ns)
        swell_ns = elapsed_ns % max(pattern.cycle_ns, _SHORTEST_SWELL_NS) if pattern.cycle_ns else 0
        return full_ns // PHASE_NS * NS_PER_S + swell_ns // PHASE_NS

    def _turns(self, span: Span) -> Iterable[int]:
        assert span.placed is not None
        pattern = self._pattern(span.placed)
        full_ns = self._devices.full_until_ns(pattern, _shot(span.placed))
        inside = [full_ns] if span.begin_ns < full_ns < span.end_ns else []
        if not pattern.cycle_ns:
            return inside
        half_ns = max(pattern.cycle_ns, _SHORTEST_SWELL_NS) // 2
        return [*inside, *self._every(span, span.placed.begin_ns, half_ns)]


def _shot(placed: Placed) -> Shot:
    return Shot(firing=placed.firing, instance=0, begin_ns=placed.begin_ns, end_ns=placed.end_ns)
