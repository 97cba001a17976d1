"""The lead of the call home: against simulated ways home, and by the same refusals as any lead."""

import numpy as np
import pytest
from hypothesis import settings
from msgspec.structs import replace
from scipy import stats

from tests.support.analysis.advice_rows import evening_of, home_rows, push
from tests.support.analysis.rehearsal_games import FOUNDRY
from tocsin.analysis.decisions.choice import Advice, Records
from tocsin.analysis.decisions.cost import return_points
from tocsin.analysis.decisions.home import HomeQuestion, HomeTerms, HomeTimes, choose_home, weigh_home
from tocsin.analysis.decisions.season import came_home, home_question

GOOD = Records(pushes=108, evenings=9)
TERMS = HomeTerms(lead_s=12.0, full=18, half=7, second=(0.75, 0.75))
WAYS = {"far": 9.0, "near": 5.0}


def asked(rows=None, **changed):
    return home_question(rows or home_rows(), replace(TERMS, **changed), today=evening_of(8))


def chosen(found, **changed):
    return choose_home(replace(found.question, **changed), found.times, GOOD, seed=1)


def costs(leads, *, ways=WAYS, shares=None, second=0.75, turn_s=1.5, full=18, n=200_000):
    """Return the true points a match that leads cost, by simulated matches."""
    rng = np.random.default_rng(5)
    shares = shares or dict.fromkeys(ways, 1 / len(ways))
    found = second * np.asarray(leads, dtype=float)
    for setup, share in shares.items():
        home = rng.lognormal(np.log(turn_s), 0.2, n) + rng.lognormal(np.log(ways[setup]), 0.15, n)
        found -= share * full * np.searchsorted(np.sort(home), leads, side="right") / n
    return found


def test_what_rows_tell_of_ways_home():
    rows = home_rows(left_s=10.0, half_at_s=9.0)
    found = asked(rows)
    assert set(found.times.ways) == {"far", "near"}
    halves = sum(row.home == "home_half" for row in rows)
    assert (found.times.half_returns, found.times.by_push) == (halves, False)
    assert halves > 20
    assert found.records.pushes == len(found.runs) == 108
    # All home: half home was too late for that. Half home: all home was less late than that.
    far = [row for row in rows if row.setup == "far"]
    for row, low, high in zip(far, found.times.ways["far"].lows_s, found.times.ways["far"].highs_s, strict=True):
        known = row.way_at_most_s
        assert (low, high) == ((known, np.inf) if row.home == "home_half" else (known, known))
    for row, low, high in zip(far, found.times.halves["far"].lows_s, found.times.halves["far"].highs_s, strict=True):
        assert (low, high) == ((0.0 if row.home == "home" else row.way_at_most_s), row.way_at_most_s)
    assert home_question([push(2.5)], TERMS, today=evening_of(0)) is None
    matches = [replace(rows[0], setup="", kind="match")]
    assert came_home(rows + matches) == tuple(rows)
    assert came_home(matches) == tuple(matches)


def test_a_scribes_lag_is_in_a_way_only_where_somebody_else_noted_the_turn():
    keyed = home_rows(lag_s=0.5)
    assert not any(asked(keyed).times.ways["far"].by_scribe)
    assert all(asked(keyed).times.held.by_scribe)
    mixed = asked([replace(row, turn_by="video") for row in keyed])
    assert all(mixed.times.ways["far"].by_scribe)
    assert not any(mixed.times.held.by_scribe)


def test_robots_are_held_by_the_turn_or_by_a_push_whichever_is_longer():
    slow = [push(3.0, evening, number) for evening in range(9) for number in range(1, 5)]
    found = home_question([*home_rows(), *slow], TERMS, today=evening_of(8))
    assert found.times.by_push
    assert set(found.times.held.lows_s) == {3.0}
    later = weigh_home(found.question, found.times, [13.0], 1)[1].mean()
    assert later != pytest.approx(weigh_home(asked().question, asked().times, [13.0], 1)[1].mean(), abs=0.01)


@pytest.mark.parametrize("lead_s", [7.0, 9.0, 12.0, 15.0])
def test_the_chance_to_be_home_is_that_of_simulated_matches(lead_s):
    """Of 108 rounds, with the clock's error: within what so many rounds can tell."""
    found = asked()
    clock = replace(found.question, lead_s=lead_s, late_s=0.1, spread_s=0.2)
    rng, n = np.random.default_rng(3), 200_000
    shift = rng.normal(0.1, 0.2, n)
    true = [
        np.mean([
            (rng.lognormal(np.log(1.5), 0.2, n) + rng.lognormal(np.log(way), 0.15, n) + shift <= lead).mean()
            for way in WAYS.values()
        ]) for lead in (lead_s, lead_s + 1)
    ]  # fmt: skip
    homes = weigh_home(clock, found.times, [lead_s + 1], 1)[1]
    assert homes.mean() == pytest.approx(true[1] - true[0], abs=0.04)


def test_a_call_that_is_too_late_is_made_earlier_and_one_too_early_later():
    leads = np.arange(5, 20, 0.5)
    best = leads[np.argmin(costs(leads))]
    found = asked()
    late, early = chosen(found, lead_s=best - 2), chosen(found, lead_s=best + 2.5)
    assert isinstance(late, Advice)
    assert late.lead_s > best - 2
    assert late.homes > 0.05
    assert late.low < late.gain < late.high
    assert late.gain == pytest.approx(costs([best - 2])[0] - costs([late.lead_s])[0], abs=0.6)
    assert isinstance(early, Advice)
    assert early.lead_s == best + 1.5
    assert early.gain == pytest.approx(costs([best + 2.5])[0] - costs([early.lead_s])[0], abs=0.2)
    assert not isinstance(chosen(found, lead_s=best), Advice)
    assert late == chosen(found, lead_s=best - 2)


def test_the_set_ups_of_matches_have_their_weight():
    found = asked()
    near = chosen(found, lead_s=12.0, shares={"near": 1.0})
    far = chosen(found, lead_s=12.0, shares={"far": 1.0})
    assert near.lead_s == 11.0                                     # nobody needs twelve seconds from there
    assert not isinstance(far, Advice) or far.lead_s >= 12.0


def test_a_half_return_makes_lateness_cheaper_and_counts_only_where_enough_were_seen():
    rows = home_rows(half_at_s=10.5)
    found = asked(rows, lead_s=10.5)
    assert found.times.half_returns >= 8
    with_half, without = (
        weigh_home(replace(found.question, half=half), found.times, [11.5], 1)[0].saved.mean() for half in (7, 0)
    )
    assert 0 < with_half < without
    few = replace(found.times, half_returns=7)
    assert weigh_home(found.question, few, [11.5], 1)[0].saved.mean() == pytest.approx(without)


@pytest.mark.parametrize(
    ("changed", "code"),
    [
        ({"days_to_event": 7}, "frozen"), ({"uncounted": 0.34}, "bad records"), ({"pushes": 23}, "too few"),
        ({"evenings_since_change": 1}, "not settled"),
    ],
)  # fmt: skip
def test_the_refusals_are_those_of_any_lead(changed, code):
    found = asked()
    assert choose_home(found.question, found.times, replace(GOOD, **changed), seed=1).code == code


def test_it_hangs_on_what_a_second_is_worth_and_on_the_scribes_lag():
    found = asked(lead_s=13.5)
    told = chosen(found, second=(0.1, 1.5))
    assert (told.code, told.hangs_on, told.below) == ("hangs on a number", ("second",), False)
    assert 0.1 < told.turns_at < 1.5
    ends = [chosen(found, second=(told.turns_at + off,) * 2) for off in (-0.02, 0.02)]
    assert [isinstance(one, Advice) for one in ends] == [False, True]
    late = asked(home_rows(lag_s=0.55), lead_s=11.5)
    told = chosen(late)
    assert (told.code, told.hangs_on, told.below) == ("hangs on a number", ("lag",), True)
    assert 0.3 < told.turns_at < 0.8


def test_few_rounds_of_a_set_up_are_drawn_towards_the_others():
    rows = home_rows(ways_s={"a": 8.0, "b": 9.0, "c": 10.0, "d": 9.0})
    rare = [row for row in rows if row.setup != "a"] + [row for row in rows if row.setup == "a"][:2]
    found = home_question(rare, replace(TERMS, shares={"a": 1.0}), today=evening_of(8))
    all_of_it = home_question(rows, replace(TERMS, shares={"a": 1.0}), today=evening_of(8))
    few, many = (
        weigh_home(replace(one.question, lead_s=9.0), one.times, [10.0], 1)[0].saved for one in (found, all_of_it)
    )
    assert few.std() > many.std()                                  # two rounds tell less


def test_a_games_stakes_say_what_a_return_brings():
    """18 all in, 7 at the edge; two robots at most, so that the partner takes nothing away."""
    assert return_points(FOUNDRY, 0.5) == (18, 7)
    once = replace(FOUNDRY, stakes=tuple(replace(stake, most=1) for stake in FOUNDRY.stakes))
    assert return_points(once, 0.0) == (18, 7)
    assert return_points(once, 1.0) == (0, 7)                      # the partner has the one return that is paid for
    both = tuple(replace(stake, every=2) if stake.label == "home" else stake for stake in FOUNDRY.stakes)
    assert return_points(replace(FOUNDRY, stakes=both), 0.25)[0] == pytest.approx(4.5)


@pytest.mark.parametrize(("off_s", "least", "most"), [(0.0, 0.0, 0.05), (-1.5, 0.7, 1.0)])
def test_simulated_teams(off_s, least, most):
    """36 ways on three evenings: silent at the best lead, speaking where it is 1.5 s too late; harm in at most 5 %."""
    rng, teams = np.random.default_rng(9), settings.default.max_examples // 3
    spoken = harmful = 0
    for team in range(teams):
        ways = {"far": rng.uniform(7, 10), "near": rng.uniform(4, 7)}
        leads = np.arange(4, 20, 0.5)
        best = leads[np.argmin(costs(leads, ways=ways, n=40_000))]
        rows = home_rows(team, 3, ways_s=ways)
        found = asked(rows, lead_s=float(best + off_s), second=(0.5, 1.0))
        told = choose_home(found.question, found.times, replace(GOOD, pushes=36, evenings=3), seed=1)
        if isinstance(told, Advice):
            spoken += 1
            now, then = costs([best + off_s, told.lead_s], ways=ways)
            harmful += now - then < -0.05
    assert stats.binom.ppf(1 / 6000, teams, least) <= spoken <= stats.binom.ppf(1 - 1 / 6000, teams, most)
    assert harmful <= stats.binom.ppf(1 - 1 / 6000, teams, 0.05)


def test_nothing_is_known_without_ways():
    with pytest.raises(ValueError, match="upper bound"):
        weigh_home(HomeQuestion(lead_s=9, full=18), HomeTimes(held=asked().times.held, ways={}), [10.0], 1)
