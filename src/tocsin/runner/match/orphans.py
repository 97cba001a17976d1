"""Workers that a crashed run left behind: they hold the pads and the strip that the next one needs."""

from collections.abc import Callable, Iterable

import psutil

from tocsin.journal.records import Worker

# Some systems compute a start time from the wall clock, so it moves when that is set. The command line tells the rest:
# while this process holds the lock, no worker of another Tocsin runs.
SAME_START_S = 60.0
PATIENCE_S = 1.0                       # a worker ends by itself once its conductor is gone, and makes its device safe


def end_orphans(workers: Iterable[Worker]) -> list[str]:
    """End those of the workers that still run, gently first; return what was done, a sentence each."""
    left = {process: worker for worker in workers if (process := _same(worker)) is not None}
    _, alive = psutil.wait_procs(list(left), timeout=PATIENCE_S)
    for process in alive:
        _quietly(process.terminate)
    _, stubborn = psutil.wait_procs(alive, timeout=PATIENCE_S)
    for process in stubborn:
        _quietly(process.kill)
    _, kept = psutil.wait_procs(stubborn, timeout=PATIENCE_S)
    return [
        f"{worker.channel} worker {worker.pid} {_fate(process in stubborn, process in kept)}"
        for process, worker in left.items()
        if process in alive
    ]


def _fate(was_stubborn: bool, still_runs: bool) -> str:
    if still_runs:
        return "still runs and may hold its device: end it by hand"
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
