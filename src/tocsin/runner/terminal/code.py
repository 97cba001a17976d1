"""Draw the code that a phone scans in a terminal, in forced black on white.

A terminal's own colours would not do: on a dark one the code would be white on black, and no phone reads that. So
where a terminal has no colours, or no half blocks, there is no code, and words alone. Half blocks, two modules high,
have room in 80 x 24; but many fonts draw blocks smaller than their cell, and readers trip over the gaps. So where there
is room a module is two blanks wide, and colour alone.
"""

from collections.abc import Sequence
from itertools import groupby
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from rich.console import Console
    from rich.text import Text

MARGIN = 4                             # modules of white around the code, as ISO/IEC 18004 asks
_HALF = "▀"
_COLOURS = {"0": "#ffffff", "1": "#000000"}


def code_columns(code: Sequence[str], *, large: bool = False) -> int:
    """Return the width of a code with its margin, in characters."""
    return (len(code) + 2 * MARGIN) * (1 + large)


def can_draw(console: "Console") -> bool:
    """Return whether a terminal can show a code that a phone reads."""
    try:
        _HALF.encode(console.encoding)
    except (UnicodeEncodeError, LookupError):
        return False
    return console.color_system is not None and not console.no_color


def code_cells(code: Sequence[str]) -> list[list[str]]:
    """Return the cells of a code with its margin, line by line: the upper and the lower module of each, ``1`` for dark.
    Of an odd number of rows the last half line is white."""
    columns = code_columns(code)
    empty = "0" * columns
    above = [empty] * MARGIN
    rows = [*above, *("0" * MARGIN + row + "0" * MARGIN for row in code), *above]
    rows += [empty] * (len(rows) % 2)
    return [[upper + lower for upper, lower in zip(*rows[n : n + 2], strict=True)] for n in range(0, len(rows), 2)]


def code_text(code: Sequence[str], *, large: bool = False) -> "Text":
    """Return a code as text in its own colours, of half blocks or ``large``. A cell whose halves are alike is a blank
    on its colour."""
    from rich.text import Text

    cells = code_cells(code)
    lines = [[2 * cell[half] for cell in line for _ in range(2)] for line in cells for half in range(2)]
    text = Text(no_wrap=True)
    for line in lines[: len(code) + 2 * MARGIN] if large else cells:
        if text:
            text.append("\n")
        for cell, run in groupby(line):
            letter = " " if cell[0] == cell[1] else _HALF
            text.append(letter * len(list(run)), style=f"{_COLOURS[cell[0]]} on {_COLOURS[cell[1]]}")
    return text
