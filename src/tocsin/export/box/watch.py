"""Say at what a stop watch stands at the moments with which a box is tested: it counts up from the start, while the
official display counts down."""

from tocsin.export.box.block import call_home
from tocsin.export.occurrences import calls
from tocsin.export.robot.table import RobotTable, main_period
from tocsin.export.source import Source
from tocsin.model.timeline.timeline import Timeline
from tocsin.translation import tr
from tocsin.units import NS_PER_MS, NS_PER_S

RESYNC_S = 30                          # the reading at which resync is to be pressed (src/firmware/box.c)


def watch_lines(source: Source, table: RobotTable) -> tuple[str, ...]:
    """Return the lines of a short test list: when the call home comes, and when the display changes to 0:30; oldest
    first. A plan without either has no such line."""
    moments = [moment for moment in (_home(source, table), _resync(source, table)) if moment]
    if not moments:
        return ()
    head = tr("to test it, press start as you start a stop watch, which then shows:")
    return (head, *(f"  {line}" for _, line in sorted(moments)))


def _home(source: Source, table: RobotTable) -> tuple[int, str] | None:
    number = call_home(table)
    cue = table.cues[number].id if number >= 0 else ""
    found = [call for call in calls(source) if call.cue == cue and call.match_ns is not None]
    if not found:
        return None
    first = found[0]
    who = ", ".join(first.roles) if first.roles else tr("everybody")
    at_ns = first.match_ns or 0
    where = _where(source.timeline, first.anchor, at_ns)
    return at_ns, tr("{where}: {cue}, for {who}; the call button gives the same", where=where, cue=cue, who=who)


def _resync(source: Source, table: RobotTable) -> tuple[int, str] | None:
    slot, row = main_period(source.timeline), table.periods[table.main_period]
    if row.zero_ms is None:
        return None
    # A display that rounds down changes to 0:30 as 31 seconds are left.
    at_ms = row.zero_ms - (RESYNC_S + (source.timeline.digits == "floor")) * 1000
    if not row.low_ms <= at_ms <= row.high_ms:
        return None
    begins_ns = next(one.match_ns for one in source.timeline.segments if one.anchor == slot.anchor)
    at_ns = begins_ns + at_ms * NS_PER_MS
    where = _where(source.timeline, slot.anchor, at_ns)
    return at_ns, tr("{where}: the display changes to 0:{seconds}: press resync", where=where, seconds=RESYNC_S)


def _where(timeline: Timeline, anchor: str, match_ns: int) -> str:
    """Return what the watch shows; behind a period that a person begins, since when it counts."""
    segment = next(one for one in timeline.segments if one.anchor == anchor)
    if segment is timeline.segments[0]:
        return _minutes(match_ns)
    title = next(slot.title for slot in timeline.periods if slot.anchor == anchor)
    return tr("{minutes} after {title} is begun", minutes=_minutes(match_ns - segment.match_ns), title=title)


def _minutes(ns: int) -> str:
    """Return minutes, seconds and, if they are not whole, tenths.

    >>> _minutes(106 * NS_PER_S), _minutes(66_500_000_000)
    ('1:46', '1:06.5')
    """
    whole_s, tenth = divmod(ns // (NS_PER_S // 10), 10)
    minutes, seconds = divmod(whole_s, 60)
    return f"{minutes}:{seconds:02d}" + (f".{tenth}" if tenth else "")
