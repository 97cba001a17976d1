"""Keep files as they were read: for the check, and for the journal, so that a run can be resumed without them."""

import hashlib
import os
from pathlib import Path

import msgspec

from tocsin.config import bundle


class FileText(msgspec.Struct, frozen=True, kw_only=True):
    """The text of a file, and its SHA-256 in UTF-8. In a list, each plan comes right after its game, unless the game
    before is its own."""

    kind: str
    name: str
    sha256: str
    text: str


def file_text(kind: str, name: str, text: str) -> FileText:
    """Return a file's text with its checksum."""
    return FileText(kind=kind, name=name, sha256=hashlib.sha256(text.encode()).hexdigest(), text=text)


def shown_name(path: Path) -> str:
    """Return a file's name for messages: bundled files by kind and name, others as they were given, without ``..``
    inside."""
    resolved = path.resolve()
    try:
        return resolved.relative_to(bundle.root()).as_posix()
    except ValueError:
        return str(_tidy(path, resolved))


def _tidy(path: Path, resolved: Path) -> Path:
    """Return a path without ``..``, where that leads to the same file (beyond a symbolic link it may not)."""
    tidy = Path(os.path.normpath(path))
    return tidy if tidy == path or tidy.resolve() == resolved else path
