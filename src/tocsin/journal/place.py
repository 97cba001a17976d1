"""Locate runs: their folder, the names of their folders, and the present start of the machine."""

import os
import re
import sys
import tempfile
from collections.abc import Iterator
from datetime import datetime
from fnmatch import fnmatchcase
from itertools import count
from pathlib import Path

import platformdirs
import psutil

from tocsin.errors import JournalError, fix_of_writing, reason
from tocsin.translation import tr

JOURNAL_NAME = "journal.jsonl"
# What one laptop keeps between the runs of one team, beside the runs' folders.
PEOPLE_NAME = "people.json"
EVENT_RULES_NAME = "event_rules.json"
ANSWERS_NAME = "answers.json"
EVENING_NAME = "evening.json"
ROWS_NAME = "rows.msgpack"             # made of the journals, and made anew wherever it is gone
KEPT_NAMES = frozenset((PEOPLE_NAME, EVENT_RULES_NAME, ANSWERS_NAME, EVENING_NAME, ROWS_NAME))
# Pictures of evenings, by their dates: of all drills, with names; the page of a review, without.
EVENING_PICTURES = "evening_*.png"
REVIEW_PAGES = "review_????-??-??*.png"

PROBE_BYTES = 65536                    # a match's journal is smaller
_SLUG_CHARACTERS = 40
# stamp of a folder, with the number of a namesake, e.g. 2026-03-14_15-09-26.535Z.2_practice
_STAMP = re.compile(r"(?P<stamp>\d{4}-\d\d-\d\d_\d\d-\d\d-\d\d\.\d{3}Z)(?:\.(?P<number>\d+))?(?:_(?P<label>.*))?")
# A laptop that started anew started more than a minute later; a set wall clock moves this reading by less, mostly.
_SAME_BOOT_S = 60
_LINUX_BOOT_ID = Path("/proc/sys/kernel/random/boot_id")


def runs_folder(given: Path | None = None) -> Path:
    """Return the folder that holds a folder for each run: the given one, else the user's own."""
    return given if given is not None else platformdirs.user_data_path("tocsin", appauthor=False) / "runs"


def state_folder() -> Path:
    """Return the user's folder for data that one machine keeps between runs, such as the lock."""
    return platformdirs.user_state_path("tocsin", appauthor=False)


def lock_folders() -> tuple[Path, ...]:
    """Return the possible folders of this user's lock, the usual one first: a home may be read-only."""
    user = f"tocsin-{os.getuid()}" if os.name == "posix" else "tocsin"
    return (state_folder(), Path(tempfile.gettempdir()) / user)


def slug(label: str) -> str:
    """Return the label as part of a folder's name: lower case letters and digits of any script, at most 40.

    >>> slug("Practice 3, left early!")
    'practice-3-left-early'
    """
    return re.sub(r"[\W_]+", "-", label.casefold()).strip("-")[:_SLUG_CHARACTERS].strip("-")


def folder_name(wall: str, label: str, number: int = 1) -> str:
    """Return the name of a run's folder: its UTC time to the millisecond, and the label.

    ``wall`` is RFC 3339 text as ``monotime.wall_text`` gives it, ``number`` tells namesakes apart. Colons are left
    out for Windows.

    >>> folder_name("2026-03-14T15:09:26.535Z", "Practice")
    '2026-03-14_15-09-26.535Z_practice'
    """
    stamp = wall.replace("T", "_").replace(":", "-")
    again = f".{number}" if number > 1 else ""
    tail = f"_{slug(label)}" if slug(label) else ""
    return stamp + again + tail


def begun_s(name: str) -> float | None:
    """Return when the run in a folder of this name began, in seconds since 1970; None for no run's folder.

    >>> begun_s("1970-01-02_00-00-00.500Z_practice")
    86400.5
    """
    match = _STAMP.fullmatch(name)
    if match is None:
        return None
    day, _, time = match["stamp"].partition("_")
    try:
        return datetime.fromisoformat(f"{day}T{time.replace('-', ':')}").timestamp()
    except ValueError:                                 # somebody named it so, and there is no such day
        return None


def is_kept_name(name: str) -> bool:
    """Return whether a file of this name is one that Tocsin keeps beside the runs' folders."""
    return name in KEPT_NAMES or any(fnmatchcase(name, one) for one in (EVENING_PICTURES, REVIEW_PAGES))


def is_run_name(name: str) -> bool:
    """Return whether a folder of this name is a run's, as ``folder_name`` makes them."""
    return _STAMP.fullmatch(name) is not None


def day_in(name: str) -> str:
    """Return the UTC day in the name of a run's folder, as in ISO 8601.

    >>> day_in("2026-03-14_15-09-26.535Z.2_practice-3")
    '2026-03-14'
    """
    return name[:10]


def unlabelled(name: str) -> str:
    """Return the name of a run's folder without its label; another folder's name stays as it is.

    >>> unlabelled("2026-03-14_15-09-26.535Z.2_practice-3")
    '2026-03-14_15-09-26.535Z.2'
    """
    match = _STAMP.fullmatch(name)
    return match["stamp"] + (f".{match['number']}" if match["number"] else "") if match else name


def label_in(name: str) -> str:
    """Return the label in the name of a run's folder, as ``slug`` wrote it.

    >>> label_in("2026-03-14_15-09-26.535Z.2_practice-3")
    'practice-3'
    """
    match = _STAMP.fullmatch(name)
    return (match["label"] or "") if match else ""


def with_label(folder: Path, label: str) -> Iterator[Path]:
    """Yield names for a run's folder with another label: with its own number first, then with others."""
    match = _STAMP.fullmatch(folder.name)
    stamp = match["stamp"] if match else folder.name
    tail = f"_{slug(label)}" if slug(label) else ""
    own = f".{match['number']}" if match and match["number"] else ""
    yield folder.with_name(f"{stamp}{own}{tail}")
    yield from (folder.with_name(f"{stamp}.{number}{tail}") for number in count(2))


def run_folders(runs: Path) -> list[Path]:
    """Return the folders that are named like runs, newest first by the UTC time in their names.

    Their journals are not checked. A missing folder holds none; one that cannot be read raises OSError.
    """
    if not runs.is_dir():
        return []
    stamped = []
    with os.scandir(runs) as entries:      # which knows what is a folder without asking for each
        for entry in entries:
            match = _STAMP.fullmatch(entry.name)
            if match and _is_folder(entry):
                stamped.append((match["stamp"], int(match["number"] or 1), entry.name))
    return [runs / name for _, _, name in sorted(stamped, reverse=True)]


def _is_folder(entry: os.DirEntry[str]) -> bool:
    try:
        return entry.is_dir()
    except OSError:                                    # a link to itself
        return False


def probe(runs: Path) -> None:
    """Check that a run can be recorded in ``runs``, and leave nothing there. Raises JournalError with the fix."""
    try:
        runs.mkdir(parents=True, exist_ok=True)
        with tempfile.TemporaryFile(dir=runs) as file:
            file.write(b"\n" * PROBE_BYTES)
            file.flush()
    except OSError as error:
        raise cannot_write(runs, error) from error


def cannot_write(path: Path, error: OSError) -> JournalError:
    """Return the error for a journal that cannot be written at ``path``, with the fix that fits."""
    hint = fix_of_writing(error, tr("choose another folder with --runs DIR"))
    return JournalError(
        tr("{path}: the journal cannot be written: {reason}", path=path, reason=reason(error)), hint=hint,
    )


def boot_text() -> str:
    """Return a text that stays the same until the machine is started again."""
    if sys.platform == "linux" and _LINUX_BOOT_ID.is_file():
        return _LINUX_BOOT_ID.read_text(encoding="ascii").strip()
    return f"{psutil.boot_time():.0f}"


def same_boot(one: str, other: str) -> bool:
    """Return whether two boot texts are of one start of the machine.

    If the system has no name for a start, its time is computed from the wall clock and so may move a little.
    """
    if one.isdecimal() and other.isdecimal():
        return abs(int(one) - int(other)) < _SAME_BOOT_S
    return one == other
