"""Texts fitted into a width: shrunk, wrapped, words broken, and cut with an ellipsis when nothing else is left. Pure.

Told how large letters are, in ems. One em is the size of a font; capitals and digits of DejaVu Sans are 0.73 em tall.
"""

import re
from bisect import bisect_left
from collections.abc import Sequence
from functools import lru_cache
from typing import NamedTuple, Protocol

CAP = 0.729                     # height of capitals and digits of DejaVu Sans, in ems (from the font's outlines)
LEADING = 1.17                  # from baseline to baseline, in ems (the font's own ascent and descent)
_ABOVE, _BELOW = 0.76, 0.22     # what ascenders and descenders take of a line
_CLEAR = 0.06                   # between the letters of two lines, whatever they are
_SHRINK = 0.96
ELLIPSIS = "…"
NOBREAK = "\N{NO-BREAK SPACE}"         # no line ends there
_HYPHEN = "-"
_NUMBER = re.compile(r"(?<=\d) (?=(?:%|(?:s|ms|min|h|m|cm|mm|points?)\b))")        # a unit follows
UNKNOWN = "\N{REPLACEMENT CHARACTER}"


class Extent(NamedTuple):
    """The room of a text's letters, in ems: how wide, how far above and below the baseline."""

    width: float
    above: float
    below: float


class Letters(Protocol):
    """A font that can say how large its letters are, and which it has; always the same, so that it is asked once."""

    def extent(self, text: str, bold: bool) -> Extent: ...

    def has(self, letter: str) -> bool: ...

    def __hash__(self) -> int: ...


class Type(NamedTuple):
    """How a text is wanted: size and smallest size in mm an em, weight, how many lines at most.

    ``rather`` is the share of its size to which a text shrinks before it takes one more line. ``tight`` lines take the
    room of their own letters and no more. ``last_lines`` is how many lines it may take rather than be cut.
    """

    em_mm: float
    least_mm: float
    bold: bool = False
    lines: int = 1
    rather: float = 1.0
    tight: bool = False
    last_lines: int = 0


class PlacedLine(NamedTuple):
    """A line of text and where its baseline is, in mm below the top of the fitted text."""

    string: str
    baseline_mm: float
    width_mm: float


class Fitted(NamedTuple):
    """Lines that have their size."""

    lines: tuple[PlacedLine, ...]
    em_mm: float
    bold: bool
    height_mm: float

    @property
    def width_mm(self) -> float:
        """The width of the widest line."""
        return max((line.width_mm for line in self.lines), default=0.0)


@lru_cache(maxsize=5_000)              # layouts are tried in many sizes, and most texts come again in each
def fitted(text: str, width_mm: float, kind: Type, letters: Letters) -> Fitted:
    """Return a text in lines no wider than ``width_mm``; letters that the font lacks become U+FFFD. No
    line ends between a number and its unit."""
    words = _NUMBER.sub(NOBREAK, known(text, letters)).split(" ")
    for count in range(1, kind.lines + 1):
        em_mm = kind.em_mm
        floor_mm = kind.least_mm if count == kind.lines else max(kind.least_mm, kind.em_mm * kind.rather)
        while True:
            lines = _wrapped(words, width_mm / em_mm, count, kind.bold, letters)
            if len(lines) <= count and all(_wide(line, kind, letters) * em_mm <= width_mm for line in lines):
                return _set(lines, em_mm, kind, letters)
            if em_mm <= floor_mm:
                break
            em_mm = max(floor_mm, em_mm * _SHRINK)
    return _set(_cut(words, width_mm / kind.least_mm, kind, letters), kind.least_mm, kind, letters)


@lru_cache(maxsize=20_000)
def known(text: str, letters: Letters) -> str:
    """Return a text on one line, letters that the font lacks replaced."""
    tidy = " ".join(part for part in text.replace("\t", " ").replace("\n", " ").split(" ") if part)
    return "".join(letter if letters.has(letter) else UNKNOWN for letter in tidy)


def _wide(text: str, kind: Type, letters: Letters) -> float:
    return letters.extent(text, kind.bold).width


def _wrapped(words: Sequence[str], widest: float, most: int, bold: bool, letters: Letters) -> list[str]:
    """Return lines; words beyond ``most`` of them and one more are not looked at."""
    lines: list[str] = []
    for word in words:
        if len(lines) > most:
            break
        longer = f"{lines[-1]} {word}" if lines else word
        if lines and letters.extent(longer, bold).width <= widest:
            lines[-1] = longer
        else:
            lines.append(word)
    return lines


def _cut(words: Sequence[str], widest: float, kind: Type, letters: Letters) -> list[str]:
    """Return lines in which words that are too wide are broken, the last of them with an ellipsis if need be."""
    most = max(kind.lines, kind.last_lines)
    lines: list[str] = []
    for word in words:
        if lines and _wide(f"{lines[-1]} {word}", kind, letters) <= widest:
            lines[-1] = f"{lines[-1]} {word}"
        elif len(lines) > most:
            break
        else:
            lines += _broken(word, widest, kind, letters)
    if len(lines) <= most:
        return lines
    last = " ".join(lines[most - 1 : most + 1])            # the next line's begin may have room too
    counts = range(len(last) + 1)
    fits = bisect_left(counts, True, key=lambda n: _wide(last[:n] + ELLIPSIS, kind, letters) > widest)
    return [*lines[: most - 1], last[: max(0, fits - 1)].rstrip(f" {_HYPHEN}") + ELLIPSIS]


def _broken(word: str, widest: float, kind: Type, letters: Letters) -> list[str]:
    """Return a word in pieces, with a hyphen where it goes on. Where it is broken hangs on the room alone."""
    pieces: list[str] = []
    left = word
    while len(left) > 1 and _wide(left, kind, letters) > widest:
        count = len(left) - 1
        while count > 1 and _wide(left[:count] + _HYPHEN, kind, letters) > widest:
            count -= 1
        pieces.append(left[:count] + _HYPHEN)
        left = left[count:]
    return [*pieces, left]


def _set(lines: Sequence[str], em_mm: float, kind: Type, letters: Letters) -> Fitted:
    """Return the lines with their baselines; letters never meet those of the line above."""
    placed: list[PlacedLine] = []
    baseline, deep = 0.0, 0.0
    for number, string in enumerate(lines):
        extent = letters.extent(string, kind.bold)
        above = extent.above if kind.tight else max(_ABOVE, extent.above)
        step = deep + extent.above + (_CLEAR + 0.18 if kind.tight else _CLEAR)
        baseline = above if number == 0 else baseline + max(step, 0.0 if kind.tight else LEADING)
        deep = extent.below if kind.tight else max(_BELOW, extent.below)
        placed.append(PlacedLine(string, baseline * em_mm, extent.width * em_mm))
    return Fitted(tuple(placed), em_mm, kind.bold, (baseline + deep) * em_mm)
