"""Offer the number of an event's next match: by the newest that was played today."""

from datetime import date, timedelta
from pathlib import Path

from tocsin.errors import BrokenRunError, JournalError, reason
from tocsin.journal.local_time import local_begin
from tocsin.journal.place import day_in, run_folders
from tocsin.journal.reader import read
from tocsin.journal.records import Header
from tocsin.runner.options import EVENT, MATCH_NUMBER, MOST_MATCHES
from tocsin.translation import tr


def next_number(runs: Path, today: date) -> int | None:
    """Return the number of the match that comes: one on from today's newest of an event, the same again if that did not
    come to its end, None if there was none. Raises JournalError if the folder cannot be read."""
    try:
        folders = run_folders(runs)
    except OSError as error:
        raise JournalError(tr("{runs}: the runs cannot be read: {reason}", runs=runs, reason=reason(error))) from error
    for folder in folders:
        if day_in(folder.name) < (today - timedelta(days=1)).isoformat():      # folders are named by UTC
            break
        try:
            journal = read(folder)
        except BrokenRunError:             # `tocsin runs` tells of it
            continue
        number = journal.header.options.get(MATCH_NUMBER)
        if not _is_of(journal.header, today) or not isinstance(number, int):
            continue
        played = journal.end is not None and journal.end.outcome == "over"
        return min(max(number + played, 1), MOST_MATCHES)
    return None


def _is_of(header: Header, today: date) -> bool:
    """Return whether a run was a match of an event on this day where it was played."""
    begin = local_begin(header)
    return begin is not None and begin.date() == today and header.options.get("at") == EVENT
