"""A mistake with its place: what a person reads about it, and what a program reads."""

import textwrap

import msgspec

_NARROW = 20


class Fix(msgspec.Struct, frozen=True, kw_only=True):
    """The only text that can have been meant by a line: ``text`` in place of its characters from ``column`` to before
    ``end``, both counted from 1. It fixes all that is wrong in the line."""

    line: int
    column: int
    end: int
    text: str


class FileDiagnostic(msgspec.Struct, frozen=True, kw_only=True):
    """One mistake in one file. ``line`` and ``column`` count from 1; line 0 means the file as a whole.

    ``message`` says what is wrong, ``expected`` what would be right, ``hint`` what to do about it: to write the
    ``fix``, if there is one. ``source`` is the line, ``length`` how many characters of it are wrong.
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
    """Return the problem as ``--json`` gives it; ``fix`` is null where more than one thing may have been meant."""
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
    """Return the problem as a block of lines of at most ``width`` characters where words allow it.

    The line of the file stands under the sentence, with carets under the very characters that are wrong. A long line
    is cut around them, which an ellipsis tells. Control characters and tabs are shown as one blank each, so that the
    carets stay in place.
    """
    where = f"{problem.file}, line {problem.line}" if problem.line else problem.file
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
    """Return all problems as text, a blank line between two of them, and how many there are if it is more than one."""
    blocks = [render(problem, width) for problem in problems]
    if len(problems) > 1:
        blocks.append(f"{len(problems)} mistakes.")
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
