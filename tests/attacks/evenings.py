"""Play each bundled drill from the questions to its last round: real windows, pads and keys, simulated people.

Prints a row a drill: its rounds, how many were clean, not clean, unclear, not counted, how many results are equal to a
reckoning by when keys really went down, how many lay so near an edge that the reckoning allows two, and the seconds.
Below it what differs. With ``--pictures`` there is a picture of every state of each drill's window.

Ends with 1 if anything differs, else with 0. Linux only. Takes 12 minutes with --jobs 6, an hour one after another.
"""

import argparse
import os
import sys
import tempfile
from collections.abc import Sequence
from concurrent.futures import ProcessPoolExecutor, as_completed
from pathlib import Path
from typing import Any

from tests.support import BENCH
from tests.support.channels.screen_stand import MISSING
from tests.support.people.bundled_courses import DRILLS
from tests.support.people.bundled_results import Row, play_and_judge

HEAD = f"{'drill':<16}{'rounds':>7}{'clean':>7}{'not':>5}{'unclear':>9}{'uncounted':>11}{'equal':>7}{'edge':>6}{'s':>7}"


def play(*given: Any) -> Row:
    """Play one evening in a process of its own; what breaks it off is told, since not every error can be handed on."""
    try:
        return play_and_judge(*given)
    except Exception as error:
        raise RuntimeError(f"{type(error).__name__}: {error}") from None


def text(row: Row) -> str:
    """Return a row of the table, and what is amiss below it."""
    line = (f"{row.drill:<16}{row.rounds:>7}{row.clean:>7}{row.not_clean:>5}{row.unclear:>9}{row.not_counted:>11}"
            f"{row.equal:>7}{row.near_edge:>6}{row.took_s:>7.0f}")  # fmt: skip
    return "\n".join([line, *(f"    AMISS {what}" for what in row.amiss)])


def options(arguments: Sequence[str] | None) -> argparse.Namespace:
    """Read the command line."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--drill", nargs="+", choices=DRILLS, default=list(DRILLS), help="some of the drills")
    parser.add_argument("--rate", type=float, default=1.0, help="how fast match time goes (1)")
    parser.add_argument("--rounds", type=int, default=0, help="leave behind so many results (at the drill's end)")
    parser.add_argument("--jobs", type=int, default=1, help="so many drills side by side, each in a process (1)")
    parser.add_argument("--seed", type=int, default=12, help="of drills and people (12)")
    parser.add_argument("--size", default="1366x768", help="of the window's display (1366x768)")
    parser.add_argument("--pictures", type=Path, metavar="DIR", help="where pictures of every state go")
    parser.add_argument("--folder", type=Path, metavar="DIR", help="keep the journals there")
    return parser.parse_args(arguments)


def main(arguments: Sequence[str] | None = None) -> int:
    """Play, print, return the exit code."""
    given = options(arguments)
    if MISSING:
        print(f"not installed: {', '.join(MISSING)}")
        return 1
    os.environ.setdefault("TOCSIN_BENCH", str(BENCH / "bare_bench.py"))      # a rig may name the stand's port then
    width, height = (int(part) for part in given.size.split("x"))
    folder = given.folder or Path(tempfile.mkdtemp(prefix="tocsin-evenings-"))
    print(f"rate {given.rate:g}, window {given.size}, journals in {folder}\n{HEAD}", flush=True)
    bad = 0
    with ProcessPoolExecutor(given.jobs) as pool:
        waiting = {}
        for name in given.drill:
            (folder / name).mkdir(parents=True, exist_ok=True)
            job = pool.submit(
                play, name, folder / name, given.rate, (width, height), given.seed, given.pictures,
                given.rounds,
            )  # fmt: skip
            waiting[job] = name
        for job in as_completed(waiting):
            try:
                row = job.result()
            except Exception as error:                     # the others go on, and this one is told
                bad += 1
                print(f"{waiting[job]:<16}  AMISS it broke off: {error}", flush=True)
                continue
            bad += bool(row.amiss)
            print(text(row), flush=True)
    return int(bad > 0)


if __name__ == "__main__":
    sys.exit(main())
