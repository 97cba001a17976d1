"""The curve of a lead's worth: it says the same as the choice, and is flat around the best lead."""

import numpy as np
import pytest
from msgspec.structs import replace
from scipy import stats

from tests.analysis.decisions.test_choice import GOOD, KNOWN, season, times_of
from tests.support.analysis.seasons import evening_times
from tocsin.analysis.decisions.choice import LEAST_GAIN, Advice, choose
from tocsin.analysis.decisions.curve import lead_curve


def test_the_curve_is_nothing_at_todays_lead_and_says_what_the_choice_says():
    asked = replace(KNOWN, lead_s=2.5)
    found = lead_curve(asked, season(), seed=1)
    points = {point.lead_s: point for point in found.points}
    assert list(points) == [n / 4 for n in range(21)]
    assert (points[2.5].gain, points[2.5].low, points[2.5].high) == (0, 0, 0)
    advised = choose(asked, season(), GOOD, seed=1)
    assert isinstance(advised, Advice)
    point = points[advised.lead_s]
    assert (point.gain, point.low, point.high) == pytest.approx((advised.gain, advised.low, advised.high), abs=0.02)
    assert all(point.low <= point.gain <= point.high for point in found.points)
    assert found == lead_curve(asked, season(), seed=1)


@pytest.mark.parametrize("lead_s", [2.5, 3.5, 5.0])
def test_the_flat_part_lies_around_the_best_lead_wherever_todays_is(lead_s):
    asked = replace(KNOWN, lead_s=lead_s)
    found = lead_curve(asked, season(), seed=1)
    flat = [point for point in found.points if found.flat_from_s <= point.lead_s <= found.flat_to_s]
    best = max(point.gain for point in found.points)
    assert min(point.gain for point in flat) > best - LEAST_GAIN
    # Drawn from these very times: 0.75 points a second, 10 points for a push that is still on.
    leads = np.arange(2.0, 6.0, 0.05)
    costs = 0.75 * leads + 10 * stats.lognorm.sf(leads, 0.2, scale=2.6)
    truly = leads[costs < costs.min() + LEAST_GAIN]
    assert found.flat_from_s == pytest.approx(truly[0], abs=0.3)
    assert found.flat_to_s == pytest.approx(truly[-1], abs=0.3)


def test_few_pushes_make_a_wide_band():
    values = evening_times(np.random.default_rng(1), 9, 8, median_s=2.6, spread=0.2)
    many = lead_curve(KNOWN, season(), seed=1)
    few = lead_curve(KNOWN, times_of(values[:3, :3].ravel(), np.repeat(np.arange(3), 3).tolist()), seed=1)
    wide, narrow = ({p.lead_s: p.high - p.low for p in one.points}[2.5] for one in (few, many))
    assert wide > 1.5 * narrow
