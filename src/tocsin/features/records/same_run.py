"""Tell whether two journals are of one run: by what was played and marked until its end, not by names of folders.

What may differ between two laptops is left out: keys of people, notes, what was marked after the end, and words out of
which a name was taken. A run that was cut short may have been ended since: then one is the begin of the other.
"""

from itertools import takewhile
from typing import NamedTuple

import msgspec

from tocsin.journal.fields import WORDS, Holds, visited
from tocsin.journal.name import REMOVED

_Kept = tuple[Holds, str]


class _Line(msgspec.Struct):
    """What is read of a line; anything else has no kind."""

    kind: str = ""
    outcome: str = ""


class Played(NamedTuple):
    """A journal up to its end without its words, and the words in their order; ``closed``: the run itself ended it."""

    lines: tuple[str, ...]
    words: tuple[_Kept, ...]
    closed: bool

    @classmethod
    def of(cls, data: bytes) -> "Played":
        """Return what was played by a journal's bytes, which may hold anything."""
        whole = data[: data.rfind(b"\n") + 1].decode("utf-8", "surrogateescape").split("\n")[:-1]
        kinds = [_line(line) for line in whole]
        until = sum(1 for _ in takewhile(lambda line: line.kind != "end", kinds))
        words: list[_Kept] = []

        def look(holds: Holds, text: str) -> str:
            if holds in WORDS:
                words.append((holds, text))
            return "" if holds in WORDS or holds == "person" else text

        played = (line for line, kind in zip(whole[:until], kinds, strict=False) if kind.kind != "note")
        lines = tuple(visited(line, look) for line in played)
        return cls(lines, tuple(words), until < len(kinds) and kinds[until].outcome != "crashed")

    def is_same(self, other: "Played") -> bool:
        """Return whether both are of one run."""
        shorter, longer = sorted((self, other), key=lambda one: len(one.lines))
        if len(shorter.lines) < len(longer.lines) and shorter.closed:
            return False
        if not shorter.lines or longer.lines[: len(shorter.lines)] != shorter.lines:
            return False
        return all(map(_may_be_same, shorter.words, longer.words))


def tail_of(data: bytes) -> list[bytes]:
    """Return the lines of a journal that came after its end: notes, and marks that came later."""
    lines = data.split(b"\n")
    ends = [place for place, line in enumerate(lines) if _line(line.decode("utf-8", "replace")).kind == "end"]
    return [line for line in lines[ends[0] + 1 :] if line] if ends else []


def _may_be_same(one: _Kept, other: _Kept) -> bool:
    return one == other or one[0] == "short words" or REMOVED in one[1] or REMOVED in other[1]


def _line(line: str) -> _Line:
    try:
        return msgspec.json.decode(line, type=_Line)
    except (msgspec.DecodeError, UnicodeError, RecursionError):
        return _Line()
