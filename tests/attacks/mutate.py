"""Change good files 20,000 times a reader and see what becomes of it.

Prints a row a reader: how many mutations it read, how many of them ended in an exception that no person should see, the
slowest in seconds of processor time, the most memory that one allocated beside what was there, and the seed of the
slowest. Each kind of exception comes with its seed and traceback on stderr: ``--reader NAME --seed SEED --count 1``
repeats it.

Ends with 1 if there was an exception, else with 0. Any system. Takes a quarter of an hour on two quiet cores (scaled
from ``--count 500``: 5 minutes of processor time for each of the readers of TOML files).
"""

import multiprocessing
import random
import sys
import tempfile
import time
import traceback
import tracemalloc
from pathlib import Path
from typing import NamedTuple

from tests.attacks.mutations import arguments, mutated
from tests.attacks.readers import READERS

_TRACED = 25                           # each of so many is traced for its memory, which makes it slower


class Attacked(NamedTuple):
    """What became of one reader; ``broken`` holds (seed, traceback)."""

    reader: str
    mutations: int
    broken: list[tuple[int, str]]
    slowest_s: float
    slowest_seed: int
    peak_mb: float


def attack(name: str, seeds: range, *, traced: int = _TRACED) -> Attacked:
    """Give a reader a mutation for each seed; return what became of it. ``traced`` 0 looks at no memory."""
    reader = READERS[name]
    broken: list[tuple[int, str]] = []
    slowest_s, slowest_seed, peak = 0.0, seeds.start, 0
    with tempfile.TemporaryDirectory() as folder:
        for seed in seeds:
            dice = random.Random(seed)
            data = mutated(dice.choice(reader.texts), dice)
            look = bool(traced) and seed % traced == 0
            if look:
                tracemalloc.start()
            began_s = time.process_time()
            try:
                reader.read(data, Path(folder))
            except Exception:
                broken.append((seed, traceback.format_exc()))
            took_s = time.process_time() - began_s
            if look:
                peak = max(peak, tracemalloc.get_traced_memory()[1])
                tracemalloc.stop()
            elif took_s > slowest_s:
                slowest_s, slowest_seed = took_s, seed
    return Attacked(name, len(seeds), broken, slowest_s, slowest_seed, peak / 1e6)


def _part(job: tuple[str, int, int]) -> Attacked:
    name, begin, end = job
    return attack(name, range(begin, end))


def main() -> int:
    """Attack the readers; return 1 if anything broke."""
    given = arguments(__doc__, READERS, 20_000)
    print(f"seeds {given.seed} to {given.seed + given.count - 1}", flush=True)
    print("reader       mutations tracebacks slowest s  peak MB  slowest seed", flush=True)
    failed = False
    with multiprocessing.get_context("spawn").Pool(given.processes) as pool:
        for name in given.reader:
            step = max(1, -(-given.count // (8 * given.processes)))
            jobs = [(name, at, min(at + step, given.seed + given.count))
                    for at in range(given.seed, given.seed + given.count, step)]  # fmt: skip
            parts = pool.map(_part, jobs, chunksize=1)
            broken = [one for part in parts for one in part.broken]
            slowest = max(parts, key=lambda part: part.slowest_s)
            count, peak_mb = sum(part.mutations for part in parts), max(part.peak_mb for part in parts)
            figures = f"{slowest.slowest_s:>9.2f} {peak_mb:>8.1f}  {slowest.slowest_seed}"
            print(f"{name:<12} {count:>9} {len(broken):>10} {figures}", flush=True)
            for seed, text in {text.splitlines()[-1]: (seed, text) for seed, text in broken}.values():
                print(f"seed {seed}:\n{text}", file=sys.stderr, flush=True)
            failed = failed or bool(broken)
    return int(failed)


if __name__ == "__main__":
    sys.exit(main())
