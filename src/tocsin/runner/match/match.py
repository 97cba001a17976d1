"""Run one match on the clock: people's events, the origins that follow, and their record."""

import functools
from collections.abc import Callable, Sequence
from typing import Concatenate, ParamSpec, TypeVar

from tocsin.journal import records
from tocsin.journal.past import Past
from tocsin.model.clock.lifecycle import Lifecycle, Transition
from tocsin.model.clock.officials import behind_ns, coming, nearest, officials_of
from tocsin.model.clock.origins import CALL, Origin
from tocsin.model.clock.sync import Sync
from tocsin.model.counted import is_again
from tocsin.model.mark import Mark, whose
from tocsin.model.rig import Start
from tocsin.model.timeline.shown import shown_text
from tocsin.model.timeline.timeline import MATCH, RING_OUT_NS, Point, Timeline
from tocsin.runner.match import count_in
from tocsin.runner.match.display_reading import DisplayReadings, read_text, tapped_text, too_far
from tocsin.runner.match.reach import Reach, earlier
from tocsin.runner.match.record import RunRecord
from tocsin.runner.match.resume import life_of
from tocsin.runner.options import LEAD_IN_NS
from tocsin.runner.outcome import Done, Outcome, Refused
from tocsin.translation import tr
from tocsin.units import NS_PER_MS, NS_PER_S

P = ParamSpec("P")
T = TypeVar("T")

NUDGE_NS = 200 * NS_PER_MS
# A call is set this far ahead, so that its origin is with every worker before it falls due.
CALL_AHEAD_NS = 30 * NS_PER_MS


def _as_one(deed: Callable[Concatenate["Match", P], T]) -> Callable[Concatenate["Match", P], T]:
    """Return a deed of a match that is recorded as one."""

    @functools.wraps(deed)
    def recorded(match: "Match", /, *args: P.args, **kwargs: P.kwargs) -> T:
        with match.record.together():
            return deed(match, *args, **kwargs)

    return recorded


class Match:
    """One pass of the clock over a timeline (with the count-in's firings).

    Methods for people's requests return their outcome. ``changed`` is true after anything that workers must be told;
    ``given`` are numbers of firings that a call has given by hand since the workers were last told, ``given_ever`` all
    of them; ``armed`` says that workers were told that the run has begun. ``broken_ns`` is when the match was broken
    off before its end. ``behind_ns`` is how long after the count-in the clock begins, ``latency_ns`` the longest delay
    of a device.
    """

    def __init__(
        self,
        timeline: Timeline,
        start: Start,
        at: Point,
        rate: float,
        record: RunRecord,
        behind_ns: int = 0,
        latency_ns: int = 0,
    ) -> None:
        self.timeline = timeline
        self.record = record
        self.lifecycle = Lifecycle(timeline)
        self.changed = True
        self.armed = False
        self.given: list[int] = []
        self.given_ever: set[int] = set()
        self.early_ms = 0                  # by how much calls come early since the clock is unsure
        self.disturbed = False
        self.broken_ns: int | None = None
        self._dark_ns = 0
        self._sync = Sync.unknown()
        self._officials = officials_of(timeline, start.by)
        self._reach = Reach(timeline, latency_ns)
        self._display = DisplayReadings(timeline)
        self._start = start
        self._at = at
        self._rate = rate
        self._behind_ns = behind_ns
        self._nudged_ns = 0
        self._count_in: Origin | None = None
        self.over_ns: int | None = None            # since when all is over but the last patterns
        self._rung_out = False

    @classmethod
    def restored(
        cls, timeline: Timeline, start: Start, rate: float, record: RunRecord, past: Past, now_ns: int, latency_ns: int
    ) -> "Match":
        """Return a match that continues where an earlier process's records end."""
        match = cls(timeline, start, Point(MATCH, 0), rate, record, latency_ns=latency_ns)
        match._count_in = next((origin for origin in past.origins if origin.anchor == count_in.ANCHOR), None)
        match.lifecycle = life_of(past, timeline, now_ns)
        match._sync = Sync.carried_on(past.error_ms)
        match.early_ms = past.early_ms
        match.disturbed = match.armed = True
        match.given, match.given_ever = sorted(past.given), set(past.given)
        return match

    def origins(self) -> tuple[Origin, ...]:
        """Return the origins that workers fire by: none while held, in standby and after the end.

        While the clock is unsure they lie earlier than the clock's own, so that calls come early.
        """
        if self.lifecycle.phase not in ("waiting", "running", "over") or self._rung_out or self.broken_ns is not None:
            return ()
        counting = () if self._count_in is None else (self._count_in,)
        early_ns = self.early_ms * NS_PER_MS
        return counting + tuple(
            earlier(origin, early_ns) if origin == self.lifecycle.latest else origin
            for origin in self.lifecycle.origins
        )

    @property
    def error_ms(self) -> int | None:
        """The ± of the clock (95 %) in milliseconds, None before a start and where no person started it."""
        return self._sync.error_ms

    @_as_one
    def press_start(self, now_ns: int, at_ns: int, error_ns: int = 0) -> Outcome:
        """Start by a press at ``at_ns``, ± ``error_ns``: count in, or take it as the official start, as the rig says.

        After a late press, the official start lies before the press. If a person starts the official clock late on the
        last beat of a count-in, the match begins after that beat.
        """
        late_ns = self._start.error_ms[0] * NS_PER_MS
        origin_ns = at_ns - late_ns
        if self._start.by == "count_in":
            origin_ns = at_ns + self._start.count_in_ns + self._behind_ns + late_ns
        outcome = self._begin_at(now_ns, origin_ns, Sync.started(self._start, error_ns))
        if isinstance(outcome, Done) and self._start.by == "count_in":
            self._count_in = Origin(anchor=count_in.ANCHOR, origin_ns=at_ns, sent_ns=now_ns)
            self.record.origin(now_ns, self._count_in, "start", None)
        return outcome

    @_as_one
    def start_now(self, now_ns: int, ahead_ns: int = LEAD_IN_NS) -> Outcome:
        """Start automatically, a short time ahead."""
        return self._begin_at(now_ns, now_ns + ahead_ns, Sync.unknown())

    @_as_one
    def follow(self, now_ns: int) -> None:
        """Bring the chart to the present match time, and the clock to the taps' posterior."""
        boundary_ns = self.lifecycle.next_boundary_ns()
        if boundary_ns is not None and boundary_ns <= now_ns:
            self._take(now_ns, self.lifecycle.boundary(now_ns))
        if self.lifecycle.phase in ("waiting", "running"):
            self._fix(now_ns)
        elif self.lifecycle.phase == "over":
            self._ring_out(now_ns)

    @_as_one
    def hold_or_resume(self, now_ns: int) -> Outcome:
        """Hold the clock, or resume it."""
        if self.lifecycle.phase != "held":
            return self._outcome(now_ns, self.lifecycle.hold(now_ns))
        if refused := self._take(now_ns, self.lifecycle.resume(now_ns)):
            return refused
        self._sync.doubt()
        self._note_origins(now_ns, "resume")
        return Done()

    @_as_one
    def nudge(self, now_ns: int, by_ns: int) -> Outcome:
        """Move the clock forward (positive: the match began earlier) or back; return how far in total.

        A move past a cue waits until that cue has been given.
        """
        whole_ns = self._sync.by_hand_ns - by_ns
        moved_ns = self._reach.within(whole_ns, now_ns, self.lifecycle, self.early_ms, slews=False)
        if refused := self._take(now_ns, self.lifecycle.nudge(now_ns, -moved_ns)):
            return refused
        self._sync.overrule(whole_ns - moved_ns)
        self._nudged_ns += by_ns
        self._note_origins(now_ns, "nudge")
        step, whole = abs(by_ns) / NS_PER_S, self._nudged_ns / NS_PER_S
        told = tr("clock {step:.1f} s forward", step=step) if by_ns > 0 else tr("clock {step:.1f} s back", step=step)
        return Done(tr("{told}, {whole:+.1f} s in all", told=told, whole=whole))

    @_as_one
    def sync(self, now_ns: int, at_ns: int, error_ns: int = 0, *, tells_ahead: bool = True) -> Outcome:
        """Take a tap at an official moment; return what it says about the clock. Where none is near, the next ones are
        named if people may know what comes."""
        origin = self.lifecycle.latest
        moment = None if origin is None else nearest(self._officials, origin, at_ns)
        against = self._sync.against(moment, at_ns)
        if moment is None and origin is not None and tells_ahead:
            against = f"{against}; {coming(self._officials, origin, at_ns)}"
        if refused := self._take(now_ns, self.lifecycle.sync(now_ns, 0, against)):
            return refused
        if moment is None or origin is None:
            return Done()
        off_ns = self._sync.tap(moment, origin, at_ns, error_ns)
        self._note_sync(now_ns)
        what = tapped_text(moment, off_ns)
        self.record.add(records.Note(at_ns=at_ns, what="tap", text=what))
        self.follow(now_ns)
        return Done(tr("{what}, which is now ± {error:.2f} s", what=what, error=(self.error_ms or 0) / 1000))

    @_as_one
    def read_display(self, now_ns: int, at_ns: int, seconds: int) -> Outcome:
        """Take what the official display changed to at ``at_ns``: the clock goes there at once."""
        origin, before = self.lifecycle.latest, self._sync.as_it_is()
        moment = None if origin is None else self._display.meant(seconds, origin, at_ns)
        if origin is None or moment is None:
            return Refused(tr("the display shows no {shown} in this part of the match", shown=shown_text(seconds)))
        off_ns = self._sync.read(moment, origin, at_ns)
        against = too_far(moment, behind_ns(moment, origin, at_ns)) if off_ns is None else ""
        if refused := self._take(now_ns, self.lifecycle.sync(now_ns, 0, against)):
            if against:
                return Refused(against)
            self._sync = before
            return refused
        self._display.taken(now_ns, before, origin)
        self._note_sync(now_ns)
        off_s = (off_ns or 0) / NS_PER_S
        what, values = read_text(moment, off_s), {"shown_s": float(seconds), "off_s": off_s}
        self.record.add(records.Note(at_ns=at_ns, what="display", text=what, values=values))
        self.follow(now_ns)
        return Done(tr("{what}, now ± {error:.2f} s", what=what, error=(self.error_ms or 0) / 1000))

    @_as_one
    def take_back_reading(self, now_ns: int) -> Outcome | None:
        """Set the clock back to where it was before the newest reading; None if a mark is what is to be taken back."""
        before = self._display.undone(now_ns, self.record.kept) if self._sync.was_read else None
        latest = self.lifecycle.latest
        if before is None or latest is None or self._take(now_ns, self.lifecycle.sync(now_ns, 0)):
            return None
        self._sync = before.sync
        self._sync.gone_back_to(latest.origin_ns - before.origin.origin_ns)
        self._note_sync(now_ns)
        self.record.add(records.Note(at_ns=now_ns, what="display", text=tr("undone")))
        self.follow(now_ns)
        return Done(tr("the display's time is undone, clock ± {error:.2f} s", error=(self.error_ms or 0) / 1000))

    @_as_one
    def begin_period(self, now_ns: int, at_ns: int, error_ns: int = 0) -> Outcome:
        """Begin the period that waits for a person."""
        if refused := self._take(now_ns, self.lifecycle.begin(now_ns, origin_ns=at_ns)):
            return refused
        self._sync, self.early_ms, self._nudged_ns = Sync.begun(self._start, error_ns), 0, 0
        self._note_origins(now_ns, "begin")
        return Done()

    def next_variant(self, now_ns: int) -> Outcome:
        """Choose the next variant."""
        variants, current = self.timeline.variants, self.lifecycle.variant
        if not variants:
            return Refused(tr("this game has no variants"))
        place = variants.index(current) + 1 if current in variants else 0
        return self._outcome(now_ns, self.lifecycle.choose(now_ns, variants[place % len(variants)]))

    @_as_one
    def call(self, now_ns: int, cue: str) -> Outcome:
        """Give a cue by hand; its next scheduled occurrence then counts as given."""
        gives = self.lifecycle.next_occurrence(now_ns, cue)
        if refused := self._take(now_ns, self.lifecycle.call(now_ns, cue, now_ns + CALL_AHEAD_NS)):
            return refused
        self._note_origins(now_ns, "call", f"{CALL}{cue}", gives)
        self.given += gives
        self.given_ever |= set(gives)
        return Done()

    @_as_one
    def mark(
        self, now_ns: int, name: str, begin_ns: int, end_ns: int | None, source: str, *, pointlike: bool = False,
        error_ns: int | None = None,
    ) -> Outcome:
        """Note what a person saw, from key down to key up; a window may begin with it, unless another scribe's did."""
        label, by = whose(name)
        noted = Mark(
            label=label, begin_ns=begin_ns, end_ns=end_ns, by=by, source=source, pointlike=pointlike, error_ns=error_ns
        )
        again = is_again([*records.marks_of(self.record.kept), noted])
        if refused := self._take(now_ns, self.lifecycle.mark(now_ns, label, begin_ns, again=again)):
            return refused
        if not again:
            self._note_origins(now_ns, "mark", f"mark.{label}")
        self.record.mark(now_ns, noted)
        return Done()

    def behind_end_ns(self, at_ns: int) -> int:
        """Return by how much a time lies behind the end of everything, in real nanoseconds; 0 unless it does."""
        end, latest = self.timeline.last_end(), self.lifecycle.latest
        if latest is None or latest.anchor != end.anchor:
            return 0
        return max(0, at_ns - latest.real_ns(end.offset_ns))

    def left_open(self, now_ns: int, name: str, begin_ns: int, source: str) -> None:
        """Note a span whose key was still down at the end of the run."""
        label, by = whose(name)
        self.record.mark(now_ns, Mark(label=label, begin_ns=begin_ns, by=by, source=source, open=True))

    def take_back(self, now_ns: int, place: int, source: str) -> records.MarkRecord:
        """Withdraw a mark, by its place among all of them; return it."""
        taken = records.marks_of(self.record.kept)[place]
        self.record.mark(now_ns, Mark(label=taken.label, begin_ns=now_ns, source=source, takes_back=place))
        return taken

    def scrap(self, now_ns: int) -> Outcome:
        """End the match by hand."""
        return self._outcome(now_ns, self.lifecycle.scrap(now_ns))

    @_as_one
    def slept(self, now_ns: int, slept_ns: int, *, shift: bool) -> None:
        """Correct the clock after this machine slept, since the match went on meanwhile."""
        if self.lifecycle.phase not in ("waiting", "running"):
            return
        self.disturbed = True
        self._display.forget()             # how far the clock was moved since is not known any more
        self.record.fault(now_ns, None, "slept", tr("the laptop was asleep for {slept:.1f} s", slept=slept_ns / 1e9))
        if shift:
            self._take(now_ns, self.lifecycle.shift(now_ns, -slept_ns))
            self._note_origins(now_ns, "sleep")

    def break_off(self, now_ns: int, dark_ns: int) -> None:
        """Stop all further cues and end the present ones; after ``dark_ns``, in which lights go out, the match is
        over."""
        self.broken_ns, self._dark_ns = now_ns, dark_ns
        self.changed = True

    def over(self, now_ns: int) -> bool:
        """Return whether the match has ended and the last patterns too: signals may last two seconds beyond the end."""
        if self.broken_ns is not None and self.lifecycle.phase != "scrapped":
            return now_ns >= self.broken_ns + self._dark_ns
        return self.lifecycle.phase == "scrapped" or self._rung_out

    def _ring_out(self, now_ns: int) -> None:
        if self.over_ns is None:
            self.over_ns = now_ns
        if now_ns >= self.over_ns + RING_OUT_NS and not self._rung_out:
            self._rung_out = self.changed = True

    def _fix(self, now_ns: int) -> None:
        """Move the clock, and then the calls, by as much as is due now of what taps have told."""
        by_ns = self._within_reach(self._sync.due_ns(now_ns), now_ns)
        if by_ns:
            before = self.lifecycle.states
            step = self.lifecycle.sync(now_ns, by_ns)
            self._sync.moved(by_ns, now_ns)
            if step.states != before:
                self._take(now_ns, step)
            self._note_sync(now_ns)
        elif self._sync.slewing and self.early_ms != self._sync.early_ms:
            by_ns = self._within_reach((self.early_ms - self._sync.early_ms) * NS_PER_MS, now_ns)
            by_ms = int(by_ns / NS_PER_MS)
            self.early_ms -= by_ms
            if by_ms:
                self._note_sync(now_ns)
            if self.early_ms == self._sync.early_ms:
                text = tr("calls come {early:.1f} s early: the clock is unsure", early=self.early_ms / 1000)
                self.record.add(records.Note(at_ns=now_ns, what="early", text=text))

    def _within_reach(self, by_ns: int, now_ns: int) -> int:
        return self._reach.within(by_ns, now_ns, self.lifecycle, self.early_ms, slews=self._sync.slewing)

    def _begin_at(self, now_ns: int, origin_ns: int, sync: Sync) -> Outcome:
        if refused := self._take(now_ns, self.lifecycle.start(now_ns, origin_ns, at=self._at, rate=self._rate)):
            return refused
        self._sync, self.early_ms = sync, 0
        self._note_origins(now_ns, "start")
        return Done()

    def _outcome(self, now_ns: int, step: Transition) -> Outcome:
        return self._take(now_ns, step) or Done()

    def _take(self, now_ns: int, step: Transition) -> Refused | None:
        """Record a step of the lifecycle; return its refusal, if it is one."""
        self.changed = True
        held_ns = self.lifecycle.held_ns
        self.record.add(
            records.State(
                at_ns=now_ns, states=step.states, event=step.event, refused=step.refused,
                variant=self.lifecycle.variant, held_ns=held_ns,
            )
        )  # fmt: skip
        return Refused(step.refused) if step.refused else None

    def _note_origins(
        self, now_ns: int, cause: records.Cause, only: str = "", gives: Sequence[int] = ()
    ) -> None:
        for origin in self.lifecycle.origins:
            if not only or origin.anchor == only:
                early_ms = self.early_ms if origin == self.lifecycle.latest else 0
                self.record.origin(now_ns, origin, cause, self.error_ms, early_ms, gives)

    def _note_sync(self, now_ns: int) -> None:
        self.changed = True
        for origin in self.lifecycle.corrected:
            early_ms = self.early_ms if origin == self.lifecycle.latest else 0
            self.record.origin(now_ns, origin, "sync", self.error_ms, early_ms)
