"""How many opposing changes of luminance each second of many regions holds, all at once.

The same count as ``model.safety.flicker``, which takes one region after another; a property test holds the two
together. Here the seconds that begin with each frame are counted side by side, so that a whole plan takes no time.
"""

import numpy as np
from numpy.typing import NDArray

from tocsin.model.safety import linear
from tocsin.units import NS_PER_S

# Whole numbers, as there, so that sums and thresholds are exact. The thresholds are those of WCAG 2.2, "flash".
FULL = 1_000_000_000
_STEP = FULL // 10
_BRIGHT = FULL * 8 // 10

Levels = NDArray[np.int64]
_PARTS = np.array(
    [[round(share * linear(value) * FULL) for value in range(256)] for share in (0.2126, 0.7152, 0.0722)], np.int64
)


def levels(colours: NDArray[np.uint8]) -> Levels:
    """Return the luminance of colours, 0 to FULL; the last axis is red, green, blue (WCAG 2.2)."""
    lit: Levels = _PARTS[0][colours[..., 0]] + _PARTS[1][colours[..., 1]] + _PARTS[2][colours[..., 2]]
    return lit


def changes(
    times: NDArray[np.int64], regions: Levels, starts: int | None = None, above: int = 0
) -> NDArray[np.int64]:
    """Return how many opposing changes the second that begins with each frame holds: a row a frame, a column a region.

    ``times`` are nanoseconds, rising; ``regions`` holds a row a frame. Each second is judged from the state just before
    it, so the first frame only gives that state and its row is 0. Only the first ``starts`` frames begin a second. A
    count that cannot come to more than ``above`` is left at 0.
    """
    frames, width = regions.shape
    counts = np.zeros((frames, width), np.int64)
    begins = np.arange(1, min(starts or frames, frames))
    ends = np.searchsorted(times, times[begins] + NS_PER_S)
    # While light rises, or falls, only how far it comes matters: a second is its state before, the levels at which it
    # turns round, and the last one. There are no more changes than rises and falls.
    turned = _turns(regions)
    if turned.sum(axis=0).max(initial=0) + 1 <= above:
        return counts
    region, turns = np.nonzero(turned.T)
    firsts, lasts = (
        np.searchsorted(region * frames + turns, places[:, None] + np.arange(width) * frames)
        for places in (begins + 1, ends)
    )
    rows, columns = np.nonzero(lasts - firsts + 1 > above)
    if not len(rows):
        return counts
    inside = (lasts - firsts)[rows, columns]
    order = np.argsort(-inside, kind="stable")         # seconds with few turns are behind all that go on
    rows, columns, inside = rows[order], columns[order], inside[order]
    firsts = firsts[rows, columns]
    swing = _Swings(regions[begins[rows] - 1, columns])
    for step in range(int(inside.max(initial=0))):
        on = int(np.searchsorted(-inside, -step))
        swing.take(regions[turns[firsts[:on] + step] - 1, columns[:on]])
    swing.take(regions[ends[rows] - 1, columns])
    counts[begins[rows], columns] = swing.changes
    return counts


def _turns(regions: Levels) -> NDArray[np.bool_]:
    """Return where light goes another way than the last time it changed, shaped as ``regions``."""
    turns = np.zeros(regions.shape, np.bool_)
    ways = np.sign(np.diff(regions, axis=0))
    moved = np.where(ways != 0, np.arange(len(ways))[:, None], 0)
    last = np.take_along_axis(ways, np.maximum.accumulate(moved, axis=0), axis=0)
    turns[2:] = ways[1:] * last[:-1] < 0
    return turns


class _Swings:
    """The luminance of many seconds since their last turn, as ``model.safety`` has it for one, and their changes."""

    def __init__(self, levels: Levels) -> None:
        self._low, self._high = levels.copy(), levels.copy()
        self._way = np.zeros_like(levels)
        self.changes = np.zeros_like(levels)

    def take(self, level: Levels) -> None:
        """Move the first ones to these levels."""
        on = len(level)
        low, high, way = self._low[:on], self._high[:on], self._way[:on]
        up = (way <= 0) & (level - low >= _STEP) & (low < _BRIGHT)
        down = ~up & (way >= 0) & (high - level >= _STEP) & (level < _BRIGHT)
        turned = up | down
        self.changes[:on] += turned
        way[up], way[down] = 1, -1
        np.minimum(low, level, out=low)
        np.maximum(high, level, out=high)
        low[turned] = high[turned] = level[turned]
