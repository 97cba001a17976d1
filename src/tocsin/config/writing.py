"""Files that are written for people: whole or not at all, and none of theirs is lost."""

import contextlib
import os
from pathlib import Path

from tocsin.errors import UsageError, mend_of_writing, reason
from tocsin.monotime import sleep_ns
from tocsin.units import NS_PER_MS

_TRIES = 5
_PAUSE_NS = 50 * NS_PER_MS


def write_new(path: Path, text: str | bytes, *, overwrite: bool = False) -> bool:
    """Write a file whole or not at all; return whether it was written: one that is there is kept unless ``overwrite``.

    Text is written as UTF-8 with line feeds on every system. Raises UsageError if the place cannot be written.
    """
    if path.exists() and not overwrite:
        return False
    half = path.with_name(f"{path.name}.part")
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        with half.open("wb") as file:
            file.write(text.encode() if isinstance(text, str) else text)
            file.flush()
            os.fsync(file.fileno())
        _put(half, path)
    except OSError as error:
        with contextlib.suppress(OSError):
            half.unlink(missing_ok=True)
        hint = mend_of_writing(error, "choose another place")
        raise UsageError(f"{path} cannot be written: {reason(error)}", hint=hint) from error
    return True


def _put(half: Path, path: Path) -> None:
    """Put the written file in its place. On Windows a virus scanner may hold either for a moment."""
    for _ in range(_TRIES):
        try:
            half.replace(path)
            return
        except PermissionError:
            sleep_ns(_PAUSE_NS)
    half.replace(path)
