"""Advice from the rows of simulated seasons does no harm, and speaks: the short form of
`python -m tests.benchmarks.season_table --only advice`. Bounds go by the number of teams: what is right passes with any
seeds in 9,999 of 10,000 cases."""

import pytest
from scipy.stats import binom

from tests.support.analysis.advice_seasons import ASKED_WORLDS, advised


@pytest.mark.parametrize("name", ["a plain", "c one evening of lapses"])
def test_where_nothing_is_to_be_won_it_hardly_speaks_and_does_no_harm(name):
    found = advised(ASKED_WORLDS[name], evenings=3, worth=0.0, seeds=range(5))
    assert found.teams == 5
    assert found.spoken <= binom.ppf(0.9999, found.teams, 0.07)
    assert found.harmful <= binom.ppf(0.9999, found.teams, 0.05)
    assert sum(found.refused.values()) == found.teams - found.spoken


def test_drivers_who_use_an_earlier_call_up_are_told_to_call_later():
    found = advised(ASKED_WORLDS["i earlier call used up"], evenings=5, worth=1.1, seeds=range(8))
    # It spoke to 20 of 24 such teams after eight evenings, and to 11 of 24 after three.
    assert found.spoken >= max(1, binom.ppf(1e-4, found.teams, 0.6))
    assert found.harmful == 0
