"""How often the clock's ± holds once people set a missed start right by the official display, and after one tap more.

    python -m tests.benchmarks.display_clock [MATCHES]

Some 10 s for 2,000 matches a row. Starts are missed by 0 to 6 s, one in ten early by up to 2 s; the change of the
display is pressed 0.1 to 0.4 s late; one reading in twenty is wrong (``tests/support/people/display_reader.py``).
"read" and "tapped" are the shares in percent in which the stated ± held the clock's error, "batches" how many batches
of 200 of the first row lie within 93 to 97 % for each. The other rows say what the figures hang on: other starts,
people who are never wrong, or wrong twice as often, who tap on the beat, or who read the display slower. A row that has
to lie within 93 to 97 % and does not ends in "<", and the script with 1.
"""

import argparse
from statistics import median

from tests.support.people.display_reader import TAPS_MS, held, people

ROWS = (
    ("press", {}, True),
    ("counted in", {"by": "count_in"}, True),
    ("countdown", {"by": "countdown"}, True),
    ("never wrong", {"wrong": 0}, False),
    ("wrong twice as often", {"wrong": 2}, False),
    ("taps on the beat", {"taps": TAPS_MS | {"counted": ((0, 0), 30)}}, False),
    ("taps 80 ms early", {"taps": TAPS_MS | {"counted": ((-80, -80), 30)}}, False),
    ("reads 0 to 0.5 s late", {"read_late_ms": (0, 500)}, False),
)
LEAST, MOST, BATCH = 0.93, 0.97, 200


def shares(found):
    """Return the shares held after the reading, and after the tap: where that was refused, the clock is as it was."""
    return held(one.read for one in found), held(one.tapped or one.read for one in found)


def main() -> int:
    """Print the table; return 1 if a row is outside that should not be."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("matches", nargs="?", type=int, default=2000)
    count = parser.parse_args().matches
    wrong = 0
    print(f"{'':22}  read  tapped   ± read  ± tapped   typed again  tap refused")
    for seed, (name, how, asked) in enumerate(ROWS, 1):
        found = people(count, seed, **how)
        both = shares(found)
        outside = asked and not all(LEAST <= share <= MOST for share in both)
        wrong += outside
        known = median(one.read[1] for one in found), median(one.tapped[1] for one in found if one.tapped)
        again, refused = sum(one.typed > 1 for one in found), sum(one.tapped is None for one in found)
        print(
            f"{name:22} {100 * both[0]:5.1f}   {100 * both[1]:5.1f}   {known[0]:6.2f}    {known[1]:6.2f}"
            f"   {again:11}  {refused:11}{' <' if outside else ''}", flush=True,
        )  # fmt: skip
        if seed == 1:
            batches = [shares(found[at : at + BATCH]) for at in range(0, count - BATCH + 1, BATCH)]
    inside = [sum(LEAST <= batch[n] <= MOST for batch in batches) for n in range(2)]
    print(f"batches of {BATCH} within {LEAST:.0%} to {MOST:.0%}: {inside[0]} and {inside[1]} of {len(batches)}")
    return 1 if wrong else 0


if __name__ == "__main__":
    raise SystemExit(main())
