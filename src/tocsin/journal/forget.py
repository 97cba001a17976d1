"""Takes a name out of everything that a folder of runs holds, and leaves the journals readable."""

import hashlib
import re
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import msgspec

from tocsin import files
from tocsin.errors import JournalError, reason
from tocsin.journal.place import run_folders, slug

REMOVED = "(removed)"
_KEYS = ("kind", "at_ns", "format")        # never a person's words


class Trace(msgspec.Struct, frozen=True, kw_only=True):
    """A text that holds a name: the file, the line from 1 (0: the folder's own name), the text."""

    path: Path
    line: int
    text: str


def traces(runs: Path, name: str) -> tuple[Trace, ...]:
    """Return every text of every run that holds a name, whatever its case. Raises JournalError."""
    pattern = _pattern(name)
    found: list[Trace] = []
    for folder in run_folders(runs):
        if _in_folder(name).search(folder.name):
            found.append(Trace(path=folder, line=0, text=folder.name))
        for file in _files(folder):
            for number, line in enumerate(_text(file).split("\n"), 1):
                found += [Trace(path=file, line=number, text=text) for text in _texts_of(line) if pattern.search(text)]
    return tuple(found)


def rewrite(runs: Path, name: str) -> int:
    """Put "(removed)" in place of a name in every text of every run; return how many files and folders changed.

    Each file is written anew beside the old one and then takes its place. Raises JournalError.
    """
    pattern = _pattern(name)
    changed = 0
    for folder in run_folders(runs):
        for file in _files(folder):
            old = _text(file)
            new = "\n".join(_rewritten(line, pattern) for line in old.split("\n"))
            if new != old:
                _replace(file, new)
                changed += 1
        if _in_folder(name).search(folder.name):
            folder.rename(_free(folder.with_name(_in_folder(name).sub("removed", folder.name))))
            changed += 1
    return changed


def _pattern(name: str) -> re.Pattern[str]:
    """Return what finds a name as a word of its own, so that "Jo" does not take a piece out of "Jolly"."""
    return re.compile(rf"(?<!\w){re.escape(name.strip())}(?!\w)", re.IGNORECASE)


def _in_folder(name: str) -> re.Pattern[str]:
    """Return what finds a name in a folder's name, where the label stands without capitals and blanks."""
    return re.compile(rf"(?<![^\W_]){re.escape(slug(name))}(?![^\W_])") if slug(name) else re.compile(r"(?!)")


def _files(folder: Path) -> Iterator[Path]:
    yield from (path for path in sorted(folder.iterdir()) if path.is_file())


def _texts_of(line: str) -> Iterator[str]:
    """Yield the texts of one JSON line; of a broken one the line itself."""
    try:
        value = msgspec.json.decode(line)
    except msgspec.DecodeError:
        if line:
            yield line
        return
    yield from _strings(value)


def _strings(value: Any) -> Iterator[str]:
    if isinstance(value, str):
        yield value
    elif isinstance(value, list):
        for inner in value:
            yield from _strings(inner)
    elif isinstance(value, dict):
        for key, inner in value.items():
            yield key
            yield from _strings(inner)


def _rewritten(line: str, pattern: re.Pattern[str]) -> str:
    try:
        value = msgspec.json.decode(line)
    except msgspec.DecodeError:
        return pattern.sub(REMOVED, line)
    if not any(pattern.search(text) for text in _strings(value)):
        return line                        # to the byte as it was
    return msgspec.json.encode(_without(value, pattern)).decode()


def _without(value: Any, pattern: re.Pattern[str]) -> Any:
    if isinstance(value, str):
        return pattern.sub(REMOVED, value)
    if isinstance(value, list):
        return [_without(inner, pattern) for inner in value]
    if isinstance(value, dict):
        rewritten = {
            key if key in _KEYS else pattern.sub(REMOVED, key): inner if key in _KEYS else _without(inner, pattern)
            for key, inner in value.items()
        }
        if {"sha256", "text"} <= set(value) and rewritten["text"] != value["text"]:
            # A file's text with its checksum: the reader takes another one for a change by hand.
            rewritten["sha256"] = hashlib.sha256(rewritten["text"].encode()).hexdigest()
        return rewritten
    return value


def _text(file: Path) -> str:
    try:
        return file.read_bytes().decode("utf-8", "surrogateescape")
    except OSError as error:
        raise JournalError(f"{file}: cannot be read: {reason(error)}") from error


def _replace(file: Path, text: str) -> None:
    try:
        files.write_whole(file, text.encode("utf-8", "surrogateescape"), private=True)
    except OSError as error:
        raise JournalError(f"{file}: cannot be rewritten: {reason(error)}") from error


def _free(folder: Path) -> Path:
    number = 2
    candidate = folder
    while candidate.exists():
        candidate = folder.with_name(f"{folder.name}-{number}")
        number += 1
    return candidate
