"""Print for all commands: lines that break at a terminal's width, tables, JSON results, files.

Control characters in others' texts are escaped; `tests/cli/test_lines.py` checks that no other module prints.
"""

import itertools
import os
import re
import sys
import textwrap
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from functools import partial
from typing import TextIO

from tocsin.cli.streams import never_wait
from tocsin.readable import readable, readable_json, readable_line, utf8_json

_LEAST = 20                            # below this more is lost by breaking lines than won
_HANGING = "  "
# a command and a remark, or a remark alone, which stands further in than any command
_ROW = re.compile(r"(?:(?P<head> +\S+(?: \S+)*) {2,}| {8,})(?P<remark>\S.*)")
_LEAST_REMARK = 32                     # beside a command; narrower ones stand below it
_BELOW = " " * 6
_LEAST_CELL = 6                        # characters into which words may be broken


def tell(text: str, stream: TextIO | None = None, *, fit: bool = True) -> None:
    """Print text for people at once, on ``stream`` (stdout). Raises OSError if it cannot be written.

    Invisible characters are escaped. With ``fit`` lines are broken at a terminal's width.
    """
    stream = sys.stdout if stream is None else stream
    print(fitted(text, stream) if fit else readable(text), file=stream, flush=True)


def say_to(json_output: bool) -> Callable[[str], None]:
    """Return the function that prints lines for people while a run is on, without waiting for a slow reader. With
    ``--json`` it prints to stderr, since stdout belongs to the result."""
    never_wait()
    return partial(tell, stream=sys.stderr if json_output else sys.stdout)


def tell_json(result: object) -> None:
    """Print a result as one line of JSON on stdout, at once. Raises OSError if it cannot be written."""
    print(readable_json(utf8_json(result).decode()), flush=True)


def tell_data(data: bytes) -> None:
    """Write a file's bytes to stdout unchanged: the writer of a file has checked them. Raises OSError."""
    sys.stdout.flush()
    sys.stdout.buffer.write(data)
    sys.stdout.buffer.flush()


def tell_table(columns: Mapping[str, bool], rows: Iterable[Sequence[str]], width: int | None) -> None:
    """Print rows of text below the headings in ``columns``; columns marked true are right-aligned.

    ``width`` is the table's width in characters, None for the terminal's. Raises OSError.
    """
    tell_groups(columns, [("", rows)], width)


def tell_groups(
    columns: Mapping[str, bool], groups: Iterable[tuple[str, Iterable[Sequence[str]]]], width: int | None
) -> None:
    """Print rows like ``tell_table`` in groups with a line above each; the columns are as wide in all of them."""
    from rich.console import Console  # loaded here, since it takes a tenth of a second and few commands need it
    from rich.table import Table
    from rich.text import Text

    console = Console(file=sys.stdout, highlight=False, width=width)
    shown = [(title, [[Text(readable_line(cell)) for cell in row] for row in rows]) for title, rows in groups]
    cells = [row for _, rows in shown for row in rows]
    texts = [[row[place].plain for row in cells] for place in range(len(columns))]
    widths, gap = _widths(columns, texts, console.width)
    for place, (title, rows) in enumerate([("", []), *shown]):
        table = Table(box=None, pad_edge=False, padding=(0, gap, 0, 0), show_header=not place)
        for (head, is_number), wide in zip(columns.items(), widths, strict=True):
            table.add_column(head, justify="right" if is_number else "left", overflow="fold", width=wide)
        for row in rows:
            table.add_row(*row)
        if title:
            console.print(Text(readable_line(title)), style="bold")
        if rows or not place:
            console.print(table)
    sys.stdout.flush()


def _widths(columns: Mapping[str, bool], texts: Sequence[Sequence[str]], most: int) -> tuple[list[int], int]:
    """Return the width of each column and of the gap between them: that of its longest text, if all fit; else headings
    break at blanks, and then words break, those of the widest columns first and numbers last."""
    from rich.cells import cell_len

    for gap, heads in ((2, [[head] for head in columns]), (1, [head.split() for head in columns])):
        room = most - gap * (len(columns) - 1)
        widths = [max(map(cell_len, [*head, *column])) for head, column in zip(heads, texts, strict=True)]
        if sum(widths) <= room:
            return widths, gap
    breaks = [not is_number for is_number in columns.values()]
    while sum(widths) > room and max(widths) > 1:
        at = max(range(len(widths)), key=lambda one: (breaks[one] and widths[one] > _LEAST_CELL, widths[one]))
        widths[at] -= 1
    return widths, gap


def ask(question: str) -> str:
    """Print a question and return the typed answer. Raises EOFError at the end of the input."""
    return input(fitted(question, sys.stdout)).strip()


def output_is_taken() -> bool:
    """Return whether stdout accepts output; Python keeps what it could not write and tries again."""
    try:
        print(flush=True)
    except OSError:
        return False
    return True


def fitted(text: str, stream: TextIO | None) -> str:
    """Return readable text broken to the width of the terminal behind ``stream``; continued lines are indented.

    A word longer than a line stays whole, so that a path can be copied. If ``stream`` is no terminal, the text is
    unchanged: a program may read it.
    """
    width, shown = _width(stream), readable(text)
    return shown if width is None else "\n".join(_broken(line, width) for line in shown.split("\n"))


def fitted_help(text: str, stream: TextIO | None) -> str:
    """Return a command's help broken like ``fitted``: paragraphs are filled anew, and what is said beside a command or
    a column stays in its own column, or stands below it where that would be too narrow."""
    width = _width(stream)
    if width is None or all(len(line) <= width for line in text.split("\n")):
        return text
    blocks = (list(block) for _, block in itertools.groupby(text.split("\n"), key=_is_prose))
    return "\n".join("\n".join(_fitted_block(block, width)) for block in blocks)


def _is_prose(line: str) -> bool:
    return bool(line) and not line.startswith(" ")


def _fitted_block(block: Sequence[str], width: int) -> Iterator[str]:
    """Yield the lines of a paragraph, or of rows and blanks between paragraphs."""
    if _is_prose(block[0]):
        yield from _Wrapper(width, break_on_hyphens=False).wrap(" ".join(block))
        return
    for row in _rows(block):
        yield from _fitted_row(row, width)


def _rows(lines: Iterable[str]) -> list[str]:
    """Return rows whole: a line that only goes on with the remark above it is part of that one."""
    rows: list[str] = []
    column = 0                             # of the remark in the row above, 0 where it has none
    for line in lines:
        found = _ROW.fullmatch(line)
        begins = found.start("remark") if found else 0
        if found and not found["head"] and begins == column:
            rows[-1] += f" {found['remark']}"
        else:
            rows.append(line)
            column = begins
    return rows


def _fitted_row(row: str, width: int) -> Iterator[str]:
    """Yield the lines of a row: a command or a column, and a remark behind two blanks or more; or either alone."""
    found = _ROW.fullmatch(row)
    if found is None or len(row) <= width:
        yield _broken(row, width)
    elif width - found.start("remark") >= _LEAST_REMARK:
        beside = " " * found.start("remark")
        yield _Wrapper(width, subsequent_indent=beside, break_on_hyphens=False).fill(row)
    else:
        if found["head"]:
            yield _broken(found["head"], width)
        yield _Wrapper(width, initial_indent=_BELOW, subsequent_indent=_BELOW, break_on_hyphens=False).fill(
            found["remark"]
        )


def _broken(line: str, width: int) -> str:
    if len(line) <= width:
        return line
    indent = line[: len(line) - len(line.lstrip(" "))]
    blank = line[len(line.rstrip(" ")):]               # behind a question the answer does not touch it
    return _Wrapper(width, subsequent_indent=indent + _HANGING, break_on_hyphens=False).fill(line) + blank


class _Wrapper(textwrap.TextWrapper):
    """Leaves a word that fits on no line whole, and behind the word before it."""

    def _handle_long_word(self, reversed_chunks: list[str], cur_line: list[str], cur_len: int, width: int) -> None:
        cur_line.append(reversed_chunks.pop())


def _width(stream: TextIO | None) -> int | None:
    """Return the columns that a line may take on the terminal that a stream is, None where it is none.

    One less than it has: older consoles of Windows begin a new line behind the last column (from memory).
    """
    try:
        if stream is None or not stream.isatty():
            return None
        told = os.environ.get("COLUMNS", "")           # as tables and pictures take it, too
        columns = int(told) if told.isdecimal() else os.get_terminal_size(stream.fileno()).columns
    except (OSError, ValueError):                      # closed, or without a descriptor
        return None
    return max(_LEAST, columns - 1) if columns else None
