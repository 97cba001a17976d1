"""Write files for people: whole or not at all, without losing any of theirs."""

from collections.abc import Callable, Mapping
from itertools import count
from pathlib import Path
from typing import NamedTuple

from tocsin import files
from tocsin.errors import UsageError, fix_of_writing, reason
from tocsin.translation import tr

BEFORE = ".before"                     # ends the name of the copy of a file that was replaced


class Written(NamedTuple):
    """The written files, the existing ones that were kept, and the copies of those that were replaced."""

    written: tuple[Path, ...]
    kept: tuple[Path, ...]
    copies: tuple[Path, ...] = ()

    def __or__(self, other: "Written") -> "Written":
        """Return both together."""
        return Written(*(one + two for one, two in zip(self, other, strict=True)))


def write_new(path: Path, text: str | bytes, *, overwrite: bool = False) -> bool:
    """Write a file whole or not at all; return whether it was written. An existing one is kept unless ``overwrite``.

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


def replace_keeping(path: Path, text: str) -> Path | None:
    """Write another text to an existing file, and keep a copy of the old one beside it; return the copy, None if the
    file held that text already. Raises UsageError if the place cannot be written: then the file is as it was."""
    try:
        old = path.read_bytes()
    except OSError as error:
        raise UsageError(
            tr("{path} cannot be read: {reason}", path=path, reason=reason(error)),
            hint=tr("look at it, or move it away"),
        ) from error
    if old == text.encode():
        return None
    for number in count(1):
        copy = path.with_name(f"{path.name}{BEFORE}{number if number > 1 else ''}")
        if write_new(copy, old):
            break
    write_new(path, text, overwrite=True)
    return copy


def write_files(
    folder: Path, files: Mapping[str, str], *, overwrite: bool = False, copies: bool = True
) -> Written:
    """Write files by their paths in a folder; return the written and the kept ones. An existing file is kept; with
    ``overwrite`` one with another text is replaced, and a copy of it stays beside it unless ``copies`` is false.
    Raises UsageError."""
    written: list[Path] = []
    kept: list[Path] = []
    befores: list[Path] = []
    for name, text in files.items():
        path = folder / name
        if overwrite and copies and path.exists():
            copy = replace_keeping(path, text)
            befores += [copy] if copy else []
            (written if copy else kept).append(path)
        else:
            (written if write_new(path, text, overwrite=overwrite) else kept).append(path)
    return Written(tuple(written), tuple(kept), tuple(befores))


def fill_folder(folder: Path, fill: Callable[[Path], Written]) -> Written:
    """Let ``fill`` write files below a folder; return the written and the kept files. A new folder appears whole or not
    at all.

    Raises UsageError like ``fill``, if the folder cannot be written, or if another process made it meanwhile: then
    nothing is written.
    """
    if folder.exists():
        return fill(folder)
    try:
        with files.new_folder(folder) as half:
            try:
                found = fill(half)
            except UsageError as error:        # people know the folder by its own name
                told, hint = (text.replace(str(half), str(folder)) for text in (str(error), error.hint))
                raise UsageError(told, hint=hint) from error
    except FileExistsError as error:
        hint = tr("look at what is in it; the same command again keeps that and adds what is missing")
        raise UsageError(
            tr("{folder} was made by another program just now: nothing was written", folder=folder), hint=hint,
        ) from error
    except OSError as error:
        raise _cannot_write(folder, error) from error
    return Written(*(tuple(folder / path.relative_to(half) for path in paths) for paths in found))


def demand_writable(path: Path) -> None:
    """Check that a file can be written at ``path`` later; only new folders remain.

    Called before work that takes people's time. Raises UsageError with the fix.
    """
    try:
        files.demand_writable(path)
    except OSError as error:
        raise _cannot_write(path, error) from error


def _cannot_write(path: Path, error: OSError) -> UsageError:
    hint = fix_of_writing(error, tr("choose another place"))
    return UsageError(tr("{path} cannot be written: {reason}", path=path, reason=reason(error)), hint=hint)
