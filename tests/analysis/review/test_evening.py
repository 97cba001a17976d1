"""An evening's answers: what they rest on, from how many rounds on they are told, and figures worked out by hand."""

import math

import numpy as np
import pytest
from scipy import stats
from statsmodels.stats.proportion import proportion_confint

from tests.support.analysis.review_rows import LEAD_S, a_push, a_row
from tocsin.analysis.order_statistics import median_limits
from tocsin.analysis.review.evening import evening_review
from tocsin.analysis.review.words.answers import details, line, not_yet


def test_contact_is_told_from_one_round_with_wilsons_limits():
    rows = [a_row(k, contacts=int(k <= 3), clean=k > 3) for k in range(1, 11)]
    found = evening_review(rows).answer("contact").figure("contact")
    assert (found.count, found.rounds, found.value, found.at_most) == (3, 10, 0.3, None)
    # statsmodels 0.15, method "wilson"
    assert (found.low, found.high) == pytest.approx(proportion_confint(3, 10, method="wilson"), abs=1e-9)
    assert line(evening_review(rows).answer("contact")) == "Contact in 3 of 10 rounds (11 to 60 of 100)."
    assert evening_review(rows[:1]).answer("contact").figure("contact").rounds == 1


def test_rounds_that_only_a_video_can_tell_reach_from_none_to_all():
    rows = [a_row(k, contacts=int(k <= 3), clean=k > 3) for k in range(1, 9)]
    rows += [a_row(k, contacts_unclear=1, clean=None) for k in (9, 10)]
    found = evening_review(rows).answer("contact").figure("contact")
    low, _ = proportion_confint(3, 10, method="wilson")
    _, high = proportion_confint(5, 10, method="wilson")
    assert (found.low, found.high, found.at_most) == pytest.approx((low, high, 0.5))
    assert "of 2 more only a video can tell" in line(evening_review(rows).answer("contact"))


def test_the_margin_is_that_at_the_plans_own_lead_whatever_the_lot_shifted():
    """Calls 1 s earlier or later, answered after 3.0 s always: off 1.0 s early at a lead of 4 s, to the tenth."""
    shifts = [0.0, 1.0, -1.0] * 3
    rows = [
        a_push(k, 3.0, shift_s=shift, leads_s={"break_off": LEAD_S + shift}, break_off_margin_s=1.0 + shift)
        for k, shift in enumerate(shifts, start=1)
    ]
    found = evening_review(rows).answer("break_off")
    assert found.figure("lead").value == LEAD_S
    assert (found.figure("margin").value, found.verdict) == (1.0, "")
    assert line(found) == "Pushes end 1.0 s early, middle value of 9 (1.0 to 1.0 s early)."


def test_the_margins_middle_and_limits_are_those_of_ordered_values():
    times = [1.9, 2.2, 2.4, 2.5, 2.8, 3.1, 3.3, 4.6, 5.0]
    rows = [a_push(k, time) for k, time in enumerate(times, start=1)]
    found = evening_review(rows).answer("break_off")
    low, high = median_limits(np.array(times))
    margin = found.figure("margin")
    assert margin.value == pytest.approx(4.0 - 2.8)
    assert (margin.low, margin.high) == pytest.approx((4.0 - high, 4.0 - low))
    # The sign test's ranks for n = 9: the 2nd and 8th hold in 96.1 % (scipy's binomial).
    assert 1 - 2 * stats.binom.cdf(1, 9, 0.5) >= 0.95
    assert times[1] <= low <= times[2]
    assert times[6] <= high <= times[7]


def test_the_middle_needs_eight_pushes_and_nine_in_ten_needs_22():
    rows = [a_push(k, 2.0 + k / 10) for k in range(1, 23)]
    seven = evening_review(rows[:7]).answer("break_off")
    assert seven.figure("margin") is None
    assert [not_yet(one) for one in seven.lacking] == [
        "Not yet: how early pushes are off. About 1 more push whose end somebody notes, 1 evening.",
        "Not yet: how early nine in ten pushes are off. About 15 more pushes whose end somebody notes, 3 evenings.",
    ]
    eight = evening_review(rows[:8]).answer("break_off")
    assert eight.figure("margin") is not None
    assert [one.more for one in eight.lacking] == [14]
    assert evening_review(rows[:21]).answer("break_off").figure("margin_nine_in_ten") is None
    full = evening_review(rows).answer("break_off")
    assert full.lacking == ()
    # Wilks: of 22 the largest; at a lead of 4 s that is 4 - 4.2.
    assert full.figure("margin_nine_in_ten").value == pytest.approx(-0.2)
    assert line(full).endswith("Nine in ten end 0.2 s late or sooner.")


def test_pushes_that_never_ended_are_kept_and_make_a_limit_infinite_where_they_must():
    rows = [a_push(k, 2.0 + k / 10) for k in range(1, 9)] + [a_push(k, 3.0, at_most_s=None) for k in range(9, 15)]
    found = evening_review(rows).answer("break_off")
    margin = found.figure("margin")
    assert margin.rounds == 14
    assert margin.low is None
    assert margin.high is not None
    assert found.figure("on_at_lead").value == pytest.approx(6 / 14)


def test_a_lead_that_changed_in_the_evening_is_told_for_the_newest():
    rows = [a_push(k, 3.0, leads_s={"break_off": 4.0 if k < 5 else 5.0}, session=f"s{k < 5}") for k in range(1, 10)]
    found = evening_review(rows)
    assert found.answer("break_off").figure("margin").value == 2.0
    assert "newest, 5 s" in line(found.answer("break_off"))
    assert "break_off" not in found.leads_s


def test_half_speed_is_not_lost_and_more_than_a_third_lost_tells_nothing_else():
    slow = [a_row(k, half_speed=True, counted=False, uncounted=("driven at half speed",)) for k in (1, 2)]
    good = [a_row(k) for k in range(3, 9)]
    bad = [a_row(k, watched=False, contacts=None, clean=None) for k in (9, 10, 11)]
    third = evening_review(slow + good + bad)
    assert third.trusted
    assert third.answer("trust").figure("lost").value == pytest.approx(3 / 9)
    more = evening_review(slow + good[1:] + bad)
    assert not more.trusted
    assert [answer.question for answer in more.answers] == ["trust"]
    assert {one.why: one.rounds for one in more.left_out} == {
        "nobody marked it": 3, "driven at half speed, as the drill wants it": 2,
    }  # fmt: skip


def test_repeated_and_dropped_rounds_are_told_apart_by_what_was_played():
    rows = [a_row(k) for k in range(1, 9)]
    again = a_row(3, wall="2031-02-01T19:00:00Z", folder="again")
    rows[2] = a_row(3, taken_out="stop", counted=False)
    rows[4] = a_row(5, taken_out="stop", counted=False)
    trust = evening_review([*rows, again]).answer("trust")
    assert (trust.figure("repeated").count, trust.figure("dropped").count, trust.figure("lost").count) == (1, 1, 2)


def test_no_round_and_no_contact_in_the_rule_say_so():
    empty = evening_review([])
    assert (empty.trusted, empty.answers[0].lacking[0].more) == (False, 1)
    silent = evening_review([a_row(k, contacts=None) for k in range(1, 5)])
    assert (silent.answer("contact"), silent.answer("break_off")) == (None, None)


def test_the_drill_played_most_is_told_and_others_are_left_out():
    rows = [a_row(k) for k in range(1, 6)] + [a_row(k, drill="Turn", session="t") for k in range(6, 9)]
    found = evening_review(rows)
    assert (found.drills, found.left_out[0].why, found.left_out[0].rounds) == (("Break off",), "of the drill Turn", 3)
    assert evening_review(rows, drill="Turn").answer("trust").figure("counted").count == 3


def test_rows_of_two_evenings_are_no_evening():
    with pytest.raises(ValueError, match="one evening"):
        evening_review([a_row(1), a_row(1, evening="2031-02-08")])


def test_a_turn_is_told_from_eight_that_were_noted():
    rows = [a_row(k, turn_s=k / 10, turn_at_least_s=k / 10, turn_at_most_s=k / 10) for k in range(10, 18)]
    assert line(evening_review(rows).answer("turn")).startswith("Robots turn 1.4 s after the call, middle value of 8")
    fork = [a_row(k, turn_at_least_s=0.0, turn_at_most_s=6.0) for k in range(1, 12)]
    assert evening_review(fork).answer("turn") is None
    assert math.isfinite(evening_review(rows).answer("turn").figure("turn").high)


def test_what_nobody_marked_moves_the_middle_as_far_as_it_may():
    """Of nine pushes the fifth ends after 2.5 s; two more that ended at once, or never, make it the fourth or sixth."""
    rows = [a_push(k, 2.0 + k / 10) for k in range(1, 10)]
    rows += [a_row(k, watched=False, contacts=None, push_at_call=None) for k in (11, 12)]
    found = evening_review(rows).answer("break_off")
    assert found.figure("margin").value == pytest.approx(1.5)
    assert found.figure("margin_if_missing", "at_once").value == pytest.approx(1.6)
    assert found.figure("margin_if_missing", "never").value == pytest.approx(1.4)
    assert "With what nobody marked: 1.4 s early to 1.6 s early." in line(found)
    assert evening_review(rows[:9]).answer("break_off").figure("margin_if_missing", "never") is None


def test_rounds_without_a_push_are_counted_beside():
    rows = [a_push(k, 3.0) for k in range(1, 4)] + [a_row(k) for k in range(4, 10)]
    found = evening_review(rows).answer("break_off")
    assert (found.figure("no_push").count, found.lacking[0].more) == (6, 5)
    assert line(found) == "In 6 of 9 rounds the call found no push."


def test_a_call_that_is_only_planned_is_said():
    rows = [a_row(k, call="planned" if k < 3 else "landed") for k in range(1, 6)]
    assert line(evening_review(rows).answer("trust")) == (
        "5 of 5 rounds count. Clock: right to within 0.2 s. In 2 rounds only the planned time of the call is known."
    )


def test_an_odd_round_is_told_of_an_evening_beside_its_season():
    """Forty pushes of 2.0 to 3.0 s are the baseline; then one of 30 s."""
    before = [a_push(k, 2.0 + (k * 7 % 11) / 10, evening=f"2031-01-{day:02d}") for day in range(1, 5)
              for k in range(1, 11)]  # fmt: skip
    tonight = [a_push(k, 2.5) for k in range(1, 9)] + [a_push(9, 30.0, setup="push in the middle", battery_rounds=1)]
    found = evening_review(tonight, season=[*before, *tonight]).answer("odd")
    assert found.marked == ("2031-02-01/s/9",)
    assert line(found).startswith("1 push of 9 ended far later than is usual for its driver.")
    assert details(found, tonight) == (
        "2031-02-01, round 9: 30.0 s after the call; push in the middle; battery with 1 round before.",
    )
    assert evening_review(tonight).answer("odd") is None
