"""A run that was cut short: the life of its match as it stands by now, and the end of its journal once that is over."""

from tocsin.errors import JournalError
from tocsin.journal import records
from tocsin.journal.past import Past
from tocsin.journal.writer import JournalWriter
from tocsin.model.clock.lifecycle import Lifecycle
from tocsin.model.timeline.timeline import Timeline
from tocsin.runner.match import count_in


def life_of(past: Past, timeline: Timeline, now_ns: int) -> Lifecycle:
    """Return the life of a past run's match, settled at ``now_ns``."""
    origins = [origin for origin in past.origins if origin.anchor != count_in.ANCHOR]
    starts_ns = max((origin.starts_ns for origin in origins), default=0) or None
    return Lifecycle.restore(timeline, origins, past.variant, past.held_ns, now_ns, starts_ns=starts_ns)


def demand_unfinished(past: Past, timeline: Timeline, now_ns: int) -> None:
    """Make sure that a match can still be gone on with; one that is over by now gets the end that its journal lacks.

    Raises JournalError for a match that is over or was scrapped, or if its journal cannot be written.
    """
    scrapped = "scrapped" in past.states
    if not scrapped and life_of(past, timeline, now_ns).phase != "over":
        return
    why = "scrapped, then cut short" if scrapped else "cut short, and over before it was gone on with"
    writer = JournalWriter.reopen(past.folder)
    writer.append(records.End(at_ns=now_ns, outcome="crashed", exit=0, why=why))
    if failed := writer.close():
        raise JournalError(f"{past.folder}: {failed}", hint="check who may write there")
    raise JournalError(
        f"{past.folder.name}: that {'match was scrapped' if scrapped else 'run is over'}: nothing to go on with",
        hint=f"its record is whole up to there: {past.folder}; start another with `tocsin run`",
    )
