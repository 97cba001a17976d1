"""One change or a reason why not: each reason reached, and simulated teams whose best lead is known."""

import numpy as np
import pytest
from hypothesis import settings
from msgspec.structs import replace
from scipy import stats

from tests.support.analysis.seasons import evening_times
from tocsin.analysis.decisions.choice import Advice, Question, Records, candidates, choose, refusal_of
from tocsin.analysis.decisions.posterior import PRACTICE, Times

GOOD = Records(pushes=72, evenings=9)
# A contact of 20 points in half of all matches; nothing else is unknown.
KNOWN = Question(lead_s=3.0, contact=20, second=(0.75, 0.75), pushes=(0.5, 0.5))


def times_of(values, evenings, *, by_scribe=False):
    values = tuple(float(value) for value in values)
    return Times(lows_s=values, highs_s=values, evenings=tuple(evenings), by_scribe=(by_scribe,) * len(values))


def season(seed=1, evenings=9, rounds=8, median_s=2.6, spread=0.2, **rest):
    values = evening_times(np.random.default_rng(seed), evenings, rounds, median_s=median_s, spread=spread)
    return times_of(values.ravel(), np.repeat(np.arange(evenings), rounds).tolist(), **rest)


@pytest.mark.parametrize(
    ("changed", "code"),
    [
        ({}, None),
        ({"days_to_event": 7}, "frozen"), ({"days_to_event": 0}, "frozen"), ({"days_to_event": 8}, None),
        ({"days_to_event": -1}, None),                                 # it is over
        ({"uncounted": 0.34}, "bad records"), ({"uncounted": 0.33}, None),
        ({"clock_spread_s": 0.36}, "bad records"), ({"clock_spread_s": 0.35}, None),
        ({"unknown": 0.21}, "bad records"), ({"unknown": 0.2}, None),
        ({"pushes": 23}, "too few"), ({"pushes": 24}, None), ({"evenings": 2}, "too few"), ({"evenings": 3}, None),
        ({"old": 0.51}, "too few"), ({"old": 0.5}, None),
        ({"evenings_since_change": 1}, "not settled"), ({"evenings_since_change": 2}, None),
    ],
)  # fmt: skip
def test_each_refusal_that_records_alone_reach(changed, code):
    records = replace(GOOD, **changed)
    assert refusal_of(records) == code
    if code is not None:
        assert choose(KNOWN, season(), records, seed=1).code == code


def test_a_lead_that_is_far_too_short_is_made_longer():
    found = choose(replace(KNOWN, lead_s=2.5), season(), GOOD, seed=1)
    assert isinstance(found, Advice)
    assert found.lead_s == 3.5
    assert found.low < found.gain < found.high
    assert found.gain > 2
    assert found.contacts > 0.1
    assert found == choose(replace(KNOWN, lead_s=2.5), season(), GOOD, seed=1)


def test_a_lead_that_is_far_too_long_is_made_shorter():
    found = choose(replace(KNOWN, lead_s=6.0), season(), GOOD, seed=1)
    assert isinstance(found, Advice)
    assert found.lead_s == 5.0
    assert found.gain == pytest.approx(0.75, abs=0.1)
    # No lead is advised where check would object.
    assert choose(replace(KNOWN, lead_s=6.0, least_s=5.5), season(), GOOD, seed=1).lead_s == 5.5
    assert candidates(0.5) == (0.0, 1.0, 1.5)
    # Where check objects already, a longer lead that it would still object to is nearer to what it asks for.
    assert candidates(3.0, 5.5) == (3.5, 4.0)
    assert candidates(3.0, 5.5, 3.6) == (3.5,)
    assert choose(replace(KNOWN, lead_s=3.0, least_s=5.5, most_s=3.0), season(), GOOD, seed=1).code == "nothing to win"


def test_where_contacts_cost_nothing_a_call_comes_as_late_as_it_may():
    found = choose(replace(KNOWN, contact=0), season(), GOOD, seed=1)
    assert (found.lead_s, found.contacts, found.saved) == (2.0, 0, 0)


def test_at_the_best_lead_there_is_nothing_to_win():
    assert choose(replace(KNOWN, lead_s=3.5), season(), GOOD, seed=1).code == "nothing to win"


def test_it_hangs_on_what_a_second_is_worth():
    """From 4.25 to 3.25 s: a gain of a second, less the contacts that it costs."""
    found = choose(replace(KNOWN, lead_s=4.5, second=(0.1, 1.5)), season(), GOOD, seed=1)
    assert (found.code, found.hangs_on) == ("hangs on a number", ("second",))
    assert 0.1 < found.turns_at < 1.5
    assert found.below is False
    below, above = (
        choose(replace(KNOWN, lead_s=4.5, second=(second, second)), season(), GOOD, seed=1)
        for second in (found.turns_at - 0.02, found.turns_at + 0.02)
    )
    assert not isinstance(below, Advice)
    assert isinstance(above, Advice)
    assert above.lead_s == found.lead_s


def test_it_hangs_on_how_often_pushes_are_on_until_matches_have_shown_it():
    asked = replace(KNOWN, lead_s=2.5, pushes=(0.01, 0.5))
    found = choose(asked, season(), GOOD, seed=1)
    assert (found.code, found.hangs_on, found.below) == ("hangs on a number", ("pushes",), False)
    for share, speaks in ((found.turns_at - 0.02, False), (found.turns_at + 0.02, True)):
        assert isinstance(choose(replace(asked, pushes=(share, share)), season(), GOOD, seed=1), Advice) == speaks
    assert isinstance(choose(replace(asked, pushes_seen=(8, 16)), season(), GOOD, seed=1), Advice)
    assert choose(replace(asked, pushes_seen=(4, 7)), season(), GOOD, seed=1).code == "hangs on a number"


def test_it_hangs_on_the_scribes_lag():
    """Pushes of 3.2 s by a key: the true ones took 2.4 to 2.9 s. By a video they took 3.2."""
    late = season(median_s=3.2, by_scribe=True)
    found = choose(replace(KNOWN, lead_s=3.25), late, GOOD, seed=1)
    assert (found.code, found.hangs_on, found.below) == ("hangs on a number", ("lag",), True)
    assert 0.3 < found.turns_at < 0.8
    known = replace(PRACTICE, low_s=0.3, high_s=found.turns_at - 0.05, middle_s=0.4, spread_s=0.05)
    assert isinstance(choose(replace(KNOWN, lead_s=3.25, lag=known), late, GOOD, seed=1), Advice)
    assert isinstance(choose(replace(KNOWN, lead_s=3.25), season(median_s=3.2), GOOD, seed=1), Advice)


def test_where_data_do_not_tell_it_says_what_more_rounds_are_worth():
    codes = {}
    for seed in range(40):
        found = choose(replace(KNOWN, lead_s=3.0), season(seed, evenings=3, median_s=2.5), GOOD, seed=1)
        if not isinstance(found, Advice):
            codes.setdefault(found.code, found)
    found = codes["data do not tell"]
    assert found.more is None or (found.more.rounds % 6 == 0 and found.more.chance >= 0.7)


def test_pushes_that_end_half_a_second_earlier_for_a_second_gain_less():
    whole = choose(replace(KNOWN, lead_s=2.5), season(), GOOD, seed=1)
    half = choose(replace(KNOWN, lead_s=2.5, follows=0.5), season(), GOOD, seed=1)
    assert half.lead_s == whole.lead_s
    assert half.contacts < 0.8 * whole.contacts
    assert half.gain < 0.8 * whole.gain


def test_timed_contacts_are_weighed_by_their_seconds():
    found = choose(replace(KNOWN, lead_s=2.0, timed=True, contact=10), season(), GOOD, seed=1)
    assert isinstance(found, Advice)
    assert found.lead_s > 2.0
    assert choose(replace(KNOWN, lead_s=2.6, timed=True, contact=3), season(), GOOD, seed=1) != found


def worth(lead_s, median_s, spread, question):
    second, pushes = np.mean(question.second), np.mean(question.pushes)
    return -(second * lead_s + question.contact * pushes * stats.lognorm.sf(lead_s, spread, scale=median_s))


@pytest.mark.parametrize(("off_s", "speaks"), [(0.0, (0.0, 0.05)), (-1.0, (0.7, 1.0))])
@pytest.mark.parametrize("world", ["log-normal", "lapses"])
def test_simulated_teams(world, off_s, speaks):
    """24 pushes on 3 evenings with r = .05, a second worth .5 to 1 points. At the best lead it is silent, a second too
    short it speaks; a harmful change is advised in at most 5 %. More teams: tests/benchmarks/advice_teams.py."""
    rng, teams = np.random.default_rng(8), 2 * settings.default.max_examples
    spoken = harmful = 0
    for _ in range(teams):
        median_s, spread = rng.uniform(2, 3), rng.uniform(0.15, 0.3)
        asked = replace(KNOWN, second=(0.5, 1.0))
        leads = np.arange(0.5, 8, 0.05)
        best = leads[np.argmax([worth(lead, median_s, spread, asked) for lead in leads])]
        asked = replace(asked, lead_s=round((best + off_s) * 2) / 2)
        values = evening_times(rng, 3, 8, 0.05, world=world, median_s=median_s, spread=spread).ravel()
        found = choose(asked, times_of(values, np.repeat(np.arange(3), 8).tolist()), replace(GOOD, pushes=24), seed=1)
        if isinstance(found, Advice):
            spoken += 1
            gain = worth(found.lead_s, median_s, spread, asked) - worth(asked.lead_s, median_s, spread, asked)
            harmful += gain < -0.05
    assert stats.binom.ppf(1 / 6000, teams, speaks[0]) <= spoken <= stats.binom.ppf(1 - 1 / 6000, teams, speaks[1])
    assert harmful <= stats.binom.ppf(1 - 1 / 6000, teams, 0.05)
