"""What the processes of a run take: memory, threads and handles, sampled between matches; and whether it grows."""

from collections.abc import Sequence
from statistics import median
from typing import NamedTuple

import numpy as np
import psutil

WARM_UP = 3                            # matches whose memory still grows: caches, the first garbage
FEWEST = 8                             # samples behind the warm-up that say anything
MOST_KB_A_MATCH = 64                   # of memory of its own, a process


class Process(NamedTuple):
    """One process: pid, resident and unique memory in kB, threads, open handles."""

    pid: int
    rss_kb: int
    uss_kb: int
    threads: int
    handles: int

    @classmethod
    def of(cls, process: psutil.Process) -> "Process":
        """Sample a process."""
        memory = process.memory_full_info()
        return cls(
            process.pid, memory.rss // 1024, memory.uss // 1024, process.num_threads(), process.num_fds()
        )  # fmt: skip


Footprint = dict[str, Process]


def sample(processes: Sequence[psutil.Process]) -> Footprint:
    """Return what each process takes, by its role: ``conductor`` or the worker's channel."""
    found = {}
    for process in processes:
        try:
            words = process.cmdline()
            found[words[-1] if "tocsin.worker" in words else "conductor"] = Process.of(process)
        except psutil.Error:           # it has just been replaced; the journal tells of it
            continue
    return found


def line(footprint: Footprint) -> str:
    """Return a sample in a few words: unique memory in MB, threads and handles of each process."""
    return "  ".join(
        f"{name} {one.uss_kb / 1024:.1f} MB {one.threads} t {one.handles} h" for name, one in footprint.items()
    )


def growth(samples: Sequence[Footprint]) -> tuple[list[str], list[str]]:
    """Return a row a process about what each takes a match more, and what of it is too much.

    Memory by the slope of least squares; threads and handles by the medians of the first and the last third.
    """
    rows, amiss = [], []
    for name in dict.fromkeys(name for one in samples for name in one):
        series = [one[name] for one in samples if name in one][WARM_UP:]
        if len(series) < FEWEST:
            rows.append(f"{name:<10} only {len(series)} samples behind the warm-up: says nothing")
            continue
        rss, uss = (_slope([getattr(one, key) for one in series]) for key in ("rss_kb", "uss_kb"))
        threads, handles = (_step([getattr(one, key) for one in series]) for key in ("threads", "handles"))
        last = series[-1]
        rows.append(
            f"{name:<10} {last.uss_kb / 1024:6.1f} MB of its own, {uss:+7.1f} kB a match (resident {rss:+7.1f}), "
            f"threads {last.threads} ({threads:+g}), handles {last.handles} ({handles:+g}), "
            f"{len({one.pid for one in series})} process(es)"
        )
        if uss > MOST_KB_A_MATCH:
            amiss.append(f"{name} takes {uss:.0f} kB more each match")
        if threads > 0 or handles > 0:
            amiss.append(f"{name} has {threads:g} threads and {handles:g} handles more at the end than at first")
    return rows, amiss


def _slope(values: Sequence[int]) -> float:
    return float(np.polyfit(range(len(values)), values, 1)[0])


def _step(values: Sequence[int]) -> float:
    third = max(1, len(values) // 3)
    return median(values[-third:]) - median(values[:third])
