"""What a lead costs: against published inventories, rules of the trade, and games."""

import math

import numpy as np
import pytest
from hypothesis import example, given
from hypothesis import strategies as st
from msgspec.structs import replace
from scipy import stats

from tests.support.analysis.rehearsal_games import FOUNDRY, STAKES
from tocsin.analysis.decisions.cost import Prices, Return, contact_points, home_costs, lead_costs

LEADS = np.arange(0, 8.0001, 0.001)


def test_a_contact_that_costs_once():
    """A second .75 points, a contact 10 a match, B + e normal (2.6, .5): the best lead is 3.68731, by the rule for a
    cost per stock-out occasion (Silver, Pyke, Peterson): L* = mu + s sqrt(2 ln(c pi / (v s sqrt(2 pi)))); computed."""
    rule = 2.6 + 0.5 * math.sqrt(2 * math.log(10 / (0.75 * 0.5 * math.sqrt(2 * math.pi))))
    assert rule == pytest.approx(3.68731, abs=5e-6)
    leads = np.arange(3.6, 3.8, 0.00001)
    costs = lead_costs(leads, stats.norm.sf(leads, 2.6, 0.5)[None, :], Prices(second=0.75, contact=20, pushes=0.5))
    assert leads[np.argmin(costs[0])] == pytest.approx(rule, abs=1e-5)


def test_where_a_second_saves_less_than_it_is_worth_the_best_lead_is_none():
    """The rule's logarithm is below 0: less lead is always better."""
    assert 1.0 / (2.0 * 0.5 * math.sqrt(2 * math.pi)) < 1
    costs = lead_costs(LEADS, stats.norm.sf(LEADS, 2.6, 0.5)[None, :], Prices(second=2.0, contact=2, pushes=0.5))
    assert np.argmin(costs[0]) == 0


def test_published_inventory():
    """The newsvendor: demand normal (100, 30), price 4, cost 1: ratio .75, quantity 120.23, cost 38.13, profit 261.87
    (Porteus 2002, as in a published package's manual; read). A second is the cost of an item, a second of contact the
    price, the lead what is ordered."""
    ordered = np.arange(0, 400.001, 0.01)
    prices = Prices(second=1, contact=4, pushes=1, timed=True)
    costs = lead_costs(ordered, stats.norm.sf(ordered, 100, 30)[None, :], prices)[0]
    best = int(np.argmin(costs))
    assert stats.norm.cdf(ordered[best], 100, 30) == pytest.approx(1 - 1 / 4, abs=1e-4)
    assert ordered[best] == pytest.approx(120.23, abs=0.015)
    assert costs[best] - 100 == pytest.approx(38.13, abs=0.01)     # beside what is needed anyhow
    assert 4 * 100 - costs[best] == pytest.approx(261.87, abs=0.01)


@given(st.floats(0.1, 3), st.floats(1, 60), st.floats(0.05, 0.95), st.floats(1, 4), st.floats(0.2, 0.9))
@example(second=0.5, contact=1.0, pushes=0.5, median=1.0, spread=0.203125)
def test_timed_contacts_have_their_best_lead_at_a_quantile(second, contact, pushes, median, spread):
    leads = np.arange(0, 40, 0.01)
    beyond = stats.lognorm.sf(leads, spread, scale=median)[None, :]
    prices = Prices(second=second, contact=contact, pushes=pushes, timed=True)
    costs = lead_costs(leads, beyond, prices)[0]
    best = leads[int(np.argmin(costs))]
    ratio = 1 - second / (pushes * contact)
    expected = stats.lognorm.ppf(ratio, spread, scale=median) if ratio > 0 else 0.0
    if abs(ratio) < 1e-6:              # before the shortest push no lead is better than another
        assert costs.min() == pytest.approx(costs[0], abs=1e-5)
    else:
        assert best == pytest.approx(expected, abs=0.02) or expected > 39


def test_how_long_pushes_last_beyond_a_lead_is_their_mean():
    beyond = stats.lognorm.sf(LEADS, 0.3, scale=2.6)[None, :]
    costs = lead_costs(LEADS, beyond, Prices(second=0, contact=1, pushes=1, timed=True))[0]
    drawn = stats.lognorm(0.3, scale=2.6).rvs(400_000, np.random.default_rng(1))
    for lead in (0, 2.0, 3.0):
        assert costs[int(lead * 1000)] == pytest.approx(np.maximum(drawn - lead, 0).mean(), abs=0.005)
    with pytest.raises(ValueError, match="evenly"):
        lead_costs([1.0, 2.0, 4.0], beyond[:, :3], Prices(second=0, contact=1, pushes=1, timed=True))


def test_a_games_stakes_say_what_contacts_cost():
    """9 each, and the second also gives the opponents a bell of 14, once."""
    assert contact_points(FOUNDRY, "contact") == (9, 23, 9)
    assert contact_points(FOUNDRY, "contact_by_nobody") == (0, 0, 0)
    once = replace(FOUNDRY, stakes=(replace(STAKES[0], most=1),))
    assert contact_points(once, "contact") == (9, 0, 0)
    in_pairs = replace(FOUNDRY, stakes=(replace(STAKES[0], every=2),))
    assert contact_points(in_pairs, "contact") == (0, 9, 0)
    always = replace(FOUNDRY, stakes=(replace(STAKES[0], during=""),))
    assert contact_points(always, "contact") == (9, 9, 9)


def test_a_second_pays_if_it_saves_one_contact_in_so_many_matches():
    assert Prices(second=0.5, contact=20, pushes=0.5).matches_a_contact == 40
    assert Prices(second=1.0, contact=15, pushes=0.5).matches_a_contact == 15


def test_the_call_home_costs_seconds_and_brings_returns():
    leads = np.arange(4, 20, 0.5)
    near, far = (stats.norm.cdf(leads, middle, 1.5)[None, :] for middle in (8, 12))
    half = stats.norm.cdf(leads, 6, 1.5)[None, :]
    returns = [
        Return(share=0.5, full=16, half=7, full_within=near, half_within=half),
        Return(share=0.5, full=16, half=7, full_within=far, half_within=half),
    ]
    costs = home_costs(leads, 0.75, returns)[0]
    at = list(leads).index(10.0)
    by_hand = 7.5 - 0.5 * sum(16 * of[0, at] + 7 * max(half[0, at] - of[0, at], 0) for of in (near, far))
    assert costs[at] == pytest.approx(by_hand)
    assert 10 < leads[np.argmin(costs)] < 17
    with pytest.raises(ValueError, match="make 1"):
        home_costs(leads, 0.75, returns[:1])
