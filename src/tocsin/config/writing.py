"""Files that are written for people: whole or not at all, and none of theirs is lost."""

from pathlib import Path

from tocsin import files
from tocsin.errors import UsageError, mend_of_writing, reason


def write_new(path: Path, text: str | bytes, *, overwrite: bool = False) -> bool:
    """Write a file whole or not at all; return whether it was written: one that is there is kept unless ``overwrite``.

    Text is written as UTF-8 with line feeds on every system. Raises UsageError if the place cannot be written.
    """
    data = text.encode() if isinstance(text, str) else text
    try:
        if overwrite:
            files.write_whole(path, data)
            return True
        return files.create_whole(path, data)
    except OSError as error:
        raise _cannot_write(path, error) from error


def demand_writable(path: Path) -> None:
    """Make sure that a file can be written at ``path`` later; only folders that are made for it stay.

    For what takes people's time first. Raises UsageError with the mend.
    """
    try:
        files.demand_writable(path)
    except OSError as error:
        raise _cannot_write(path, error) from error


def _cannot_write(path: Path, error: OSError) -> UsageError:
    hint = mend_of_writing(error, "choose another place")
    return UsageError(f"{path} cannot be written: {reason(error)}", hint=hint)
