"""Finds runs in a folder: one by its name, or all of them."""

from collections.abc import Iterator
from pathlib import Path

from tocsin.errors import BrokenRunError, JournalError, UsageError, reason
from tocsin.journal.place import run_folders
from tocsin.journal.reader import Journal, OnBroken, read


def find_run(runs: Path, name: str) -> Journal:
    """Return a run by its folder, or by the begin of its folder's name; nothing is the newest.

    Raises UsageError where no run, or more than one, is meant, and BrokenRunError where it cannot be read: another one
    is never taken in its place.
    """
    if name and _is_folder(name):
        return read(Path(name))
    folders = _folders(runs)
    if not folders:
        hint = "record one with `tocsin run`, or name its place with --runs"
        raise UsageError(f"there is no run in {runs}", hint=hint)
    fitting = [folder for folder in folders if folder.name.startswith(name)]
    if not fitting:
        raise UsageError(f"there is no run '{name}'", hint="`tocsin runs` lists them")
    if name and len(fitting) > 1:
        raise UsageError(f"'{name}' is the begin of {len(fitting)} runs", hint=f"write more of it: {fitting[0].name}")
    return read(fitting[0])


def all_runs(runs: Path, on_broken: OnBroken) -> Iterator[Journal]:
    """Yield every run that can be read, the newest first; of another ``on_broken`` is told why.

    Raises JournalError for the folder itself.
    """
    for folder in _folders(runs):
        try:
            found = read(folder)
        except BrokenRunError as error:
            on_broken(error)
        else:
            yield found


def _is_folder(name: str) -> bool:
    try:
        return Path(name).is_dir()
    except OSError:                                    # too long for a file's name, for one
        return False


def _folders(runs: Path) -> list[Path]:
    try:
        return run_folders(runs)
    except OSError as error:
        raise JournalError(f"{runs}: the runs cannot be read: {reason(error)}") from error
