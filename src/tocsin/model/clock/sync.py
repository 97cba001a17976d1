"""Correct the clock by taps at official moments: estimate its error, and move it. Pure.

The start is the largest error of the match clock: it is late, hardly ever early. A tap at an official moment is a
reading of the true time of that moment, and so of its segment's origin. Bayes' rule joins the readings with the prior
of the start (``posterior.py``); further rules:

* The clock follows the posterior's median, before the first tap that of the start's error. The ± is the smallest one
  around the clock that holds the true time 95 times in 100: from the start on, after a hold, in a resumed run.
* People tap ahead of a beat that they expect, each by about the same time: 20 to 80 ms (Repp, "Sensorimotor
  synchronization: a review of the tapping literature", 2005). No number of taps averages that out, so the ± is wide
  enough to hold the true time as often if all taps are ``EARLY_TAP_MS`` early. The clock itself is not moved for it:
  not everybody does so, and a clock set by early taps only calls early.
* A tap may be an outlier (another moment was meant, a finger slipped): the share is ``OUTLIER``. Until two taps agree,
  taps move the clock by at most the ± that it had without them: a tap that contradicts the start widens the ± over both
  instead. After two good taps, a third one that is off by a second moves the clock by less than 10 ms; after one good
  tap too, if the start is exact enough to confirm it.
* A reading of the official display, typed and stamped on its change, is a tap with an error of its own: a little late,
  now and then a second beside (the change before or after it), seldom another digit. Who types it has seen that the
  clock is wrong, so it counts against a start that was missed by seconds, and the clock follows it at once and all the
  way, up to ``FAR_NS``: further off a second reading must agree, since a wrong digit is likelier. It is one witness:
  one bare tap that agrees confirms it, and none moves the clock away from it by more than its ±. A second reading by
  the same eyes is as late as the first; it tells which second was meant, and hardly more.
* With a ± above ``UNSURE_MS``, whatever the cause, the plan's leads no longer cover the clock's error. By the estimates
  a start is never so unsure; a measured one may be. Then the calls, not the digits, come earlier by the early side of
  the ±: the lower quantile, before which 25 origins in 1000 lie. The late side is not added: a call need not come
  before the earliest moment at which it can be needed.
* The clock steps to a median that is more than ``STEP_NS`` away, and slews to a nearer one, ``SLEW_NS`` at a time.

All numbers of people's errors are estimates from practice, no source.
"""

import math
from copy import copy
from functools import cache
from statistics import NormalDist
from typing import NamedTuple

from tocsin.model.clock.officials import NEAR_NS, NONE_NEAR, Notice, Official, behind_ns
from tocsin.model.clock.origins import Origin
from tocsin.model.clock.posterior import Posterior
from tocsin.model.rig import START_ERROR_MS, Start
from tocsin.translation import tr
from tocsin.units import NS_PER_MS, NS_PER_S

REPEAT_NS = NS_PER_S                   # a key that repeats while it is down makes one tap
STEP_NS = 300 * NS_PER_MS
SLEW_NS = 10 * NS_PER_MS               # at a time: nobody sees it in the digits
SLEW_EVERY_NS = 200 * NS_PER_MS        # so 50 ms a second
UNSURE_MS = 700
HOLDS = 0.95                           # of all truths lie within the ±
BARE_HOLDS = 0.98                      # where no tap agrees with another: one that is wrong may look right

# How late a tap is, mean and spread in milliseconds.
TAP_ERROR_MS: dict[Notice, tuple[int, int]] = {
    "counted": (0, 30),                # a beat that is seen coming: people tap on it
    "warned": (100, 100),              # read off the display by some, heard by others: between the two
    "sudden": START_ERROR_MS["horn"],
}
OUTLIER = 0.02                         # one tap in fifty tells nothing
EARLY_TAP_MS = 80                      # how early at most somebody taps on each beat that is seen coming (Repp 2005)
# A change of the display that was waited for, seen, then pressed: 0.1 to 0.4 s late. Evenly, that has the spread 87 and
# no tails; a normal curve whose middle 95 in 100 are as wide has 73. Between them both figures of a reading hold: its ±
# alone, and beside a tap.
READ_ERROR_MS = (250, 80)
READ_AGAIN_MS = 300                    # the spread of a second reading that agrees: the same eyes, as late as before
NEXT_SECOND = 0.03                     # three readings in a hundred are a second beside, either way
OTHER_DIGIT = 0.01                     # one in a hundred is any other time
MISSED = 0.9                           # of ten who type the display nine have seen that the clock is wrong,
MISSED_MS = 6000                       # with this spread, either way
FAR_NS = 10 * NS_PER_S                 # one reading alone moves the clock by no more
AGREE_SPREADS = 3                      # two taps agree that lie no further apart by the spread of their difference
LATE_TO_EARLY = 4                      # a start's spread to the late side is so many times that to the early one
_SPREAD_OF_HALVES = 2.577              # of joined halves with the spreads 1 and 4, by their pairs (by sums over a grid)
FUMBLED = 0.02                         # one start in fifty is off as no spread tells: on another beat, a key missed
FUMBLED_EARLY = 0.1                    # of these a tenth is early,
FUMBLED_MS = (1000, 1500)              # with these spreads to the early and to the late side
UNKNOWN_MS = 2000                      # the spread of a clock that no person started
HAND_MS = 100                          # what a nudge, or a hold and its end, may be off by


@cache
def start_posterior(spread_ms: float, *, counted_in: bool = False) -> Posterior:
    """Return the posterior of the true origin, in milliseconds after the clock's, with the start's median taken off.

    Half normal curves of ``LATE_TO_EARLY`` with the median 0 and the start's spread in milliseconds, as it is measured
    from presses: how far two of them usually lie apart (``Start``); and a share of fumbled starts. After a late start
    the true origin lies before the clock's. ``counted_in``: everybody starts on the last beat, and a person starts the
    official clock late, so that its origin lies behind this clock's.
    """
    near_ms = spread_ms / _SPREAD_OF_HALVES
    # Of joined halves with the spreads 1 and r a share of r / (1 + r) lies above the peak.
    peak_ms = near_ms * LATE_TO_EARLY * NormalDist().inv_cdf(0.75 - 0.25 / LATE_TO_EARLY)
    far_ms = LATE_TO_EARLY * near_ms
    fumbled_near_ms, fumbled_far_ms = FUMBLED_MS
    if counted_in:
        usual = Posterior.two_sided(-peak_ms, below_ms=near_ms, above_ms=far_ms)
        fumbled = Posterior.two_sided(-peak_ms, fumbled_near_ms, fumbled_far_ms, above=1 - FUMBLED_EARLY)
    else:
        usual = Posterior.two_sided(peak_ms, below_ms=far_ms, above_ms=near_ms)
        fumbled = Posterior.two_sided(peak_ms, fumbled_far_ms, fumbled_near_ms, above=FUMBLED_EARLY)
    return usual.mixed(fumbled, FUMBLED)


class Sync:
    """The posterior of the latest segment's origin, and the move that the clock still has to make.

    ``left_ns`` is that move: above 0 the origin becomes later. ``error_ms`` is the ± of the clock as it runs now, with
    the remaining move included, so that it holds the true time as often as ``HOLDS`` says at any time. ``early_ms`` is
    by how much calls come early since the clock is unsure.
    """

    def __init__(self, posterior: Posterior, *, left_ns: int = 0, told: bool = True) -> None:
        """``posterior`` is about the origin that lies ``left_ns`` behind the clock's own; ``told`` whether its ± is."""
        self._known_ms: int | None = None
        self._stepping = False
        self._by_hand = False
        self.was_read = False              # by the display, and told nothing else since
        self._corrected = False            # by a person, and neither tapped at nor held since
        self._moved_ns = 0
        self._pressed_ns = 0
        self._far_ms: float | None = None      # the reading that was too far away, from where the clock went to then
        self.left_ns = left_ns
        self.early_ms = 0
        self._witness_anew(posterior)
        if told:
            self._tell()

    def _witness_anew(self, posterior: Posterior) -> None:
        """Take a posterior that no tap has confirmed: taps are compared with it alone."""
        self._posterior = posterior
        self._most_ms = posterior.half_width_ms(0, HOLDS)
        self._gone_ms = 0.0                # where the clock goes to, from where it went before the first of these taps
        self._taps: list[_Witness] = []        # from the same place
        self._witnessed = self._on_beats = False

    @classmethod
    def started(cls, start: Start, error_ns: int = 0) -> "Sync":
        """Return the state of a clock whose start had its median error taken off; the press itself is known to ±
        ``error_ns``, as one that came over the air is."""
        _, spread_ms = start.error_ms
        return cls(start_posterior(_with_error(spread_ms, error_ns), counted_in=start.by == "count_in"))

    @classmethod
    def begun(cls, start: Start, error_ns: int = 0) -> "Sync":
        """Return the state for a period that was begun by a key, without a count-in. Its origin lies at the key press:
        at an earlier one its first cues would be too late. So the clock still has to move by the median error of such a
        press."""
        late_ms, spread_ms = START_ERROR_MS["countdown"] if start.by == "count_in" else start.error_ms
        return cls(start_posterior(_with_error(spread_ms, error_ns)), left_ns=-late_ms * NS_PER_MS)

    @classmethod
    def unknown(cls) -> "Sync":
        """Return the state of a clock that started by itself."""
        return cls(Posterior.normal(0, UNKNOWN_MS), told=False)

    @classmethod
    def carried_on(cls, error_ms: int | None) -> "Sync":
        """Return the state for a resumed run: only the ± is left."""
        return cls.unknown() if error_ms is None else cls(_around(max(error_ms, 1)))

    @property
    def error_ms(self) -> int | None:
        """The ± of the clock as it runs now, in milliseconds, or None if unknown."""
        return None if self._known_ms is None else self._known_ms + abs(self.left_ns) // NS_PER_MS

    def against(self, moment: Official | None, at_ns: int) -> str:
        """Return the objection to a tap at ``at_ns`` at an official moment, or an empty text."""
        since_ns, self._pressed_ns = at_ns - self._pressed_ns, at_ns
        if moment is None:
            return NONE_NEAR
        return tr("one tap a second, at the moment itself") if 0 <= since_ns < REPEAT_NS else ""

    def tap(self, moment: Official, origin: Origin, at_ns: int, error_ns: int = 0) -> int:
        """Take a tap, known to ± ``error_ns``; return how many nanoseconds later than by the clock the moment came, by
        this tap."""
        late_ms, own_ms = TAP_ERROR_MS[moment.notice]
        spread_ms = _with_error(own_ms, error_ns)
        off_ns = behind_ns(moment, origin, at_ns) - late_ms * NS_PER_MS
        reading_ms = (off_ns - self.left_ns) / NS_PER_MS
        self._by_hand = self._corrected = self.was_read = False
        self._on_beats = self._on_beats or moment.notice == "counted"
        self._take_witness(_Witness(self._gone_ms + reading_ms, spread_ms, is_tap=True))
        self._believe(self._posterior.update(reading_ms, spread_ms, outlier=OUTLIER, room_ms=2 * NEAR_NS / NS_PER_MS))
        return off_ns

    def read(self, moment: Official, origin: Origin, at_ns: int) -> int | None:
        """Take a reading of the display whose change is ``moment``; return how many nanoseconds later than by the clock
        that came. None if it is too far away, and no reading before it agrees: then nothing has changed."""
        late_ms, spread_ms = READ_ERROR_MS
        off_ns = behind_ns(moment, origin, at_ns) - late_ms * NS_PER_MS
        reading_ms = (off_ns - self.left_ns) / NS_PER_MS
        far_ms, self._far_ms = self._far_ms, None
        again = far_ms is not None and abs(reading_ms - far_ms) <= AGREE_SPREADS * math.hypot(spread_ms, spread_ms)
        if abs(off_ns) > FAR_NS and not again:
            self._far_ms = reading_ms
            return None
        witness = _Witness(self._gone_ms + reading_ms, spread_ms, is_tap=False)
        agrees = self._agreeing(witness)
        prior, sd_ms = self._posterior, float(spread_ms)
        if again:
            prior = Posterior.normal(reading_ms, MISSED_MS)
            self._taps.clear()
        elif not agrees:
            prior = prior.mixed(Posterior.normal(0, MISSED_MS), MISSED)
        elif not any(one.is_tap for one in agrees):
            sd_ms = READ_AGAIN_MS
        self._by_hand, self._corrected, self.was_read = False, False, True
        self._witnessed = any(one.is_tap for one in agrees)
        readings = [(1 - NEXT_SECOND - OTHER_DIGIT, reading_ms)]
        readings += [(NEXT_SECOND / 2, reading_ms + by_ms) for by_ms in (-1000, 1000)]
        self._follow(prior.update_by_any(readings, sd_ms, outlier=OTHER_DIGIT, room_ms=2 * FAR_NS / NS_PER_MS), witness)
        return off_ns

    def _follow(self, posterior: Posterior, witness: "_Witness") -> None:
        """Let the clock go at once, and all the way, to the median of a posterior about where it went to until now."""
        by_ms = posterior.quantile_ms(0.5)
        place_ms = self._gone_ms + by_ms
        self._taps = [one._replace(ms=one.ms - place_ms) for one in (*self._taps, witness)]
        self._gone_ms = 0.0
        self._posterior = posterior.moved(-by_ms)
        self._most_ms = self._posterior.half_width_ms(0, HOLDS)
        self.left_ns += round(by_ms * NS_PER_MS)
        self._stepping = self.left_ns != 0
        self._tell()

    def as_it_is(self) -> "Sync":
        """Return a copy, to go back to."""
        same = copy(self)
        same._taps = list(self._taps)
        return same

    def gone_back_to(self, moved_ns: int) -> None:
        """Take this state up again after the clock was moved by ``moved_ns`` since it was copied."""
        self.left_ns -= moved_ns
        self._stepping = self.left_ns != 0

    @property
    def by_hand_ns(self) -> int:
        """The rest of a person's correction in nanoseconds, which waits for a cue; 0 if none does."""
        return self.left_ns if self._by_hand else 0

    def overrule(self, left_ns: int = 0) -> None:
        """Take a person's correction: the clock is right to within a hand's error, once it has made the remaining move.
        Several in a row are one correction, with one such error."""
        self.left_ns = 0
        if not self._corrected:
            self.doubt()
        self._corrected, self.was_read = True, False
        self.left_ns = left_ns
        self._stepping = self._by_hand = left_ns != 0

    def doubt(self) -> None:
        """Widen the posterior by a hand's error: the clock was held and released by a key."""
        self._corrected = self.was_read = False
        self._witness_anew(_around(self._known_ms or self._posterior.half_width_ms(0, HOLDS), HAND_MS))
        if self._known_ms is not None:
            self._tell()

    def due_ns(self, now_ns: int) -> int:
        """Return the nanoseconds by which the clock's origin must move now: the whole rest, one slew step of it, or
        0."""
        if self._stepping:
            return self.left_ns
        if now_ns - self._moved_ns < SLEW_EVERY_NS:
            return 0
        return max(-SLEW_NS, min(SLEW_NS, self.left_ns))

    @property
    def slewing(self) -> bool:
        """Whether the next move is small enough to go unnoticed."""
        return not self._stepping

    def moved(self, by_ns: int, now_ns: int) -> None:
        """Note that the clock's origin was moved."""
        self.left_ns -= by_ns
        self._moved_ns = now_ns
        self._stepping = self._stepping and self.left_ns != 0
        self._by_hand = self._by_hand and self._stepping

    def _take_witness(self, witness: "_Witness") -> None:
        """Note a tap by where it says that the clock belongs: two that agree confirm each other."""
        self._witnessed = self._witnessed or bool(self._agreeing(witness))
        self._taps.append(witness)

    def _agreeing(self, witness: "_Witness") -> list["_Witness"]:
        return [one for one in self._taps if one.agrees(witness)]

    def _believe(self, posterior: Posterior) -> None:
        """Take a posterior about the origin that the clock goes to, and let it go to the median; without witnesses no
        further than it may have been wrong before."""
        by_ms = posterior.quantile_ms(0.5)
        if not self._witnessed:
            by_ms = max(-self._most_ms, min(self._most_ms, self._gone_ms + by_ms)) - self._gone_ms
        self._gone_ms += by_ms
        self._posterior = posterior.moved(-by_ms)
        self.left_ns += round(by_ms * NS_PER_MS)
        self._stepping = abs(self.left_ns) > STEP_NS
        self._tell()

    def _tell(self) -> None:
        """Say how sure the clock is where it goes to."""
        bare = not self._witnessed and any(one.is_tap for one in self._taps)
        holds = BARE_HOLDS if bare else HOLDS
        known_ms = self._posterior.half_width_ms(0, holds)
        if self._on_beats:
            known_ms = max(known_ms, self._posterior.half_width_ms(-EARLY_TAP_MS, holds))
        self._known_ms = math.ceil(round(known_ms, 3))         # finer it is not worked out
        unsure = self._known_ms > UNSURE_MS
        self.early_ms = math.ceil(-self._posterior.quantile_ms((1 - HOLDS) / 2)) if unsure else 0


class _Witness(NamedTuple):
    """Where a tap or a reading says that the clock belongs, in milliseconds, and its spread."""

    ms: float
    spread_ms: float
    is_tap: bool

    def agrees(self, other: "_Witness") -> bool:
        """Return whether both lie no further apart than people's errors."""
        return abs(self.ms - other.ms) <= AGREE_SPREADS * math.hypot(self.spread_ms, other.spread_ms)


def _with_error(spread_ms: float, error_ns: int) -> float:
    """Return a spread with the error of the time itself, in milliseconds: as if its ± were a spread, which is too much
    rather than too little, and without steps finer than a millisecond."""
    return math.hypot(spread_ms, round(error_ns / NS_PER_MS)) if error_ns else spread_ms


def _around(error_ms: float, more_ms: float = 0.0) -> Posterior:
    """Return a normal curve around the clock's own origin, and the fumbles beside it, of which a ± holds ``HOLDS``;
    then an independent error with the spread ``more_ms`` is added to the curve."""
    fumbled = Posterior.normal(0, FUMBLED_MS[1])
    within = 1 - 2 * NormalDist(0, FUMBLED_MS[1]).cdf(-error_ms)
    held = (HOLDS - FUMBLED * within) / (1 - FUMBLED)                      # of the curve alone
    spread_ms = error_ms / NormalDist().inv_cdf((1 + held) / 2)
    return Posterior.normal(0, math.hypot(spread_ms, more_ms)).mixed(fumbled, FUMBLED)
