"""A plan's most important cues as timers, for programs that are made of blocks and can take no file."""

from collections.abc import Callable, Iterator

from tocsin.export.robot.pattern import LONG_PULSE_MS, PULSES_APART_MS, SHORT_PULSE_MS
from tocsin.export.robot.table import Table, exported
from tocsin.export.robot.text import columns, wrapped
from tocsin.export.source import Source
from tocsin.export.table import seconds
from tocsin.model.timeline.point import PeriodSlot
from tocsin.model.timeline.timeline import Firing, Timeline

MOST_TIMERS = 3


def main_period(timeline: Timeline) -> PeriodSlot:
    """Return the last driver period; without one the last that is no settle."""
    drivers = [slot for slot in timeline.periods if slot.kind == "driver"]
    return drivers[-1] if drivers else [slot for slot in timeline.periods if slot.kind != "settle"][-1]


def timers(source: Source, table: Table, comment: Callable[[str], str]) -> Iterator[str]:
    """Yield the lines that say which timers to set, or none if nothing shakes from that period's begin on. ``comment``
    makes texts fit for a language's comments."""
    slot = main_period(source.timeline)
    found = _most_important(source.timeline, slot)
    if not found:
        return
    yield from wrapped(
        comment(
            f"Where this file cannot be used, timers do for the most important cues. Start them all as the period "
            f'"{slot.title}" begins. When a timer has run for its seconds, give its pulses on the pads of its roles: '
            f"short is {SHORT_PULSE_MS} ms, long {LONG_PULSE_MS} ms, with {PULSES_APART_MS} ms between them."
        )
    )
    rows = [_row(source, table, slot, firings) for firings in found]
    yield from columns(tuple(comment(cell) for cell in row) for row in rows)


def _most_important(timeline: Timeline, slot: PeriodSlot) -> list[list[Firing]]:
    """Return the firings of the occurrences with the highest priority from the period's begin on, in order."""
    together: dict[tuple[str, int], list[Firing]] = {}
    for firing in exported(timeline):
        if firing.begin.anchor == slot.anchor and firing.begin.offset_ns >= slot.begin_ns:
            together.setdefault((firing.cue, firing.n), []).append(firing)
    ranked = sorted(together.values(), key=lambda firings: (-firings[0].priority, firings[0].no))
    return sorted(ranked[:MOST_TIMERS], key=lambda firings: firings[0].no)


def _row(source: Source, table: Table, slot: PeriodSlot, firings: list[Firing]) -> tuple[str, ...]:
    first = firings[0]
    pattern = table.patterns[table.firings[exported(source.timeline).index(first)].pattern]
    return (
        f"{seconds(first.begin.offset_ns - slot.begin_ns)} s",
        first.cue,
        f'"{first.word}"',
        ", ".join(str(firing.role) for firing in firings),
        " ".join("short" if ms == SHORT_PULSE_MS else "long" for ms in pattern.pulses),
        f"only in variant {first.when}" if first.when else "",
    )
