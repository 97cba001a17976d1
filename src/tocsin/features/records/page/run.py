"""Turn a page's match into the records of a run, by the rules that hold for keys and the clock in a run."""

from collections.abc import Iterator
from typing import Literal

from tocsin.features.records.page.record import (
    FaultLine,
    FiringLine,
    MarkLine,
    MatchLine,
    OriginLine,
    PageMatch,
    StateLine,
)
from tocsin.journal import records
from tocsin.model.clock.sync import Sync
from tocsin.model.rig import Start
from tocsin.model.timeline.timeline import Firing, Timeline
from tocsin.readable import readable_line
from tocsin.runner.match.scribe import HomeTaps
from tocsin.translation import tr
from tocsin.units import NS_PER_MS

PAGE = "page"                          # the source of such a run, and of its marks
_SLEPT = tr("the wall clock moved")        # as pages of before began what they said of it


class PageRun:
    """A match's records as a journal keeps them: ``body`` and ``end``; ``left_out`` says what of it fits no plan."""

    def __init__(self, match: PageMatch, timeline: Timeline) -> None:
        self.left_out: list[str] = []
        self._header = match.header
        self._clock = _ClockError(match.header.by)
        self._taps = HomeTaps()
        self._marks: list[records.MarkRecord] = []
        self._held = False
        self._anchors = _anchors(timeline)
        self._variants = timeline.variants
        self._firings = {_firing_key(firing, firing.begin.offset_ns): firing for firing in timeline.firings}
        self.body: list[records.Record] = [self._chosen(match.header.at_ns, "start", match.header.variant)]
        for line in match.lines:
            self.body += self._records(line)
        self.end = _end_of(match)

    def _records(self, line: MatchLine) -> Iterator[records.Record]:
        match line:
            case OriginLine():
                yield from self._origin(line)
            case StateLine(event="choose"):
                yield self._chosen(line.at_ns, "choose", line.variant or "")
            case StateLine():
                self._held = True
                held_ns = line.at_ns if line.held_ns is None else line.held_ns
                yield records.State(at_ns=line.at_ns, states=("held",), event="hold", held_ns=held_ns)
            case MarkLine():
                yield from self._mark(line)
            case FiringLine():
                yield from self._firing(line)
            case FaultLine():
                what = "slept" if line.what.startswith(_SLEPT) else line.what
                yield records.Fault(at_ns=line.at_ns, channel="", what=what, why=line.why or line.what)

    def _chosen(self, at_ns: int, event: str, variant: str) -> records.State:
        known = variant if variant in self._variants else None
        return records.State(at_ns=at_ns, states=("running",), event=event, variant=known)

    def _origin(self, line: OriginLine) -> Iterator[records.Record]:
        if line.anchor not in self._anchors:
            self._leave_out(tr(
                "nothing in this plan begins at '{readable_line}'", readable_line=readable_line(line.anchor, 40),
            ))
            return
        if self._held and line.cause == "resume":
            self._held = False                         # which a page tells by its origins alone
            yield records.State(at_ns=line.at_ns, states=("running",), event="resume")
        yield records.OriginRecord(
            at_ns=line.at_ns, anchor=line.anchor, origin_ns=line.origin_ns, rate=line.rate, cause=line.cause,
            error_ms=self._clock.after(line.cause, line.at_ns), instance=line.instance, starts_ns=line.starts_ns,
        )  # fmt: skip

    def _mark(self, line: MarkLine) -> Iterator[records.Record]:
        label = line.label
        if label == "home" and not line.open:
            label, instead = self._taps.tapped(line.begin_ns)
            place = next((at for at in reversed(range(len(self._marks))) if self._marks[at].label == instead), None)
            if instead and place is not None:
                yield self._noted(line, instead, takes_back=place)
        yield self._noted(line, label)

    def _noted(self, line: MarkLine, label: str, takes_back: int | None = None) -> records.MarkRecord:
        mark = records.MarkRecord(
            at_ns=line.at_ns, label=label, source=f"{PAGE} {line.source}".rstrip(), takes_back=takes_back,
            begin_ns=line.begin_ns if takes_back is None else line.at_ns,
            end_ns=line.end_ns if takes_back is None and not line.open else None,
            open=line.open and takes_back is None,
        )  # fmt: skip
        self._marks.append(mark)
        return mark

    def _firing(self, line: FiringLine) -> Iterator[records.Record]:
        firing = self._firings.get(_firing_key(line, line.due_ns))
        if firing is None:
            self._leave_out(tr(
                "a signal '{readable_line}' is not of this plan", readable_line=readable_line(line.cue, 40),
            ))
            return
        yield records.FiringRecord(
            at_ns=line.at_ns, cue=firing.cue, n=firing.n, channel=firing.channel, role=line.role,
            anchor=firing.begin.anchor, due_ns=firing.begin.offset_ns, match_ns=firing.match_ns,
            late_ns=None if line.late_ms is None else round(line.late_ms * NS_PER_MS), outcome=line.outcome,
            why=line.why, no=firing.no, instance=line.instance, by=line.by,
        )  # fmt: skip

    def _leave_out(self, what: str) -> None:
        if what not in self.left_out:
            self.left_out.append(what)


def _firing_key(firing: Firing | FiringLine, due_ns: int) -> tuple[object, ...]:
    anchor = firing.anchor if isinstance(firing, FiringLine) else firing.begin.anchor
    return (firing.cue, firing.n, firing.channel, firing.role or "", anchor, due_ns)


def _anchors(timeline: Timeline) -> frozenset[str]:
    points = [point for firing in timeline.firings for point in (firing.begin, firing.until) if point]
    points += [point for span in timeline.windows for point in (span.begin, span.end)]
    return frozenset([*(segment.anchor for segment in timeline.segments), *(point.anchor for point in points)])


class _ClockError:
    """The ± of a page's clock after each thing that people did to it, by the rules of a run."""

    def __init__(self, by: Literal["count_in", "press", "itself"]) -> None:
        self._start = Start(by="press" if by == "itself" else by)
        self._sync = Sync.unknown() if by == "itself" else Sync.started(self._start)
        self._told_ns: int | None = None

    def after(self, cause: records.Cause, at_ns: int) -> int | None:
        """Return the ± in milliseconds; several origins at one time are one deed."""
        if at_ns != self._told_ns:
            self._told_ns = at_ns
            if cause == "nudge":
                self._sync.overrule()
            elif cause == "resume":
                self._sync.doubt()
            elif cause == "begin":
                self._sync = Sync.begun(self._start)
        return self._sync.error_ms


def _end_of(match: PageMatch) -> records.End:
    """Return the end of a match, behind all that was noted of it. One that the page did not end was cut short."""
    at_ns = max([match.header.at_ns, *(line.at_ns for line in match.lines)])
    if match.end is None:
        return records.End(at_ns=at_ns, outcome="crashed", exit=0, why=tr("the page kept no end of it"))
    return records.End(at_ns=at_ns, outcome=match.end.outcome, exit=0, why=PAGE)
