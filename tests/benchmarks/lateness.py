"""How late signals are: Tocsin's own workers beside ways that one would write first, all in one run, interleaved.

``tocsin measure lateness --beside`` measures one rig for whoever stands before it; this compares ways with each other.

    python tests/benchmarks/lateness.py [--events 60] [--rounds 2] [--json]

Needs a display (``xvfb-run`` does); sound goes to SDL's disk driver, the strip is a pseudo-terminal, pads are virtual.
Each way has the same 1280 x 720 window redrawn at 60 frames a second in its process; Tocsin has its own screen
worker instead. Each is measured idle and with two busy processes. Lateness is the begin of the call minus its
due time, on one clock. Percentiles by nearest rank. Compare ratios within one run: the machine has bad moments.
"""

import argparse
import json
import multiprocessing
import os
import re
import shutil
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parents[1] / "e2e"))
from stand import PADS, Pads, Strip

from tocsin.app import companion, usual_ways
from tocsin.app.lateness_events import times_ms
from tocsin.journal.summary import percentile
from tocsin.model.plan import CHANNELS

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
    """Return how late a naive way was, in ms."""
    context = multiprocessing.get_context("spawn")
    queue: multiprocessing.Queue[list[float]] = context.Queue()
    process = context.Process(target=naive, args=(way, times, accelerated, queue))
    process.start()
    late = queue.get(timeout=120)
    process.join()
    return late


def measure_tocsin(events: int, priority: str, only: str, folder: Path) -> dict[str, list[float]]:
    """Return how late each channel was, in ms, as ``tocsin measure`` tells it."""
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
         "--only", ",".join(CHANNELS) if only == "all" else only, "--events", str(events), "--json"],
        env=env, capture_output=True, text=True, check=False,
    )  # fmt: skip
    if done.returncode:
        raise SystemExit(f"tocsin measure ended with {done.returncode}:\n{done.stderr[-2000:]}")
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


def one_load(events: int, rounds: int, folder: Path) -> list[dict[str, float | str | int]]:
    """Measure everything at the present load, rounds interleaved."""
    found: dict[str, list[float]] = {}
    for turn in range(rounds):
        for way in WAYS:
            for accelerated in (False, True):
                name = f"{way}{', accelerated' if accelerated else ''}"
                found.setdefault(name, []).extend(measure_naive(way, times_ms(events, turn), accelerated))
        for priority in ("raised", "realtime"):
            for only in ("all", *CHANNELS):
                late = measure_tocsin(events, priority, only, folder / f"{turn}-{priority}-{only}")
                for channel, values in late.items():
                    label = f"tocsin {priority}, {channel}{' (all four)' if only == 'all' else ''}"
                    found.setdefault(label, []).extend(values)
        for realtime in (False, True):
            name = f"cyclictest {'SCHED_FIFO' if realtime else 'ordinary'}"
            if late_ms := cyclictest(realtime, 1000):
                found.setdefault(name, []).extend(late_ms)
    rows = [row(name, late) for name, late in found.items()]
    for line in rows:
        if "(all four)" in str(line["way"]):
            line.update(ends(found[str(line["way"])], events))
    return rows


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
    for load, count in (("idle", 0), ("two busy processes", 2)):
        with companion.busy(count), tempfile.TemporaryDirectory() as folder:
            tables[load] = one_load(given.events, given.rounds, Path(folder))
    if given.json:
        print(json.dumps(tables, indent=1))
        return
    for load, rows in tables.items():
        print(f"\n{load}: lateness in ms\n{'way':<44}{'n':>6}{'p50':>9}{'p90':>9}{'p99':>9}{'max':>9}")
        for line in rows:
            print(f"{line['way']:<44}" + "".join(f"{line[key]:>9}" for key in ("n", "p50", "p90", "p99", "max"))[3:])
        p99 = {str(line["way"]): float(line["p99"]) for line in rows}
        for line in rows:
            if "first" in line:
                print(f"{line['way']}: median of the first quarter {line['first']} ms, of the last {line['last']} ms")
        for channel in CHANNELS:
            own = p99.get(f"tocsin realtime, {channel} (all four)")
            if own:
                parts = [f"{way} {p99[way] / own:.1f} times that" for way in ("frame loop", "threading.Timer")]
                if limit := p99.get("cyclictest SCHED_FIFO"):
                    parts.append(f"and it is {own / limit:.1f} times cyclictest's")
                print(f"p99 of {channel}, realtime, all four at once: {own} ms; " + ", ".join(parts))


if __name__ == "__main__":
    main()
