"""Open a run's journal for its writer: a new one with its header on the disk, or an existing one to continue.

Only the user may read journals: they say who plays, when, and how well.
"""

import contextlib
import io
import os
from itertools import count
from pathlib import Path
from typing import NamedTuple

from tocsin import files
from tocsin.errors import JournalError
from tocsin.journal.place import JOURNAL_NAME, cannot_write, folder_name, is_kept_name, is_run_name
from tocsin.journal.records import Header, encode, is_whole
from tocsin.translation import tr


class OpenJournal(NamedTuple):
    """A run's folder and its journal, open for appending without a buffer of our own."""

    folder: Path
    file: io.FileIO


def open_new(runs: Path, header: Header) -> OpenJournal:
    """Return a new folder in ``runs`` with a journal, its header already on the disk. Raises JournalError if that
    fails: no permission, a full disk, a folder that is a file."""
    try:
        folder = _new_folder(runs, header)
    except OSError as error:
        raise cannot_write(runs, error) from error
    try:
        file = _appending(folder / JOURNAL_NAME)
    except OSError as error:
        _take_back(folder)
        raise cannot_write(folder, error) from error
    try:
        _write_all(file, encode(header))
        files.sync(file.fileno())
        files.sync_folder(folder)
        files.sync_folder(runs)
    except OSError as error:
        file.close()
        _take_back(folder)
        raise cannot_write(folder, error) from error
    return OpenJournal(folder, file)


def open_again(folder: Path) -> OpenJournal:
    """Return a run's journal, cut behind its last whole record; the torn rest of a crash is first copied beside it.
    Raises JournalError."""
    path = folder / JOURNAL_NAME
    try:
        if not path.is_file():
            raise JournalError(tr("{folder}: there is no journal", folder=folder), hint=tr("name the folder of a run"))
        _cut_torn(path)
        _close_runs(folder.parent)
        files.close_to_others(folder, folder=True)
        files.close_to_others(path)
        return OpenJournal(folder, _appending(path))
    except OSError as error:
        raise cannot_write(folder, error) from error


def _appending(path: Path) -> io.FileIO:
    return io.FileIO(path, "ab", opener=lambda name, flags: os.open(name, flags, files.PRIVATE_FILE))


def _new_folder(runs: Path, header: Header) -> Path:
    files.make_folder(runs, private=True)
    _close_runs(runs)
    for number in count(1):
        folder = runs / folder_name(header.wall, header.label, number)
        with contextlib.suppress(FileExistsError):
            folder.mkdir(files.PRIVATE_FOLDER)
            return folder
    raise AssertionError("count ends never")


def _close_runs(runs: Path) -> None:
    """Keep other users out of a folder of runs that an earlier version left open, since labels may hold names.

    One that also holds other things, as a person may have chosen with --runs, stays as it is.
    """
    with contextlib.suppress(OSError), os.scandir(runs) as entries:
        if all(is_kept_name(entry.name) or is_run_name(entry.name) for entry in entries):
            files.close_to_others(runs, folder=True)


def _take_back(folder: Path) -> None:
    """Remove the folder of a run that never began, so that it does not look like a broken one."""
    with contextlib.suppress(OSError):
        (folder / JOURNAL_NAME).unlink(missing_ok=True)
        folder.rmdir()


def _write_all(file: io.FileIO, data: bytes) -> None:
    while data:
        data = data[file.write(data) or 0 :]


def _cut_torn(path: Path) -> None:
    """Cut the text behind the last newline, after a copy of it is on the disk; a whole record gets its newline."""
    data = path.read_bytes()
    whole_bytes = data.rfind(b"\n") + 1
    rest = data[whole_bytes:]
    if not rest:
        return
    if not is_whole(rest):
        _keep_copy(path.parent, rest)
    with path.open("r+b") as file:
        if is_whole(rest):
            file.seek(0, os.SEEK_END)
            file.write(b"\n")
        else:
            file.truncate(whole_bytes)
        file.flush()
        files.sync(file.fileno())


def _keep_copy(folder: Path, rest: bytes) -> None:
    for number in count(1):
        copy = folder / f"torn-{number}.txt"
        if files.create_whole(copy, rest, private=True):
            return
