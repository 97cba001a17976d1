"""Resume a run that was cut short: restore its match, and write its journal's end once that is over."""

from collections.abc import Callable, Iterable

import psutil

from tocsin.errors import JournalError
from tocsin.journal import records
from tocsin.journal.past import Past
from tocsin.journal.records import Worker
from tocsin.journal.short_name import short_name
from tocsin.journal.writer import JournalWriter
from tocsin.model.clock.lifecycle import Lifecycle
from tocsin.model.timeline.timeline import Timeline
from tocsin.runner.match import count_in
from tocsin.translation import tr


def life_of(past: Past, timeline: Timeline, now_ns: int) -> Lifecycle:
    """Return the life of a past run's match, settled at ``now_ns``."""
    origins = [origin for origin in past.origins if origin.anchor != count_in.ANCHOR]
    starts_ns = max((origin.starts_ns for origin in origins), default=0) or None
    return Lifecycle.restore(timeline, origins, past.variant, past.held_ns, now_ns, starts_ns=starts_ns)


def demand_unfinished(past: Past, timeline: Timeline, now_ns: int) -> None:
    """Check that a match can still be resumed; one that is over by now gets the missing end of its journal. Raises
    JournalError for a match that is over or was scrapped, or if its journal cannot be written."""
    scrapped = "scrapped" in past.states
    if not scrapped and life_of(past, timeline, now_ns).phase != "over":
        return
    why = tr("cancelled, then cut short") if scrapped else tr("cut short, and over before it continued")
    writer = JournalWriter.reopen(past.folder)
    writer.append(records.End(at_ns=now_ns, outcome="crashed", exit=0, why=why))
    if failed := writer.close():
        raise JournalError(f"{past.folder}: {failed}", hint=tr("check who may write there"))
    name = short_name(past.folder)
    raise JournalError(
        tr("{name}: that match was cancelled: nothing to go on with", name=name) if scrapped
        else tr("{name}: that run is over: nothing to go on with", name=name),
        hint=tr(
            "its record is whole up to there (`tocsin runs --show {name}`); start another with `tocsin run`", name=name,
        ),
    )


# Some systems compute a start time from the wall clock, so it moves when that is set. The command line tells the rest:
# while this process holds the lock, no worker of another Tocsin runs.
SAME_START_S = 60.0
PATIENCE_S = 1.0                       # a worker ends by itself once its conductor is gone, and makes its device safe


def end_orphans(workers: Iterable[Worker]) -> list[str]:
    """End the workers that still run, gently first; return what was done, a sentence each."""
    left = {process: worker for worker in workers if (process := _same(worker)) is not None}
    _, alive = psutil.wait_procs(list(left), timeout=PATIENCE_S)
    for process in alive:
        _quietly(process.terminate)
    _, stubborn = psutil.wait_procs(alive, timeout=PATIENCE_S)
    for process in stubborn:
        _quietly(process.kill)
    _, kept = psutil.wait_procs(stubborn, timeout=PATIENCE_S)
    return [
        tr(
            "{channel} worker {pid} {fate}", channel=worker.channel, pid=worker.pid,
            fate=_fate(process in stubborn, process in kept),
        )
        for process, worker in left.items()
        if process in alive
    ]


def _fate(was_stubborn: bool, still_runs: bool) -> str:
    if still_runs:
        return tr("still runs and may use its device: end it by hand")
    return "killed" if was_stubborn else "ended"


def _same(worker: Worker) -> psutil.Process | None:
    """Return the process if it is still that worker, and not a later process with its number."""
    try:
        process = psutil.Process(worker.pid)
        same = abs(process.create_time() - worker.started_s) < SAME_START_S and process.status() != psutil.STATUS_ZOMBIE
        return process if same and "tocsin.worker" in process.cmdline() else None
    except psutil.Error:
        return None


def _quietly(end: Callable[[], None]) -> None:
    try:
        end()
    except psutil.Error:
        return                             # it has ended meanwhile
