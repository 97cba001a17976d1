"""How often the program's intervals hold, and how wide they are, beside scipy's bootstraps of the same figure.

    python -m tests.benchmarks.coverage [DRAWS]

A row a world and number of readings; 1,000 samples of each take some ten minutes on a quiet laptop. "holds" is the
share of samples in percent whose interval holds the world's truth (a standard error of 0.7 with 1,000), "width" that of
the interval's mean width to the bootstrap's (scipy.stats.bootstrap, percentile and BCa, 399 resamples, on the first 60
samples), with the bootstrap's own share behind it. Asked is 93 % from six readings on, and 1.5 times the width at the
most; a row that misses either ends in "<". Below six the program gives no interval. Where the readings are coarser than
what varies a bootstrap shrinks to nothing and says nothing of a width: such a row's stands in brackets.
"""

import argparse
import warnings
import zlib

import numpy as np
from scipy import stats

from tests.support.analysis.reading_worlds import WORLDS
from tocsin.analysis.delays.estimates import reading_of, step_of
from tocsin.analysis.spread import TO_DEVIATION, spread_of

SIZES = (6, 7, 8, 9, 10, 12, 16, 20, 30, 60)
ASKED, MOST_WIDTH = 93.0, 1.5
BESIDE, RESAMPLES = 60, 399


def pairs_median(values, axis=-1):
    """Return the spread of values as ``spread_of`` takes it, along the last axis."""
    first, second = np.triu_indices(values.shape[axis], 1)
    values = np.moveaxis(values, axis, -1)
    return TO_DEVIATION * np.median(np.abs(values[..., first] - values[..., second]), axis=-1)


def bootstrap(samples, figure, method, rng):
    """Return the limits of scipy's bootstrap for each sample."""
    limits = []
    for sample in samples:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")            # equal values have no BCa
            found = stats.bootstrap(
                (sample,), figure, method=method, n_resamples=RESAMPLES, vectorized=True, rng=rng
            ).confidence_interval  # fmt: skip
        limits.append((found.low, found.high))
    return np.array(limits)


def held(limits, truth):
    """Return in what percentage of intervals a truth lies."""
    return 100 * np.mean((limits[:, 0] <= truth) & (truth <= limits[:, 1]))


def cell(limits, truth, samples, figure, rng, coarse):
    """Return a figure's column, and whether it is as it should be."""
    own = held(limits, truth)
    text, good = f"{own:5.1f}", own >= ASKED
    for method in ("percentile", "BCa"):
        beside = bootstrap(samples[:BESIDE], figure, method, rng)
        beside = beside[np.isfinite(beside).all(axis=1)]
        ratio = np.mean(np.diff(limits[:BESIDE])) / np.mean(np.diff(beside)) if len(beside) else np.inf
        told = f"{ratio:.2f}"
        text += f"  {f'({told})' if coarse else told:>6} {held(beside, truth) if len(beside) else np.nan:3.0f}"
        good = good and (coarse or ratio <= MOST_WIDTH)
    return text + ("  " if good else " <")


def main():
    """Print the table, a row at a time."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("draws", type=int, nargs="?", default=1000, help="samples of each (1000)")
    draws = parser.parse_args().draws
    print(f"{'':>26} | median: holds, width and share:  percentile, BCa | spread: the same", flush=True)
    for name, world in WORLDS.items():
        middle, spread = world.truth()
        coarse = world.step_ms > spread
        for n in SIZES:
            rng = np.random.default_rng(zlib.crc32(f"{name} {n} benchmark".encode()))
            samples = world.draw(rng, (draws, n))
            readings = [reading_of(sample.tolist()) for sample in samples]
            spreads = [spread_of(sample, step_ms=step_of(sample.tolist())) for sample in samples]
            first = np.array([(one.low_ms, one.high_ms) for one in readings])
            second = np.array([(one.low_ms, one.high_ms) for one in spreads])
            cells = (
                cell(first, middle, samples, np.median, rng, coarse),
                cell(second, spread, samples, pairs_median, rng, coarse),
            )
            print(f"{name:>22} {n:3} | {cells[0]} | {cells[1]}", flush=True)


if __name__ == "__main__":
    main()
