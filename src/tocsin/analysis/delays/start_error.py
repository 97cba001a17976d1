"""Compute how late, and how surely, a person presses when a match starts, from presses to shown starts. Pure.

After a countdown people press on the beat, some before it. At a start without warning nobody can react within 100 ms
(the psychomotor vigilance test's limit: Basner and Dinges, Sleep 34:581, 2011): an earlier press was a guess.
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
from tocsin.translation import tr, trn
from tocsin.units import NS_PER_MS

COUNTED: tuple[StartBy, ...] = ("count_in", "countdown")       # the others come unannounced
FEWEST = 8                             # good starts before a rig may rely on them (our own choice)
LEAST_SPREAD_MS = 10                   # the least that a rig takes; no hand is surer
_COUNTED_MS, _SUDDEN_MS = (-500, 1000), (100, 1500)            # after the start: what is an answer to it


class Judged(NamedTuple):
    """One start and its press: the milliseconds from the start to the press, None for a false start or no press."""

    late_ms: float | None
    false_start: bool = False


class StartError(msgspec.Struct, frozen=True, kw_only=True):
    """The result of all starts. ``reading`` is None without a good start; ``spread_low_ms`` and ``spread_high_ms`` hold
    the spread in at least 95 of 100 cases, None with fewer than six good starts."""

    by: StartBy
    starts: int
    missed: int
    false_starts: int
    reading: Estimate | None
    spread_low_ms: float | None = None
    spread_high_ms: float | None = None

    @property
    def enough(self) -> bool:
        """Whether there are enough good starts to use the result."""
        return self.reading is not None and self.reading.n >= FEWEST

    @property
    def rig_ms(self) -> tuple[int, int]:
        """The values for a rig's ``late_ms`` and ``spread_ms``. Raises ValueError without a good start.

        The second is larger than the measured spread: so few starts leave the next one uncertain.
        """
        if self.reading is None:
            raise ValueError("no good start")
        spread_ms = self.reading.spread_ms * _of_the_next(self.reading.n)
        return round(self.reading.median_ms), max(LEAST_SPREAD_MS, round(spread_ms))


def judge_starts(by: StartBy, landed_ns: Sequence[int], presses_ns: Sequence[int]) -> tuple[Judged, ...]:
    """Return each start judged by its press; starts and presses are times on the shared clock, rising.

    A press after the answer time of the start before, and too early for this one, makes this one a false start.
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
    """Return the result of judged starts. A very late press counts like any other: it may also happen at a match."""
    late_ms = [one.late_ms for one in judged if one.late_ms is not None]
    false_starts = sum(one.false_start for one in judged)
    spread = spread_of(late_ms, step_ms=step_of(late_ms)) if late_ms else Spread(0.0, None, None)
    return StartError(
        by=by, starts=len(judged), false_starts=false_starts,
        missed=sum(one.late_ms is None for one in judged) - false_starts, reading=reading_of(late_ms),
        spread_low_ms=spread.low_ms, spread_high_ms=spread.high_ms,
    )  # fmt: skip


def start_lines(found: StartError, start: Start) -> Iterator[str]:
    """Yield the result in words, beside the values in the rig."""
    reading = found.reading
    if reading is None:
        yield trn(
            "No answer to {count} start: nothing is measured.", "No answer to {count} starts: nothing is measured.",
            found.starts,
        )
        return
    assumed_ms, assumed_spread_ms = start.error_ms
    yield tr(
        "You start the clock {late} (middle value), and your starts differ by {spread:.2f} s; the rig uses {late_2} "
        "and {assumed_spread:.2f} s.", late=_late(reading.median_ms),
        spread=reading.spread_ms / 1000, late_2=_late(assumed_ms), assumed_spread=assumed_spread_ms / 1000,
    )
    yield _how_sure(reading, found.spread_low_ms, found.spread_high_ms)
    left_out = []
    if found.false_starts:
        left_out.append(trn("{count} false start", "{count} false starts", found.false_starts))
    if found.missed:
        left_out.append(tr("{count} missed", count=found.missed))
    if left_out:
        yield tr("Left out: {left_out}.", left_out=", ".join(left_out))
    if not found.enough:
        yield trn(
            "Too few to use: {count} good start, {fewest} are needed.",
            "Too few to use: {count} good starts, {fewest} are needed.", reading.n, fewest=FEWEST,
        )


def _of_the_next(n: int) -> float:
    """Return by how much the ± that holds the next of some readings 95 times in 100 is wider than by their spread: a
    prediction interval by Student's t beside the normal curve's, of which ``n`` readings tell centre and spread.

    The quantile of t by its expansion (Abramowitz and Stegun, Handbook of Mathematical Functions, 26.7.5; from memory).
    """
    z, free = NormalDist().inv_cdf(0.975), max(1, n - 1)
    t = z + (z**3 + z) / (4 * free) + (5 * z**5 + 16 * z**3 + 3 * z) / (96 * free**2)
    return t / z * math.sqrt(1 + 1 / n)


def _late(ms: float) -> str:
    seconds = f"{abs(ms) / 1000:.2f} s"
    return tr("{seconds} early", seconds=seconds) if round(ms) < 0 else tr("{seconds} late", seconds=seconds)


def _how_sure(reading: Estimate, spread_low_ms: float | None, spread_high_ms: float | None) -> str:
    if reading.low_ms is None or reading.high_ms is None or spread_low_ms is None or spread_high_ms is None:
        return tr(
            "Too few to know how exact this is: it needs {fewest_to_tell} good starts.",
            fewest_to_tell=FEWEST_TO_TELL,
        )
    high = f"{spread_high_ms / 1000:.2f} s"
    # Shown as 0.00, a lower limit says nothing.
    second = (
        tr("between {spread_low:.2f} and {high}", spread_low=spread_low_ms / 1000, high=high) if spread_low_ms >= 5
        else tr("at {high} or less", high=high)
    )
    return tr(
        "From {n} starts: first number {late} to {late_2}, second {second} (95 % sure).", n=reading.n,
        late=_late(reading.low_ms), late_2=_late(reading.high_ms), second=second,
    )
