"""Say when a cue comes as a robot's program counts: the period that it is in, and the seconds since that began."""

from tocsin.export.occurrences import CueOccurrence
from tocsin.export.source import Source
from tocsin.export.table import seconds
from tocsin.model.plan import ChannelName
from tocsin.model.timeline.point import PeriodSlot, Point
from tocsin.model.timeline.timeline import Timeline
from tocsin.translation import tr


def row(source: Source, call: CueOccurrence, channel: ChannelName = "rumble") -> tuple[str, ...]:
    """Return the cells of an occurrence: period, seconds since it began, its end, what the display shows, cue, word,
    roles, the channel's pattern, the variant."""
    firings = source.timeline.firings
    firing = next(f for f in firings if (f.cue, f.n, f.channel) == (call.cue, call.n, channel))
    found = _where(source.timeline, firing.begin)
    period, since = (found[0].id, seconds(found[1])) if found else (tr("by hand"), "")
    to = _end(call, found[1]) if found and firing.until is not None else ""
    only = tr("only in variant {when}", when=call.when) if call.when else ""
    roles = ", ".join(call.roles)
    return (period, since, to, call.shown, call.cue, f'"{call.word}"', roles, call.patterns[channel], only)


def _end(call: CueOccurrence, since_ns: int) -> str:
    """Return where a cue that holds ends, in seconds since the begin of the period in which it begins."""
    if call.until_ns is None or call.match_ns is None:
        return "open"
    return seconds(since_ns + call.until_ns - call.match_ns)


def _where(timeline: Timeline, point: Point) -> tuple[PeriodSlot, int] | None:
    """Return the period in which a robot's program gives a point, and the nanoseconds since it began. The very begin of
    the settle is the end of the period before: no program runs in a settle of its own."""
    slots = [slot for slot in timeline.periods if slot.anchor == point.anchor and slot.begin_ns <= point.offset_ns]
    if len(slots) > 1 and slots[-1].kind == "settle" and slots[-1].begin_ns == point.offset_ns:
        slots.pop()
    return (slots[-1], point.offset_ns - slots[-1].begin_ns) if slots else None
