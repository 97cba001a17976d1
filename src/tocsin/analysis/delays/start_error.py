"""How late a person presses when a match starts, and how surely, from presses to starts that were shown to them. Pure.

Where a start is counted down to, people press on the beat, some before it. Where it comes unannounced, nobody can press
within 100 ms (the psychomotor vigilance test's limit: Basner and Dinges, Sleep 34:581, 2011): who does has guessed.
"""

import math
from collections.abc import Iterator, Sequence
from statistics import NormalDist
from typing import NamedTuple

import msgspec

from tocsin.analysis.delays.estimates import FEWEST as FEWEST_TO_TELL
from tocsin.analysis.delays.estimates import Estimate, reading_of, step_of
from tocsin.analysis.spread import Spread, spread_of
from tocsin.model.rig import Start, StartBy
from tocsin.units import NS_PER_MS

COUNTED: tuple[StartBy, ...] = ("count_in", "countdown")       # the others come unannounced
FEWEST = 8                             # good starts before a rig may rely on them (our own choice)
LEAST_SPREAD_MS = 10                   # the least that a rig takes; no hand is surer
_COUNTED_MS, _SUDDEN_MS = (-500, 1000), (100, 1500)            # after the start: what is an answer to it


class Judged(NamedTuple):
    """What a press, or none, came to at one start: its time after it in ms, None for a false start or a missed one."""

    late_ms: float | None
    false_start: bool = False


class StartError(msgspec.Struct, frozen=True, kw_only=True):
    """What starts come to. ``reading`` is None without a good one; ``spread_low_ms`` and ``spread_high_ms`` hold its
    spread in 95 of 100 cases or more, None with fewer than six good ones."""

    by: StartBy
    starts: int
    missed: int
    false_starts: int
    reading: Estimate | None
    spread_low_ms: float | None = None
    spread_high_ms: float | None = None

    @property
    def enough(self) -> bool:
        """Whether these are enough to go by."""
        return self.reading is not None and self.reading.n >= FEWEST

    @property
    def rig_ms(self) -> tuple[int, int]:
        """What a rig's ``late_ms`` and ``spread_ms`` should be. Raises ValueError without a good start.

        The second is larger than the spread of these starts by what so few leave open about the next one.
        """
        if self.reading is None:
            raise ValueError("no good start")
        spread_ms = self.reading.spread_ms * _of_the_next(self.reading.n)
        return round(self.reading.median_ms), max(LEAST_SPREAD_MS, round(spread_ms))


def judge_starts(by: StartBy, landed_ns: Sequence[int], presses_ns: Sequence[int]) -> tuple[Judged, ...]:
    """Return what each start, at its time on the shared clock and in order, was answered by.

    A press that comes before a start can be answered, and after the time of the one before, makes it a false start.
    """
    low_ns, high_ns = (edge * NS_PER_MS for edge in (_COUNTED_MS if by in COUNTED else _SUDDEN_MS))
    judged = []
    free_ns = -math.inf
    for at_ns in landed_ns:
        early = any(free_ns <= press < at_ns + low_ns for press in presses_ns)
        own = sorted(press for press in presses_ns if at_ns + low_ns <= press < at_ns + high_ns)
        judged.append(Judged(None if early or not own else (own[0] - at_ns) / NS_PER_MS, early))
        free_ns = at_ns + high_ns
    return tuple(judged)


def start_error(by: StartBy, judged: Sequence[Judged]) -> StartError:
    """Return what starts come to. A press that came far too late, but to its start, counts like any other: it may come
    at a match too."""
    late_ms = [one.late_ms for one in judged if one.late_ms is not None]
    false_starts = sum(one.false_start for one in judged)
    spread = spread_of(late_ms, step_ms=step_of(late_ms)) if late_ms else Spread(0.0, None, None)
    return StartError(
        by=by, starts=len(judged), false_starts=false_starts,
        missed=sum(one.late_ms is None for one in judged) - false_starts, reading=reading_of(late_ms),
        spread_low_ms=spread.low_ms, spread_high_ms=spread.high_ms,
    )  # fmt: skip


def start_lines(found: StartError, start: Start) -> Iterator[str]:
    """Yield what was measured in words, beside what the rig goes by."""
    reading = found.reading
    if reading is None:
        yield f"No answer to {_counted(found.starts, 'start')}: nothing is measured."
        return
    assumed_ms, assumed_spread_ms = start.error_ms
    yield (
        f"You start the clock {_late(reading.median_ms)} (the median), with a spread of "
        f"{reading.spread_ms / 1000:.2f} s from one start to another; "
        f"the rig goes by {_late(assumed_ms)}, with {assumed_spread_ms / 1000:.2f} s."
    )
    yield _how_sure(reading, found.spread_low_ms, found.spread_high_ms)
    left_out = [
        _counted(count, what) if what != "missed" else f"{count} missed"
        for count, what in ((found.false_starts, "false start"), (found.missed, "missed"))
        if count
    ]
    if left_out:
        yield f"Left out: {', '.join(left_out)}."
    if not found.enough:
        yield f"Too few to go by: {_counted(reading.n, 'good start')}, {FEWEST} are needed."


def _of_the_next(n: int) -> float:
    """Return by how much the ± that holds the next of some readings 95 times in 100 is wider than by their spread: a
    prediction interval by Student's t beside the normal curve's, of which ``n`` readings tell centre and spread.

    The quantile of t by its expansion (Abramowitz and Stegun, Handbook of Mathematical Functions, 26.7.5; from memory).
    """
    z, free = NormalDist().inv_cdf(0.975), max(1, n - 1)
    t = z + (z**3 + z) / (4 * free) + (5 * z**5 + 16 * z**3 + 3 * z) / (96 * free**2)
    return t / z * math.sqrt(1 + 1 / n)


def _counted(number: int, what: str) -> str:
    return f"{number} {what}{'' if number == 1 else 's'}"


def _late(ms: float) -> str:
    seconds = f"{abs(ms) / 1000:.2f} s"
    return f"{seconds} early" if round(ms) < 0 else f"{seconds} late"


def _how_sure(reading: Estimate, spread_low_ms: float | None, spread_high_ms: float | None) -> str:
    if reading.low_ms is None or reading.high_ms is None or spread_low_ms is None or spread_high_ms is None:
        return f"Too few to say how sure these figures are: that takes {FEWEST_TO_TELL} good starts."
    high = f"{spread_high_ms / 1000:.2f} s"
    # Shown as 0.00, a lower limit says nothing.
    second = f"between {spread_low_ms / 1000:.2f} and {high}" if spread_low_ms >= 5 else f"at {high} or less"
    return (
        f"By {reading.n} starts the first figure lies between {_late(reading.low_ms)} and {_late(reading.high_ms)}, "
        f"the second {second} (95 %)."
    )
