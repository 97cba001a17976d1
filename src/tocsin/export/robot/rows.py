"""Write the table's rows with words that C, Java and Python spell alike: numbers, and the names of constants."""

from collections.abc import Iterable, Iterator

import msgspec

from tocsin.export.robot.light import SWELL, Look
from tocsin.export.robot.pattern import Shaking
from tocsin.export.robot.table import (
    ANY,
    CLOCK_LOST,
    FOREVER_MS,
    LATE_PRESS_MS,
    MOST_MS,
    STRIP,
    FiringRow,
    RobotTable,
)
from tocsin.export.robot.text import constants
from tocsin.export.robot.tone import Tune
from tocsin.export.source import Source


class Names(msgspec.Struct, frozen=True, kw_only=True):
    """Names of a table's lists, in their order. The clock-lost cue has none."""

    periods: tuple[str, ...]
    roles: tuple[str, ...]
    cues: tuple[str, ...]
    variants: tuple[str, ...]
    patterns: tuple[str, ...]
    looks: tuple[str, ...]
    tunes: tuple[str, ...]


def names_of(table: RobotTable) -> Names:
    """Return the names of all that a table lists."""
    return Names(
        periods=constants("PERIOD", (period.id for period in table.periods)),
        roles=constants("ROLE", table.roles),
        cues=constants("CUE", (cue.id for cue in table.cues if cue.id != CLOCK_LOST)),
        variants=constants("VARIANT", table.variants),
        patterns=constants("PATTERN", (pattern.name for pattern in table.patterns)),
        looks=constants("LOOK", (look.name for look in table.looks)),
        tunes=constants("TUNE", (tune.name for tune in table.tunes)),
    )


Cells = tuple[str, ...]


def numbers(source: Source, table: RobotTable) -> dict[str, str]:
    """Return the values of a template's placeholders that are single numbers."""
    return {
        "PERIODS": str(len(table.periods)),
        "ROLES": str(len(table.roles)),
        "CUES": str(len(table.cues)),
        "CLOCK_LOST": str(len(table.cues) - 1),
        "VARIANTS": str(len(table.variants)),
        "DEFAULT_VARIANT": str(table.default_variant),
        "FIRINGS": str(table.rumble),
        "LOST": str(table.lost),
        "FIRST_TONE": str(table.first_tone),
        "ROWS": str(len(table.firings)),
        "MAIN_PERIOD": str(table.main_period),
        "SEGMENTS": str(len(table.segments)),
        "PATTERNS": str(len(table.patterns)),
        "MOST_MS": str(MOST_MS),
        "FOREVER": str(FOREVER_MS),
        "FLOOR_S": "1" if source.timeline.digits == "floor" else "0",
        "LATE_PRESS_MS": str(LATE_PRESS_MS),
    }


class Rows:
    """Rows of cells; ``prefix`` begins the names of constants, ``own`` lists those that the caller's program never
    uses."""

    def __init__(self, table: RobotTable, names: Names, prefix: str, own: str) -> None:
        self._table = table
        self._names = names
        self._prefix = prefix
        self._own = own

    def constants(self, names: Iterable[str]) -> list[tuple[str, str]]:
        """Return names with their numbers, from 0."""
        return [(f"{self._prefix}{name}", str(number)) for number, name in enumerate(names)]

    def periods(self) -> Iterator[Cells]:
        """Yield begin, zero, low, high, end; segment, and the first row of each channel."""
        for row in self._table.periods:
            zero_ms, end_ms = (-1 if ms is None else ms for ms in (row.zero_ms, row.end_ms))
            yield tuple(map(str, (row.begin_ms, zero_ms, row.low_ms, row.high_ms, end_ms, row.segment, *row.first)))

    def segments(self) -> Iterator[Cells]:
        """Yield where the rows of each segment begin and end, of each channel."""
        for edges in self._table.segments:
            yield tuple(map(str, edges))

    def firings(self) -> Iterator[Cells]:
        """Yield due, last, until; cue, n, role, priority, variant, pattern."""
        for number, row in enumerate(self._table.firings):
            yield (
                *(str(row.due_ms), str(row.last_ms), self._until(row)),
                *(self._cue(row.cue), str(row.n), self._role(row)),
                *(str(row.priority), self._variant(row.when), f"{self._own}{self._pattern(number, row)}"),
            )

    def cues(self) -> Iterator[Cells]:
        """Yield the variant, the first firing by hand, how many there are, the row of light and of tones by hand."""
        for row in self._table.cues:
            numbers = (row.first_call, row.calls, row.light_call, row.tone_call)
            yield self._variant(row.when), *map(str, numbers)

    def steps(self) -> Iterator[tuple[Shaking, list[Cells]]]:
        """Yield each pattern and its steps: strong, weak, end."""
        for pattern in self._table.patterns:
            yield pattern, [tuple(map(str, step)) for step in pattern.steps]

    def pulses(self) -> Iterator[Cells]:
        """Yield the milliseconds of each pattern's pulses."""
        for pattern in self._table.patterns:
            yield tuple(map(str, pattern.pulses))

    def looks(self) -> Iterator[tuple[Look, tuple[int, int, int, int]]]:
        """Yield each look, and its cycle, how long it lasts, its width and its form."""
        for look in self._table.looks:
            yield look, (look.cycle_ms, look.lasts_ms, look.width, look.form)

    def tunes(self) -> Iterator[tuple[Tune, list[Cells]]]:
        """Yield each tune and its steps: pitch at begin and end, loudness, end."""
        for tune in self._table.tunes:
            yield tune, [tuple(map(str, step)) for step in tune.steps]

    def _role(self, row: FiringRow) -> str:
        roles = self._names.roles
        if row.role == STRIP:
            return f"{self._own}STRIP"
        return f"{self._prefix}{roles[row.role]}" if row.role < len(roles) else f"{self._own}SPEAKER"

    def _pattern(self, number: int, row: FiringRow) -> str:
        if number < self._table.rumble:
            return self._names.patterns[row.pattern]
        return (self._names.looks if number < self._table.first_tone else self._names.tunes)[row.pattern]

    def _until(self, row: FiringRow) -> str:
        return f"{self._own}FOREVER" if row.until_ms == FOREVER_MS else str(row.until_ms)

    def _cue(self, cue: int) -> str:
        known = self._names.cues
        return f"{self._prefix}{known[cue]}" if cue < len(known) else f"{self._prefix}CLOCK_LOST_CUE"

    def _variant(self, variant: int) -> str:
        return f"{self._own}ANY" if variant == ANY else f"{self._prefix}{self._names.variants[variant]}"


def swell() -> list[str]:
    """Return the table of a swell, for the templates."""
    return [", ".join(map(str, SWELL[at : at + 12])) for at in range(0, len(SWELL), 12)]


def starts(lengths: Iterable[int]) -> list[str]:
    """Return where parts of these lengths begin in one joined row, and where the last ends."""
    at, found = 0, ["0"]
    for length in lengths:
        at += length
        found.append(str(at))
    return found
