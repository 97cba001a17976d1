"""Map people's names to random keys: journals hold the keys, one file on this laptop holds the names."""

import json
import re
import secrets
from pathlib import Path

import msgspec

from tocsin import files
from tocsin.errors import JournalError, UsageError, fix_of_writing, reason
from tocsin.intake import read_plain
from tocsin.journal.name import folded
from tocsin.journal.place import PEOPLE_NAME
from tocsin.readable import MOST
from tocsin.translation import tr

FORMAT = "tocsin-people/1"
KEY = r"[0-9a-f]{8}"                   # a person's, as a regular expression
_KEY_BYTES = 4
_MOST_BYTES = 1 << 20                 # of another laptop's file: ten thousand people


class _File(msgspec.Struct, kw_only=True):
    format: str = FORMAT
    people: dict[str, str] = {}            # name by key
    forgotten: list[str] = []              # keys whose names were forgotten here: no other laptop gives them back


class People:
    """The people of one folder of runs. Names are compared without regard to case, blanks, and the encoding of
    accents."""

    def __init__(self, runs: Path) -> None:
        self.path = runs / PEOPLE_NAME
        self._file = _read(self.path)

    @property
    def names(self) -> dict[str, str]:
        """The names by key."""
        return dict(self._file.people)

    def key_of(self, name: str) -> str:
        """Return a person's key, empty for an unknown name."""
        return next((key for key, known in self._file.people.items() if _same(known, name)), "")

    def keep(self, name: str) -> str:
        """Return a person's key, a fresh one for a new name. Raises UsageError for no name, JournalError."""
        if not name.strip():
            raise UsageError(tr("a person has no name"), hint=tr("write --who driver=NAME, a nickname is fine"))
        key = self.key_of(name)
        if not key:
            key = secrets.token_hex(_KEY_BYTES)
            self._file.people[key] = name.strip()
            self._write()
        return key

    def take_in(self, key: str, name: str) -> str:
        """Return the key by which a person of another laptop goes here: that of the same name, else their own if it is
        nobody else's. A new name is kept, but for one that was forgotten here. Raises JournalError."""
        known = self.key_of(name)
        if known or key in self._file.forgotten:
            return known or key
        if key in self._file.people or not re.fullmatch(KEY, key):
            return self.keep(name)
        self._file.people[key] = name.strip()
        self._write()
        return key

    def forget(self, name: str) -> str:
        """Remove a name; return its key, or an empty text. Raises JournalError."""
        key = self.key_of(name)
        if key:
            del self._file.people[key]
            self._file.forgotten.append(key)
            self._write()
        return key

    def _write(self) -> None:
        text = json.dumps(msgspec.to_builtins(self._file), indent=1, ensure_ascii=False) + "\n"
        try:
            files.write_whole(self.path, text.encode(), private=True)
        except OSError as error:
            hint = fix_of_writing(error, tr("choose another folder with --runs DIR"))
            raise JournalError(
                tr("{path}: the names cannot be written: {reason}", path=self.path, reason=reason(error)), hint=hint,
            ) from error


def names_elsewhere(path: Path) -> dict[str, str]:
    """Return the names by key of another laptop's file, without what is no name. Raises OSError, ValueError."""
    try:
        found = msgspec.json.decode(read_plain(path, _MOST_BYTES), type=_File).people
    except RecursionError as error:
        raise ValueError("its brackets are nested too deeply") from error
    return {key: name for key, name in found.items() if name.strip() and len(name) <= MOST}


def _same(one: str, other: str) -> bool:
    return folded(one).split() == folded(other).split()


def _read(path: Path) -> _File:
    try:
        found = msgspec.json.decode(path.read_bytes(), type=_File)
    except FileNotFoundError:
        return _File()
    except (OSError, msgspec.DecodeError, UnicodeDecodeError, RecursionError) as error:
        hint = tr("fix it, or move it away: runs hold keys only, and are read without it")
        raise JournalError(
            tr("{path}: the names cannot be read: {error}", path=path, error=str(error).lower()), hint=hint,
        ) from error
    return found
