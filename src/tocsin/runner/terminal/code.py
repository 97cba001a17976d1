"""Draw the code that a phone scans in a terminal: half blocks, two modules high, in forced black on white.

A terminal's own colours would not do: on a dark one the code would be white on black, and no phone reads that. So where
a terminal has no colours, or no half blocks, there is no code, and words alone.
"""

from collections.abc import Sequence
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from rich.console import Console
    from rich.text import Text

MARGIN = 4                             # modules of white around the code, as ISO/IEC 18004 asks
_STYLE = "#000000 on #ffffff"
# By the upper and the lower module.
_BLOCKS = {"00": " ", "10": "▀", "01": "▄", "11": "█"}


def code_columns(code: Sequence[str]) -> int:
    """Return the width of a code with its margin, in characters."""
    return len(code) + 2 * MARGIN


def can_draw(console: "Console") -> bool:
    """Return whether a terminal can show a code that a phone reads."""
    try:
        "".join(_BLOCKS.values()).encode(console.encoding)
    except (UnicodeEncodeError, LookupError):
        return False
    return console.color_system is not None and not console.no_color


def code_lines(code: Sequence[str]) -> list[str]:
    """Return a code with its margin as lines of half blocks; of an odd number of rows the last half line is white.

    >>> code_lines(["1"])[2]
    '    ▀    '
    """
    columns = code_columns(code)
    empty = "0" * columns
    above = [empty] * MARGIN
    rows = [*above, *("0" * MARGIN + row + "0" * MARGIN for row in code), *above]
    rows += [empty] * (len(rows) % 2)
    return ["".join(map(_pair, rows[n], rows[n + 1])) for n in range(0, len(rows), 2)]


def code_text(code: Sequence[str]) -> "Text":
    """Return a code as text in its own colours."""
    from rich.text import Text

    return Text("\n".join(code_lines(code)), style=_STYLE, no_wrap=True)


def _pair(upper: str, lower: str) -> str:
    return _BLOCKS[upper + lower]
