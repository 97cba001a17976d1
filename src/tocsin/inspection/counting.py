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


def changes(times: NDArray[np.int64], regions: Levels, starts: int | None = None) -> NDArray[np.int64]:
    """Return how many opposing changes the second that begins with each frame holds: a row a frame, a column a region.

    ``times`` are nanoseconds, rising; ``regions`` holds a row a frame. Each second is judged from the state just before
    it, so the first frame only gives that state and its row is 0. Only the first ``starts`` frames begin a second.
    """
    begins = np.arange(1, min(starts or len(times), len(times)))
    counts = np.zeros((len(times), regions.shape[1]), np.int64)
    if not len(begins):
        return counts
    lengths = np.searchsorted(times, times[begins] + NS_PER_S) - begins
    low = regions[begins - 1].copy()
    high = low.copy()
    direction = np.zeros_like(low)
    found = np.zeros_like(low)
    for step in range(int(lengths.max())):
        inside = (step < lengths)[:, None]
        level = regions[np.minimum(begins + step, len(times) - 1)]
        up = inside & (direction <= 0) & (level - low >= _STEP) & (low < _BRIGHT)
        down = inside & ~up & (direction >= 0) & (high - level >= _STEP) & (level < _BRIGHT)
        turned = up | down
        found += turned
        direction = np.where(up, 1, np.where(down, -1, direction))
        low = np.where(turned | (inside & (level < low)), level, low)
        high = np.where(turned | (inside & (level > high)), level, high)
    counts[begins] = found
    return counts
