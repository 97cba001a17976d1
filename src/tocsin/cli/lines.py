"""What commands print: lines for people, which on a terminal break between words, and results as JSON."""

import os
import sys
import textwrap
from collections.abc import Callable
from functools import partial
from typing import TextIO

import msgspec

_LEAST = 20                            # below this more is lost by breaking lines than won
_HANGING = "  "


def tell(text: str, stream: TextIO | None = None) -> None:
    """Print text for people at once, on ``stream`` (stdout). Raises OSError if nothing takes it."""
    stream = sys.stdout if stream is None else stream
    print(fitted(text, stream), file=stream, flush=True)


def say_to(json_output: bool) -> Callable[[str], None]:
    """Return what prints lines for people: with ``--json`` stdout belongs to the result."""
    return partial(tell, stream=sys.stderr if json_output else sys.stdout)


def tell_json(result: object) -> None:
    """Print a result as one line of JSON on stdout, at once. Raises OSError if nothing takes it."""
    sys.stdout.write(msgspec.json.encode(result).decode() + "\n")
    sys.stdout.flush()


def fitted(text: str, stream: TextIO | None) -> str:
    """Return text whose lines fit into the terminal that ``stream`` is; what goes on hangs below its begin.

    A word that is longer than a line stays whole and where it is, so that a path can be copied. Where
    ``stream`` is no terminal, the text is as it was: a program may read it.
    """
    width = _width(stream)
    return text if width is None else "\n".join(_broken(line, width) for line in text.split("\n"))


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
        columns = os.get_terminal_size(stream.fileno()).columns
    except (OSError, ValueError):                      # closed, or without a descriptor
        return None
    return max(_LEAST, columns - 1) if columns else None
