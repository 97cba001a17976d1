"""How late signals are: Tocsin's own workers beside ways that one would write first, all in one run, interleaved.

``tocsin measure lateness --beside`` measures one rig for whoever stands before it; this compares ways with each other.

    python -m tests.benchmarks.lateness [--events 60] [--rounds 2] [--json]

Needs a display (``xvfb-run`` does); sound goes to SDL's disk driver, the strip is a pseudo-terminal, pads are virtual.
Each way has the same 1280 x 720 window redrawn at 60 frames a second in its process; Tocsin has its own screen
worker instead. Each is measured idle and with two busy processes. Lateness is the begin of the call minus its
due time, on one clock. Percentiles by nearest rank. Compare ratios within one run: the machine has bad moments.
"""

import argparse
import contextlib
import json
import multiprocessing
import os
import re
import shutil
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable, Iterator
from functools import partial
from pathlib import Path
from queue import Empty

from tests.support.stands.stand import PADS, Pads, Strip
from tocsin.features.measure import helper as companion
from tocsin.features.measure.lateness import baselines as usual_ways
from tocsin.features.measure.lateness.round import times_ms
from tocsin.journal.summary import percentile
from tocsin.model.plan import CHANNELS

NAIVE_LIMIT_S = 120
HEAD = f"{'way':<44}{'n':>6}{'p50':>9}{'p90':>9}{'p99':>9}{'max':>9}"

# -- ways that one would write first: each in a process of its own with a window that is redrawn


def naive(way: str, times: tuple[int, ...], accelerated: bool, queue: "multiprocessing.Queue[list[float]]") -> None:
    """Fire empty events at the times; put how late each was, in ms."""
    os.environ["SDL_FRAMEBUFFER_ACCELERATION"] = "1" if accelerated else "0"
    os.environ["PYGAME_HIDE_SUPPORT_PROMPT"] = "1"
    import pygame

    pygame.display.init()
    window = pygame.display.set_mode((1280, 720))
    begin = time.perf_counter_ns() + 300_000_000
    due = [begin + ms * 1_000_000 for ms in times]
    late: list[float] = []

    def hit(at: int) -> None:
        late.append((time.perf_counter_ns() - at) / 1e6)

    poll = WAYS[way](due, hit)
    clock = pygame.time.Clock()
    frame = 0
    while len(late) < len(due) and time.perf_counter_ns() < due[-1] + 3_000_000_000:
        for event in pygame.event.get():
            if event.type == pygame.USEREVENT:
                hit(due[len(late)])
                if len(late) < len(due):
                    pygame.time.set_timer(pygame.USEREVENT, _wait_ms(due[len(late)]), 1)
        poll(time.perf_counter_ns())
        window.fill([24 + frame % 8] * 3)
        pygame.display.flip()
        frame += 1
        clock.tick(60)
    queue.put(late)


def _wait_ms(due: int) -> int:
    return max(1, round((due - time.perf_counter_ns()) / 1e6))


def _nothing(now: int) -> None:
    return


def way_set_timer(due: list[int], hit: Callable[[int], None]) -> Callable[[int], None]:
    """Let pygame post an event."""
    import pygame

    pygame.time.set_timer(pygame.USEREVENT, _wait_ms(due[0]), 1)
    return _nothing


def way_apscheduler(due: list[int], hit: Callable[[int], None]) -> Callable[[int], None]:
    """APScheduler's background scheduler."""
    from datetime import UTC, datetime, timedelta

    from apscheduler.schedulers.background import BackgroundScheduler

    scheduler = BackgroundScheduler(timezone="UTC", job_defaults={"misfire_grace_time": 10})
    for at in due:
        when = datetime.now(UTC) + timedelta(seconds=(at - time.perf_counter_ns()) / 1e9)
        scheduler.add_job(hit, "date", run_date=when, args=[at])
    scheduler.start()
    return _nothing


WAYS = {
    "frame loop": usual_ways.frame_loop,
    "set_timer": way_set_timer,
    "threading.Timer": usual_ways.timers,
    "sched": usual_ways.scheduler,
    "APScheduler": way_apscheduler,
}


def measure_naive(way: str, times: tuple[int, ...], accelerated: bool) -> list[float]:
    """Return how late a naive way was, in ms. Raises MethodError if it ends or hangs without an answer."""
    context = multiprocessing.get_context("spawn")
    queue: multiprocessing.Queue[list[float]] = context.Queue()
    process = context.Process(target=naive, args=(way, times, accelerated, queue))
    process.start()
    limit_s = time.monotonic() + NAIVE_LIMIT_S
    try:
        while time.monotonic() < limit_s:
            with contextlib.suppress(Empty):
                return queue.get(timeout=1)
            if not process.is_alive():
                break
        raise MethodError(f"its process gave no answer (exit code {process.exitcode})")
    finally:
        process.kill()
        process.join()


class MethodError(Exception):
    """A method could not be measured; the others go on."""


def measure_tocsin(events: int, priority: str, only: str, folder: Path, *options: str) -> dict[str, list[float]]:
    """Return how late each channel was, in ms, as ``tocsin measure`` tells it; ``options`` are more of its own."""
    folder.mkdir(parents=True)
    strip, pads = Strip(folder), Pads(folder)
    (folder / "rig.toml").write_text(
        f'format = "tocsin-rig/1"\nname = "Lateness"\ndrives_robot = false\npriority = "{priority}"\n{PADS}\n'
        f'[light]\nport = "{strip.link}"\nleds = 8\n[sound]\n[screen]\n'
    )
    env = {
        **os.environ, **pads.env, "SDL_AUDIODRIVER": "disk", "SDL_DISKAUDIOFILE": str(folder / "pcm"),
        "XDG_STATE_HOME": str(folder),
    }  # fmt: skip
    done = subprocess.run(
        [sys.executable, "-m", "tocsin", "measure", "lateness", "--rig", str(folder / "rig.toml"),
         "--only", ",".join(CHANNELS) if only == "all" else only, "--events", str(events), "--json", *options],
        env=env, capture_output=True, text=True, check=False,
    )  # fmt: skip
    if done.returncode:
        raise MethodError(f"tocsin measure ended with {done.returncode}: {' '.join(done.stderr.split())[-300:]}")
    # A channel's second role falls due with the first and waits for it: only the first is a reading of the clock.
    rows = json.loads(done.stdout)["rows"]
    return {row["channel"]: row["late_ms"] for row in rows if row["role"] in (None, "driver")}


def cyclictest(realtime: bool, loops: int) -> list[float]:
    """Return the system's own limit, in ms: cyclictest's wake-ups, or nothing where it is not installed."""
    if shutil.which("cyclictest") is None:
        return []
    priority = ["--policy=fifo", "-p5"] if realtime else ["--policy=other"]
    done = subprocess.run(
        ["cyclictest", "-q", "-i", "5000", "-l", str(loops), "-h", "20000", *priority],
        capture_output=True, text=True, check=False,
    )  # fmt: skip
    rows = re.findall(r"^(\d{6}) (\d+)$", done.stdout, re.MULTILINE)
    return [int(us) / 1000 for us, count in rows for _ in range(int(count))]


def row(name: str, late: list[float]) -> dict[str, float | str | int]:
    """Return one line of the table."""
    values = sorted(late)
    shares = {f"p{round(share * 100)}": round(percentile(values, share), 3) for share in (0.5, 0.9, 0.99)}
    return {"way": name, "n": len(values), **shares, "max": round(values[-1], 3)}


def methods(events: int, turn: int, folder: Path) -> Iterator[tuple[str, Callable[[], dict[str, list[float]]]]]:
    """Yield each method's name and what measures it: how late, in ms, by the name of its row."""
    for way in WAYS:
        for accelerated in (False, True):
            name = f"{way}{', accelerated' if accelerated else ''}"
            yield name, lambda n=name, w=way, a=accelerated: {n: measure_naive(w, times_ms(events, turn), a)}
    for priority in ("raised", "realtime"):
        for only in ("all", *CHANNELS):
            kept = folder / f"{turn}-{priority}-{only}"
            tail = " (all four)" if only == "all" else ""
            yield f"tocsin {priority}, {only}", lambda p=priority, o=only, k=kept, t=tail: {
                f"tocsin {p}, {channel}{t}": late for channel, late in measure_tocsin(events, p, o, k).items()
            }
    for realtime in (False, True):
        name = f"cyclictest {'SCHED_FIFO' if realtime else 'ordinary'}"
        yield name, lambda n=name, r=realtime: {n: cyclictest(r, 1000)}


def one_load(events: int, rounds: int, folder: Path, tell: Callable[[str], None]) -> list[dict[str, float | str | int]]:
    """Measure everything at the present load, rounds interleaved; ``tell`` each row as it comes, failed ones too."""
    found: dict[str, list[float]] = {}
    for turn in range(rounds):
        for name, measure in methods(events, turn, folder):
            try:
                measured = measure()
            except MethodError as error:
                tell(f"{name:<44}not measured: {error}")
                continue
            for label, late in measured.items():
                if late:
                    found.setdefault(label, []).extend(late)
                    tell(line_of(row(label, late)) + (f"   round {turn + 1}" if rounds > 1 else ""))
    rows = [row(name, late) for name, late in found.items()]
    for line in rows:
        if "(all four)" in str(line["way"]):
            line.update(ends(found[str(line["way"])], events))
    return rows


def line_of(line: dict[str, float | str | int]) -> str:
    """Return a row as people read it."""
    return f"{line['way']:<44}{line['n']:>6}" + "".join(f"{line[key]:>9}" for key in ("p50", "p90", "p99", "max"))


def ends(late: list[float], events: int) -> dict[str, float]:
    """Return the medians of the first and the last quarter of the rounds: is the last cue as punctual as the first?"""
    quarter = max(1, events // 4)
    first = sorted(ms for n, ms in enumerate(late) if n % events < quarter)
    last = sorted(ms for n, ms in enumerate(late) if n % events >= events - quarter)
    return {"first": round(percentile(first, 0.5), 3), "last": round(percentile(last, 0.5), 3)}


def main() -> None:
    """Measure, print tables and ratios."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--events", type=int, default=60)
    parser.add_argument("--rounds", type=int, default=2)
    parser.add_argument("--json", action="store_true")
    given = parser.parse_args()
    tables = {}
    # What comes meanwhile goes where it does not stand among the JSON.
    tell = partial(print, file=sys.stderr if given.json else sys.stdout, flush=True)
    for load, count in (("idle", 0), ("two busy processes", 2)):
        tell(f"\n{load}, as it comes: lateness in ms\n{HEAD}")
        with companion.busy(count), tempfile.TemporaryDirectory() as folder:
            tables[load] = one_load(given.events, given.rounds, Path(folder), tell)
    if given.json:
        print(json.dumps(tables, indent=1))
        return
    for load, rows in tables.items():
        print(f"\n{load}, all rounds: lateness in ms\n{HEAD}")
        for line in rows:
            print(line_of(line))
        p99 = {str(line["way"]): float(line["p99"]) for line in rows}
        for line in rows:
            if "first" in line:
                print(f"{line['way']}: median of the first quarter {line['first']} ms, of the last {line['last']} ms")
        for channel in CHANNELS:
            own = p99.get(f"tocsin realtime, {channel} (all four)")
            if own:
                ways = [way for way in ("frame loop", "threading.Timer") if way in p99]
                parts = [f"{way} {p99[way] / own:.1f} times that" for way in ways]
                if limit := p99.get("cyclictest SCHED_FIFO"):
                    parts.append(f"and it is {own / limit:.1f} times cyclictest's")
                print(f"p99 of {channel}, realtime, all four at once: {own} ms; " + ", ".join(parts))


if __name__ == "__main__":
    main()
