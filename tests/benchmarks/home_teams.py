"""What advice on the call home does to simulated teams whose best lead is known.

    python -m tests.benchmarks.home_teams [TEAMS]

A row a world, number of ways home, and how far the call is off the best one, below 0 too late; 30 teams of each take
some ten minutes. A second is worth what nobody told, anything from .5 to 1 points a match, a full return 18; matches
begin their way home from two set-ups, each in half of them. "harmful" is advice whose true gain is below -.05 points,
asked in at most 5 %; "holds" how often the stated 80 % interval of the gain did. A row that misses ends in "<".
"""

import argparse
import zlib
from typing import NamedTuple

import numpy as np
from msgspec.structs import replace

from tests.support.analysis.advice_rows import evening_of, home_rows
from tocsin.analysis.decisions.choice import Advice, Records
from tocsin.analysis.decisions.home import HomeTerms, choose_home
from tocsin.analysis.decisions.season import home_question

FULL, TURN_S = 18, 1.5
LEADS_S = np.arange(4, 22, 0.5)


class World(NamedTuple):
    """What differs from the first world: slips, a share of ways that take so many times as long; ``loaded`` by how much
    longer matches take than practice; whether a scribe marks."""

    slips: tuple[float, float] = (0.0, 1.0)
    loaded: float = 1.0
    scribe: bool = False


WORLDS = {
    "as assumed": World(), "5 % slips of 1.6": World(slips=(0.05, 1.6)), "a scribe's lag": World(scribe=True),
    "matches 5 % slower": World(loaded=1.05),
}  # fmt: skip


def slipped(rng, ways, world):
    """Return ways of which some are slips."""
    return ways * np.where(rng.random(np.shape(ways)) < world.slips[0], world.slips[1], 1.0)


def costs(rng, ways_s, second, world):
    """Return the true points a match that each of ``LEADS_S`` costs."""
    n, found = 50_000, second * LEADS_S
    for way_s in ways_s.values():
        ways = slipped(rng, rng.lognormal(np.log(way_s), 0.15, n), world)
        home = (rng.lognormal(np.log(TURN_S), 0.2, n) + ways) * world.loaded
        found = found - FULL / len(ways_s) * np.searchsorted(np.sort(home), LEADS_S, side="right") / n
    return found


def row(name, world, evenings, off_s, teams):
    """Return a row."""
    rng = np.random.default_rng(zlib.crc32(f"{name} {evenings} {off_s}".encode()))
    spoken = harmful = held = 0
    codes: dict[str, int] = {}
    for team in range(teams):
        ways_s, second = {"far": rng.uniform(7, 10), "near": rng.uniform(4, 7)}, rng.uniform(0.5, 1.0)
        true = costs(rng, ways_s, second, world)
        now = int(np.argmin(true)) + round(off_s * 2)
        rows = home_rows(team, evenings, ways_s=ways_s, lag_s=0.55 if world.scribe else 0.0)
        rows = [
            replace(one, way_at_least_s=float(way), way_at_most_s=float(way)) if one.home == "home" else one
            for one, way in zip(rows, slipped(rng, [one.way_at_least_s for one in rows], world), strict=True)
        ]
        asked = home_question(rows, HomeTerms(lead_s=float(LEADS_S[now]), full=FULL), today=evening_of(evenings))
        found = choose_home(asked.question, asked.times, Records(pushes=len(rows), evenings=evenings), seed=1)
        if isinstance(found, Advice):
            gain = true[now] - true[int(np.searchsorted(LEADS_S, found.lead_s))]
            spoken, harmful, held = spoken + 1, harmful + (gain < -0.05), held + (found.low <= gain <= found.high)
        else:
            codes[found.code] = codes.get(found.code, 0) + 1
    told = ", ".join(f"{code} {100 * count / teams:.0f}" for code, count in sorted(codes.items()))
    holds = f"{100 * held / spoken:3.0f} of {spoken:3}" if spoken else "  -       "
    return (
        f"{name:>20}, {12 * evenings:3} ways, {off_s:+.1f} s off | speaks {100 * spoken / teams:5.1f}, harmful "
        f"{100 * harmful / teams:4.1f}, holds {holds} | {told}{' <' if harmful > 0.05 * teams else ''}"
    )


def main():
    """Print the rows, each as it comes."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("teams", type=int, nargs="?", default=30, help="teams of each (30)")
    teams = parser.parse_args().teams
    for name, world in WORLDS.items():
        for evenings in (3, 9):
            for off_s in (0.0, -1.0, 2.0):
                print(row(name, world, evenings, off_s, teams), flush=True)


if __name__ == "__main__":
    main()
