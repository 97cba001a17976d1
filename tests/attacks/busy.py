"""Play short matches beside busy processes, also with workers that are killed and stopped, and count what is amiss.

    python -m tests.attacks.busy --matches 20 --busy 0 8 --kill

Strip, pads and sound are the test stand's. Prints a row a number of busy processes: workers that were replaced though
nobody had touched them, firings lost on channels that were not hit while an independent probe was on time, those lost
while it was not (with the machine's longest stall), those lost on the channel that was hit, tracebacks, and devices
left on; below it what it was. The probe is a process of real-time priority, where the system grants that, which sleeps
5 ms again and again; a machine that does not let it run on time cannot be on time for a cue either.

Ends with 1 if anything but losses in a stall and on a channel that was hit is not 0, or a match told nothing; else with
0. Linux only. Takes half an hour on two quiet cores, more where they are few for the busy processes (scaled from
``--matches 1 --busy 0``: 16 s a match).
"""

import argparse
import contextlib
import multiprocessing
import os
import random
import signal
import sys
import tempfile
import time
from dataclasses import dataclass, field
from multiprocessing.connection import Connection
from pathlib import Path

import psutil

from tests.support.stands.stand import Pads, Run, Strip, rig_file, workers
from tocsin.features.measure import helper as companion

STALL_S = 0.02                         # the probe was late by more: so was everybody
NEAR_S = 0.5
RATE = 4
CHANNELS = ("rumble", "light", "sound")


def _realtime(priority: int) -> bool:
    """Ask for real time, not handed on to children; return whether it was granted."""
    try:
        os.sched_setscheduler(0, os.SCHED_FIFO | os.SCHED_RESET_ON_FORK, os.sched_param(priority))
    except OSError:
        return False
    return True


def _probe(ends: Connection, stalls: Connection) -> None:
    """Note (time in ns, lateness in s) of each sleep that took too long, until told to end."""
    _realtime(20)
    found = []
    while not ends.poll():
        began_ns = time.perf_counter_ns()
        time.sleep(0.005)                  # how late this wakes is what is measured
        late_s = (time.perf_counter_ns() - began_ns) / 1e9 - 0.005
        if late_s > STALL_S:
            found.append((began_ns, late_s))
    stalls.send(found)


@dataclass
class Tally:
    """What a number of matches came to. ``excused`` are the stalls beside which firings were lost."""

    matches: int = 0
    hits: int = 0
    healthy_killed: int = 0
    lost: int = 0
    excused: list[float] = field(default_factory=list)
    hit_lost: int = 0
    tracebacks: int = 0
    left_on: int = 0
    latest_ms: float = 0.0
    failed: int = 0
    notes: list[str] = field(default_factory=list)

    @property
    def is_amiss(self) -> bool:
        """Whether anything went wrong that the machine did not bring about, or that nobody brought about on purpose."""
        return bool(self.healthy_killed or self.lost or self.tracebacks or self.left_on or self.failed)

    def row(self, busy: int) -> str:
        """Return the table's line."""
        stalls = f"{len(self.excused)} (stall {max(self.excused):.2f} s)" if self.excused else "0"
        return (
            f"{busy:>4} {self.matches:>7} {self.hits:>5} {self.healthy_killed:>14} {self.lost:>10} {stalls:>18} "
            f"{self.hit_lost:>8} {self.tracebacks:>10} {self.left_on:>7} {self.latest_ms:>9.1f}"
        )


HEAD = (
    f"{'busy':>4} {'matches':>7} {'hits':>5} {'healthy killed':>14} {'lost':>10} {'lost in a stall':>18} "
    f"{'lost hit':>8} {'tracebacks':>10} {'left on':>7} {'latest ms':>9}"
)


def _hit(run: Run, chance: random.Random) -> str:
    """Kill or stop a worker at a random moment of the match; return its channel, or nothing if there was none."""
    channel = chance.choice(CHANNELS)
    time.sleep(chance.uniform(0.2, 6))     # any moment of the match: there is nothing to wait for
    found = workers(run.pid, channel)
    if not found:
        return ""
    with contextlib.suppress(psutil.Error):
        found[0].send_signal(chance.choice((signal.SIGKILL, signal.SIGSTOP)))
    return channel


def _match(tally: Tally, chance: random.Random, *, kill: bool) -> None:
    """Play one short match beside the probe and count what went wrong."""
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        strip, pads = Strip(folder), Pads(folder)
        ends, told = multiprocessing.Pipe()
        stalls, found = multiprocessing.Pipe()
        probe = multiprocessing.get_context("fork").Process(target=_probe, args=(told, found))
        probe.start()
        run = Run(
            folder, "--from", "driver.end-35s", "--rate", str(RATE), "--start", "now",
            env=pads.env, rig=rig_file(folder, strip, pads=True),
        )  # fmt: skip
        hit = ""
        if kill:
            run.await_record(120, kind="origin")
            hit = _hit(run, chance)
        code, summary, err = run.finish(180)
        ends.send(None)
        late = stalls.recv()
        probe.join()
        tally.matches += 1
        tally.hits += bool(hit)
        tally.tracebacks += "Traceback" in err
        records = run.records()
        tally.tracebacks += sum(r["kind"] == "fault" and "Traceback" in r["why"] for r in records)
        tally.left_on += (not strip.black) + (not pads.off("a")) + (not pads.off("b"))
        if not summary:
            tally.failed += 1
            tally.notes.append(f"no summary, exit {code}: {err[-300:]}")
            return
        _count(tally, hit, records, late)


def _count(tally: Tally, hit: str, records: list[dict], late: list[tuple[int, float]]) -> None:
    for fault in (r for r in records if r["kind"] == "fault" and r["channel"] in CHANNELS):
        if fault["what"] == "worker" and fault["channel"] != hit:
            tally.healthy_killed += 1
            tally.notes.append(f"{fault['channel']}: {fault['why']}")
    origin = next(r for r in records if r["kind"] == "origin" and r["anchor"] == "match")
    for firing in (r for r in records if r["kind"] == "firing" and r["channel"] in CHANNELS):
        if firing["outcome"] in ("played", "resumed"):
            if firing["channel"] != hit:
                tally.latest_ms = max(tally.latest_ms, (firing["late_ns"] or 0) / 1e6)
            continue
        if firing["why"] not in ("late", "lost with its worker") and firing["outcome"] != "failed":
            continue
        if firing["channel"] == hit:
            tally.hit_lost += 1
            continue
        due_ns = origin["origin_ns"] + firing["due_ns"] / RATE
        near = [stall for at_ns, stall in late if abs(at_ns - due_ns) < NEAR_S * 1e9]
        if near:
            tally.excused.append(max(near))
        else:
            tally.lost += 1
            what = f"{firing['channel']} {firing['cue']} {firing['n']}"
            tally.notes.append(f"{what}: {firing['outcome']} {firing['why']}")


def main() -> int:
    """Play and print a row for each number of busy processes, as it comes; return 1 if anything is amiss."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--matches", type=int, default=20, help="for each number of busy processes (20)")
    parser.add_argument("--busy", type=int, nargs="+", default=[0, 4, 8, 15], help="their numbers (0 4 8 15)")
    parser.add_argument("--kill", action="store_true", help="kill or stop one worker in each match")
    parser.add_argument("--seed", type=int, default=1, help="of what is hit and when (1)")
    options = parser.parse_args()
    chance = random.Random(options.seed)
    # The stand's board must take its bytes on time, whatever else goes on.
    print(f"{os.cpu_count()} cores, load {os.getloadavg()[0]:.1f}, real time {'yes' if _realtime(2) else 'no'}")
    print(HEAD, flush=True)
    amiss = False
    for busy in options.busy:
        tally = Tally()
        with companion.busy(busy):
            for _ in range(options.matches):
                try:
                    _match(tally, chance, kill=options.kill)
                except Exception as error:             # one match that fails must not lose the others' row
                    tally.failed += 1
                    tally.notes.append(f"{type(error).__name__}: {error}")
        print(tally.row(busy), flush=True)
        for note in tally.notes:
            print(f"       {note}", flush=True)
        amiss = amiss or tally.is_amiss
    return int(amiss)


if __name__ == "__main__":
    sys.exit(main())
