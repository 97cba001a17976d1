"""Hold one file as read: its text, its values, their places, and the problems found so far."""

from collections.abc import Callable, Iterable, Mapping
from typing import Any, NamedTuple

import msgspec

from tocsin.config.toml.diagnostic import FileDiagnostic, Fix
from tocsin.config.toml.messages import MESSAGES
from tocsin.config.toml.positions import Place, Places, line_and_column, line_starts, within
from tocsin.model.diagnostics import Diagnostic, Path
from tocsin.translation import tr

MOST_PROBLEMS = 100                    # of one file that are told; further ones are counted


class _LineFix(NamedTuple):
    """What is known of fixing a line: texts by the place that each one takes in the text as it is fixed, or that some
    mistake in the line has no fix, or two at one place."""

    fixes: dict[Place, str]
    unfixed: bool = False


class Document:
    """A file's ``text``, its readable ``data``, and ``problems``, to which later stages add.

    ``lost`` holds the key paths that could not be read, so that they are not reported as missing. People see the
    original lines; places refer to ``text``, in which broken lines have been fixed. ``rows`` maps the places of a
    list's remaining tables to their places in the file.
    """

    def __init__(self, name: str, original: str) -> None:
        self.name = name
        self._lines = original.split("\n")
        self.text = original
        self.data: dict[str, Any] = {}
        self.places = Places({}, {}, [], [], None, ())
        self.lost: set[Path] = set()
        self.fixed_lines: set[int] = set()
        self.guessed: set[Path] = set()
        self.rows: dict[str, list[int]] = {}
        self.problems: list[FileDiagnostic] = []
        self._fixed: dict[int, _LineFix] = {}
        self._options: dict[FileDiagnostic, str] = {}
        self._renamed: dict[Path, Path] = {}
        self._known: set[FileDiagnostic] = set()
        self._broken: set[int] = set()         # lines that could not be read
        self._more = 0                         # mistakes that are not told
        # What moments of this file may count from, where its game is known; asked only for a moment that is none.
        self.bases: Callable[[], Iterable[str]] = tuple

    @property
    def text(self) -> str:
        """The text as far as it has been fixed, with as many lines as the original."""
        return self._text

    @text.setter
    def text(self, text: str) -> None:
        self._text = text
        self._starts = line_starts(text)

    @property
    def is_sound(self) -> bool:
        """Return whether no problem has been found."""
        return not self.problems

    @property
    def is_full(self) -> bool:
        """Return whether there are so many problems that more would not help; further ones are only counted."""
        return len(self.problems) >= MOST_PROBLEMS

    def pass_over(self) -> None:
        """Count a mistake without reporting it."""
        self._more += 1

    def report(self, mistake: Diagnostic) -> None:
        """Add the problem of a mistake at a key path, unless the same is there already.

        The fact ``likely`` is TOML text for the whole value, whatever part of it the span marks; it must be the only
        possible meaning. ``options`` are several possible meanings.
        """
        if self.is_full:
            self.pass_over()
            return
        whole = self._nearest(mistake.path)
        marked = whole
        if whole is not None and mistake.span is not None and mistake.path in self.places.values:
            marked = within(self.text, whole, mistake.span)
        self.report_at(mistake.code, marked, mistake.facts, whole)

    def report_key(self, code: str, path: Path, facts: Mapping[str, str]) -> None:
        """Add a problem at the key that ``path`` ends in, rather than at its value."""
        self.report_at(code, self.places.keys.get(path) or self._nearest(path), facts)

    def report_at(
        self, code: str, marked: Place | None, facts: Mapping[str, str], likely_at: Place | None = None
    ) -> None:
        """Add a problem at a place of the text, or of the whole file; ``likely`` replaces the text at ``likely_at``.

        An unreadable line has one problem: errors that follow from a guess at its meaning are not reported.
        """
        if self.is_full:
            self.pass_over()
            return
        problem = self._problem(code, marked, facts)
        if problem in self._known:
            return
        if problem.line not in self._broken:
            self._take(problem)
            self._options[problem] = facts.get("options", "")
        self._fix(problem.line, likely_at or marked, facts.get("likely", ""))

    def _take(self, problem: FileDiagnostic) -> None:
        self.problems.append(problem)
        self._known.add(problem)
        if problem.code.startswith("syntax") and problem.line:
            self._broken.add(problem.line)

    def fixed_in_text(self, code: str, marked: Place, facts: Mapping[str, str]) -> None:
        """Add a problem whose fix is the next change of the text."""
        problem = self._problem(code, marked, facts)
        if problem.line not in self._broken:
            self._take(problem)
        self._fixed.setdefault(problem.line, _LineFix({}))

    def follow(self, path: Path, likely: str) -> None:
        """Handle a mistake in a guess at ``path``: it is not reported to the writer, but it changes the fix. ``likely``
        is TOML text for the whole value; if empty, no fix is offered."""
        place = self._nearest(self.original_key(path))
        if place is not None:
            line, _ = line_and_column(self._starts, place.begin)
            found = self._fixed.get(line, _LineFix({}))
            self._fixed[line] = _LineFix({**found.fixes, place: likely}, found.unfixed or not likely)

    def is_guessed(self, path: Path) -> bool:
        """Return whether the value at a path was guessed."""
        return self.original_path(path) in self.guessed

    def withdraw_guesses(self) -> None:
        """Withdraw every fix that rests on a guessed value: together they do not make a valid file."""
        for path in self.guessed:
            self.follow(path, "")

    def rename(self, path: Path, new: str) -> None:
        """Treat a key as another one from now on: problems at the new key's path are reported at the old one's."""
        self._renamed[(*path[:-1], new)] = path

    def original_key(self, path: Path) -> Path:
        """Return the file's path for a path with renamed keys."""
        for end in range(1, len(path) + 1):
            if path[:end] in self._renamed:
                return (*self._renamed[path[:end]], *path[end:])
        return path

    def original_path(self, path: Path) -> Path:
        """Return the file's path for a path in the values without the broken tables."""
        if len(path) > 1 and isinstance(path[1], int) and (rows := self.rows.get(str(path[0]))) and path[1] < len(rows):
            return (path[0], rows[path[1]], *path[2:])
        return path

    def line_of(self, path: Path) -> int:
        """Return the line of the value at a path, 0 if there is none."""
        place = self._nearest(path)
        return line_and_column(self._starts, place.begin)[0] if place else 0

    def sorted_problems(self) -> tuple[FileDiagnostic, ...]:
        """Return the problems in the order of the file, each with its line's fix, if that fixes the whole line."""
        ordered = sorted(self.problems, key=lambda problem: (problem.line, problem.column))
        told = [self._with_fix(problem) for problem in ordered]
        if self._more:
            facts = _FactsOrBlank({"count": f"{self._more:,}", "most": str(MOST_PROBLEMS)})
            message, expected, hint = (part.format_map(facts) for part in MESSAGES["more_mistakes"])
            told.append(
                FileDiagnostic(code="more_mistakes", file=self.name, message=message, expected=expected, hint=hint)
            )
        return tuple(told)

    def _with_fix(self, problem: FileDiagnostic) -> FileDiagnostic:
        fix = self._fix_of(problem)
        if fix is not None:
            return msgspec.structs.replace(problem, fix=fix, hint=tr("Write: {text}", text=fix.text))
        options = self._options.get(problem, "")
        return (
            msgspec.structs.replace(problem, hint=tr("One of these: {options}", options=options)) if options
            else problem
        )

    def _fix_of(self, problem: FileDiagnostic) -> Fix | None:
        known = self._fixed.get(problem.line)
        if known is None or known.unfixed:
            return None
        begin = self._starts[problem.line - 1]
        text = self._text[begin:].split("\n", 1)[0]
        for place, likely in sorted(known.fixes.items(), reverse=True):
            text = text[: place.begin - begin] + likely + text[place.end - begin :]
        source = self._lines[problem.line - 1]
        if not text.strip() or text == source:
            return None
        indent = len(source) - len(source.lstrip())
        return Fix(line=problem.line, column=indent + 1, end=len(source.rstrip()) + 1, text=text.strip())

    def _fix(self, line: int, place: Place | None, likely: str) -> None:
        """Take down what fixes a line, or that nothing does."""
        if not line:
            return
        known = self._fixed.get(line, _LineFix({}))
        is_one_line = place is not None and "\n" not in self._text[place.begin : place.end]
        if not likely or place is None or not is_one_line:
            self._fixed[line] = known._replace(unfixed=True)
            return
        others = [other for other in known.fixes if other.begin < place.end and place.begin < other.end]
        is_second = any(other != place or known.fixes[other] != likely for other in others)
        self._fixed[line] = _LineFix({**known.fixes, place: likely}, known.unfixed or is_second)

    def _problem(self, code: str, marked: Place | None, facts: Mapping[str, str]) -> FileDiagnostic:
        message, expected, hint = (part.format_map(_FactsOrBlank(facts)) for part in MESSAGES[code])
        if marked is None:
            return FileDiagnostic(code=code, file=self.name, message=message, expected=expected, hint=hint)
        line, column = line_and_column(self._starts, min(marked.begin, len(self._text)))
        source = self._lines[line - 1]
        length = min(marked.end - marked.begin, len(source) - column + 1)
        return FileDiagnostic(
            code=code, file=self.name, line=line, column=column, length=max(length, 1), source=source,
            message=message, expected=expected, hint=hint,
        )  # fmt: skip

    def _nearest(self, path: Path) -> Place | None:
        """Return where the value at ``path`` stands, or what it would stand in."""
        while path:
            if found := self.places.values.get(path) or self.places.keys.get(path):
                return found
            path = path[:-1]
        return None


class _FactsOrBlank(dict[str, str]):
    """Facts by name; one that is not given reads as nothing, rather than hiding a mistake behind another."""

    def __missing__(self, key: str) -> str:
        return ""
