"""Simulated people who set a clock by the official display, and what it came to: no process, the clock's own rules.

A match of the bundled game begins for real; a person started this clock too late, or a little too early, and neither
knows by how much. At some moment of a period in which robots play they type what the display will show next, wait for
its change, and press; at the next official moment of that period they tap. All times are drawn here, none is asked of
the code that is tested.
"""

import random
from typing import NamedTuple

from tocsin.config.load import load
from tocsin.model.clock.officials import nearest, officials_of
from tocsin.model.clock.origins import Origin
from tocsin.model.clock.sync import Sync
from tocsin.model.rig import Start
from tocsin.runner.match.display_reading import DisplayReadings
from tocsin.units import NS_PER_MS as MS
from tocsin.units import NS_PER_S as S

TIMELINE = load(None, ["full"], "nothing").plans[0].timeline
REAL_NS = 1000 * S                     # when the match really began
EARLY = 0.1                            # of all missed starts: somebody pressed before the match began
MISSED_S, EARLY_S = 6.0, 2.0           # at most, evenly
READ_LATE_MS = (100, 400)              # between these a change of the display is pressed late, each time
NEXT_SECOND, OTHER_DIGIT = 0.03, 0.02  # one reading in twenty is wrong: a second beside, or another digit typed
TAPS_MS = {"counted": ((-80, -20), 30), "warned": ((100, 100), 100), "sudden": ((250, 250), 100)}
AT_RANDOM = 0.02                       # of all taps mean nothing: three seconds around, evenly
MARGIN_S = 8                           # of the period on both sides in which nobody sets the clock


class Set(NamedTuple):
    """How far off the clock was after a reading and after a tap, each with the ± that it stated; in seconds.

    ``missed_s`` is how late it was started, ``typed`` how many readings it took, ``right`` whether the last was.
    """

    missed_s: float
    typed: int
    right: bool
    read: tuple[float, float]
    tapped: tuple[float, float] | None


class Person:
    """One person with one match. ``wrong`` multiplies how often digits are wrong; ``tap_ms`` overrules how taps are."""

    def __init__(self, rng, by="press", wrong=1.0, taps=None, read_late_ms=READ_LATE_MS):
        self._rng, self._wrong, self._taps, self._late_ms = rng, wrong, taps or TAPS_MS, read_late_ms
        is_early = rng.random() < EARLY
        self.missed_s = -rng.uniform(0, EARLY_S) if is_early else rng.uniform(0, MISSED_S)
        self._sync = Sync.started(Start(by=by))
        self._origin = Origin(anchor="match", origin_ns=REAL_NS + round(self.missed_s * S))
        self._officials = officials_of(TIMELINE, by)
        self._readings = DisplayReadings(TIMELINE)
        played = [slot for slot in TIMELINE.periods if slot.kind in ("autonomous", "driver")]
        # A moment of the match falls in a period as often as that is long.
        self._slot = rng.choices(played, [slot.end_ns - slot.begin_ns for slot in played])[0]

    def sets_it(self):
        """Type and press until a reading is taken, then tap at the next official moment; return what it came to."""
        slot, typed = self._slot, 0
        left_s = self._rng.randrange(MARGIN_S, (slot.end_ns - slot.begin_ns) // S - MARGIN_S)
        taken, right = None, False
        while taken is None:
            typed += 1
            right = self._reads(left_s)
            taken, left_s = self._taken, left_s - self._rng.randrange(2, 4)
        read = self._off()
        return Set(self.missed_s, typed, right, read, self._taps_next(left_s))

    def _reads(self, left_s):
        """Read the change to so many seconds; return whether it was read and typed rightly."""
        draw, off_ms = self._rng.random(), 0
        shown_s = left_s
        if draw < self._wrong * NEXT_SECOND:
            off_ms = self._rng.choice((-1000, 1000))
        elif draw < self._wrong * (NEXT_SECOND + OTHER_DIGIT):
            shown_s = self._mistyped(left_s)
        at_ns = REAL_NS + self._slot.end_ns - left_s * S + round((self._rng.uniform(*self._late_ms) + off_ms) * MS)
        moment = self._readings.meant(shown_s, self._origin, at_ns)
        self._taken = None if moment is None else self._sync.read(moment, self._origin, at_ns)
        self._follow()
        return shown_s == left_s and not off_ms

    def _mistyped(self, left_s):
        """Return the time with one digit exchanged for another, as fingers slip: also one that is never shown."""
        places = [left_s // 60, left_s % 60 // 10, left_s % 10]
        place = self._rng.randrange(3)
        places[place] = self._rng.choice([n for n in range((3, 6, 10)[place]) if n != places[place]])
        return 60 * places[0] + 10 * places[1] + places[2]

    def _taps_next(self, left_s):
        """Tap at the next official moment; None where the clock is too far off for one, or none comes."""
        now_ns = self._slot.end_ns - left_s * S + S
        ahead = [one for one in self._officials if one.point.offset_ns > now_ns]
        if not ahead:
            return None                    # so often wrong that the match is over
        official = min(ahead, key=lambda one: one.point.offset_ns)
        early_ms, spread_ms = self._taps[official.notice]
        off_ms = self._rng.gauss(self._rng.uniform(*early_ms), spread_ms)
        if self._rng.random() < AT_RANDOM:
            off_ms = self._rng.uniform(-3000, 3000)
        at_ns = REAL_NS + official.point.offset_ns + round(off_ms * MS)
        found = nearest(self._officials, self._origin, at_ns)
        if found is None:
            return None
        self._sync.tap(found, self._origin, at_ns)
        self._follow()
        return self._off()

    def _follow(self):
        """Let the clock go where it goes to."""
        by_ns = self._sync.left_ns
        self._origin = Origin(anchor="match", origin_ns=self._origin.origin_ns + by_ns)
        self._sync.moved(by_ns, 0)

    def _off(self):
        return abs(self._origin.origin_ns - REAL_NS) / S, self._sync.error_ms / 1000


def held(pairs):
    """Return the share of (error, ±) in which the ± held the error; a clock that took no tap is as it was read."""
    pairs = list(pairs)
    return sum(off <= known for off, known in pairs) / len(pairs)


def people(count, seed, **how):
    """Return what so many people's matches came to."""
    rng = random.Random(seed)
    return [Person(rng, **how).sets_it() for _ in range(count)]
