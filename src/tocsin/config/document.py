"""One file as read: its text, its values, their places, and the problems found so far."""

from collections.abc import Callable, Iterable, Mapping
from typing import Any, NamedTuple

import msgspec

from tocsin.config.messages import MESSAGES
from tocsin.config.places import Place, Places, line_and_column, line_starts, within
from tocsin.config.problem import Problem
from tocsin.model.mistake import Mistake, Path


class _Mend(NamedTuple):
    """What was likely meant in a line: ``text`` in place of the characters from ``begin`` to ``end``."""

    begin: int
    end: int
    text: str

    def apart(self, other: "_Mend") -> bool:
        """Return whether two mends change different characters."""
        return self.end <= other.begin or other.end <= self.begin


class Document:
    """A file's ``text``, its ``data`` as far as it could be read, and ``problems``, to which later stages add.

    ``lost`` holds the key paths that could not be read, so that nobody calls them missing. The person sees the lines
    of the original; places are those of ``text``, which is mended so that it can be read: the same, but for the lines
    that were broken. ``rows`` maps the places of the tables that are left in a list to their places in the file.
    """

    def __init__(self, name: str, original: str) -> None:
        self.name = name
        self._lines = original.split("\n")
        self.text = original
        self.data: dict[str, Any] = {}
        self.places = Places({}, {}, [], [], None, ())
        self.lost: set[Path] = set()
        self.mended_lines: set[int] = set()
        self.guessed: set[Path] = set()
        self.rows: dict[str, list[int]] = {}
        self.problems: list[Problem] = []
        self._mends: dict[Problem, _Mend] = {}
        # What moments of this file may count from, where its game is known; asked only for a moment that is none.
        self.bases: Callable[[], Iterable[str]] = tuple

    @property
    def text(self) -> str:
        """The text as far as it has been mended; it has as many lines as the original."""
        return self._text

    @text.setter
    def text(self, text: str) -> None:
        self._text = text
        self._starts = line_starts(text)

    @property
    def is_sound(self) -> bool:
        """Return whether no problem has been found."""
        return not self.problems

    def report(self, mistake: Mistake) -> None:
        """Add the problem that a mistake at a key path is, unless the same stands there already.

        The fact ``likely`` is TOML text for the whole value, whatever part of it the span marks.
        """
        whole = self._nearest(mistake.path)
        marked = whole
        if whole is not None and mistake.span is not None and mistake.path in self.places.values:
            marked = within(self.text, whole, mistake.span)
        self.report_at(mistake.code, marked, mistake.facts, whole)

    def report_key(self, code: str, path: Path, facts: Mapping[str, str]) -> None:
        """Add a problem with the key that ``path`` ends in, rather than with its value."""
        self.report_at(code, self.places.keys.get(path) or self._nearest(path), facts)

    def report_at(
        self, code: str, marked: Place | None, facts: Mapping[str, str], likely_at: Place | None = None
    ) -> None:
        """Add a problem at a place of the text, or of the whole file; ``likely`` replaces what stands at ``likely_at``.

        A line that could not be read has one problem: what follows from a mended guess is not held against the writer.
        """
        problem = self._problem(code, marked, facts, likely_at or marked)
        broken = {known.line for known in self.problems if known.code.startswith("syntax") and known.line}
        if problem not in self.problems and problem.line not in broken:
            self.problems.append(problem)

    def original_path(self, path: Path) -> Path:
        """Return the path in the file for one in the values from which broken tables have been taken out."""
        if len(path) > 1 and isinstance(path[1], int) and (rows := self.rows.get(str(path[0]))) and path[1] < len(rows):
            return (path[0], rows[path[1]], *path[2:])
        return path

    def line_of(self, path: Path) -> int:
        """Return the line of what stands at a path, 0 if nothing does."""
        place = self._nearest(path)
        return line_and_column(self._starts, place.begin)[0] if place else 0

    def sorted_problems(self) -> tuple[Problem, ...]:
        """Return the problems in the order of the file; of several in one line each hint mends all of them."""
        ordered = sorted(self.problems, key=lambda problem: (problem.line, problem.column))
        return tuple(self._with_its_line_mended(problem) for problem in ordered)

    def _with_its_line_mended(self, problem: Problem) -> Problem:
        if problem not in self._mends:
            return problem
        mends = [self._mends[problem]]
        for other in self.problems:
            mend = self._mends.get(other)
            # Two guesses at the same text cannot both be taken.
            if mend and other.line == problem.line and all(mend.apart(known) for known in mends):
                mends.append(mend)
        return msgspec.structs.replace(problem, hint=_written(problem.source, sorted(mends)))

    def _problem(self, code: str, marked: Place | None, facts: Mapping[str, str], likely_at: Place | None) -> Problem:
        message, expected, hint = (part.format_map(_Facts(facts)) for part in MESSAGES[code])
        if marked is None or likely_at is None:
            return Problem(code=code, file=self.name, message=message, expected=expected, hint=hint)
        line, column = line_and_column(self._starts, min(marked.begin, len(self._text)))
        source = self._lines[line - 1]
        length = min(marked.end - marked.begin, len(source) - column + 1)
        mend = None
        if (likely := facts.get("likely")) and "\n" not in self._text[likely_at.begin : likely_at.end]:
            begin = likely_at.begin - self._starts[line - 1]
            mend = _Mend(begin, begin + likely_at.end - likely_at.begin, likely)
            hint = _written(source, [mend])
        problem = Problem(
            code=code, file=self.name, line=line, column=column, length=max(length, 1), source=source,
            message=message, expected=expected, hint=hint,
        )  # fmt: skip
        if mend is not None:
            self._mends[problem] = mend
        return problem

    def _nearest(self, path: Path) -> Place | None:
        """Return where the value at ``path`` stands, or what it would stand in."""
        while path:
            if found := self.places.values.get(path) or self.places.keys.get(path):
                return found
            path = path[:-1]
        return None


def _written(source: str, mends: Iterable[_Mend]) -> str:
    """Return the hint to write a line as it reads with mends that do not overlap, in their order."""
    for mend in reversed(list(mends)):
        source = source[: mend.begin] + mend.text + source[mend.end :]
    return f"Write: {source.strip()}"


class _Facts(dict[str, str]):
    """Facts by name; one that is not given reads as nothing, rather than hiding a mistake behind another."""

    def __missing__(self, key: str) -> str:
        return ""
