"""Files that are written for people: whole or not at all, and none of theirs is lost."""

import contextlib
import os
from pathlib import Path

from tocsin.errors import UsageError, mend_of_writing, reason
from tocsin.monotime import sleep_ns
from tocsin.units import NS_PER_MS

_PROBE_BYTES = 65536                   # pictures and tables are mostly smaller
_TRIES = 5
_PAUSE_NS = 50 * NS_PER_MS


def write_new(path: Path, text: str | bytes, *, overwrite: bool = False) -> bool:
    """Write a file whole or not at all; return whether it was written: one that is there is kept unless ``overwrite``.

    Text is written as UTF-8 with line feeds on every system. Raises UsageError if the place cannot be written.
    """
    if path.exists() and not overwrite:
        return False
    half = _half(path)
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
        raise _cannot_write(path, error) from error
    return True


def demand_writable(path: Path) -> None:
    """Make sure that a file can be written at ``path`` later; only folders that are made for it stay.

    For what takes people's time first. Raises UsageError with the mend.
    """
    half = _half(path)
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        try:
            half.write_bytes(bytes(_PROBE_BYTES))
        finally:
            half.unlink(missing_ok=True)
    except OSError as error:
        raise _cannot_write(path, error) from error


def _half(path: Path) -> Path:
    return path.with_name(f"{path.name}.part")


def _cannot_write(path: Path, error: OSError) -> UsageError:
    hint = mend_of_writing(error, "choose another place")
    return UsageError(f"{path} cannot be written: {reason(error)}", hint=hint)


def _put(half: Path, path: Path) -> None:
    """Put the written file in its place. On Windows a virus scanner may hold either for a moment."""
    for _ in range(_TRIES):
        try:
            half.replace(path)
            return
        except PermissionError:
            sleep_ns(_PAUSE_NS)
    half.replace(path)
