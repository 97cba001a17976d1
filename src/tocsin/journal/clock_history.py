"""Compute the history of a run's match clock: each origin of an anchor, and when its firings landed.

Only the records are used. An origin that was set after a firing does not change when that firing landed: a later tap or
nudge moves the clock, not what people noticed before. The newest origins include the time held: for moments before a
hold, that time must be subtracted.
"""

from collections.abc import Iterable, Iterator

from tocsin.journal import records
from tocsin.model.clock.origins import Origin
from tocsin.model.timeline.timeline import Timeline
from tocsin.translation import tr
from tocsin.units import NS_PER_MS, NS_PER_S


class ClockHistory:
    """The origins of a run in the order in which they were set, without withdrawn ones, and its holds."""

    def __init__(self, run: Iterable[records.Record]) -> None:
        self._set: dict[tuple[str, int], list[records.OriginRecord]] = {}
        self._holds: list[tuple[int, int]] = []
        held_ns: int | None = None
        for record in run:
            if isinstance(record, records.OriginRecord):
                self._set.setdefault((record.anchor, record.instance), []).append(record)
            elif isinstance(record, records.State):
                if held_ns is not None and record.event == "resume" and not record.refused:
                    self._holds.append((held_ns, record.at_ns))
                held_ns = held_ns if record.refused else record.held_ns

    def newest(self) -> tuple[Origin, ...]:
        """Return the newest origin of each anchor and instance, without those withdrawn in the end."""
        found = (_origin(known[-1]) for known in self._set.values())
        return tuple(origin for origin in found if origin is not None)

    def early_ms(self) -> int:
        """Return by how many milliseconds calls came before the final clock of the latest segment."""
        return max((known[-1].early_ms for known in self._set.values()), default=0)

    def without_holds(self, at_ns: int) -> int:
        """Return a shared time converted to the newest origins: later holds are added, and a time inside a hold becomes
        its end."""
        for begin_ns, end_ns in self._holds:
            at_ns += max(0, end_ns - max(begin_ns, at_ns)) if at_ns < end_ns else 0
        return at_ns

    def with_holds(self, at_ns: int) -> int:
        """Return the shared time at which the match was where the newest origins have it at ``at_ns``."""
        for begin_ns, end_ns in reversed(self._holds):
            at_ns -= end_ns - begin_ns if at_ns < end_ns else 0
        return at_ns

    def landed_ns(self, firing: records.FiringRecord) -> int | None:
        """Return when a firing reached people, in nanoseconds on the shared clock, its device's delay included.

        None for a firing that was never shown, and without a known origin. A resumed firing landed when it was
        reported, since its own moment lay behind: some milliseconds late, and without the device's delay.
        """
        known = list(self._before(firing))
        if not known or firing.outcome not in ("played", "resumed"):
            return None
        if firing.outcome == "resumed":
            return firing.at_ns
        for sent_ns, origin in known:
            landed_ns = origin.real_ns(firing.due_ns) + (firing.late_ns or 0)
            if landed_ns >= sent_ns:
                break
        # An origin by which it would have landed before that origin was sent is not the one that it was fired by.
        return landed_ns

    def _before(self, firing: records.FiringRecord) -> Iterator[tuple[int, Origin]]:
        """Yield what the worker was told before the firing was reported, the newest first: when, and which origin."""
        for record in reversed(self._set.get((firing.anchor, firing.instance), [])):
            origin = _origin(record, record.early_ms * NS_PER_MS)
            if origin is not None and record.at_ns <= firing.at_ns:
                yield record.at_ns, origin


_WIDTHS = 1.96                         # a normal curve's standard deviations that hold 95 of 100
_BOUND = 2.0                           # of them in an estimated bound, as that of a video's frame or a robot's timer


def clock_spread_ms(origins: Iterable[records.OriginRecord], *, observed: bool) -> float | None:
    """Return the spread of a run's clock against the official one as a standard deviation in milliseconds, None where
    nobody started it: the one place where the ± of origins becomes a spread.

    The newest ± counts. Of a clock that Tocsin ran it holds the truth 95 times in 100, from the start on; of an
    ``observed`` match it is a bound.
    """
    errors_ms = [origin.error_ms for origin in origins if origin.error_ms is not None]
    return errors_ms[-1] / (_BOUND if observed else _WIDTHS) if errors_ms else None


def noted_text(mark: records.MarkRecord, timeline: Timeline, clock: ClockHistory) -> str:
    """Return what a mark says and when, as people find it again: ``contact by partner 12.0 s before the end``."""
    whose = "" if mark.by in ("", "us") else tr(" by {by}", by=mark.by)
    return f"{mark.label.replace('_', ' ')}{whose} {when_text(mark.begin_ns, timeline, clock)}"


def when_text(at_ns: int, timeline: Timeline, clock: ClockHistory) -> str:
    """Return a time of the shared clock as people find it in the match: in seconds of the match before its end, or
    after."""
    end = timeline.match_end()
    origin = next((one for one in clock.newest() if one.anchor == end.anchor), None)
    if origin is None:
        return tr("at an unknown time")
    left_s = (origin.real_ns(end.offset_ns) - clock.without_holds(at_ns)) * origin.rate / NS_PER_S
    return (
        tr("{left:.1f} s before the end", left=left_s) if left_s >= 0
        else tr("{left:.1f} s after the end", left=-left_s)
    )


def _origin(record: records.OriginRecord, early_ns: int = 0) -> Origin | None:
    if record.origin_ns is None:
        return None
    return Origin(
        anchor=record.anchor, origin_ns=record.origin_ns - early_ns, rate=record.rate, instance=record.instance,
        sent_ns=record.at_ns, starts_ns=record.starts_ns,
    )  # fmt: skip
