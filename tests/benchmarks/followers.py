"""How far apart two laptops give their cues, beside what the follower states: two real programs, a slow line between.

    python -m tests.benchmarks.followers [--rate 8] [--only CASE]

The follower's clock is another one, 60 parts in a million faster, so the truth is known. Prints a table, a case a line,
and ends with 1 if a stated bound did not hold. Each case plays a whole match: some 25 s at the rate 8. Times of 20 s
without a word are played at the rate 4.
"""

import argparse
import os
import statistics
import sys
import tempfile
import time
from pathlib import Path

from tests.support import BENCH
from tests.support.stands.laptops import Laptops
from tests.support.stands.slow_line import Delay, jittery, steady

PPM = 60.0
MS = 1e6
WAYS: dict[str, tuple[Delay, Delay]] = {
    "loopback": (steady(0), steady(0)),
    "3 ms each way": (steady(0.003), steady(0.003)),
    "3 ms + exp(15 ms)": (jittery(0.003, 0.015, 1), jittery(0.003, 0.015, 2)),
    "5 out, 25 back": (steady(0.005), steady(0.025)),
    "25 out, 5 back": (steady(0.025), steady(0.005)),
    "1 out, 150 back": (steady(0.001), steady(0.150)),
}
CUTS_S = (1, 3, 5, 8, 12, 20)


def played(name: str, ways: tuple[Delay, Delay], rate: float, cut_s: float = 0) -> tuple[str, bool]:
    """Play a match; return its line of the table, and whether all stated bounds held."""
    with tempfile.TemporaryDirectory() as folder:
        laptops = Laptops(Path(folder), "--rate", f"{rate:g}", ppm=PPM)
        try:
            laptops.line.out, laptops.line.back = ways
            laptops.follow()
            laptops.await_follower()
            laptops.keeper.press("s")
            laptops.follower.await_record(60, kind="origin", anchor="match")
            if cut_s:
                time.sleep(5)
                laptops.line.cut()
                time.sleep(cut_s)
                laptops.line.cut(is_cut=False)
            laptops.follower.await_record(120, kind="end")
            laptops.keeper.await_record(60, kind="end")
            cues, offsets = laptops.cues(), laptops.offsets()
        finally:
            laptops.end()
    held = all(abs(cue.meant_apart_ns) <= cue.stated_ns for cue in cues) and all(
        abs(error_ns) <= stated_ns for error_ns, stated_ns in offsets
    )
    meant = sorted(abs(cue.meant_apart_ns) / MS for cue in cues)
    given = sorted(abs(cue.given_apart_ns) / MS for cue in cues)
    stated = max(cue.stated_ns for cue in cues) / MS
    line = (
        f"{name:<22} {len(cues):>4} {len(offsets):>7} {statistics.median(meant):>8.2f} {meant[-1]:>8.2f} "
        f"{stated:>9.2f} {statistics.median(given):>9.2f} {given[-1]:>9.2f}  {'yes' if held else 'NO'}"
    )
    return line, held


def main() -> int:
    """Print the table; return 1 if a bound did not hold."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--rate", type=float, default=8.0)
    parser.add_argument("--only", default="", help="cases whose name holds this text")
    given = parser.parse_args()
    os.environ["TOCSIN_BENCH"] = str(BENCH / "bare_bench.py")
    os.environ.pop("PYTHONDONTWRITEBYTECODE", None)
    print("case                   cues offsets  meant apart, ms  stated ±   given apart, ms  all within")
    print("                                          p50     most      most       p50      most")
    cases = [(name, ways, given.rate, 0) for name, ways in WAYS.items()]
    cases += [(f"cut for {s} s", (steady(0.003), steady(0.003)), 8.0 if s < 8 else 4.0, s) for s in CUTS_S]
    held = []
    for name, ways, rate, cut_s in cases:
        if given.only in name:
            line, ok = played(name, ways, rate, cut_s)
            print(line, flush=True)
            held.append(ok)
    return 0 if all(held) else 1


if __name__ == "__main__":
    sys.exit(main())
