"""How late signals are while phones follow the run, beside the same laptop without: one run, rounds in turn.

    python -m tests.benchmarks.board_lateness [--events 250] [--rounds 5] [--phones 30] [--priority raised realtime]

Needs a display (``xvfb-run`` does); the strip is a pseudo-terminal, pads are virtual, sound goes to SDL's disk driver.
A round of each plays ``events`` events on all four channels. What counts is the ratio of the p99: both rounds had the
same machine. A field has the phones elsewhere: here they are a process of the lowest priority on this very machine.
"""

import argparse
import subprocess
import sys
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import psutil

from tests.benchmarks.lateness import HEAD, line_of, measure_tocsin, row
from tocsin.model.plan import CHANNELS


@contextmanager
def phones(state: Path, count: int) -> Iterator[subprocess.Popen[str]]:
    """Let phones follow whatever serves boards with tokens of a state folder."""
    process = subprocess.Popen(
        [sys.executable, "-m", "tests.support.service.phones", str(state), str(count)],
        stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True,
    )  # fmt: skip
    try:
        psutil.Process(process.pid).nice(psutil.IDLE_PRIORITY_CLASS if sys.platform == "win32" else 19)
        yield process
    finally:
        process.kill()
        process.wait()


def with_phones(events: int, priority: str, folder: Path, count: int) -> dict[str, list[float]]:
    """Return how late each channel was, in ms. Raises RuntimeError if the phones were never there."""
    with phones(folder, count) as process:
        found = measure_tocsin(events, priority, "all", folder, "--board")
        told = process.communicate(timeout=60)[0].split()
    if told[:1] != ["here"]:
        raise RuntimeError(f"not all {count} phones came: {told}")
    print(f"  {count} phones heard {told[1]} events", flush=True)
    return found


def main() -> None:
    """Measure, print tables and ratios."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--events", type=int, default=250)
    parser.add_argument("--rounds", type=int, default=5)
    parser.add_argument("--phones", type=int, default=30)
    parser.add_argument("--priority", nargs="*", default=["raised", "realtime"])
    given = parser.parse_args()
    late: dict[tuple[str, str, bool], list[float]] = {}
    with tempfile.TemporaryDirectory() as name:
        for turn in range(given.rounds):
            for priority in given.priority:
                # Which of the two comes first changes: a machine that gets slower treats both alike.
                for followed in (False, True) if turn % 2 else (True, False):
                    folder = Path(name) / f"{turn}-{priority}-{followed}"
                    if followed:
                        found = with_phones(given.events, priority, folder, given.phones)
                    else:
                        found = measure_tocsin(given.events, priority, "all", folder)
                    for channel, late_ms in found.items():
                        late.setdefault((priority, channel, followed), []).extend(late_ms)
                    print(f"round {turn + 1}, {priority}, {'with' if followed else 'without'} phones", flush=True)
    print(f"\nlateness in ms\n{HEAD}")
    rows = {key: row(f"{key[0]}, {key[1]}, {'with' if key[2] else 'without'} phones", late[key]) for key in late}
    for key in sorted(rows):
        print(line_of(rows[key]))
    for priority in given.priority:
        for channel in CHANNELS:
            without, beside = (float(rows[priority, channel, followed]["p99"]) for followed in (False, True))
            print(f"p99 of {channel}, {priority}: with phones {beside / without:.2f} times that without")


if __name__ == "__main__":
    main()
