"""Slopes within evenings and over the season, from rows: against a second library, and teams whose truth is known."""

import math

import numpy as np
import pytest
from scipy import stats
from statsmodels.api import OLS, add_constant

from tests.support.analysis.review_rows import a_push, a_row
from tests.support.analysis.season_teams import season_rows
from tests.support.analysis.season_worlds import World
from tocsin.analysis.review.answer import Lacking
from tocsin.analysis.review.rounds import rounds_of
from tocsin.analysis.review.trends import AS_ROUNDS, learning_answer, tired_answer
from tocsin.analysis.review.words.trends import learning_line

DAYS = [f"2031-02-{day:02d}" for day in range(1, 29)]


def evenings_of(count, time_of, each=10, **facts):
    """Return evenings of pushes; ``time_of`` gives seconds by evening, from 0, and round, from 1."""
    return [
        a_push(k, time_of(place, k), evening=day, battery_rounds=(k - 1) % 3, **facts)
        for place, day in enumerate(DAYS[:count]) for k in range(1, each + 1)
    ]  # fmt: skip


def noisy(slope=0.0, battery=0.0, seed=1):
    rng = np.random.default_rng(seed)
    return lambda evening, k: 3 + evening % 3 + slope * k + battery * ((k - 1) % 3) + rng.normal(0, 0.3)


def test_slopes_within_evenings_are_those_of_least_squares_with_the_t_of_evenings():
    """Each evening's slope by statsmodels, their t interval by scipy."""
    rows = evenings_of(6, noisy(0.05, 0.2))
    answer = tired_answer(rounds_of(rows))
    data = [
        {"evening": row.evening, "y": row.break_off_at_most_s, "round": row.round, "battery": row.battery_rounds}
        for row in rows
    ]
    for name, x in (("by_round", "round"), ("by_battery", "battery")):
        slopes = [
            OLS(
                [one["y"] for one in data if one["evening"] == day],
                add_constant([one[x] for one in data if one["evening"] == day]),
            ).fit().params[1] for day in DAYS[:6]
        ]  # fmt: skip
        found = answer.figure(name)
        low, high = stats.t.interval(0.95, 5, loc=np.mean(slopes), scale=stats.sem(slopes))
        assert (found.value, found.low, found.high) == pytest.approx((np.mean(slopes), low, high), abs=1e-9)
        assert (found.rounds, found.evenings, found.unit) == (60, 6, "s/round")
    assert answer.verdict == ""


def test_crews_that_differ_and_take_turns_are_no_slope():
    """The second crew is a second slower, and plays later in each evening."""
    rows = [
        a_push(k, 3.0 + (crew == "B") + 0.001 * (k * 7 % 5), evening=day, crew=crew, folder=f"{day}{crew}{k}",
               wall=f"{day}T{18 + (crew == 'B')}:{k:02d}:00Z")
        for day in DAYS[:5] for crew in "AB" for k in range(1, 9)
    ]  # fmt: skip
    found = tired_answer(rounds_of(rows)).figure("by_round")
    assert abs(found.value) < 0.01
    assert found.evenings == 5


def test_five_evenings_of_eight_pushes_are_needed():
    for evenings, more in ((0, 5), (1, 4), (4, 1)):
        answer = tired_answer(rounds_of(evenings_of(evenings, noisy())))
        assert answer.figures == ()
        assert answer.lacking[0] == Lacking(
            question="tired", figure="by_round", counted="evenings", more=more, evenings=more
        )
    assert tired_answer(rounds_of(evenings_of(5, noisy(), each=7))).lacking[0].more == 5
    assert tired_answer(rounds_of(evenings_of(5, noisy(), each=8))).lacking == ()


def test_batteries_that_went_as_rounds_did_are_not_told_apart():
    rows = [
        a_push(k, 3 + 0.01 * (k * 7 % 5), evening=day, battery_rounds=k - 1)
        for day in DAYS[:5] for k in range(1, 11)
    ]  # fmt: skip
    answer = tired_answer(rounds_of(rows))
    assert (answer.verdict, answer.figure("by_battery")) == (AS_ROUNDS, None)
    assert answer.figure("by_round")
    # Nobody noted batteries: nothing is said of them, and nothing is missing.
    silent = tired_answer(rounds_of([a_push(k, 3.0, evening=day) for day in DAYS[:5] for k in range(1, 11)]))
    assert (silent.verdict, silent.figure("by_battery"), silent.lacking) == ("", None, ())


def test_rounds_that_do_not_count_tire_too():
    """The first two, at half speed, are rounds of the evening, and their times are not taken."""
    rows = evenings_of(5, lambda evening, k: 3 + 0.05 * k + 0.001 * (k * (evening + 3) % 7))
    halves = [a_push(k, 9.0, evening=day, half_speed=True, wall=f"{day}T17:0{k}:00Z", folder=f"{day} half {k}")
              for day in DAYS[:5] for k in (1, 2)]  # fmt: skip
    assert tired_answer(rounds_of(rows + halves)).figure("by_round").value == pytest.approx(0.05, abs=0.002)


def test_learning_is_the_slope_of_evening_medians_on_doublings():
    """Against scipy's Theil-Sen on medians worked out here."""
    rng = np.random.default_rng(3)
    rows = evenings_of(8, lambda evening, k: 4 * (10 * evening + 5) ** -0.1 * math.exp(rng.normal(0, 0.05)))
    found = learning_answer(rounds_of(rows)).figure("learning")
    places = [math.log2(10 * evening + 5) for evening in range(8)]
    values = [
        math.log(np.median([row.break_off_at_most_s for row in rows if row.evening == day])) for day in DAYS[:8]
    ]
    slope, _, low, high = stats.theilslopes(values, places)
    expected = [100 * (1 - math.exp(one)) for one in (slope, high, low)]
    assert (found.value, found.low, found.high) == pytest.approx(expected)
    assert found.low < 100 * (1 - 2**-0.1) < found.high
    assert (found.unit, found.rounds, found.evenings) == ("percent", 80, 8)
    by = learning_answer(rounds_of(rows)).figure("learning_s")
    assert by.value == pytest.approx(found.value / 100 * stats.gmean(np.exp(values)))


def test_learning_needs_six_evenings_with_a_middle_value():
    for evenings, more in ((0, 6), (5, 1)):
        answer = learning_answer(rounds_of(evenings_of(evenings, noisy())))
        assert answer.lacking == (
            Lacking(question="learning", figure="learning", counted="evenings", more=more, evenings=more),
        )
    assert learning_answer(rounds_of(evenings_of(6, noisy()))).figures
    # An evening of three pushes, or of pushes most of which never ended, has none.
    five = evenings_of(5, noisy())
    for odd in ([a_push(k, 3.0, evening=DAYS[9]) for k in range(3)],
                [a_push(k, 0.0, at_most_s=None, evening=DAYS[9]) for k in range(9)]):  # fmt: skip
        assert learning_answer(rounds_of(five + odd)).lacking[0].more == 1
    # One push of nine that never ended moves the middle little, and is not left out.
    never = [a_push(k, 3.0 + k / 10, evening=DAYS[9]) for k in range(8)] + [
        a_push(9, 0.1, at_most_s=None, evening=DAYS[9])
    ]
    assert learning_answer(rounds_of(five + never)).figure("learning").rounds == 59


def test_an_evening_without_a_push_counts_as_rounds_behind():
    rows = evenings_of(6, lambda evening, k: 4.0 - 0.1 * evening + 0.01 * (k % 3))
    none = [a_row(k, evening="2031-01-01") for k in range(1, 101)]
    with_them, without = (learning_answer(rounds_of(one)).figure("learning").value for one in (rows + none, rows))
    assert with_them > 2 * without


def test_the_last_four_weeks_stand_beside_the_four_before():
    """Whole evenings by the days of the calendar; limits as for matches, no verdict, and nothing where there is too
    little."""
    days = ["2031-01-05", "2031-01-12", "2031-01-19", "2031-02-02", "2031-02-09", "2031-02-15"]
    rng = np.random.default_rng(2)
    rows = [
        a_push(k, 3.0 - 0.8 * (place > 2) + rng.normal(0, 0.2), evening=day)
        for place, day in enumerate(days) for k in range(1, 11)
    ]  # fmt: skip
    answer = learning_answer(rounds_of(rows))
    now, before, apart = (answer.figure("weeks", of) for of in ("now", "before", "difference"))
    # 28 days up to 15 February begin on 19 January.
    assert (now.rounds, now.evenings, before.rounds, before.evenings) == (40, 4, 20, 2)
    assert apart.value == pytest.approx(now.value - before.value)
    assert apart.low < -0.5 < apart.high
    assert answer.verdict == ""
    assert "People, robots and set-ups may differ too." in learning_line(answer)
    one = [row for row in rows if row.evening != "2031-01-05"] + [
        a_push(k, 3.0, evening="2030-12-01") for k in range(1, 11)
    ]
    assert learning_answer(rounds_of(one)).figure("weeks", "difference") is None


def test_teams_whose_truth_is_known():
    """Fatigue of 0.02 s a round, learning of 10 % a doubling: rows of simulated teams, with a scribe's lag and set-ups.
    The limits hold as often as they promise; of eight teams at least six."""
    slopes, learnt = [], []
    for seed in range(8):
        rounds = rounds_of(season_rows(World(fatigue_s=0.1, evenings=16), seed))
        slopes.append(tired_answer(rounds).figure("by_round"))
        learnt.append(learning_answer(rounds_of(season_rows(World(evenings=16), seed))).figure("learning"))
    assert sum(one.low <= 0.1 <= one.high for one in slopes) >= 6
    assert sum(one.low <= 0 <= one.high for one in learnt) >= 6
