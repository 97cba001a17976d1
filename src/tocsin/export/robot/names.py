"""The constants by which robot code calls what the plan names, without a language's prefix."""

import msgspec

from tocsin.export.robot.table import CLOCK_LOST, Table
from tocsin.export.robot.text import constants


class Names(msgspec.Struct, frozen=True, kw_only=True):
    """Names of a table's lists, in their order. The clock-lost cue has none of these."""

    periods: tuple[str, ...]
    roles: tuple[str, ...]
    cues: tuple[str, ...]
    variants: tuple[str, ...]
    patterns: tuple[str, ...]


def names_of(table: Table) -> Names:
    """Return the names of all that a table lists."""
    return Names(
        periods=constants("PERIOD", (period.id for period in table.periods)),
        roles=constants("ROLE", table.roles),
        cues=constants("CUE", (cue.id for cue in table.cues if cue.id != CLOCK_LOST)),
        variants=constants("VARIANT", table.variants),
        patterns=constants("PATTERN", (pattern.name for pattern in table.patterns)),
    )
