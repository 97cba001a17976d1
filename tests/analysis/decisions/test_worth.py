"""What more rounds are worth: against published figures, a computed one, and simulated rounds."""

import numpy as np
import pytest
from scipy import stats
from scipy.integrate import quad

from tocsin.analysis.decisions.worth import rounds_to_decide, unit_loss, worth_of


@pytest.mark.parametrize(("u", "loss"), [(0, 0.39894), (0.5, 0.19780), (1, 0.08332), (2, 0.00849)])
def test_published_losses(u, loss):
    """Schlaifer's table of the unit normal loss (from memory)."""
    assert unit_loss(u) == pytest.approx(loss, abs=5.1e-6)


def test_a_computed_example():
    """Mean .4, spread .5 from 40 rounds, 24 more: worth .01375 points a match, chance .365."""
    found = worth_of(0.4, 0.5, 40, 24)
    assert found.worth == pytest.approx(0.01375, abs=5e-6)
    assert found.chance == pytest.approx(0.365, abs=5e-4)


def test_the_integrals_that_define_it():
    rng = np.random.default_rng(1)
    for _ in range(100):
        mean, spread, rounds, more = rng.normal(), rng.uniform(0.1, 2), rng.uniform(5, 90), int(rng.integers(1, 90))
        moves, left = spread * (more / (more + rounds)) ** 0.5, spread * (rounds / (more + rounds)) ** 0.5
        after = stats.norm(mean, moves)
        found = worth_of(mean, spread, rounds, more)
        best, _ = quad(lambda x, after=after: max(x, 0) * after.pdf(x), mean - 9 * moves, mean + 9 * moves, points=[0])
        assert found.worth == pytest.approx(best - max(mean, 0), abs=1e-6)
        decided = stats.norm.ppf(0.9) * left
        assert found.chance == pytest.approx(after.sf(decided) + after.cdf(-decided), abs=1e-9)


def test_a_simulated_season_decides_as_often_and_gains_as_much():
    """Truth, then 24 rounds on top of 40, then the choice: worth within a fifth, and the chance."""
    rng, seasons, noise = np.random.default_rng(2), 400_000, 0.5 * 40**0.5
    true = rng.normal(0.4, 0.5, seasons)
    seen = rng.normal(true, noise / 24**0.5)
    after = (40 * 0.4 + 24 * seen) / 64
    gained = np.where(after > 0, true, 0).mean() - 0.4
    found = worth_of(0.4, 0.5, 40, 24)
    assert gained == pytest.approx(found.worth, rel=0.2)
    assert np.mean(np.abs(after) > stats.norm.ppf(0.9) * noise / 8) == pytest.approx(found.chance, abs=0.005)


def test_the_fewest_rounds_that_decide_or_none():
    found = rounds_to_decide(0.6, 0.5, 20)
    assert found.rounds % 6 == 0
    assert found.chance >= 0.7 > worth_of(0.6, 0.5, 20, found.rounds - 6).chance
    assert rounds_to_decide(2.0, 0.5, 40).rounds == 6              # it is decided already
    assert rounds_to_decide(0.0, 0.5, 400) is None                 # nothing will come of it this season
    for bad in ((0.4, 0.0, 40, 24), (0.4, 0.5, 0, 24), (0.4, 0.5, 40, 0)):
        with pytest.raises(ValueError, match="above 0"):
            worth_of(*bad)
