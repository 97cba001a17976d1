"""Decide when what is known of the keeper's clock moves this laptop's origins, and state how well it is known. Pure."""

from bisect import bisect_left
from collections.abc import Iterable

from tocsin.model.clock.exchange import Offset, drift_ns
from tocsin.model.clock.origins import Origin
from tocsin.model.timeline.timeline import Timeline
from tocsin.units import NS_PER_MS, NS_PER_S

DIFFERS_NS = 2 * NS_PER_MS             # an offset that differs by less is the same to eye, ear and hand
NEAR_NS = 300 * NS_PER_MS              # so near a begin no origin moves,
WAITS_NS = 5 * NS_PER_S                # unless begins follow each other so closely that it never comes to that,
FAR_NS = 100 * NS_PER_MS               # or the offset is wrong altogether: a laptop slept


class OffsetInUse:
    """The offset by which a match's origins are told here, None before the first; and when its signals begin."""

    def __init__(self) -> None:
        self.offset: Offset | None = None
        self._taken_ns = 0
        self._waits_since_ns: int | None = None
        self._begins_ns: tuple[int, ...] = ()

    def use(self, offset: Offset, now_ns: int) -> None:
        """Use an offset from now on."""
        self.offset, self._taken_ns, self._waits_since_ns = offset, now_ns, None

    def place(self, timeline: Timeline, origins: Iterable[Origin]) -> None:
        """Take where the origins lie by it: the signals' begins follow."""
        known = {origin.anchor: origin for origin in origins}
        begins = [firing.begin for firing in timeline.firings if firing.begin.anchor in known]
        self._begins_ns = tuple(sorted(known[begin.anchor].real_ns(begin.offset_ns) for begin in begins))

    def is_due(self, best: Offset, now_ns: int) -> bool:
        """Return whether origins are to be moved now, since what is known best differs from what is used."""
        if self.offset is None:
            return True
        by_ns = abs(best.offset_ns - self.offset.offset_ns)
        if by_ns <= DIFFERS_NS:
            self._waits_since_ns = None
            return False
        if by_ns > FAR_NS:
            return True
        if self._waits_since_ns is None:
            self._waits_since_ns = now_ns
        return not self._is_near_begin(now_ns) or now_ns - self._waits_since_ns > WAITS_NS

    def error_ns(self, best: Offset | None, now_ns: int) -> int | None:
        """Return the bound of what is used: by its own exchange, or by the best one that is known now."""
        if self.offset is None:
            return None if best is None else best.error_ns
        by_itself = self.offset.error_ns + drift_ns(now_ns - self._taken_ns)
        if best is None:
            return by_itself
        return min(by_itself, abs(best.offset_ns - self.offset.offset_ns) + best.error_ns)

    def _is_near_begin(self, now_ns: int) -> bool:
        place = bisect_left(self._begins_ns, now_ns - NEAR_NS)
        return place < len(self._begins_ns) and self._begins_ns[place] <= now_ns + NEAR_NS
