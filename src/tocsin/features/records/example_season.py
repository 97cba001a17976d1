"""Give the season of an invented team that comes with Tocsin: it shows what reviews and advice say of many evenings.

Its file, `configs/example/season.json`, says of itself that it is invented. Nobody drove these rounds: a simulator made
them from a known truth, and dealt, judged and noted them as the program does.
"""

from functools import cache
from typing import Any

import msgspec

from tocsin.analysis.seasons.row import Row
from tocsin.config import bundle
from tocsin.model.project import Project

FORMAT = "tocsin-season/1"


class ExampleSeason(msgspec.Struct, frozen=True, kw_only=True):
    """The rows of a season, the oldest first, and what its team would have in its project file; ``today`` is the day
    after its last evening, as ISO 8601 writes it. ``invented`` says that it is."""

    invented: str
    today: str
    project: Project
    rows: tuple[Row, ...]


class Column(msgspec.Struct, frozen=True, array_like=True):
    """A field of all rows: its different ``values``, and the place of each row's among them."""

    values: tuple[Any, ...]
    places: tuple[int, ...]


class SeasonFile(msgspec.Struct, frozen=True, kw_only=True):
    """What the file holds: the fields of rows as columns, without those that have their default in every row."""

    format: str
    invented: str
    today: str
    project: Project
    rows: int
    columns: dict[str, Column]


@cache
def example_season() -> ExampleSeason:
    """Return the season that comes with Tocsin."""
    found = msgspec.json.decode((bundle.root() / "example" / "season.json").read_bytes(), type=SeasonFile)
    rows = [
        {name: column.values[column.places[row]] for name, column in found.columns.items()} for row in range(found.rows)
    ]
    return ExampleSeason(
        invented=found.invented, today=found.today, project=found.project, rows=msgspec.convert(rows, tuple[Row, ...])
    )


def example_rows() -> tuple[Row, ...]:
    """Return the rows of the season that comes with Tocsin, the oldest first."""
    return example_season().rows
