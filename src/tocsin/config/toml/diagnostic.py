"""Hold a mistake with its place, for people and for programs."""

import textwrap

import msgspec

from tocsin.translation import tr

_NARROW = 20


class Fix(msgspec.Struct, frozen=True, kw_only=True):
    """The only possible correction of a line: ``text`` in place of its characters from ``column`` to before ``end``,
    both counted from 1. It fixes all mistakes in the line."""

    line: int
    column: int
    end: int
    text: str


class FileDiagnostic(msgspec.Struct, frozen=True, kw_only=True):
    """One mistake in one file. ``line`` and ``column`` count from 1; line 0 means the file as a whole.

    ``message`` says what is wrong, ``expected`` what would be right, ``hint`` what to do: to write the ``fix``, if
    there is one. ``source`` is the line, ``length`` the number of wrong characters in it.
    """

    code: str
    file: str
    line: int = 0
    column: int = 0
    length: int = 0
    source: str = ""
    message: str
    expected: str = ""
    hint: str = ""
    fix: Fix | None = None


def as_json(problem: FileDiagnostic) -> dict[str, object]:
    """Return the problem in the form of ``--json``; ``fix`` is null if several corrections are possible."""
    return {
        "code": problem.code,
        "file": problem.file,
        "line": problem.line,
        "column": problem.column,
        "message": " ".join(part for part in (problem.message, problem.expected) if part),
        "hint": problem.hint,
        "fix": None if problem.fix is None else msgspec.to_builtins(problem.fix),
    }


def render(problem: FileDiagnostic, width: int = 79) -> str:
    """Return the problem as a block of lines of at most ``width`` characters, as far as words allow.

    The file's line stands under the sentence, with carets under the wrong characters. A long line is cut around them,
    shown by an ellipsis. Each control character or tab is shown as one blank, so that the carets fit.
    """
    where = tr("{file}, line {line}", file=problem.file, line=problem.line) if problem.line else problem.file
    lines = _wrapped(f"{where}: {problem.message}", width, "")
    if problem.line and problem.source.strip():
        lines += _excerpt(problem, width)
    if problem.expected:
        lines += _wrapped(problem.expected, width, "    ")
    if problem.hint:
        # A line to type stays whole: terminals fold it, and it can be copied.
        is_line = problem.fix is not None
        lines += [f"    {problem.hint}"] if is_line else _wrapped(problem.hint, width, "    ")
    return "\n".join(lines)


def render_all(problems: tuple[FileDiagnostic, ...], width: int = 79) -> str:
    """Return all problems as text, separated by blank lines, and their number if there are several."""
    blocks = [render(problem, width) for problem in problems]
    if len(problems) > 1:
        blocks.append(tr("{count} mistakes.", count=len(problems)))
    return "\n\n".join(blocks)


def _excerpt(problem: FileDiagnostic, width: int) -> list[str]:
    gutter = f"    {problem.line} | "
    room = max(width - len(gutter), _NARROW)
    source = "".join(char if char.isprintable() else " " for char in problem.source)
    begin = min(max(problem.column - 1, 0), len(source))
    is_long = len(source) > room
    # A long line leaves a place for an ellipsis on either side of what is marked.
    length = max(1, min(problem.length, len(source) - begin, room - 2 * is_long))
    cut = min(max(0, begin + length + 1 - room), len(source) - room) if is_long else 0
    shown = source[cut : cut + room]
    if cut:
        shown = "…" + shown[1:]
    if cut + room < len(source):
        shown = shown[:-1] + "…"
    carets = " " * (begin - cut) + "^" * length
    return [gutter + shown, " " * (len(gutter) - 2) + "| " + carets]


def _wrapped(text: str, width: int, indent: str) -> list[str]:
    return textwrap.wrap(
        text,
        max(width, _NARROW),
        initial_indent=indent,
        subsequent_indent=indent or "    ",
        break_long_words=False,
        break_on_hyphens=False,
    )
