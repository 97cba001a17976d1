"""Tell when a run began in the time of day where it was played, so that midnight lies where people's midnight lay.

Runs say how far their place was ahead of UTC. Those of earlier versions do not: they are taken to have been played
where this laptop is now, with summer time as it was then.
"""

from datetime import UTC, datetime, timedelta, timezone

from tocsin import monotime
from tocsin.journal.records import Header


def offset_at(wall: str) -> int | None:
    """Return the seconds that this laptop's time of day is ahead of UTC at a moment in RFC 3339, None for no moment."""
    try:
        return monotime.utc_offset_s(_moment(wall))
    except ValueError:
        return None


def local_begin(header: Header) -> datetime | None:
    """Return a run's begin with its zone, None if its journal's text is no moment."""
    try:
        begin = _moment(header.wall)
        offset_s = header.utc_offset_s if header.utc_offset_s is not None else monotime.utc_offset_s(begin)
        return begin.astimezone(timezone(timedelta(seconds=offset_s)))
    except (ValueError, OverflowError):
        return None


def begin_text(header: Header) -> str:
    """Return when a run began, for people; what stands in its journal if that is no moment."""
    begin = local_begin(header)
    return f"{begin:%a %Y-%m-%d %H:%M}" if begin else header.wall


def _moment(wall: str) -> datetime:
    found = datetime.fromisoformat(wall)
    return found if found.tzinfo is not None else found.replace(tzinfo=UTC)
