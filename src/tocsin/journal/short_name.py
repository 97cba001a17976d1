"""Give each run a short name that people can read out and type: four letters and digits, more where two are alike.

It is a hash of the begin in its folder's name, and of the number that tells namesakes apart, so it stays the same when
a label changes or names are forgotten. Vowels are left out, or it could be a word; so is what looks like another sign.
"""

import hashlib
from collections.abc import Iterable, Sequence
from pathlib import Path

from tocsin.journal.place import run_folders, unlabelled

LEAST = 4
_MOST = 12
_FIRST = "bcdfghjkmnpqrstvwxz"         # a letter: the long names of runs begin with a digit
_OTHERS = _FIRST + "23456789"


def short_names(folders: Iterable[Path]) -> dict[Path, str]:
    """Return the short names of runs' folders, each as long as it takes to be the only one among these."""
    whole = {folder: _hashed(unlabelled(folder.name)) for folder in folders}
    ordered = sorted(whole.items(), key=lambda item: item[1])
    names = [name for _, name in ordered]
    found = {}
    for place, (folder, name) in enumerate(ordered):
        alike = max(_common(name, other) for other in _beside(names, place))
        only_labels_differ = alike == len(name)
        found[folder] = folder.name if only_labels_differ else name[: max(LEAST, alike + 1)]
    return found


def short_name(folder: Path) -> str:
    """Return the short name of a run among all runs beside it; its folder's name if that cannot be read, or is none."""
    try:
        return short_names(run_folders(folder.parent)).get(folder, folder.name)
    except OSError:                        # the disk is gone: the run's own summary has said so
        return folder.name


def called(folders: Iterable[Path], text: str) -> list[Path]:
    """Return those whose short name is ``text``, or begins with it where that is long enough for one."""
    typed = text.casefold()
    if len(typed) < LEAST:
        return []
    return [folder for folder in folders if _hashed(unlabelled(folder.name)).startswith(typed)]


def _hashed(name: str) -> str:
    digest = hashlib.blake2s(name.encode("utf-8", "surrogateescape")).digest()
    first, *others = digest[:_MOST]
    return _FIRST[first % len(_FIRST)] + "".join(_OTHERS[one % len(_OTHERS)] for one in others)


def _beside(names: Sequence[str], place: int) -> Sequence[str]:
    return [*names[max(0, place - 1) : place], *names[place + 1 : place + 2], ""]


def _common(one: str, other: str) -> int:
    return next((n for n, (a, b) in enumerate(zip(one, other, strict=False)) if a != b), min(len(one), len(other)))
