"""Live many random matches on the program's clock and on the second model, and look where they differ.

Prints each seed whose lives differ and in what, and a line after each thousand.

Ends with 1 if any differ, else with 0. Any system. Takes 2 to 3 minutes on two quiet cores (scaled from
``--count 400``).
"""

import argparse
import multiprocessing
import sys
import time

from tests.support.model.two_clocks import lived, random_life


def differs(seed: int) -> tuple[int, str]:
    """Return the seed of a life and in what the two clocks differ, or nothing."""
    return seed, lived(random_life(seed)).difference


def main() -> int:
    """Live as many lives as asked for; return 1 if any differ."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--count", type=int, default=10_000, help="lives (10000)")
    parser.add_argument("--seed", type=int, default=0, help="of the first life (0)")
    parser.add_argument("--processes", type=int, default=2, help="side by side (2)")
    given = parser.parse_args()
    began_s, differ = time.monotonic(), 0
    seeds = range(given.seed, given.seed + given.count)
    with multiprocessing.get_context("spawn").Pool(given.processes) as pool:
        for done, (seed, found) in enumerate(pool.imap(differs, seeds, chunksize=20), 1):
            if found:
                differ += 1
                print(f"seed {seed}: {found}", flush=True)
            if done % 1000 == 0:
                print(f"{done} lives: {differ} differ, {time.monotonic() - began_s:.0f} s", flush=True)
    print(f"{given.count} lives from seed {given.seed}: {differ} differ")
    return int(differ > 0)


if __name__ == "__main__":
    sys.exit(main())
