"""A season's answers: over evenings, with figures worked out by hand or by a second library."""

import math

import numpy as np
import pytest
from scipy import stats

from tests.support.analysis.review_rows import a_push, a_row
from tocsin.analysis.review.evening import evening_review
from tocsin.analysis.review.headline import headline
from tocsin.analysis.review.season import season_review
from tocsin.analysis.review.words.answers import line, not_yet, ways
from tocsin.analysis.seasons.pooling import pooled_means
from tocsin.analysis.seasons.season_share import season_share

EVENINGS = [f"2031-02-{day:02d}" for day in (1, 3, 5, 8, 10, 12, 15, 17, 19, 22)]


def evenings_of(counts, **facts):
    """Return rounds of evenings, each with so many contacts among so many."""
    return [
        a_row(k, evening=evening, contacts=int(k <= x), clean=k > x, cost_points=20 * (k <= x), gain_points=5, **facts)
        for evening, (x, n) in zip(EVENINGS, counts, strict=False) for k in range(1, n + 1)
    ]  # fmt: skip


def test_contact_of_a_season_needs_three_evenings_and_knows_that_rounds_of_one_are_alike():
    counts = [(1, 8), (4, 10), (2, 9)]
    two = season_review(evenings_of(counts[:2])).answer("contact")
    assert two.figures == ()
    assert not_yet(two.lacking[0]) == "Not yet: how often there is contact. About 1 more evening."
    found = season_review(evenings_of(counts)).answer("contact").figure("contact")
    own = season_share(counts)
    assert (found.count, found.rounds, found.evenings, found.value) == (7, 27, 3, 7 / 27)
    assert (found.low, found.high) == (own.low, own.high)


def test_the_cost_of_a_season_is_by_the_t_of_evenings_below_eight():
    counts = [(1, 10), (4, 10), (2, 10), (3, 10)]
    found = season_review(evenings_of(counts)).answer("cost").figure("cost")
    means = [20 * x / n for x, n in counts]
    # scipy's t interval of the evenings' means, equally many rounds each.
    low, high = stats.t.interval(0.95, 3, loc=np.mean(means), scale=stats.sem(means))
    assert (found.value, found.low, found.high) == pytest.approx((5.0, max(low, 0), high))
    assert season_review(evenings_of(counts[:2])).answer("cost").lacking[0].more == 1


def test_no_cost_has_no_limits_and_what_is_unclear_is_told():
    rows = evenings_of([(0, 10)] * 3)
    answer = season_review(rows).answer("cost")
    assert (answer.figure("cost").value, answer.figure("cost").high) == (0, None)
    assert line(answer).startswith("No points given to the opponents in 30 rounds.")
    open_ones = [a_row(k, evening="2031-02-08", contacts_unclear=1, clean=None, cost_points=0, cost_at_most_points=20,
                       gain_points=0) for k in range(1, 11)]  # fmt: skip
    cost = season_review(rows + open_ones).answer("cost").figure("cost")
    assert (cost.value, cost.at_most) == (0, 5.0)
    assert cost.high > 5.0


def test_a_season_gives_equal_figures_for_equal_rows():
    rows = evenings_of([(k % 4, 10) for k in range(10)])
    assert season_review(rows) == season_review(list(reversed(rows)))


def homes(n, **facts):
    return [a_row(k, home="home", home_margin_s=1.0 + k / 10, **facts) for k in range(1, n + 1)]


def test_home_needs_eight_rounds_and_counts_full_half_and_none():
    seven = evening_review(homes(7)).answer("home")
    assert (seven.figures, seven.lacking[0].more) == ((), 1)
    rows = [*homes(6), a_row(7, home="home_half", home_margin_s=0.5), a_row(8, home="home_none"),
            a_row(9, home="home_none")]  # fmt: skip
    found = evening_review(rows).answer("home")
    assert [found.figure(name).count for name in ("home_full", "home_half", "home_none")] == [6, 1, 2]
    # Of nine the fifth: 0.5, 1.1, 1.2, 1.3, 1.4, 1.5, 1.6 before the end, two later than the end.
    assert found.figure("home_margin").value == pytest.approx(1.2)
    assert found.figure("home_margin").low is None or found.figure("home_margin").low <= 0
    assert "half home in 1, not home in 2" in line(found)
    unknown = evening_review([*rows, a_row(10)]).answer("home").figure("home_full")
    assert (unknown.count, unknown.rounds, unknown.at_most) == (6, 10, 0.7)


def way(k, setup, seconds, **facts):
    return a_row(k, home="home", home_margin_s=1.0, setup=setup, way_at_least_s=seconds, way_at_most_s=seconds, **facts)


def test_ways_are_pooled_from_three_set_ups_of_four_each_on():
    times = {"far": [7.0, 7.5, 8.0, 8.2], "middle": [5.0, 5.5, 5.2, 4.9], "near": [3.0, 3.1, 3.3, 2.9]}
    rows = [way(k, name, time) for name, group in times.items() for k, time in enumerate(group)]
    found = evening_review(rows).answer("home")
    own = pooled_means({name: [math.log(time) for time in group] for name, group in times.items()})
    for name in times:
        assert found.figure("way", name).value == pytest.approx(math.exp(own[name].pooled))
        assert found.figure("way", name).pooled
        assert found.figure("way_own", name).value == pytest.approx(stats.gmean(times[name]))
    assert len(ways(found)) == 3
    short = evening_review(rows[:-1]).answer("home")
    assert short.figure("way", "near") is None
    assert not short.figure("way", "far").pooled
    assert [(one.figure, one.more) for one in short.lacking] == [("way", 1)]


def test_a_set_up_from_which_many_come_late_is_not_told():
    rows = [way(k, "near", 3.0 + k / 10) for k in range(6)] + [way(10 + k, "middle", 5.0 + k / 10) for k in range(6)]
    late = [a_row(20 + k, home="home_none", setup="far", way_at_least_s=9.0) for k in range(5)]
    found = evening_review(rows + late).answer("home")
    assert found.figure("way", "far") is None
    assert found.figure("way", "near") is not None
    assert not_yet(found.lacking[0]) == (
        "Not yet: how long the way home takes from: far. From there it was too often not home in time, so nobody knows "
        "how long it takes: call it home sooner."
    )


def test_medians_of_a_season_are_over_evenings():
    times = [[2.0, 2.2, 2.4, 2.6], [3.0, 3.2, 3.4, 3.6], [2.5, 2.7, 2.9, 3.1]]
    rows = [
        a_push(k, time, evening=evening)
        for evening, group in zip(EVENINGS, times, strict=False) for k, time in enumerate(group)
    ]  # fmt: skip
    margin = season_review(rows).answer("break_off").figure("margin")
    assert (margin.value, margin.evenings) == (pytest.approx(4 - np.median(times)), 3)
    assert margin.low <= 4 - 3.2
    assert margin.high >= 4 - 2.4


def test_matches_alone_are_their_own_scope():
    rows = [a_row(k, kind="match", drill="", round=0) for k in range(1, 4)]
    assert season_review(rows).scope == "matches"
    assert season_review([*rows, *homes(8)]).scope == "season"
    assert season_review([*rows, *homes(8)], drill="").scope == "matches"


def test_what_a_round_costs_is_said_with_what_is_unclear_and_in_which_limits():
    """Means of evenings 2, 8, 4, 6: 5.0 ± 3.182 (t of 3) · 2.582 / 2, that is 4.1."""
    rows = evenings_of([(1, 10), (4, 10), (2, 10), (3, 10)])
    said = line(season_review(rows).answer("cost"))
    assert said.startswith(
        "A round gives the opponents 5.0 points (0.9 to 9.1). A further contact may cost more than the first. "
        "Gained less given: 0.0 points ("
    )
    open_one = a_row(11, evening=EVENINGS[0], contacts_unclear=1, clean=None, cost_points=0, cost_at_most_points=20)
    unclear = season_review([*rows, open_one]).answer("cost")
    assert ", with what is unclear up to 5.4 (" in line(unclear)
    # Gained less given is the least that it may be, and the most: what is unclear makes it worse.
    net, gain, cost = (unclear.figure(name) for name in ("net", "gain", "cost"))
    assert net.value == pytest.approx(gain.value - cost.at_most)
    assert net.at_most == pytest.approx(gain.value - cost.value)
    said = f"Gained less given: {net.value:.1f} points if all that is unclear went badly, {net.at_most:.1f} if well ("
    assert said in line(unclear)


def test_rounds_at_another_speed_are_not_called_lost():
    row = a_row(1, counted=False, uncounted=("the clock ran at 4 times its speed",))
    assert headline(evening_review([row])) == (
        "The only one does not count: the clock ran at 4 times its speed. Nothing else is told."
    )
