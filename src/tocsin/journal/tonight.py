"""Keep where a rehearsal evening stands, so that it is taken up at the step at which it was left, whatever ended it.

One file in the folder of runs, closed to others, written whole at each step; it holds people by their keys.
"""

import contextlib
from collections.abc import Iterator
from pathlib import Path
from typing import Literal

import msgspec

from tocsin import files
from tocsin.errors import JournalError, fix_of_writing, reason
from tocsin.journal.answers import wall_s
from tocsin.journal.place import EVENING_NAME, begun_s, run_folders
from tocsin.model.evening import evening_began_s
from tocsin.translation import tr

FORMAT = "tocsin-evening/1"

Step = Literal["people", "devices", "choose", "drill", "rest", "result", "over"]
DrillState = Literal["to come", "on", "done", "skipped"]


class Seat(msgspec.Struct, kw_only=True):
    """A person, by key, in a role of a crew; ``here`` says whether they are there tonight."""

    crew: str
    role: str
    person: str
    here: bool = True


class PlannedDrill(msgspec.Struct, kw_only=True):
    """A drill of the evening: the name or file that it is started by, its title and what it trains, the rounds of each
    crew; ``key`` and ``seed`` tell it from all others and set its variation. Once it is ``on`` it was begun; ``played``
    says how many rounds each crew had behind it when that was looked up last."""

    name: str
    title: str
    trains: str
    rounds: int
    key: str
    seed: int
    state: DrillState = "to come"
    played: dict[str, int] = {}


class Tonight(msgspec.Struct, kw_only=True):
    """An evening. ``began`` and ``touched`` are RFC 3339 in UTC; ``devices`` says what came of each that was tried;
    ``place`` is the drill that comes next or is on."""

    format: str = FORMAT
    began: str
    touched: str = ""
    project: str = ""
    step: Step = "people"
    seats: list[Seat] = []
    devices: dict[str, str] = {}
    drills: list[PlannedDrill] = []
    place: int = 0

    @property
    def roster(self) -> dict[str, dict[str, str]]:
        """The keys of those who are there, by role, by crew."""
        found: dict[str, dict[str, str]] = {}
        for seat in self.seats:
            if seat.here:
                found.setdefault(seat.crew, {})[seat.role] = seat.person
        return found

    @property
    def people(self) -> frozenset[str]:
        """The keys of those who are there."""
        return frozenset(seat.person for seat in self.seats if seat.here)


def tonight_in(runs: Path, now: str) -> Tonight | None:
    """Return the evening that is on in a folder of runs at ``now``, None if there is none or it cannot be read."""
    found = _read(runs)
    if found is None:
        return None
    touched_s = wall_s(found.touched)
    moments = [touched_s, *_runs_s(runs)]
    return found if touched_s >= evening_began_s(moments, wall_s(now)) else None


def keep_tonight(runs: Path, tonight: Tonight, now: str) -> None:
    """Write where the evening stands. Raises JournalError."""
    tonight.touched = now
    data = msgspec.json.format(msgspec.json.encode(tonight), indent=1) + b"\n"
    try:
        files.write_whole(runs / EVENING_NAME, data, private=True)
    except OSError as error:
        hint = fix_of_writing(error, tr("choose another folder with --runs DIR"))
        raise JournalError(
            tr("{runs}: cannot be written: {reason}", runs=runs / EVENING_NAME, reason=reason(error)), hint=hint,
        ) from error


def forget_tonight(runs: Path, person: str) -> bool:
    """Take a person's seats out of the kept evening; return whether there was one. Raises JournalError."""
    found = _read(runs)
    if found is None or all(seat.person != person for seat in found.seats):
        return False
    found.seats = [seat for seat in found.seats if seat.person != person]
    keep_tonight(runs, found, found.touched)
    return True


def _runs_s(runs: Path) -> Iterator[float]:
    with contextlib.suppress(OSError):
        for folder in run_folders(runs):
            if (at_s := begun_s(folder.name)) is not None:
                yield at_s


def _read(runs: Path) -> Tonight | None:
    try:
        found = msgspec.json.decode((runs / EVENING_NAME).read_bytes(), type=Tonight)
        wall_s(found.touched), wall_s(found.began)
    except (OSError, ValueError, RecursionError):      # msgspec's own errors are ValueErrors
        return None
    return found if 0 <= found.place <= len(found.drills) else None
