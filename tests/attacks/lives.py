"""Live many random matches on the program's clock and on the second model, and print each seed in which they differ.

    python tests/attacks/lives.py [HOW_MANY] [FIRST_SEED]

Ten thousand take a quarter of an hour on a quiet core. Exit code 1 if any differ.
"""

import sys
import time
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parents[1] / "model"))
from two_clocks import difference, random_life


def main(arguments):
    """Live as many lives as asked for; return the exit code."""
    count, first = (int(one) for one in (*arguments, *("10000", "0")[len(arguments) :]))
    began_s, differ = time.monotonic(), []
    for seed in range(first, first + count):
        if found := difference(random_life(seed)):
            differ.append(seed)
            print(f"seed {seed}: {found}", flush=True)
        if (seed - first) % 1000 == 999:
            print(f"seeds {first} to {seed}: {len(differ)} differ, {time.monotonic() - began_s:.0f} s", flush=True)
    print(f"{count} lives from seed {first}: {len(differ)} differ")
    return 1 if differ else 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
