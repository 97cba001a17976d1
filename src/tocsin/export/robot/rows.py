"""Write the table's rows with words that C, Java and Python spell alike: numbers, and the names of constants."""

from collections.abc import Iterable, Iterator

import msgspec

from tocsin.export.robot.pattern import Shaking
from tocsin.export.robot.table import ANY, CLOCK_LOST, FOREVER_MS, LATE_PRESS_MS, MOST_MS, FiringRow, RobotTable
from tocsin.export.robot.text import constants
from tocsin.export.source import Source


class Names(msgspec.Struct, frozen=True, kw_only=True):
    """Names of a table's lists, in their order. The clock-lost cue has none."""

    periods: tuple[str, ...]
    roles: tuple[str, ...]
    cues: tuple[str, ...]
    variants: tuple[str, ...]
    patterns: tuple[str, ...]


def names_of(table: RobotTable) -> Names:
    """Return the names of all that a table lists."""
    return Names(
        periods=constants("PERIOD", (period.id for period in table.periods)),
        roles=constants("ROLE", table.roles),
        cues=constants("CUE", (cue.id for cue in table.cues if cue.id != CLOCK_LOST)),
        variants=constants("VARIANT", table.variants),
        patterns=constants("PATTERN", (pattern.name for pattern in table.patterns)),
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
        "FIRINGS": str(len(table.firings)),
        "LOST": str(table.lost),
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
        """Yield begin, zero, low, high; segment, first."""
        for row in self._table.periods:
            zero_ms = -1 if row.zero_ms is None else row.zero_ms
            yield tuple(map(str, (row.begin_ms, zero_ms, row.low_ms, row.high_ms, row.segment, row.first)))

    def segments(self) -> Iterator[Cells]:
        """Yield where the firings of each segment begin and end."""
        for begin, end in self._table.segments:
            yield str(begin), str(end)

    def firings(self) -> Iterator[Cells]:
        """Yield due, last, until; cue, n, role, priority, variant, pattern."""
        for row in self._table.firings:
            yield (
                *(str(row.due_ms), str(row.last_ms), self._until(row)),
                *(self._cue(row.cue), str(row.n), f"{self._prefix}{self._names.roles[row.role]}"),
                *(str(row.priority), self._variant(row.when), f"{self._own}{self._names.patterns[row.pattern]}"),
            )

    def cues(self) -> Iterator[Cells]:
        """Yield the variant, the first firing by hand, how many there are."""
        for row in self._table.cues:
            yield self._variant(row.when), str(row.first_call), str(row.calls)

    def steps(self) -> Iterator[tuple[Shaking, list[Cells]]]:
        """Yield each pattern and its steps: strong, weak, end."""
        for pattern in self._table.patterns:
            yield pattern, [tuple(map(str, step)) for step in pattern.steps]

    def pulses(self) -> Iterator[Cells]:
        """Yield the milliseconds of each pattern's pulses."""
        for pattern in self._table.patterns:
            yield tuple(map(str, pattern.pulses))

    def _until(self, row: FiringRow) -> str:
        return f"{self._own}FOREVER" if row.until_ms == FOREVER_MS else str(row.until_ms)

    def _cue(self, cue: int) -> str:
        known = self._names.cues
        return f"{self._prefix}{known[cue]}" if cue < len(known) else f"{self._prefix}CLOCK_LOST_CUE"

    def _variant(self, variant: int) -> str:
        return f"{self._own}ANY" if variant == ANY else f"{self._prefix}{self._names.variants[variant]}"


def starts(lengths: Iterable[int]) -> list[str]:
    """Return where parts of these lengths begin in one joined row, and where the last ends."""
    at, found = 0, ["0"]
    for length in lengths:
        at += length
        found.append(str(at))
    return found
