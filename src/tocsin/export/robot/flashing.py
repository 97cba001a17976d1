"""Refuse an export whose light would flash: a small chip has no flash guard of its own, so the plan's whole timeline is
held against it here, as what shows there changes.

The limits are those of ``model.safety``: two flashes in any second, of any LED and of all together; saturated red never
flashes.
"""

from collections.abc import Iterable, Iterator, Sequence

from tocsin.errors import MistakeError
from tocsin.export.robot.light import FORMS, Look, colours
from tocsin.export.robot.table import ANY, FOREVER_MS, FiringRow, RobotTable
from tocsin.export.source import Source
from tocsin.model.pattern import STANDING, Rgb
from tocsin.model.safety import BLACK, MAX_FLASHES, RED_REST_NS, FlashGuard, flicker
from tocsin.translation import tr
from tocsin.units import NS_PER_MS, NS_PER_S

LEDS = (30, 1)                          # strips that are tried: the usual one of a rig, and a single lamp
_LOOKED_AT_MS = 2 * RED_REST_NS // NS_PER_MS + 2000        # of what repeats itself: all that the guard remembers
_PARTS = 120                            # of a cycle
_HELD_MS = 60_000                       # how long a light is tried whose end nobody knows

Frames = list[tuple[int, list[Rgb]]]    # milliseconds, and the colour of each LED


def refuse_flashing(source: Source, table: RobotTable, leds: Iterable[int] = LEDS) -> None:
    """Raise MistakeError if the light of a plan, as robot code shows it, would flash more than the guard allows: in any
    segment of the match in any variant, or after any call; on strips of any of these numbers of ``leds``."""
    for where, rows in _tracks(source, table):
        for count in leds:
            _refuse(list(_frames(table, rows, count)), count, where)


def _refuse(frames: Frames, leds: int, where: str) -> None:
    guard = FlashGuard(leds)
    for at_ms, shown in frames:
        if guard.admit(at_ms * NS_PER_MS, shown) != shown:
            around = [(ms * NS_PER_MS, lit) for ms, lit in frames if abs(ms - at_ms) <= NS_PER_S // NS_PER_MS]
            changes, at_s = flicker(around), f"{at_ms / 1000:g}"
            raise MistakeError(
                tr(
                    "the strip would flash: {changes} changes between bright and dark, and {red} of red, in one second "
                    "near {at_s} s of {where}; at most {most} are allowed, and none of red that comes again",
                    changes=changes.general, red=changes.red, at_s=at_s, where=where, most=2 * MAX_FLASHES,
                ),
                hint=tr("take a longer cycle, another colour than red, or more time between the cues (`tocsin check`)"),
            )


def _tracks(source: Source, table: RobotTable) -> Iterator[tuple[str, list[FiringRow]]]:
    """Yield what shows on one clock, each with its name: a segment in a variant, or a call by itself."""
    for place, segment in enumerate(source.timeline.segments):
        begin, end = table.segments[place][2:4]
        own = table.firings[begin:end]
        for variant in range(len(table.variants)) if any(row.when != ANY for row in own) else (ANY,):
            title = next(period.title for period in table.periods if period.segment == place)
            rows = [row for row in own if row.when in (ANY, variant)]
            last_ms = None if segment.lasts_ns is None else segment.lasts_ns // NS_PER_MS
            yield title, [_ended(table, row, last_ms) for row in rows]
    for cue in table.cues:
        if cue.light_call >= 0:
            row = table.firings[cue.light_call]
            lasts_ms = table.looks[row.pattern].lasts_ms
            yield tr("the call of {cue}", cue=cue.id), [_until(row, 0, max(lasts_ms, _HELD_MS if row.until_ms else 0))]


def _ended(table: RobotTable, row: FiringRow, last_ms: int | None) -> FiringRow:
    """Return a row with the end that it has on its track, which ends at ``last_ms`` if that is known."""
    if row.until_ms == FOREVER_MS:
        lasts_ms = _HELD_MS if last_ms is None else last_ms - row.due_ms
        return _until(row, row.due_ms, max(lasts_ms, 1))
    return row if row.until_ms else _until(row, row.due_ms, table.looks[row.pattern].lasts_ms)


def _until(row: FiringRow, due_ms: int, lasts_ms: int) -> FiringRow:
    return FiringRow(
        due_ms=due_ms, last_ms=due_ms, until_ms=due_ms + lasts_ms, cue=row.cue, n=row.n, role=row.role,
        priority=row.priority, when=row.when, pattern=row.pattern,
    )  # fmt: skip


def _frames(table: RobotTable, rows: Sequence[FiringRow], leds: int) -> Iterator[tuple[int, list[Rgb]]]:
    """Yield what a strip shows whenever that changes: the highest priority, the newest among equals."""
    edges = sorted({ms for row in rows for ms in (row.due_ms, row.until_ms)})
    last = [BLACK] * leds
    for place, at_ms in enumerate(edges):
        on = [row for row in rows if row.due_ms <= at_ms < row.until_ms]
        row = max(reversed(on), key=lambda one: one.priority, default=None)
        until_ms = edges[place + 1] if place + 1 < len(edges) else at_ms
        for ms in [at_ms] if row is None else _moments(table.looks[row.pattern], row, at_ms, until_ms, leds):
            shown = [BLACK] * leds if row is None else _shown(table.looks[row.pattern], row, ms, leds)
            if shown != last:
                yield ms, shown
                last = shown


def _shown(look: Look, row: FiringRow, ms: int, leds: int) -> list[Rgb]:
    return colours(look, leds, ms - row.due_ms, row.until_ms - ms, row.until_ms - row.due_ms)


def _moments(look: Look, row: FiringRow, begin_ms: int, end_ms: int, leds: int) -> Iterable[int]:
    """Return when a look may change within a span: of what repeats itself its first seconds and its last ones."""
    form = FORMS[look.form]
    if form in STANDING:
        return [begin_ms]
    whole_ms = row.until_ms - row.due_ms
    step_ms = max(1, whole_ms // (2 * leds)) if form == "ebb" else max(1, look.cycle_ms // _PARTS)
    halves = (row.due_ms + -(-half * look.cycle_ms // 2) for half in range(2 * whole_ms // look.cycle_ms + 2))
    every = halves if form == "on_off" else range(row.due_ms, row.until_ms, step_ms)
    looked_at = (ms for ms in every if begin_ms < ms < end_ms)
    if form != "ebb":
        looked_at = (ms for ms in looked_at if ms < begin_ms + _LOOKED_AT_MS or ms > end_ms - _LOOKED_AT_MS)
    return [begin_ms, *looked_at]
