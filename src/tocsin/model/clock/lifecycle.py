"""Run the life of one match: events by people on its clock, and the states that follow. Time is an argument.

The rules it keeps:

* The state is ``timeline.at`` of the match time of each known origin. The chart follows it: after every event its
  active states equal ``places(timeline, reading)``.
* An event that does not apply is refused with a sentence and changes nothing. It never raises. Boundaries in the past
  are settled first, so a hold pressed after the end finds a match that is over.
* The match is over once everything has ended, settle included (``Reading.ended``). The last second of the last driver
  period is a cue, not a state. Nothing leads back into a match that is over; a new one begins with ``again``.
* While held, match time stands still and marks fall on the moment of the hold. Resuming moves every origin by the time
  held; calls given before the hold stay where they were.
* A nudge or a tap at an official moment moves the latest segment that has an origin, and no other.
* Starting in mid-match gives the segments before that moment their nominal origins: open periods took no time.
"""

from collections.abc import Iterable

import msgspec

from tocsin.model.clock.chart import Chart, RefusedError, places
from tocsin.model.clock.origins import CALL, MARK, Origin, Origins, Phase, next_occurrence
from tocsin.model.timeline.timeline import MATCH, Point, Reading, Timeline
from tocsin.translation import tr
from tocsin.units import NS_PER_S, format_clock

MAX_NUDGE_NS = 10 * NS_PER_S        # more is no correction of a late press but another start
MIN_RATE, MAX_RATE = 0.1, 100.0     # design, "Command line": --rate

_CANNOT = {
    "start": "start",
    "boundary": "settle",
    "hold": tr("hold the clock"),
    "resume": "resume",
    "nudge": tr("correct the clock"),
    "sync": tr("use the tap"),
    "shift": tr("correct the clock"),
    "begin": tr("begin a period"),
    "choose": tr("choose a variant"),
    "mark": "mark",
    "call": tr("give a call"),
    "scrap": "cancel",
    "again": tr("restart"),
}
_WHERE: dict[Phase, str] = {
    "standby": tr("no match is on"),
    "waiting": tr("the match has not begun"),
    "running": tr("the match is running"),
    "held": tr("the clock is held"),
    "over": tr("the match is over"),
    "scrapped": tr("the match was cancelled"),
}


class Transition(msgspec.Struct, frozen=True, kw_only=True):
    """The result of an event: the settled leaf states, sorted, and why it was refused, or an empty text."""

    event: str
    states: tuple[str, ...]
    refused: str = ""


class Lifecycle:
    """The clock of one match and its chart."""

    def __init__(self, timeline: Timeline) -> None:
        self._timeline = timeline
        self._chart = Chart(timeline)
        self._points = frozenset(_anchors(timeline))
        self._begin_anew()

    def _begin_anew(self) -> None:
        self._origins = Origins(self._timeline)
        self._variant = self._timeline.default_variant
        self._starts_ns: int | None = None
        self._held_ns: int | None = None
        self._settled_ns = 0

    @classmethod
    def restore(
        cls,
        timeline: Timeline,
        origins: Iterable[Origin],
        variant: str,
        held_ns: int | None,
        now_ns: int,
        *,
        starts_ns: int | None = None,
    ) -> "Lifecycle":
        """Return the life of a match with recorded origins, settled at ``now_ns``; held if ``held_ns`` is given.

        ``starts_ns`` is when the count-in ends, by default at the first segment's origin. Without the origin of any
        segment the match is in standby.
        """
        life = cls(timeline)
        life._variant = variant
        life._origins = Origins(timeline, origins)
        first = life._origins.first
        if first is None:
            return life
        life._starts_ns = first.origin_ns if starts_ns is None else starts_ns
        life._chart.send("start")
        life._settle(now_ns if held_ns is None else held_ns)
        if held_ns is not None and life._chart.send("hold"):
            life._held_ns = held_ns
        return life

    @property
    def phase(self) -> Phase:
        """Where the match stands."""
        return self._chart.phase

    @property
    def states(self) -> tuple[str, ...]:
        """The settled leaf states, sorted."""
        return self._chart.leaves

    @property
    def origins(self) -> tuple[Origin, ...]:
        """The newest known origin of each anchor, in the order in which the anchors became known."""
        return self._origins.known

    @property
    def latest(self) -> Origin | None:
        """The origin of the last segment that has one, even if it lies ahead."""
        return self._origins.latest

    @property
    def corrected(self) -> tuple[Origin, ...]:
        """The origins that a correction of the clock moves: the latest segment's, and those of segments that its start
        skipped."""
        return self._origins.corrected

    @property
    def variant(self) -> str:
        """The chosen variant."""
        return self._variant

    @property
    def rate(self) -> float:
        """Match seconds per real second."""
        return self._origins.rate

    @property
    def held_ns(self) -> int | None:
        """The shared time at which the clock was held, or None."""
        return self._held_ns

    @property
    def starts_ns(self) -> int | None:
        """The shared time at which the count-in ends or ended, or None without a start."""
        return self._starts_ns

    def elapsed_ns(self, now_ns: int) -> dict[str, int]:
        """Return the match time since each known origin, in nanoseconds; it stands still while held."""
        return self._origins.elapsed_ns(now_ns if self._held_ns is None else self._held_ns)

    def reading(self, now_ns: int) -> Reading:
        """Return the reading at ``now_ns``."""
        return self._timeline.at(self.elapsed_ns(now_ns))

    def next_occurrence(self, now_ns: int, cue: str) -> list[int]:
        """Return the numbers of the firings of a cue's next scheduled occurrence at ``now_ns``, empty if there is
        none."""
        return next_occurrence(self._timeline, self._origins, self.elapsed_ns(now_ns), self._variant, cue)

    def next_boundary_ns(self) -> int | None:
        """Return the shared time from which a ``boundary`` is due, or None; it lies in the past if one was missed."""
        if self.phase == "waiting":
            return self._starts_ns
        return self._origins.next_edge_ns(self._settled_ns) if self.phase == "running" else None

    def start(self, now_ns: int, origin_ns: int, *, at: Point | None = None, rate: float = 1.0) -> Transition:
        """Start the clock: the moment ``at``, by default the match's begin, falls on ``origin_ns``."""
        at = at or Point(MATCH, 0)
        if why := self._why_not("start", now_ns, self._against_start(at, max(now_ns - origin_ns, 0), rate, now_ns)):
            return self._refused("start", why)
        self._origins.set_start(at, origin_ns, rate, now_ns)
        self._starts_ns = origin_ns
        return self._settled("start", now_ns)

    def boundary(self, now_ns: int) -> Transition:
        """Settle at ``now_ns``, since match time may have crossed an edge. If it has not, nothing changes."""
        if not self._chart.send("boundary", holds=self._holds(now_ns)):
            return self._refused("boundary", self._not_here("boundary"))
        return self._settled("boundary", now_ns)

    def hold(self, now_ns: int) -> Transition:
        """Stop the clock."""
        if why := self._why_not("hold", now_ns):
            return self._refused("hold", why)
        self._held_ns = now_ns
        return self._settled("hold", now_ns)

    def resume(self, now_ns: int) -> Transition:
        """Let the clock go on from the match time at which it was held."""
        held_ns = now_ns if self._held_ns is None else self._held_ns
        if why := self._why_not("resume", now_ns):
            return self._refused("resume", why)
        stays = [o.anchor for o in self.origins if o.anchor.startswith(CALL) and o.origin_ns <= held_ns]
        self._origins.move(now_ns - held_ns, now_ns, [o.anchor for o in self.origins if o.anchor not in stays])
        self._held_ns = None
        return self._settled("resume", now_ns)

    def nudge(self, now_ns: int, by_ns: int) -> Transition:
        """Correct the clock by real time: positive means that the segment began earlier, so the clock moves forward."""
        against = (
            "" if abs(by_ns) <= MAX_NUDGE_NS
            else tr("at most {max_nudge} at a time", max_nudge=format_clock(MAX_NUDGE_NS))
        )
        if why := self._why_not("nudge", now_ns, against):
            return self._refused("nudge", why)
        self._move_latest(-by_ns, now_ns)
        return self._settled("nudge", now_ns)

    def sync(self, now_ns: int, by_ns: int, against: str = "") -> Transition:
        """Move the latest segment's origin later by ``by_ns`` of real time, after a tap at an official moment.
        ``against`` is the objection to the tap, or empty."""
        if why := self._why_not("sync", now_ns, against):
            return self._refused("sync", why)
        self._move_latest(by_ns, now_ns)
        return self._settled("sync", now_ns)

    def shift(self, now_ns: int, by_ns: int) -> Transition:
        """Move all origins later by ``by_ns``; below 0 after sleep in which the shared clock stood still."""
        if why := self._why_not("shift", now_ns):
            return self._refused("shift", why)
        self._origins.move(by_ns, now_ns)
        self._move_start(by_ns)
        self._held_ns = None if self._held_ns is None else self._held_ns + by_ns
        return self._settled("shift", now_ns)

    def begin(self, now_ns: int, period_id: str = "", origin_ns: int | None = None) -> Transition:
        """Begin, at ``origin_ns`` or now, the next period that a person begins: at the earliest when the period before
        it is on."""
        at_ns = now_ns if origin_ns is None else origin_ns
        awaited = self._origins.awaited
        if why := self._why_not("begin", now_ns, self._against_begin(now_ns, period_id, at_ns)):
            return self._refused("begin", why)
        if awaited is not None:
            self._origins.set(awaited.anchor, at_ns, now_ns)
        return self._settled("begin", now_ns)

    def choose(self, now_ns: int, variant: str) -> Transition:
        """Set the variant."""
        against = "" if variant in self._timeline.variants else tr("there is no variant '{variant}'", variant=variant)
        if why := self._why_not("choose", now_ns, against):
            return self._refused("choose", why)
        self._variant = variant
        return self._settled("choose", now_ns)

    def mark(self, now_ns: int, label: str, at_ns: int, *, again: bool = False) -> Transition:
        """Note a mark made at ``at_ns``. It sets an origin only if a window or a firing hangs on it, and not ``again``
        for what another scribe has noted."""
        if why := self._why_not("mark", now_ns):
            return self._refused("mark", why)
        if f"{MARK}{label}" in self._points and not again:
            self._origins.set(f"{MARK}{label}", min(at_ns, self._held_ns or at_ns), now_ns)
        return self._settled("mark", now_ns)

    def call(self, now_ns: int, cue: str, at_ns: int) -> Transition:
        """Give a cue by hand at ``at_ns``."""
        if why := self._why_not("call", now_ns, self._against_call(cue)):
            return self._refused("call", why)
        self._origins.set(f"{CALL}{cue}", at_ns, now_ns)
        return self._settled("call", now_ns)

    def scrap(self, now_ns: int) -> Transition:
        """Give this match up; its origins become unknown."""
        if why := self._why_not("scrap", now_ns):
            return self._refused("scrap", why)
        self._origins = Origins(self._timeline)
        self._starts_ns = self._held_ns = None
        return self._settled("scrap", now_ns)

    def again(self, now_ns: int) -> Transition:
        """Return to standby for a new match; nothing of this one is kept, not even the variant."""
        if why := self._why_not("again", now_ns):
            return self._refused("again", why)
        self._begin_anew()
        return self._settled("again", now_ns)

    def _against_start(self, at: Point, ago_ns: int, rate: float, now_ns: int) -> str:
        if not MIN_RATE <= rate <= MAX_RATE:
            return tr("the rate must be {min_rate:g} to {max_rate:g}", min_rate=MIN_RATE, max_rate=MAX_RATE)
        if at.anchor not in {segment.anchor for segment in self._timeline.segments}:
            return tr("a match starts at a moment of its own, not at '{anchor}'", anchor=at.anchor)
        trial = Origins(self._timeline)
        trial.set_start(at, now_ns - ago_ns, rate, now_ns)
        return tr("that moment is after the end") if self._timeline.at(trial.elapsed_ns(now_ns)).ended else ""

    def _against_begin(self, now_ns: int, period_id: str, at_ns: int) -> str:
        latest, awaited = self._origins.latest, self._origins.awaited
        if latest is None or awaited is None:
            return tr("no more periods begin by hand")
        if period_id not in ("", awaited.anchor):
            return tr("the next one is '{anchor}', not '{period_id}'", anchor=awaited.anchor, period_id=period_id)
        ids = [slot.id for slot in self._timeline.periods]
        before = ids[ids.index(awaited.anchor) - 1]
        reading = self.reading(now_ns)
        if reading.awaits != awaited.anchor and reading.period != before:
            return tr("'{anchor}' comes after '{before}', which is not on", anchor=awaited.anchor, before=before)
        return (
            "" if at_ns >= latest.origin_ns
            else tr("'{anchor}' comes after '{anchor_2}'", anchor=awaited.anchor, anchor_2=latest.anchor)
        )

    def _against_call(self, cue: str) -> str:
        whens = {firing.when for firing in self._timeline.firings if firing.begin.anchor == f"{CALL}{cue}"}
        if not whens:
            return tr("the cue '{cue}' cannot be called by hand", cue=cue)
        return "" if whens & {"", self._variant} else tr("the cue '{cue}' belongs to another variant", cue=cue)

    def _why_not(self, event: str, now_ns: int, against: str = "") -> str:
        """Settle what lies behind and send the event; return why it is refused, or nothing."""
        self._settle(now_ns)
        try:
            taken = self._chart.send(event, refusal=against)
        except RefusedError as refusal:
            return tr("cannot {cannot}: {refusal}", cannot=_CANNOT[event], refusal=refusal)
        return "" if taken else self._not_here(event)

    def _not_here(self, event: str) -> str:
        return tr("cannot {cannot}: {where}", cannot=_CANNOT[event], where=_WHERE[self.phase])

    def _refused(self, event: str, why: str) -> Transition:
        return Transition(event=event, states=self.states, refused=why)

    def _settled(self, event: str, now_ns: int) -> Transition:
        self._settle(now_ns)
        return Transition(event=event, states=self.states)

    def _settle(self, now_ns: int) -> None:
        """Send boundaries until the chart is where match time is: one leads into running, one on to its leaves."""
        self._settled_ns = now_ns
        for _ in range(2):
            holds = self._holds(now_ns)
            if self.phase not in ("waiting", "running") or holds <= self._chart.values:
                return
            self._chart.send("boundary", holds=holds)

    def _holds(self, now_ns: int) -> frozenset[str]:
        if self.phase == "waiting" and self._starts_ns is not None and now_ns < self._starts_ns:
            return frozenset(["waiting"])
        return places(self._timeline, self.reading(now_ns))

    def _move_latest(self, by_ns: int, now_ns: int) -> None:
        self._origins.move(by_ns, now_ns, [origin.anchor for origin in self._origins.corrected])
        if self.phase == "waiting":
            self._move_start(by_ns)

    def _move_start(self, by_ns: int) -> None:
        self._starts_ns = None if self._starts_ns is None else self._starts_ns + by_ns


def _anchors(timeline: Timeline) -> Iterable[str]:
    """Yield the anchor of every point of the timeline."""
    for window in timeline.windows:
        yield from (window.begin.anchor, window.end.anchor)
    for firing in timeline.firings:
        yield firing.begin.anchor
        if firing.until is not None:
            yield firing.until.anchor
