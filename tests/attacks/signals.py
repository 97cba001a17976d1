"""Send signals to each kind of process that lives long, at random moments, and look at what is left.

Prints a row a kind, rate and signal: exit codes (below 0: ended by that signal, before anything was opened; None: still
there 40 s later), tracebacks, processes left ten seconds later, journals without an end, strips left on.

Ends with 1 if a process did not end or anything was left, else with 0. POSIX only: the strip is a pseudo-terminal.
Takes an hour on two quiet cores (scaled from ``--count 1`` for two kinds: 5 s a signal, most of it waiting).
"""

import argparse
import os
import random
import signal
import subprocess
import sys
import tempfile
import time
from collections import Counter
from pathlib import Path
from typing import NamedTuple

import psutil

from tests.support import BENCH
from tests.support.stands.stand import RIG, TOCSIN, Strip

BARE = BENCH / "bare_bench.py"            # a rig may name the stand's port then
SIGNALS = (signal.SIGTERM, signal.SIGINT, signal.SIGHUP)
MATCH = ("--from", "driver.end-40s", "--start", "now")
# Words of the command, rates, and in which environment.
KINDS: dict[str, tuple[tuple[str, ...], tuple[str, ...], dict[str, str]]] = {
    "run window": (("run", *MATCH), ("1", "10"), {"SDL_VIDEODRIVER": "dummy"}),
    "run lines": (("run", *MATCH, "--screen", "terminal"), ("1", "10"), {}),
    "drill": (("drill", "break_off"), ("1", "10"), {"SDL_VIDEODRIVER": "dummy"}),
    "react": (("react",), ("1", "10"), {"SDL_VIDEODRIVER": "dummy"}),
    "measure": (("measure", "--only", "light,sound"), ("",), {}),
    "devices --try": (("devices", "--try", "--only", "light"), ("",), {"SDL_VIDEODRIVER": "dummy"}),
    "preview --play": (("preview", "--play", "home,no_touch"), ("",), {"SDL_VIDEODRIVER": "dummy"}),
}
WITHOUT_RUNS = ("measure", "devices", "preview")


class Left(NamedTuple):
    """What a signal left."""

    code: int | None
    traceback: bool
    processes: int
    unended: int
    is_lit: bool


def struck(kind: str, rate: str, number: signal.Signals, rng: random.Random) -> Left:
    """Start a process of a kind, send it a signal, one in four while it loads, and return what is left."""
    words, _, environment = KINDS[kind]
    with tempfile.TemporaryDirectory(prefix="tocsin-signals-") as made:
        folder = Path(made)
        strip = Strip(folder)
        rig = folder / "rig.toml"
        rig.write_text(RIG.format(pads="", port=strip.link, leds=30), encoding="utf-8")
        command = [*TOCSIN, *words, "--rig", str(rig), *(("--rate", rate) if rate else ())]
        if words[0] not in WITHOUT_RUNS:
            command += ["--runs", str(folder / "runs")]
        base = {name: value for name, value in os.environ.items() if name not in ("DISPLAY", "WAYLAND_DISPLAY")}
        base |= {
            "SDL_AUDIODRIVER": "dummy", "XDG_STATE_HOME": str(folder / "state"), "TOCSIN_BENCH": str(BARE),
            **environment,
        }  # fmt: skip
        with (folder / "said").open("wb") as said:
            answers = os.open(os.devnull, os.O_RDONLY) if words[0] != "devices" else os.openpty()[1]
            process = subprocess.Popen(command, stdin=answers, stdout=said, stderr=said, env=base)
        os.close(answers)
        if rng.random() < 0.25:
            time.sleep(rng.uniform(0.1, 3))            # any moment, of its start too: nothing to wait for
        else:
            _await_children(process)
            time.sleep(rng.uniform(0, 10))             # any moment of what it does
        found = _family(process.pid)
        process.send_signal(number)
        try:
            code: int | None = process.wait(40)
        except subprocess.TimeoutExpired:
            code = None
        _, alive = psutil.wait_procs(found, timeout=10)
        for one in alive:
            one.kill()
        strip.pull_out()
        return Left(
            code, b"Traceback" in (folder / "said").read_bytes(), len(alive), _unended(folder),
            bool(strip.frames) and not strip.black,
        )  # fmt: skip


def _await_children(process: subprocess.Popen[bytes]) -> None:
    until = time.monotonic() + 60
    while len(_family(process.pid)) < 2 and process.poll() is None and time.monotonic() < until:
        time.sleep(0.05)                   # polls real processes, with the limit above


def _family(pid: int) -> list[psutil.Process]:
    try:
        parent = psutil.Process(pid)
        return [parent, *parent.children(recursive=True)]
    except psutil.Error:
        return []


def _unended(folder: Path) -> int:
    journals = [file.read_bytes() for file in (folder / "runs").glob("*/journal.jsonl")]
    return sum(b'"kind":"header"' in journal and b'"kind":"end"' not in journal for journal in journals)


def row(kind: str, rate: str, number: signal.Signals, times: int, rng: random.Random) -> bool:
    """Print what so many signals left; return whether that was anything."""
    found = [struck(kind, rate, number, rng) for _ in range(times)]
    codes = " ".join(f"{code}:{count}" for code, count in Counter(left.code for left in found).items())
    sums = [sum(values) for values in zip(*(left[1:] for left in found), strict=True)]
    print(f"{kind:<15}{rate:>4} {number.name:<8}{times:>4}  {codes:<28}" + "".join(f"{n:>9}" for n in sums), flush=True)
    return any(sums) or any(left.code is None for left in found)


def main() -> int:
    """Strike, print, return 1 if anything was left."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--count", type=int, default=20, help="of each signal, a kind and rate (20)")
    parser.add_argument("--seed", type=int, default=1, help="of all the moments (1)")
    parser.add_argument("--kind", nargs="+", choices=[*KINDS], default=[*KINDS], help="some of the kinds")
    given = parser.parse_args()
    # What a shell began in the background, or behind nohup, ignores these, and so would all that it starts.
    for ignored in (signal.SIGINT, signal.SIGHUP):
        if signal.getsignal(ignored) is signal.SIG_IGN:
            signal.signal(ignored, signal.default_int_handler)
    rng = random.Random(given.seed)
    print(f"seed {given.seed}\n{'kind':<15}{'rate':>4} {'signal':<8}{'n':>4}  {'exit codes':<28}"
          f"{'traces':>9}{'left':>9}{'no end':>9}{'lit':>9}", flush=True)  # fmt: skip
    amiss = [row(kind, rate, number, given.count, rng)
             for kind in given.kind for rate in KINDS[kind][1] for number in SIGNALS]  # fmt: skip
    return int(any(amiss))


if __name__ == "__main__":
    sys.exit(main())
