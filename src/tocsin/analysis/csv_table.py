"""Read a table that people saved as CSV: its rows by column, or all its mistakes in words.

Separators may be commas, semicolons or tabs: spreadsheets differ by country.
"""

import csv
import io
import re
from collections.abc import Iterator, Sequence

from tocsin.translation import tr

# Far more than anybody marks in a video; larger ones are no table of ours.
MOST_BYTES = 1_000_000
MOST_ROWS = 2_000
LONGEST_CELL = 200
MOST_PROBLEMS = 50
_SHOWN = 40                            # letters of a cell that a message repeats


class TableError(ValueError):
    """A table has mistakes: ``problems`` are sentences, each with its line; only the first ones of many."""

    def __init__(self, problems: Sequence[str]) -> None:
        more = len(problems) - MOST_PROBLEMS
        told = [*problems[:MOST_PROBLEMS], *([tr("and {more:,} more: fix these first", more=more)] if more > 0 else [])]
        super().__init__("\n".join(told))
        self.problems = tuple(told)


def rows_of(text: str, columns: Sequence[str], needed: Sequence[str]) -> Iterator[tuple[int, dict[str, str]]]:
    """Yield each non-empty row: its line number in the file, and its cells by column (a missing cell is empty). Raises
    TableError if a column of ``needed`` is missing, for too many rows, too long cells, or broken CSV."""
    text = re.sub(r"\r\n?", "\n", text.lstrip("\ufeff"))
    rows = csv.reader(io.StringIO(text), dialect=_dialect_of(text))
    try:
        heads = [head.strip().lower() for head in next(rows, [])]
        missing = [column for column in needed if column not in heads]
        if missing:
            wanted = ",".join(columns)
            raise TableError([tr(
                "line 1: no column {missing}; the first line must read: {wanted}", missing=" and ".join(missing),
                wanted=wanted,
            )])
        places = {column: heads.index(column) for column in columns if column in heads}
        for count, row in enumerate(rows, 1):
            if count > MOST_ROWS:
                raise TableError([tr(
                    "it has more than {most_rows:,} rows, the limit: split it",
                    most_rows=MOST_ROWS,
                )])
            if any(len(cell) > LONGEST_CELL for cell in row):
                length = max(map(len, row))
                why = tr(
                    "a cell has {length:,} letters, and at most {longest_cell} are read: is a quote not closed?",
                    length=length, longest_cell=LONGEST_CELL,
                )
                raise TableError([tr("line {line_num}: {why}", line_num=rows.line_num, why=why)])
            cells = {column: row[places[column]].strip() if places.get(column, len(row)) < len(row) else ""
                     for column in columns}  # fmt: skip
            if any(cells.values()):
                yield rows.line_num, cells
    except csv.Error as error:
        why = tr("it cannot be read as a table ({error}): is a quote not closed?", error=error)
        raise TableError([tr("line {line_num}: {why}", line_num=rows.line_num, why=why)]) from error


def shown(cell: str) -> str:
    """Return the beginning of a cell, for messages."""
    return cell if len(cell) <= _SHOWN else f"{cell[: _SHOWN - 1]}…"


def _dialect_of(text: str) -> type[csv.Dialect]:
    """Return how a table's cells are parted: by the commas, semicolons or tabs of its first line."""
    first = text.split("\n", 1)[0]

    class Found(csv.excel):
        delimiter = max(",;\t", key=first.count)

    return Found
