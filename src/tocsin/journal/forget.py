"""Remove a name from the words in a folder of runs; texts that a program reads back stay, so that journals stay valid.

Each file is replaced whole; the folder's own name goes first, so that a repeat completes the work after a crash.
"""

import contextlib
import shutil
from collections import Counter
from collections.abc import Callable, Iterator
from pathlib import Path

import msgspec
import psutil

from tocsin import files
from tocsin.errors import JournalError, reason
from tocsin.journal.fields import WORDS, Holds, visited
from tocsin.journal.name import Name
from tocsin.journal.place import JOURNAL_NAME, label_in, run_folders, slug, with_label
from tocsin.translation import tr

_TORN = "torn-*.txt"
_Change = Callable[[Holds, str], str]


class _Labelled(msgspec.Struct):
    label: str = ""


class Trace(msgspec.Struct, frozen=True, kw_only=True):
    """A text that holds a name: the file, the line from 1 (0: the folder's own name), the text.

    ``part`` is a label in which the name is only part of a longer word: people must decide whether it means the person.
    """

    path: Path
    line: int
    text: str
    part: bool = False


class NameUses(msgspec.Struct, frozen=True, kw_only=True):
    """Where a name occurs. ``spelled`` counts texts that are spelled so and are no words: programs read them back, and
    they stay. ``unread`` are files in runs' folders that are not Tocsin's and were not searched."""

    traces: tuple[Trace, ...] = ()
    spelled: int = 0
    unread: tuple[Path, ...] = ()


def traces(runs: Path, name: Name) -> NameUses:
    """Return where a name occurs in the runs. Raises JournalError."""
    found: list[Trace] = []
    spelled = 0
    unread: list[Path] = []
    for folder in run_folders(runs):
        found += _traced(folder, 0, "label", label_in(folder.name), name)
        ours = list(_files(folder))
        unread += [path for path in sorted(folder.iterdir()) if path not in ours and not path.name.startswith(".")]
        for file in ours:
            for number, line in enumerate(_text(file).split("\n"), 1):
                for (holds, text), times in _texts(line).items():
                    found += _traced(file, number, holds, text, name)
                    spelled += times if holds == "structure" and name.stands_in(text) else 0
    return NameUses(traces=tuple(found), spelled=spelled, unread=tuple(unread))


def rewrite(runs: Path, name: Name, parts: frozenset[str] = frozenset()) -> int:
    """Remove a name from every word of every run; return the number of changed files and folders.

    ``parts`` are whole labels, as traces show them, to remove since the name is part of a word in them. Call it while
    no run is on. Raises JournalError.
    """

    def change(holds: Holds, text: str) -> str:
        if holds not in WORDS:
            return text
        if holds == "label" and text in parts:
            return name.removed
        return name.taken_out(text, no_longer=holds == "short words")

    changed = 0
    clear_leftovers(runs)
    for old in run_folders(runs):
        clear_leftovers(old)
        folder = _renamed(old, change("label", _label_of(old)))
        changed += folder != old
        moved = _moved(change, old.name, folder.name)
        changed += sum(_rewrite_file(file, moved) for file in _files(folder))
    return changed


def _texts(line: str) -> Counter[tuple[Holds, str]]:
    """Return the texts of a line, what they hold, and how often."""
    texts: Counter[tuple[Holds, str]] = Counter()

    def look(holds: Holds, text: str) -> str:
        texts[holds, text] += 1
        return text

    visited(line, look)
    return texts


def _traced(path: Path, line: int, holds: Holds, text: str, name: Name) -> Iterator[Trace]:
    if holds in WORDS and name.stands_in(text):
        yield Trace(path=path, line=line, text=text)
    elif holds == "label" and name.is_part_of(text):
        yield Trace(path=path, line=line, text=text, part=True)


def _moved(change: _Change, old: str, new: str) -> _Change:
    """Return what changes words, and takes paths that lead into a run's folder to the folder's new name."""
    return lambda holds, text: change(holds, text.replace(old, new) if holds == "path" else text)


def _label_of(folder: Path) -> str:
    """Return the whole label of a run: its folder's name may end in the midst of a word."""
    in_name = label_in(folder.name)
    header, _, _ = _text(folder / JOURNAL_NAME).partition("\n")
    try:
        label = msgspec.json.decode(header, type=_Labelled).label
    except (msgspec.DecodeError, UnicodeError, RecursionError):
        return in_name
    return label if slug(label) == in_name else in_name


def _renamed(folder: Path, label: str) -> Path:
    """Give a run's folder another label; return where it is then."""
    if slug(label) == label_in(folder.name):
        return folder
    try:
        new = next(path for path in with_label(folder, label) if not path.exists())
        files.patiently(lambda: folder.rename(new))
        files.sync_folder(folder.parent)
    except OSError as error:
        raise JournalError(tr("{folder}: cannot be renamed: {reason}", folder=folder, reason=reason(error))) from error
    return new


def _files(folder: Path) -> Iterator[Path]:
    yield from (path for path in [folder / JOURNAL_NAME, *sorted(folder.glob(_TORN))] if path.is_file())


def _rewrite_file(file: Path, change: _Change) -> bool:
    """Rewrite a file whole if that changes it; anew if somebody appended a mark to it meanwhile."""
    while True:
        old = _text(file)
        new = "\n".join(visited(line, change) for line in old.split("\n"))
        if new == old:
            return False
        if _text(file) != old:
            continue
        try:
            files.write_whole(file, new.encode("utf-8", "surrogateescape"), private=True)
        except OSError as error:
            raise JournalError(tr("{file}: cannot be rewritten: {reason}", file=file, reason=reason(error))) from error
        return True


def clear_leftovers(folder: Path) -> None:
    """Take away what killed processes left of their writing, files and folders: it may hold what is to go."""
    with contextlib.suppress(OSError):
        for path, pid in files.leftovers(folder):
            if psutil.pid_exists(pid):
                continue
            if path.is_dir() and not path.is_symlink():
                shutil.rmtree(path, ignore_errors=True)
            else:
                path.unlink(missing_ok=True)


def _text(file: Path) -> str:
    try:
        return file.read_bytes().decode("utf-8", "surrogateescape")
    except OSError as error:
        raise JournalError(tr("{file}: cannot be read: {reason}", file=file, reason=reason(error))) from error
