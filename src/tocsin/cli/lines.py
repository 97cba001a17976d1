"""The one place where commands print: lines for people, which on a terminal break between words, tables, results as
JSON, files. No control character of others' texts gets through; `tests/cli/test_lines.py` lets nobody else print.
"""

import os
import sys
import textwrap
from collections.abc import Callable, Iterable, Mapping, Sequence
from functools import partial
from typing import TextIO

from tocsin.cli.streams import never_wait
from tocsin.readable import readable, readable_json, readable_line, utf8_json

_LEAST = 20                            # below this more is lost by breaking lines than won
_HANGING = "  "


def tell(text: str, stream: TextIO | None = None, *, fit: bool = True) -> None:
    """Print text for people at once, on ``stream`` (stdout). Raises OSError if nothing takes it.

    What others wrote in it steers nothing and hides nothing. With ``fit`` lines are broken at a terminal's width.
    """
    stream = sys.stdout if stream is None else stream
    print(fitted(text, stream) if fit else readable(text), file=stream, flush=True)


def say_to(json_output: bool) -> Callable[[str], None]:
    """Return what prints lines for people while something runs that must not wait for whoever reads them: with
    ``--json`` stdout belongs to the result."""
    never_wait()
    return partial(tell, stream=sys.stderr if json_output else sys.stdout)


def tell_json(result: object) -> None:
    """Print a result as one line of JSON on stdout, at once. Raises OSError if nothing takes it."""
    print(readable_json(utf8_json(result).decode()), flush=True)


def tell_data(data: bytes) -> None:
    """Write a file's content to stdout as it is: who writes files sees to what is in them. Raises OSError."""
    sys.stdout.flush()
    sys.stdout.buffer.write(data)
    sys.stdout.buffer.flush()


def tell_table(columns: Mapping[str, bool], rows: Iterable[Sequence[str]], width: int | None) -> None:
    """Print rows of text below the heads of ``columns``; those that are true stand to the right.

    ``width`` is what the table may take, None for what the terminal has. Raises OSError.
    """
    from rich.console import Console  # loaded here, since it takes a tenth of a second and few commands need it
    from rich.table import Table
    from rich.text import Text

    table = Table(box=None, pad_edge=False)
    for head, is_number in columns.items():
        table.add_column(head, justify="right" if is_number else "left", overflow="fold")
    for row in rows:
        table.add_row(*(Text(readable_line(cell)) for cell in row))
    console = Console(file=sys.stdout, highlight=False, width=width)
    console.print(table)
    sys.stdout.flush()


def ask(question: str) -> str:
    """Return what a person types behind a question. Raises EOFError where the input has ended."""
    return input(fitted(question, sys.stdout)).strip()


def output_is_taken() -> bool:
    """Return whether what is printed is written; what once was not, python keeps and writes again."""
    try:
        print(flush=True)
    except OSError:
        return False
    return True


def fitted(text: str, stream: TextIO | None) -> str:
    """Return readable text whose lines fit into the terminal that ``stream`` is; what goes on hangs below its begin.

    A word that is longer than a line stays whole and where it is, so that a path can be copied. Where
    ``stream`` is no terminal, the text is as it was: a program may read it.
    """
    width, shown = _width(stream), readable(text)
    return shown if width is None else "\n".join(_broken(line, width) for line in shown.split("\n"))


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
