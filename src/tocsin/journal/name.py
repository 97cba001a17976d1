"""Find a person's name in texts, without regard to case, encoding of accents, and blanks."""

import re
import unicodedata
from itertools import pairwise

REMOVED = "(removed)"
# What takes a name's place must not be the name again.
_IN_ITS_PLACE = (REMOVED, "removed", "-")
_NO_LONGER = ("-", "*")                # than any name: some texts have a length that they may not exceed
_BLANKS = r"[\s_.\-]+"                 # in folders' names and ids a hyphen, an underscore or a dot stands for a blank
# A name ends where a letter or digit does not go on; an underscore parts words, as in ids.
_NO_LETTER_BEFORE, _NO_LETTER_BEHIND = r"(?<![^\W_])", r"(?![^\W_])"


def folded(text: str) -> str:
    """Return a text in the form in which names are compared: without case, with one encoding of accents.

    >>> folded("ÅSE") == folded("a\u030ase")
    True
    """
    # Taken apart, not put together: what is taken apart piece by piece is the same as what is taken apart at once.
    return unicodedata.normalize("NFKD", unicodedata.normalize("NFKD", text).casefold())


class Name:
    """A name to search for, without the blanks around it. Raises ValueError for blanks only."""

    def __init__(self, text: str) -> None:
        words = folded(text).split()
        if not words:
            raise ValueError("a name of blanks only")
        inner = _BLANKS.join(map(re.escape, words))
        self._part = re.compile(inner)
        self._word = re.compile(_NO_LETTER_BEFORE + inner + _NO_LETTER_BEHIND)
        self.removed, self._no_longer = (
            next(place for place in places if not self._word.search(folded(place)))
            for places in (_IN_ITS_PLACE, _NO_LONGER)
        )

    def stands_in(self, text: str) -> bool:
        """Return whether a text holds the name as a word, or words."""
        return next(iter(_places(text, self._word)), None) is not None

    def is_part_of(self, text: str) -> bool:
        """Return whether a text holds the name only as part of a longer word, as "annual" holds "Ann"."""
        return not self.stands_in(text) and self._part.search(folded(text)) is not None

    def taken_out(self, text: str, *, no_longer: bool = False) -> str:
        """Return a text with the name replaced, by ``no_longer`` than the name if asked for. The text around it stays
        exactly."""
        removed = self._no_longer if no_longer else self.removed
        while found := _places(text, self._word):
            for begin, end in reversed(found):
                text = text[:begin] + removed + text[end:]
        return text


def _places(text: str, pattern: re.Pattern[str]) -> list[tuple[int, int]]:
    """Return where a folded pattern is found in a text: from which character to which."""
    if not pattern.search(folded(text)):
        return []
    clusters = _clusters(text)
    at: dict[int, int] = {}                # place in the folded text, and in the text
    whole, length = [], 0
    for begin, cluster in clusters:
        at.setdefault(length, begin)
        whole.append(folded(cluster))
        length += len(whole[-1])
    at[length] = len(text)
    found = ((at.get(match.start()), at.get(match.end())) for match in pattern.finditer("".join(whole)))
    return [(begin, end) for begin, end in found if begin is not None and end is not None]


def _clusters(text: str) -> list[tuple[int, str]]:
    """Return the characters of a text with the accents that follow each, and where each begins."""
    begins = [n for n, letter in enumerate(text) if n == 0 or not unicodedata.combining(letter)]
    return [(begin, text[begin:end]) for begin, end in pairwise([*begins, len(text)])]
