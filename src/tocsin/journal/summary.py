"""Sum up a run: counts, lateness and exit code from its records. Pure.

A percentile is the smallest value that at least that share of all values does not exceed (nearest rank), so it is one
of the measured values. The 99th needs at least 100 of them and is left out below.

A firing is lost, and counts as failed, if it was skipped because its device had gone or its worker had died; if this
run never had such a device, it is skipped and no failure.
"""

import math
import textwrap
from collections import Counter
from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence

import msgspec

from tocsin.errors import FIRING_FAILED
from tocsin.journal.records import (
    ABSENT,
    CROSSED,
    GIVEN,
    LATE,
    OUTRANKED,
    PRIORITY,
    RESTARTED,
    RESUMED,
    STDERR,
    WORKER,
    ChannelSummary,
    Device,
    DeviceState,
    Fault,
    FiringRecord,
    Lateness,
    Record,
    RunOutcome,
    Summary,
)
from tocsin.model.clock.origins import CALL
from tocsin.model.plan import ChannelName, Role
from tocsin.model.rig import Priority
from tocsin.translation import tr, trn
from tocsin.units import NS_PER_MS

P99_FROM = 100
WIDEST = 76                            # a terminal of 80 less the frame that its picture has
_NOBODY = tr("No device was there for a call.")
MOST_TROUBLES = 3                      # for people; the journal has them all
_SKIPPED = {
    CROSSED: tr("before the begin, or jumped over"),
    GIVEN: tr("given by hand before"),
    LATE: tr("too late"),
    OUTRANKED: tr("lower priority"),
    ABSENT: tr("without a device"),
}


def percentile(ordered: Sequence[float], share: float) -> float:
    """Return the nearest-rank percentile of ``ordered`` values; ``share`` is above 0 and at most 1."""
    return ordered[max(1, math.ceil(share * len(ordered))) - 1]


def lateness_of(late_ns: Iterable[int]) -> Lateness:
    """Return how late firings were, in milliseconds with three decimals."""
    values = sorted(round(ns / NS_PER_MS, 3) for ns in late_ns)
    if not values:
        return Lateness()
    p99 = percentile(values, 0.99) if len(values) >= P99_FROM else None
    return Lateness(
        n=len(values), p50=percentile(values, 0.5), p90=percentile(values, 0.9), p99=p99, max=values[-1]
    )


def summarise(
    run: Sequence[Record],
    *,
    outcome: RunOutcome,
    exit_base: int,
    journal: str,
    disturbed: bool,
    devices: Mapping[ChannelName, DeviceState],
    priorities: Mapping[ChannelName, Priority],
) -> Summary:
    """Return a run's summary; ``devices`` names its channels.

    The exit code is ``exit_base`` where that is not 0, else 1 if the run is over and a firing failed, else 0.
    """
    channels = {
        channel: _channel(run, channel, state, priorities.get(channel, "ordinary"))
        for channel, state in devices.items()
    }
    failed = outcome == "over" and any(channel.failed for channel in channels.values())
    return Summary(
        outcome=outcome,
        exit=exit_base or (FIRING_FAILED if failed else 0),
        journal=journal,
        disturbed=disturbed,
        channels=channels,
    )


def without(summary: Summary, run: Sequence[Record], cue: str) -> Summary:
    """Return the summary without the firings of a cue that people do not count, such as the beats of the count-in.

    Its failed firings stay counted, since the exit code depends on them.
    """
    kept = [record for record in run if not (isinstance(record, FiringRecord) and record.cue == cue)]
    channels = {}
    for name, whole in summary.channels.items():
        rest = _channel(kept, name, whole.device, whole.priority)
        channels[name] = msgspec.structs.replace(rest, failed=whole.failed)
    return msgspec.structs.replace(summary, channels=channels)


def text_lines(
    summary: Summary, whys: Mapping[ChannelName, str] | None = None, off: Collection[ChannelName] = ()
) -> tuple[str, ...]:
    """Return the summary for people, one line each; plain characters only.

    ``whys`` says what is wrong with a channel's device, ``off`` names channels whose device is not wanted.
    """
    lines = [_headline(summary)]
    for name, channel in summary.channels.items():
        lines += _channel_lines(name, channel, (whys or {}).get(name, ""), off=name in off)
    if summary.disturbed:
        lines.append(tr("This run was disturbed (the laptop slept, or it was cut short): its times may be wrong."))
    if summary.journal:
        lines.append(tr("Journal: {journal}", journal=summary.journal))
    return tuple(lines)


def trouble_lines(summary: Summary) -> tuple[str, ...]:
    """Return what people must know of a run's devices where nothing else is told of them: a line or none."""
    failed = [f"{name} {channel.failed}" for name, channel in summary.channels.items() if channel.failed]
    if failed:
        return (tr("Calls failed: {failed}.", failed=", ".join(failed)),)
    return (_NOBODY,) if summary.outcome == "over" and not _present(summary) else ()


def _present(summary: Summary) -> list[ChannelSummary]:
    return [channel for channel in summary.channels.values() if channel.played or channel.resumed or channel.failed]


def _channel(run: Iterable[Record], channel: ChannelName, state: DeviceState, priority: Priority) -> ChannelSummary:
    records = list(run)
    firings = [record for record in records if isinstance(record, FiringRecord) and record.channel == channel]
    faults = [record for record in records if isinstance(record, Fault) and record.channel == channel]
    restarts = sum(fault.what == RESTARTED for fault in faults)
    kinds = (Device, Fault, FiringRecord)
    lost = _lost(record for record in records if isinstance(record, kinds) and record.channel in (channel, ""))
    skipped = Counter(firing.why for firing in firings if firing.outcome == "skipped") - Counter(f.why for f in lost)
    timed = [firing for firing in firings if firing.outcome == "played" and firing.late_ns is not None]
    by_itself = [firing for firing in timed if not firing.anchor.startswith(CALL)]
    troubles = [fault for fault in faults if fault.what not in (RESTARTED, STDERR)]
    counts = {name: sum(f.outcome == name for f in firings) for name in ("played", "resumed", "skipped", "failed")}
    counts["skipped"] -= len(lost)
    counts["failed"] += len(lost)
    return ChannelSummary(
        device=state,
        firings=len({firing.key() for firing in firings}),
        **counts,
        restarts=restarts,
        faults=len(troubles),
        priority=priority,
        lateness_ms=lateness_of(f.late_ns for f in by_itself if f.late_ns is not None),
        by_hand=len(timed) - len(by_itself),
        skipped_why=dict(skipped),
        troubles=tuple(dict.fromkeys(map(_trouble, troubles))),
    )


def _trouble(fault: Fault) -> str:
    if fault.what == WORKER:
        return fault.why
    return f"{PRIORITY}: {fault.why}" if fault.what == PRIORITY else fault.what


def _lost(records: Iterable[Device | Fault | FiringRecord]) -> list[FiringRecord]:
    """Return those of one channel's firings that were skipped for want of a device or worker that had been there."""
    there: set[Role | None] = set()          # roles' pads, or None: the whole device
    never: set[Role | None] = set()          # those that are known not to be there
    fresh = False                            # a worker that was started again has not fired yet
    lost: list[FiringRecord] = []
    for record in records:
        match record:
            case Device(state="ready"):
                there.add(record.role)
            case Device(state="absent", worker=None):
                never.add(record.role)
            case Fault(what=what) if what in (RESTARTED, RESUMED):
                fresh = True
            case FiringRecord(outcome="skipped", why=why):
                missed = why == LATE and fresh and not (never - there) & {record.role, None}
                if missed or (why == ABSENT and record.role in there):
                    lost.append(record)
            case FiringRecord(outcome="played"):
                there.add(record.role)
                fresh = False
    return lost


def _headline(summary: Summary) -> str:
    match summary.outcome:
        case "standby":
            return tr("No match: you left in standby.")
        case "scrapped":
            return tr("Match cancelled.")
        case "crashed":
            return tr("The run was cut short.")
    present = _present(summary)
    failed = sum(channel.failed for channel in present)
    given = sum(channel.played for channel in present)
    if not present:
        return tr("Match over. {nobody}", nobody=_NOBODY)
    return tr("Match over. Signals: {given}, failed: {failed}.", given=given, failed=failed)


def _channel_lines(name: str, channel: ChannelSummary, why: str, *, off: bool) -> Iterator[str]:
    begin = f"  {name:<7} "
    if channel.device == "absent" and not (channel.played or channel.resumed or channel.failed):
        line = begin + (tr("off: nothing to do") if off else tr("absent: nothing to do"))
        if why and len(line) + len(why) + len(" ()") <= WIDEST:
            yield f"{line} ({why})"
            return
        yield line
        yield from _below(why, len(begin))
        return
    parts = [begin + tr("{state:<7} {played:>3} played", state=tr(channel.device), played=channel.played)]
    for text, count in (
        (tr("{count} resumed", count=channel.resumed), channel.resumed),
        (tr("{count} skipped", count=channel.skipped), channel.skipped),
        (tr("{count} failed", count=channel.failed), channel.failed),
        (trn("{count} restart", "{count} restarts", channel.restarts), channel.restarts),
        (trn("{count} fault", "{count} faults", channel.faults), channel.faults),
    ):
        if count:
            parts.append(text)
    late = channel.lateness_ms
    if late.n:
        parts.append(tr("late by {p50:.1f} ms, at most {max:.1f} ms", p50=late.p50, max=late.max))
    yield ", ".join(parts)
    room = WIDEST - len(begin)
    yield from (len(begin) * " " + line for reason in _reasons(channel) for line in textwrap.wrap(reason, room))
    yield from _below(why, len(begin))


def _reasons(channel: ChannelSummary) -> Iterator[str]:
    """Yield what the counts of a channel come from; all of it, as long as it may be."""
    if channel.by_hand:
        yield tr("{by_hand} by hand: not counted in how late", by_hand=channel.by_hand)
    if channel.skipped_why:
        told = ", ".join(f"{count} {_SKIPPED.get(why, why)}" for why, count in channel.skipped_why.items())
        yield tr("skipped: {told}", told=told)
    for trouble in channel.troubles[:MOST_TROUBLES]:
        yield tr("fault: {trouble}", trouble=trouble)


def _below(why: str, indent: int) -> Iterator[str]:
    if why:
        yield indent * " " + textwrap.shorten(why, WIDEST - indent, placeholder=" ...")

