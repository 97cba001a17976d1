"""Keep what a team said about the event's rules: once a local day and project, in the folder of its runs.

The file holds no words: a project is told from others by a checksum of where it lies.
"""

import hashlib
import json
from datetime import date
from pathlib import Path

import msgspec

from tocsin import files
from tocsin.errors import reason
from tocsin.journal.place import EVENT_RULES_NAME
from tocsin.translation import tr

FORMAT = "tocsin-event-rules/1"
_DIGITS = 16


class _Answer(msgspec.Struct, frozen=True):
    day: str
    project: str
    allowed: bool


class _File(msgspec.Struct, frozen=True, kw_only=True):
    format: str = FORMAT
    answers: tuple[_Answer, ...] = ()


class EventRules:
    """Whether the event lets this laptop stand at the field, as people said today; ``project`` is the project's file,
    None for none."""

    def __init__(self, runs: Path, project: Path | None) -> None:
        self._path = runs / EVENT_RULES_NAME
        self._project = _key(project)
        self._said: dict[str, bool] = {}           # by day: holds also where nothing can be written

    def allowed(self, today: date) -> bool | None:
        """Return what was answered today, None for nothing. A file that cannot be read answers nothing: people are
        asked again."""
        day = today.isoformat()
        if day not in self._said:
            found = [one.allowed for one in _answers(self._path) if (one.day, one.project) == (day, self._project)]
            if not found:
                return None
            self._said[day] = found[-1]
        return self._said[day]

    def answer(self, today: date, allowed: bool) -> str:
        """Keep an answer; return why it could not be written, or an empty text. Answers of other days go."""
        day = today.isoformat()
        self._said[day] = allowed
        others = [one for one in _answers(self._path) if one.day == day and one.project != self._project]
        kept = _File(answers=(*others, _Answer(day, self._project, allowed)))
        text = json.dumps(msgspec.to_builtins(kept), indent=1) + "\n"
        try:
            files.write_whole(self._path, text.encode(), private=True)
        except OSError as error:
            return tr("{name} cannot be written: {reason}", name=self._path.name, reason=reason(error))
        return ""


def _answers(path: Path) -> tuple[_Answer, ...]:
    try:
        return msgspec.json.decode(path.read_bytes(), type=_File).answers
    except (OSError, msgspec.DecodeError, UnicodeDecodeError, RecursionError):
        return ()


def _key(project: Path | None) -> str:
    if project is None:
        return ""
    return hashlib.sha256(str(project.resolve()).encode()).hexdigest()[:_DIGITS]
