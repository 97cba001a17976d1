"""Write texts of a plan into source code: comments that no text can end, names that compilers take, filled templates.

Plan, game and cue texts come from users: quotes, backslashes, ``*/``, trigraphs, letters of any script. In which
letters comments are written depends on the language:

* Python reads a source as UTF-8 (PEP 3120; the template says so too, or a plan's name could say otherwise).
* C leaves open how a source is read (C99, 5.1.1.2); gcc and clang take UTF-8. What a compiler that reads another code
  makes of comments is no code all the same, since each ends behind a blank.
* Java before 18 takes the system's own encoding (JEP 400), and javac refuses bytes which that has not: ASCII only.
"""

import re
import textwrap
import unicodedata
from collections.abc import Iterable, Mapping
from importlib.resources import files

WIDTH = 112
# What stands for letters that are no base letter with marks, where there is ASCII only; umlauts as in German.
_ASCII = {
    "ä": "ae", "ö": "oe", "ü": "ue", "Ä": "Ae", "Ö": "Oe", "Ü": "Ue", "ß": "ss", "ẞ": "SS", "æ": "ae", "Æ": "Ae",
    "ø": "oe", "Ø": "Oe", "œ": "oe", "Œ": "Oe", "ł": "l", "Ł": "L", "đ": "d", "Đ": "D", "ı": "i",
    "–": "-", "—": "-", "‘": "'", "’": "'", "‚": "'", "“": '"', "”": '"', "„": '"', "«": '"', "»": '"', "×": "x",
}  # fmt: skip
_PLACEHOLDER = re.compile(r"@([A-Z_]+)@")


def fill(template: str, values: Mapping[str, str]) -> str:
    """Return a template with each ``@NAME@`` replaced by its value, in one pass: values are not searched."""
    return _PLACEHOLDER.sub(lambda found: values[found[1]], template)


def template(name: str) -> str:
    """Return the text of a file in ``export/templates``."""
    return (files("tocsin.export") / "templates" / name).read_text(encoding="utf-8")


def comment(text: str) -> str:
    r"""Return a text that may stand in a comment of C and Python on one line, in letters of any script.

    C would end or begin a comment at ``*/`` and ``/*`` and join lines at ``??/``: a blank parts them. What is not
    printed, such as marks that turn the direction of writing, is written as an escape.

    >>> comment("a*/b ??/ Übergabe \u202e")
    'a* /b ? ?/ Übergabe \\u202e'
    """
    return _parted("".join(_visible(char) for char in text))


def ascii_comment(text: str) -> str:
    r"""Return a text that may stand in a comment of Java, too, on one line: ASCII, as readable as that can be.

    Java reads ``\u`` escapes in comments: backslashes are doubled, which keeps it from that, and letters that ASCII has
    nothing for are written as such escapes.

    >>> ascii_comment("Übergabe à Łódź \\ ホ")
    'Uebergabe a Lodz \\\\ \\u30db'
    """
    return _parted("".join(_plain(char) for char in unicodedata.normalize("NFC", text)))


def _parted(line: str) -> str:
    return re.sub(r"\*(?=/)|/(?=\*)|\?(?=\?)", lambda found: f"{found[0]} ", line)


def _visible(char: str) -> str:
    if char.isprintable():
        return char
    return " " if char.isspace() or char < "\x80" else utf16_escapes(char)


def _plain(char: str) -> str:
    if char.isascii():
        return char.replace("\\", "\\\\") if char.isprintable() else " "
    base = "".join(part for part in unicodedata.normalize("NFKD", char) if not unicodedata.combining(part))
    spelled = _ASCII.get(char, base)
    if char.isspace() or not (spelled.isascii() and spelled.isprintable() and spelled):
        return " " if char.isspace() else utf16_escapes(char)
    return spelled.replace("\\", "\\\\")


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
