"""Keep what people answered tonight, so that nobody is asked twice: each question, when, and who was there.

One file in the folder of runs, closed to others, holds it by the people's keys. An answer holds for the evening: until
runs and answers lie four hours apart. Where the file cannot be read or written people are asked again.
"""

import contextlib
from collections.abc import Callable, Iterable
from datetime import datetime
from pathlib import Path

import msgspec

from tocsin import files, monotime
from tocsin.journal.place import ANSWERS_NAME, begun_s, run_folders
from tocsin.model.evening import evening_began_s

FORMAT = "tocsin-answers/1"


class Answer(msgspec.Struct, frozen=True, kw_only=True):
    """A question that was answered with yes at ``wall`` (RFC 3339 in UTC), by or for ``people``, by their keys; none if
    nobody was named. ``session`` is the drill that it holds for, empty for the whole evening."""

    question: str
    wall: str
    people: tuple[str, ...] = ()
    session: str = ""


class _File(msgspec.Struct, kw_only=True):
    format: str = FORMAT
    answers: list[Answer] = []


class Answers:
    """The answers of the evening that is on in a folder of runs, as far as they hold for all of ``people``."""

    def __init__(
        self, runs: Path, people: Iterable[str] = (), now: Callable[[], str] = monotime.wall_text
    ) -> None:  # fmt: skip
        self._runs = runs
        self._people = frozenset(people)
        self._now = now
        self._asked = _of_tonight(runs, wall_s(now()))

    def known(self, question: str, session: str = "") -> bool:
        """Return whether nobody who is here has to be asked."""
        found = self._found(question, session)
        return bool(found) and self._people <= {key for answer in found for key in answer.people}

    def asked_others(self, question: str, session: str = "") -> bool:
        """Return whether it was answered tonight, but not for all who are here now."""
        return bool(self._found(question, session)) and not self.known(question, session)

    def keep(self, question: str, session: str = "") -> None:
        """Note that it was answered with yes, for all who are here."""
        wall = self._now()
        asked = _of_tonight(self._runs, wall_s(wall))          # another command may have asked meanwhile
        people = {key for answer in asked if _is(answer, question, session) for key in answer.people} | self._people
        answer = Answer(question=question, wall=wall, people=tuple(sorted(people)), session=session)
        self._asked = [*(one for one in asked if not _is(one, question, session)), answer]
        with contextlib.suppress(OSError):
            _write(self._runs, self._asked)

    def _found(self, question: str, session: str) -> list[Answer]:
        return [answer for answer in self._asked if _is(answer, question, session)]


def forget_answers(runs: Path, person: str) -> bool:
    """Take a person's key out of the kept answers; return whether it stood there. Raises OSError."""
    kept = _read(runs)
    without = [msgspec.structs.replace(one, people=tuple(key for key in one.people if key != person)) for one in kept]
    if without == kept:
        return False
    _write(runs, without)
    return True


def wall_s(wall: str) -> float:
    """Return a wall clock's RFC 3339 text in seconds since 1970. Raises ValueError for any other text."""
    return datetime.fromisoformat(wall).timestamp()


def _of_tonight(runs: Path, now_s: float) -> list[Answer]:
    kept = _read(runs)
    moments = [wall_s(answer.wall) for answer in kept]
    with contextlib.suppress(OSError):
        moments += [at_s for folder in run_folders(runs) if (at_s := begun_s(folder.name)) is not None]
    began_s = evening_began_s(moments, now_s)
    return [answer for answer, at_s in zip(kept, moments, strict=False) if at_s >= began_s]


def _is(answer: Answer, question: str, session: str) -> bool:
    return (answer.question, answer.session) == (question, session)


def _read(runs: Path) -> list[Answer]:
    try:
        found = msgspec.json.decode((runs / ANSWERS_NAME).read_bytes(), type=_File)
        for answer in found.answers:
            wall_s(answer.wall)
    except (OSError, ValueError, RecursionError):      # msgspec's own errors are ValueErrors
        return []
    return found.answers


def _write(runs: Path, answers: list[Answer]) -> None:
    data = msgspec.json.format(msgspec.json.encode(_File(answers=answers)), indent=1) + b"\n"
    files.write_whole(runs / ANSWERS_NAME, data, private=True)
