"""Find the place of each key and value in a TOML text.

tomllib gives values but no lines. This scanner reads the same text and gives places but no values; a property test
compares the two. It is written for text that tomllib accepts. On any other text it stops at the first statement that it
does not understand and says how far it came; the recovery from syntax mistakes uses that.
"""

import re
import sys
from bisect import bisect_right
from typing import NamedTuple

from tocsin.model.diagnostics import Path

_BLANKS = re.compile(r"[ \t]*")
_SKIPS = re.compile(r"(?:[ \t\n]|#[^\n]*)*")
_BARE_KEY = re.compile(r"[A-Za-z0-9_-]+")
_BASIC = re.compile(r'"(?:[^"\\\n]|\\[^\n])*"')
_LITERAL = re.compile(r"'[^'\n]*'")
_LONG_BASIC = re.compile(r'"""(?:[^"\\]|\\[\s\S]|"{1,2}(?!"))*"{3,5}')
_LONG_LITERAL = re.compile(r"'''(?:[^']|'{1,2}(?!'))*'{3,5}")
_STRINGS = {('"', False): _BASIC, ('"', True): _LONG_BASIC, ("'", False): _LITERAL, ("'", True): _LONG_LITERAL}
_SCALAR = re.compile(r"[^,\]}#\n]+")
_ESCAPE = re.compile(r"\\(?:u[0-9A-Fa-f]{4}|U[0-9A-Fa-f]{8}|[\s\S])")


class Place(NamedTuple):
    """The stretch ``[begin, end)`` of the text, in characters from 0."""

    begin: int
    end: int


class TableHeader(NamedTuple):
    """A line such as ``[lead]`` or ``[[cue]]``: its key as written, and the table it opens."""

    place: Place
    key: tuple[str, ...]
    path: Path
    is_array: bool


class Places(NamedTuple):
    """Places by key path; ``statements`` holds where each one begins. ``stopped`` is None, or the begin of the
    statement that was not understood; ``table`` is the table that was open there.
    """

    keys: dict[Path, Place]
    values: dict[Path, Place]
    headers: list[TableHeader]
    statements: list[int]
    stopped: int | None
    table: Path


class _EndOfToml(Exception):
    """The text is no TOML from here on."""


def scan(text: str) -> Places:
    """Return the places of all keys and values of ``text``, whose line ends must be plain newlines."""
    return _Scanner(text).scan()


def line_starts(text: str) -> list[int]:
    """Return the offsets at which the lines of ``text`` begin."""
    return [0, *(found.end() for found in re.finditer("\n", text))]


def line_and_column(starts: list[int], offset: int) -> tuple[int, int]:
    """Return line and column, both from 1, of an offset."""
    line = bisect_right(starts, offset)
    return line, offset - starts[line - 1] + 1


def within(text: str, place: Place, span: tuple[int, int]) -> Place:
    """Return the place of the characters ``span`` of the string value at ``place``.

    An escape counts as the one character that it means; a span that reaches past the value is cut.
    """
    raw = text[place.begin : place.end]
    quote = raw[:3] if raw[:3] in ('"""', "'''") else raw[:1]
    if quote[:1] not in ('"', "'"):
        return place
    offsets = list(_character_offsets(raw, quote))
    begin, end = (min(max(edge, 0), len(offsets) - 1) for edge in span)
    return Place(place.begin + offsets[begin], place.begin + max(offsets[end], offsets[begin] + 1))


def _character_offsets(raw: str, quote: str) -> list[int]:
    """Return the offset in ``raw`` of each character of its value, and of the closing quote."""
    at, end = len(quote), len(raw) - len(quote)
    if len(quote) == 3 and raw[at : at + 1] == "\n":
        at += 1
    offsets = []
    while at < end:
        offsets.append(at)
        escape = _ESCAPE.match(raw, at) if quote[0] == '"' else None
        at = escape.end() if escape else at + 1
    return [*offsets, end]


class _Scanner:
    def __init__(self, text: str) -> None:
        self._text = text
        self._at = 0
        self._keys: dict[Path, Place] = {}
        self._values: dict[Path, Place] = {}
        self._headers: list[TableHeader] = []
        self._arrays: dict[Path, int] = {}

    def scan(self) -> Places:
        table: Path = ()
        statements: list[int] = []
        stopped: int | None = None
        while stopped is None:
            self._skip(_SKIPS)
            begin = self._at
            if begin >= len(self._text):
                break
            statements.append(begin)
            try:
                if self._text[begin] == "[":
                    table = self._header()
                else:
                    self._pair(table)
                self._line_end()
            except _EndOfToml:
                stopped = begin
        return Places(self._keys, self._values, self._headers, statements, stopped, table)

    # -- statements -------------------------------------------------------------------------------------------------

    def _header(self) -> Path:
        begin = self._at
        is_array = self._text.startswith("[[", begin)
        self._at += 2 if is_array else 1
        key = self._key()
        self._expect("]]" if is_array else "]")
        path: Path = ()
        for part, place in key[:-1]:
            path = self._open(path, part, place)
        part, place = key[-1]
        whole = Place(begin, self._at)
        self._keys.setdefault((*path, part), place)
        if is_array:
            path = (*path, part)
            self._values.setdefault(path, whole)
            number = self._arrays.get(path, 0)
            self._arrays[path] = number + 1
            path = (*path, number)
        else:
            path = (*path, part)
        self._values[path] = whole
        self._headers.append(TableHeader(whole, tuple(name for name, _ in key), path, is_array))
        return path

    def _open(self, path: Path, part: str, place: Place) -> Path:
        """Step into a table that a dotted key names on its way, or into the last table of an array."""
        path = (*path, part)
        self._keys.setdefault(path, place)
        self._values.setdefault(path, place)
        count = self._arrays.get(path)
        return path if count is None else (*path, count - 1)

    def _pair(self, table: Path) -> None:
        key = self._key()
        self._expect("=")
        for part, place in key[:-1]:
            table = self._open(table, part, place)
        part, place = key[-1]
        path = (*table, part)
        self._skip(_BLANKS)
        # The first of two equal keys keeps its place: the message about the second one points back to it.
        self._keys.setdefault(path, place)
        begin = self._at
        self._value(path)
        self._values.setdefault(path, Place(begin, self._at))

    def _line_end(self) -> None:
        self._skip(_BLANKS)
        if self._at < len(self._text) and self._text[self._at] not in "#\n":
            raise _EndOfToml

    # -- keys and values --------------------------------------------------------------------------------------------

    def _key(self) -> list[tuple[str, Place]]:
        parts = []
        while True:
            self._skip(_BLANKS)
            begin = self._at
            if found := _BARE_KEY.match(self._text, begin):
                part = found[0]
            elif found := _LITERAL.match(self._text, begin):
                part = found[0][1:-1]
            elif found := _BASIC.match(self._text, begin):
                part = _unescaped(found[0][1:-1])
            else:
                raise _EndOfToml
            self._at = found.end()
            parts.append((part, Place(begin, self._at)))
            self._skip(_BLANKS)
            if not self._text.startswith(".", self._at):
                return parts
            self._at += 1

    def _value(self, path: Path) -> None:
        first = self._text[self._at : self._at + 1]
        if first == "[":
            self._list(path)
        elif first == "{":
            self._inline_table(path)
        elif first in ('"', "'"):
            self._string(first)
        elif found := _SCALAR.match(self._text, self._at):
            self._at += len(found[0].rstrip(" \t"))
        else:
            raise _EndOfToml

    def _string(self, quote: str) -> None:
        is_long = self._text.startswith(quote * 3, self._at)
        found = _STRINGS[quote, is_long].match(self._text, self._at)
        if not found:
            raise _EndOfToml
        self._at = found.end()

    def _list(self, path: Path) -> None:
        self._expect("[")
        number = 0
        while True:
            self._skip(_SKIPS)
            if self._text.startswith("]", self._at):
                break
            begin = self._at
            self._value((*path, number))
            self._values[(*path, number)] = Place(begin, self._at)
            number += 1
            self._skip(_SKIPS)
            if not self._text.startswith(",", self._at):
                break
            self._at += 1
        self._expect("]")

    def _inline_table(self, path: Path) -> None:
        self._expect("{")
        self._skip(_BLANKS)
        while not self._text.startswith("}", self._at):
            self._pair(path)
            self._skip(_BLANKS)
            if not self._text.startswith(",", self._at):
                break
            self._at += 1
        self._expect("}")

    def _skip(self, what: re.Pattern[str]) -> None:
        found = what.match(self._text, self._at)
        if found:
            self._at = found.end()

    def _expect(self, what: str) -> None:
        if not self._text.startswith(what, self._at):
            raise _EndOfToml
        self._at += len(what)


def _unescaped(raw: str) -> str:
    """Return what a quoted key stands for; its escapes are few enough to do by hand."""
    plain = {"b": "\b", "t": "\t", "n": "\n", "f": "\f", "r": "\r"}

    def one(escape: re.Match[str]) -> str:
        kind = escape[0][1]
        if kind not in "uU" or len(escape[0]) == 2:
            return plain.get(kind, kind)
        number = int(escape[0][2:], 16)
        return chr(number) if number <= sys.maxunicode else "\ufffd"           # tomllib refuses it

    return _ESCAPE.sub(one, raw)
