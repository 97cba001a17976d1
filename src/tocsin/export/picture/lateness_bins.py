"""The classes into which lateness is counted, for text and picture alike: each about twice the one before."""

from bisect import bisect_right
from collections.abc import Iterable

EDGES_MS = (0.1, 0.2, 0.5, 1.0, 2.0, 5.0, 10.0, 20.0, 50.0)


def counts_of(late_ms: Iterable[float]) -> tuple[int, ...]:
    """Return how many values lie below the first edge, in each class ``[edge, next edge)``, and from the last on.

    >>> counts_of([0.05, 0.1, 3.0, 99.0])
    (1, 1, 0, 0, 0, 1, 0, 0, 0, 1)
    """
    counts = [0] * (len(EDGES_MS) + 1)
    for ms in late_ms:
        counts[bisect_right(EDGES_MS, ms)] += 1
    return tuple(counts)
