"""Write an advised lead into its plan, for somebody who said yes."""

import tomllib
from pathlib import Path

from tocsin.config.writing import replace_keeping
from tocsin.errors import UsageError
from tocsin.features.advice.answer import PlanLine
from tocsin.translation import tr
from tocsin.units import parse_clock


def write_lead(path: Path, line: PlanLine, lead: str, lasts_ns: int) -> Path | None:
    """Replace one line of a plan's file, and keep a copy of what it was; return the copy. All else stays as it is.

    Raises UsageError, with nothing changed, if the file is no longer as it was read, or cannot be written.
    """
    try:
        before = path.read_bytes().decode()
        lines = before.split("\n")
        old = lines[line.line - 1]
        indent, end = old[: len(old) - len(old.lstrip())], "\r" if old.endswith("\r") else ""
        lines[line.line - 1] = f"{indent}{line.text}{end}"
        after = "\n".join(lines)
        changed = tomllib.loads(after.replace("\r\n", "\n"))
        expected = tomllib.loads(before.replace("\r\n", "\n"))
        expected["lead"][lead] = changed["lead"][lead]
        fits = changed == expected and parse_clock(changed["lead"][lead]) == lasts_ns
    except (OSError, ValueError, KeyError, IndexError, TypeError):
        fits = False
    if not fits:
        raise UsageError(
            tr("{file} is not as it was read: nothing was written", file=line.file),
            hint=tr("write this in line {line} yourself: {text}", line=line.line, text=line.text),
        )
    return replace_keeping(path, after)
