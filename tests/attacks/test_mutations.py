"""Mutations for each reader: none ends in an exception that no person should see, and none takes long.

Some dozens here for what is slow to read, ``TOCSIN_EXAMPLES`` asks for more; ``mutate.py`` beside this file does
twenty thousand.
"""

import pytest
from hypothesis import settings

from tests.attacks.mutate import attack
from tests.attacks.readers import READERS

SLOWEST_S = 5                          # of processor time; what is fast takes a hundredth of it
COUNTS = dict.fromkeys(("game", "plan", "patterns", "rig", "drill"), 3 * settings.default.max_examples // 2)


@pytest.mark.timeout(600)                # a busy machine takes its time
@pytest.mark.parametrize("reader", READERS)
def test_no_mutation_breaks_a_reader(reader):
    seeds = range(1_000_000, 1_000_000 + COUNTS.get(reader, 8 * settings.default.max_examples))
    found = attack(reader, seeds, traced=0)
    assert [(seed, text.splitlines()[-1]) for seed, text in found.broken] == []
    assert found.slowest_s < SLOWEST_S, found.slowest_seed
