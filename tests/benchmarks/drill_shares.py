"""How often the crew of the table reaches the goal of each bundled drill, and one that notices everything later.

    python -m tests.benchmarks.drill_shares [EVENINGS]

A row a drill and crew: in how many evenings of a hundred the goal is reached by the scribe's keys, and by a video
(within 0.2 s); how many rounds of an evening count, are clean, and cannot be told by keys; the limit that the crew set
itself, from its 10 % to its 90 % point. Asked is 35 to 65 % of the table crew, and at most 10 % of one a second slower,
by keys; a row that misses it ends in "<". 1000 evenings take some 40 s on a quiet laptop. The crew's figures stand in
``tests/support/people/table_crew.py``.
"""

import argparse
import statistics

from tests.support.people.table_crew import TABLE_CREW, Crew, loaded, play
from tocsin.config import bundle
from tocsin.units import NS_PER_S

LATER_S = (0.0, 0.5, 1.0)
ASKED = {0.0: (0.35, 0.65), 1.0: (0.0, 0.10)}


def row(name: str, crew: Crew, later_s: float, evenings: int) -> str:
    """Return the line of a drill and a crew."""
    by_keys = [play(name, crew, seed) for seed in range(evenings)]
    reached = sum(evening.goal == "reached" for evening in by_keys) / evenings
    by_video = sum(play(name, crew, seed, video=True).goal == "reached" for seed in range(evenings)) / evenings
    counted = [one.result for evening in by_keys for one in evening.rounds if one.result.counted]
    clean = sum(result.clean is True for result in counted) / evenings
    unclear = sum(result.clean is None for result in counted) / evenings
    limits_s = [
        evening.rounds[-1].own.turned_ns / NS_PER_S
        for evening in by_keys
        if evening.rounds[-1].own.turned_ns is not None
    ]
    own = ""
    if limits_s and loaded(name).drill.clean.turned_own:
        tenths = statistics.quantiles(limits_s, n=10)
        own = f"{tenths[0]:.1f} to {tenths[-1]:.1f} s"
    goal = loaded(name).drill.goal
    assert goal is not None
    low, high = ASKED.get(later_s, (0.0, 1.0))
    missed = "" if low <= reached <= high else " <"
    return (
        f"{name:>14} {goal.clean} of {goal.of:<2} {later_s:4.1f} s | {100 * reached:5.1f} % {100 * by_video:5.1f} % | "
        f"{len(counted) / evenings:7.1f} {clean:5.1f} {unclear:7.1f} | {own:>12}{missed}"
    )


def main() -> None:
    """Print the table, a row at a time."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("evenings", type=int, nargs="?", default=1000, help="evenings of each (1000)")
    evenings = parser.parse_args().evenings
    print(f"{'drill':>14} {'goal':<7} later  |  keys    video  | counted clean unclear | own limit", flush=True)
    for name in bundle.names("drills"):
        if loaded(name).drill.goal is None:
            continue
        for later_s in LATER_S:
            print(row(name, TABLE_CREW.slower(later_s), later_s, evenings), flush=True)


if __name__ == "__main__":
    main()
