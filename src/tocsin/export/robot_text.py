"""Texts of a plan inside source code: comments that nothing can end, names that compilers take, filled templates.

Plan, game and cue texts come from users: quotes, backslashes, ``*/``, trigraphs, letters of any script. Comments and
sources are plain ASCII, so that no compiler's idea of an encoding matters.
"""

import re
import textwrap
from collections.abc import Iterable, Mapping
from importlib.resources import files

WIDTH = 112
_PLACEHOLDER = re.compile(r"@([A-Z_]+)@")


def fill(template: str, values: Mapping[str, str]) -> str:
    """Return a template with each ``@NAME@`` replaced by its value, in one pass: values are never looked into."""
    return _PLACEHOLDER.sub(lambda found: values[found[1]], template)


def template(name: str) -> str:
    """Return the text of a file in ``export/templates``."""
    return (files("tocsin.export") / "templates" / name).read_text(encoding="utf-8")


def comment(text: str) -> str:
    r"""Return a text that may stand in a comment of C, Java and Python on one line.

    Java reads ``\u`` escapes in comments too: backslashes are doubled, which keeps it from that, and other letters than
    ASCII are written as such escapes. C would end or begin a comment at ``*/`` and ``/*`` and join lines at ``??/``: a
    blank parts them.

    >>> comment("a*/b ??/ \u00e9")
    'a* /b ? ?/ \\u00e9'
    """
    ascii_only = "".join(_plain(char) for char in text)
    return re.sub(r"\*(?=/)|/(?=\*)|\?(?=\?)", lambda found: f"{found[0]} ", ascii_only)


def _plain(char: str) -> str:
    if char == "\\":
        return "\\\\"
    if " " <= char <= "~":
        return char
    if char < " " or char == "\x7f":
        return " "
    return utf16_escapes(char)


def utf16_escapes(char: str) -> str:
    r"""Return a letter beyond ASCII as Java's ``\uXXXX``, two of them where it takes two."""
    units = char.encode("utf-16-be", "surrogatepass")
    return "".join(f"\\u{units[at]:02x}{units[at + 1]:02x}" for at in range(0, len(units), 2))


def wrapped(text: str, first: str = "  ") -> list[str]:
    """Return a paragraph as indented lines of at most WIDTH columns; ``first`` begins the first of them."""
    return textwrap.wrap(
        text,
        WIDTH,
        initial_indent=first,
        subsequent_indent=" " * len(first),
        break_long_words=False,
        break_on_hyphens=False,
    )


def aligned(lines: Iterable[tuple[str, str]]) -> list[str]:
    """Return lines of code with their remarks one below the other; a line that is too long keeps clear of them."""
    listed = list(lines)
    width = max((len(code) for code, remark in listed if remark), default=0)
    return [f"    {code.ljust(width) if remark else code}  {remark}".rstrip() for code, remark in listed]


def columns(rows: Iterable[tuple[str, ...]]) -> list[str]:
    """Return rows as lines with aligned columns."""
    listed = list(rows)
    widths = [max(len(row[k]) for row in listed) for k in range(len(listed[0]))] if listed else []
    return ["  " + "  ".join(cell.ljust(width) for cell, width in zip(row, widths, strict=True)).rstrip()
            for row in listed]  # fmt: skip


def constants(kind: str, ids: Iterable[str]) -> tuple[str, ...]:
    """Return a name of letters, digits and underscores for each id, all different.

    >>> constants("CUE", ["home", "h\u00f6me", "h-me"])
    ('CUE_HOME', 'CUE_H_ME', 'CUE_H_ME_2')
    """
    made: list[str] = []
    for id in ids:
        plain = f"{kind}_{re.sub('[^A-Z0-9]', '_', id.upper())}"
        name, k = plain, 1
        while name in made:
            k += 1
            name = f"{plain}_{k}"
        made.append(name)
    return tuple(made)
