"""How often what a season's page says holds, in simulated teams whose truth is known.

    python -m tests.benchmarks.season_coverage [SEASONS] [--only PART]

A row a world, as it comes; 500 seasons of each take some ten minutes on a quiet laptop, and the standard error of a
share of 95 % is then 1. Asked: intervals hold in at least 92 % (a bound of nine in ten in at least 90 %), "better" and
"no difference that matters" are false in at most 5 of 100 seasons (looked at after each pair), pairs to see a
difference lie within 15 % of those that are promised. A row that misses ends in "<". Where blocks are left out because
something went wrong in them, nothing is asked of a true difference: they take a part of it away. Beside ours stands
what is commonly done: Wilson's interval of all rounds, limits between ordered values of all rounds, evenings drawn
anew, a t test after each evening.
"""

import argparse
import math
import zlib
from collections.abc import Iterator

import numpy as np
from scipy import stats

from tests.support.analysis.seasons import evening_counts, evening_times
from tocsin.analysis.order_statistics import median_limits
from tocsin.analysis.seasons.evidence import evidence_of_seconds, evidence_of_yes, log_robbins, pairs_for
from tocsin.analysis.seasons.pooling import pooled_means
from tocsin.analysis.seasons.ranks import median_of, nine_in_ten, still_on_at
from tocsin.analysis.seasons.rounds_chart import chance_of_any, chart_of
from tocsin.analysis.seasons.season_share import season_share
from tocsin.analysis.seasons.slopes import Slope, percent_a_doubling, season_slope
from tocsin.analysis.shares import wilson
from tocsin.analysis.survival import curve_of

WORLDS = ("log-normal", "ex-Gaussian", "t4", "lapses")
CORRELATIONS = (0.0, 0.05, 0.15)
LEAD_S = 3.6
NEVER = math.inf
SPREAD_S = 0.6


def rng_of(name):
    """Return a generator that is the same for the same row."""
    return np.random.default_rng(zlib.crc32(name.encode()))


def percent(found):
    return 100 * float(np.mean(found))


def shares(seasons) -> Iterator[str]:
    """Question 1: how often contact."""
    for evenings in (3, 6, 12, 20):
        for share in (0.05, 0.1, 0.3):
            for r in CORRELATIONS:
                rng = rng_of(f"shares {evenings} {share} {r}")
                found = [season_share(evening_counts(rng, share, r, evenings, 12)) for _ in range(seasons)]
                held = percent([one.low <= share <= one.high for one in found])
                plain = [wilson(one.count, one.rounds) for one in found]
                beside = percent([one.low <= share <= one.high for one in plain])
                width = np.mean([one.high - one.low for one in found])
                yield (
                    f"share {share:4.2f}, {evenings:2} evenings of 12, r {r:4.2f} | holds {held:5.1f}, "
                    f"width {width:.2f} | Wilson {beside:5.1f}{'' if held >= 92 else ' <'}"
                )


def drawn_anew(times, evenings, rng, draws=199):
    """Return the limits of the share still on, with whole evenings drawn anew."""
    on = np.array([np.mean(times[evenings == one] > LEAD_S) for one in np.unique(evenings)])
    means = on[rng.integers(len(on), size=(draws, len(on)))].mean(axis=1)
    return np.quantile(means, (0.025, 0.975))


def times(seasons) -> Iterator[str]:
    """Question 2: how early off; with one push in ten never seen to end."""
    for world in WORLDS:
        for r in CORRELATIONS:
            large = evening_times(rng_of("truth"), 200_000, 1, r, world=world).ravel()
            middle, ninth, on = np.median(large), np.quantile(large, 0.9), np.mean(large > LEAD_S)
            for evenings in (3, 6, 12):
                rng = rng_of(f"times {world} {r} {evenings}")
                which = np.repeat(np.arange(evenings), 8)
                found = np.zeros((seasons, 6))
                for season in found:
                    true = evening_times(rng, evenings, 8, r, world=world).ravel()
                    lost = rng.random(len(true)) < 0.1
                    seen = np.where(rng.random(len(true)) < 0.6, true + rng.uniform(0.5, 3, len(true)), NEVER)
                    lows, highs = np.where(lost, 0, true), np.where(lost, seen, true)
                    median, plain = median_of(true, true, which), median_limits(np.sort(true))
                    low, high = still_on_at(lows, highs, which, [LEAD_S])[0]
                    beside = drawn_anew(true, which, rng)
                    bound = nine_in_ten(true)
                    season[:] = (
                        median.low <= middle <= median.high, plain[0] <= middle <= plain[1],
                        bound.value is not None and bound.value >= ninth, low <= on <= high,
                        beside[0] <= on <= beside[1], curve_of(lows, highs).on_at(LEAD_S) - on,
                    )  # fmt: skip
                own, ranks, nine, share, anew = 100 * found[:, :5].mean(axis=0)
                good = min(own, share) >= 92 and (nine >= 90 or r > 0.05)
                yield (
                    f"{world:>11}, {evenings:2} evenings of 8, r {r:4.2f} | median {own:5.1f} (all rounds {ranks:5.1f})"
                    f" | nine in ten {nine:5.1f} | still on {share:5.1f} (drawn anew {anew:5.1f}, off by "
                    f"{found[:, 5].mean():+.3f}){'' if good else ' <'}"
                )


def null_rounds(world, rng, pairs, true_s=0.0):
    """Return the times of both values, shape (pairs, 2), in a world; what is left out of them is None."""
    noise = {
        "normal": lambda: rng.normal(0, SPREAD_S, (pairs, 2)),
        "skewed": lambda: rng.exponential(SPREAD_S, (pairs, 2)),
        "heavy": lambda: SPREAD_S / math.sqrt(3) * rng.standard_t(3, (pairs, 2)),
        "lapses": lambda: rng.normal(0, SPREAD_S, (pairs, 2)) + 2.5 * (rng.random((pairs, 2)) < 0.04),
    }[world.split(",", maxsplit=1)[0]]()
    noise = noise + rng.normal(0, 0.5, pairs)[:, None]                 # crews are swapped, evenings differ
    noise[:, 1] += true_s
    if "repeated" in world:                        # what went wrong is played again, and its block left out
        noise = noise[~np.any((noise > 0.8) & (rng.random((pairs, 2)) < 0.5), axis=1)]
    return noise


def evidence(seasons) -> Iterator[str]:
    """Question 10: is A better than B; 16 evenings of 5 pairs, and 60 evenings, looked at after each pair."""
    for pairs in (80, 300):
        for world in ("normal", "skewed", "heavy", "lapses", "normal, repeated"):
            for true_s in (0.0, 0.3):
                rng = rng_of(f"evidence {pairs} {world} {true_s}")
                found = np.zeros((seasons, 4))
                for season in found:
                    rounds = null_rounds(world, rng, pairs, true_s)
                    d = rounds[:, 1] - rounds[:, 0]
                    one = evidence_of_seconds(d.tolist())
                    tests = any(stats.ttest_1samp(d[:n], 0).pvalue < 0.05 for n in range(5, len(d) + 1, 5))
                    season[:] = (
                        "better" in one.verdict, one.verdict == "no difference that matters",
                        one.low <= true_s <= one.high, tests,
                    )  # fmt: skip
                better, none, held, tests = 100 * found.mean(axis=0)
                false = none if true_s else better
                bad = false > 5 or (held < 95 and not ("repeated" in world and true_s))
                yield (
                    f"{pairs:3} pairs, {world:>16}, true {true_s:.1f} s | better {better:5.1f}, none {none:5.1f}, "
                    f"interval {held:5.1f} | t tests {tests:5.1f}{' <' if bad else ''}"
                )
        for share in (0.1, 0.3):
            rng = rng_of(f"yes {pairs} {share}")
            rounds = (rng.random((seasons, pairs, 2)) < share).astype(float)
            better = percent(["better" in evidence_of_yes((one[:, 1] - one[:, 0]).tolist()).verdict for one in rounds])
            yield f"{pairs:3} pairs, contact {share:.1f} of both | better {better:5.1f}{' <' if better > 5 else ''}"


def power(seasons) -> Iterator[str]:
    """Question 10: after how many pairs a difference is seen, in the middle of all seasons."""
    for true_s, promised in ((1.0, 16), (0.5, 32), (0.3, 72), (0.2, 156)):
        rng = rng_of(f"power {true_s}")
        needed = []
        for _ in range(seasons):
            d = rng.normal(true_s, SPREAD_S * math.sqrt(2), 5 * promised)
            totals, squares = np.cumsum(d), np.cumsum(d * d)
            rho = 2.721721171519369
            seen = (np.log(rho / (rho + squares)) + totals**2 / (rho + squares)) / 2 >= math.log(20)
            needed.append(np.argmax(seen) + 1 if seen.any() else NEVER)
        found = float(np.median(needed))
        told = pairs_for(true_s, SPREAD_S * math.sqrt(2))
        yield (
            f"true {true_s:.1f} s | seen after {found:5.0f} pairs (promised {promised}, told before {told})"
            f"{'' if abs(found / promised - 1) <= 0.15 else ' <'}"
        )
    rng, needed = rng_of("power yes"), []
    for _ in range(seasons):
        d = (rng.random(700) < 0.3).astype(int) - (rng.random(700) < 0.15)
        more, fewer = np.cumsum(d > 0), np.cumsum(d < 0)
        steps = (n for n in range(700) if d[n] and log_robbins(int(more[n]), int(fewer[n])) >= math.log(20))
        needed.append(next(steps, NEVER) + 1)
    found = float(np.median(needed))
    good = abs(found / 122 - 1) <= 0.15
    yield f"contact .30 and .15 | seen after {found:5.0f} pairs (promised 122){'' if good else ' <'}"


def odd(seasons) -> Iterator[str]:
    """Question 6: evenings of 15 rounds with one marked, and what baselines say of it; asked: within a fifth."""
    for world in WORLDS:
        for r in (0.0, 0.1):
            rng = rng_of(f"odd {world} {r}")
            came, said = [], []
            for _ in range(seasons):
                chart = chart_of(evening_times(rng, 5, 8, r, world=world).ravel().tolist())
                came += [
                    any(chart.is_odd(time) for time in evening_times(rng, 1, 15, r, world=world)[0]) for _ in range(4)
                ]
                said.append(chance_of_any(chart, 15, seed=1))
            true, told = percent(came), percent(said)
            yield (
                f"{world:>11}, r {r:4.2f} | came {true:5.1f}, said {told:5.1f} on average, "
                f"{100 * np.median(said):5.1f} in the middle{'' if abs(told / true - 1) <= 0.2 else ' <'}"
            )


def slopes(seasons) -> Iterator[str]:
    """Question 8: are we learning, 6 % a doubling, by the medians of evenings of 8 with r .1."""
    true = math.log(0.94)
    for world in WORLDS:
        for evenings in (6, 8, 12, 20):
            rng, places = rng_of(f"slopes {world} {evenings}"), np.log2(8 * np.arange(1, evenings + 1))
            found = []
            for _ in range(seasons):
                medians = np.median(np.log(evening_times(rng, evenings, 8, 0.1, world=world)), axis=1)
                found.append(season_slope(places, medians + true * places))
            held = percent([one.low <= true <= one.high for one in found])
            low, high = (np.mean([getattr(one, side) for one in found]) for side in ("low", "high"))
            typical = percent_a_doubling(Slope(true, low, high))
            yield (
                f"{world:>11}, {evenings:2} evenings | holds {held:5.1f}, on average 6 % ({typical.low:.0f} to "
                f"{typical.high:.0f}){'' if held >= 92 else ' <'}"
            )


def groups(seasons) -> Iterator[str]:
    """Question 4: set-ups of six rounds each, pooled partly."""
    for count in (3, 4, 6):
        for apart in (0.0, 0.05, 0.15):
            rng, held = rng_of(f"groups {count} {apart}"), []
            for _ in range(seasons):
                means = rng.normal(1, apart, count)
                found = pooled_means({place: rng.normal(mean, 0.25, 6).tolist() for place, mean in enumerate(means)})
                held += [found[place].low <= mean <= found[place].high for place, mean in enumerate(means)]
            yield (
                f"{count} set-ups, {apart:.2f} apart | holds {percent(held):5.1f}{'' if percent(held) >= 92 else ' <'}"
            )


PARTS = {"shares": shares, "times": times, "evidence": evidence, "power": power, "odd": odd, "slopes": slopes,
         "groups": groups}  # fmt: skip


def main():
    """Print the rows, each as it comes."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("seasons", type=int, nargs="?", default=500, help="seasons of each world (500)")
    parser.add_argument("--only", choices=PARTS, help="one part of the table")
    arguments = parser.parse_args()
    for name, part in PARTS.items():
        if arguments.only in (None, name):
            print(f"-- {name}: {(part.__doc__ or '').strip()}", flush=True)
            for row in part(arguments.seasons):
                print(row, flush=True)


if __name__ == "__main__":
    main()
