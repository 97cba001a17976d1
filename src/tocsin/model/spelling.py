"""Find the word that a misspelt one means: only a sole candidate may be offered as a fix.

A word counts as a slip of another if at most two characters were left out, put in, exchanged or swapped with their
neighbour, one in words of up to four. If a second known word is as near, the meaning is unknown. Digits are never
slips: ``driver2`` is another name than ``driver``.
"""

import re
from collections.abc import Iterable
from functools import lru_cache

MOST_SLIPS = 2
_KEPT = 4096                   # a file full of mistakes asks for the same few words again and again
_SHORT = 4                     # in a word of so many letters a second slip leaves too little to know it by


def only_reading(text: str, known: Iterable[str]) -> str:
    """Return the only one of ``known`` that ``text`` can be a slip of, or an empty text.

    >>> only_reading("no-contact", ["no_contact", "driver"]), only_reading("driver2", ["driver"])
    ('no_contact', '')
    """
    found = readings(text, known)
    return found[0] if len(found) == 1 and _is_near(text, found[0]) else ""


def readings(text: str, known: Iterable[str]) -> list[str]:
    """Return all of ``known`` that ``text`` may be a slip of, the nearest first; case and blanks do not count as
    slips."""
    tidy = tidied(text)
    digits, near = _digits(tidy), []
    for place, word in enumerate(dict.fromkeys(known)):
        if _digits(word) == digits and (slips := slips_between(tidy, tidied(word))) <= MOST_SLIPS:
            near.append((slips, place, word))
    return [word for slips, _, word in sorted(near) if slips == 0] or [word for *_, word in sorted(near)]


@lru_cache(_KEPT)
def tidied(text: str) -> str:
    """Return a text in lower case, with one underscore between its words."""
    return re.sub(r"[\s._-]+", "_", text.strip().lower()).strip("_")


@lru_cache(_KEPT)
def slips_between(one: str, other: str) -> int:
    """Return how many slips lie between two words, or ``MOST_SLIPS + 1`` for more.

    Counts the optimal string alignment distance: insertions, deletions, substitutions, swaps of two neighbours.
    """
    far = MOST_SLIPS + 1
    if abs(len(one) - len(other)) > MOST_SLIPS:
        return far
    before: list[int] = []
    last = list(range(len(other) + 1))
    for row, letter in enumerate(one, start=1):
        line = [row]
        for column, wanted in enumerate(other, start=1):
            least = min(last[column] + 1, line[-1] + 1, last[column - 1] + (letter != wanted))
            if row > 1 and column > 1 and one[row - 2 : row] == other[column - 1] + other[column - 2]:
                least = min(least, before[column - 2] + 1)
            line.append(least)
        if min(line) > MOST_SLIPS and min(last) > MOST_SLIPS:
            return far
        before, last = last, line
    return min(last[-1], far)


def _is_near(text: str, word: str) -> bool:
    """Return whether a slip of so few letters still tells the word."""
    return slips_between(tidied(text), tidied(word)) <= (1 if len(word) <= _SHORT else MOST_SLIPS)


@lru_cache(_KEPT)
def _digits(word: str) -> str:
    return re.sub(r"[^0-9]", "", word)
