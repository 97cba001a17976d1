"""Sentences of answers: plain words, one way of writing numbers, and never at odds with the figures."""

import re

import pytest
from hypothesis import given
from hypothesis import strategies as st
from msgspec.structs import replace

from tests.support.analysis.said_answers import FINE_TEXT, beside, contacts, review, slope, trust
from tocsin.analysis.review.answer import Answer, Figure, Lacking
from tocsin.analysis.review.headline import headline
from tocsin.analysis.review.words.answers import legend, line, not_yet, not_yet_lines
from tocsin.analysis.review.words.numbers import early
from tocsin.analysis.review.words.trends import is_clear

margins = st.tuples(*[st.floats(-9, 9)] * 3).map(sorted)


@given(margins)
def test_a_margins_sentence_says_the_side_that_its_numbers_say(values):
    low, value, high = values
    figure = Figure(name="margin", unit="s", value=value, low=low, high=high, rounds=12)
    said = line(Answer(question="break_off", figures=(figure,)))
    middle, limits = said.removesuffix(").").split(" (")
    assert middle == f"Pushes end {early(value)}, middle value of 12"
    assert ("late" in middle) == (round(value, 1) < 0)
    numbers = [float(one) for one in re.findall(r"\d+\.\d", limits)]
    shown = {abs(round(one, 1)) for one in (low, high)}
    assert shown - {0.0} <= set(numbers) <= shown
    assert set(numbers) == shown
    assert "as the window began" not in limits
    assert "early" not in limits or round(high, 1) > 0
    assert "late" not in limits or round(low, 1) < 0


@given(st.integers(0, 40), st.integers(1, 40))
def test_a_shares_sentence_counts_what_its_figure_counts(count, rounds):
    count = min(count, rounds)
    figure = Figure(
        name="contact", unit="share", value=count / rounds, low=0.11, high=0.6, count=count, rounds=rounds
    )
    said = line(Answer(question="contact", figures=(figure,)))
    assert said == f"Contact in {count} of {rounds} round{'s' if rounds != 1 else ''} (11 to 60 of 100)."


@pytest.mark.parametrize(("lacking", "said"), [
    (Lacking(question="break_off", figure="margin_nine_in_ten", counted="pushes", more=10, evenings=1),
     "Not yet: how early nine in ten pushes are off. About 10 more pushes whose end somebody notes, 1 evening."),
    (Lacking(question="cost", figure="cost", counted="evenings", more=2, evenings=2),
     "Not yet: how many points are lost on average. About 2 more evenings."),
    (Lacking(question="better", figure="evidence", of="coach: calling / silent: break_off", counted="pairs", more=40,
             evenings=8),
     "Not yet: coach calling or coach silent, by when pushes end. About 40 more pairs, 8 evenings."),
    (Lacking(question="better", figure="evidence", of="shift_s: -1 s / 0 s: contact", counted="pairs"),
     "Not yet: called 1 s later or called as planned, by contacts. No season is long enough to tell."),
    (Lacking(question="better", figure="evidence", counted="pairs", more=5, evenings=1),
     "Not yet: which of two things is better that the drill dealt by lot. A first look after about 1 more evening."),
    (Lacking(question="better", figure="difference", of="coach: calling / silent: turn", counted="pairs", more=1,
             evenings=1),
     "Not yet: coach calling or coach silent, by the time to the turn. A first look after about 1 more evening."),
    (Lacking(question="better", figure="evidence", of="coach: calling / silent: turn", counted="pairs", more=400,
             evenings=31),
     "Not yet: coach calling or coach silent, by the time to the turn. More than 30 evenings."),
    (Lacking(question="odd", figure="odd", counted="pushes", more=1),
     "Not yet: whether one push was much later than usual. About 1 more push whose end somebody notes."),
    (Lacking(question="home", figure="way", of="far"),
     "Not yet: how long the way home takes from: far. From there it was too often not home in time, so nobody knows "
     "how long it takes: call it home sooner."),
    (Lacking(question="turn", figure="turn", counted="turns"),
     "Not yet: how fast the robot turns. Of too many nobody noted it: mark it each time."),
])  # fmt: skip
def test_not_yet_says_what_and_how_much_is_missing(lacking, said):
    assert not_yet(lacking) == said


def test_of_what_is_not_known_only_the_nearest_stands_there_and_what_no_season_tells_in_one_line():
    near = [Lacking(question="better", figure="evidence", of=f"coach: {k} / b: turn", counted="pairs", more=9,
                    evenings=k) for k in range(1, 8)]  # fmt: skip
    far = [replace(near[0], evenings=31), replace(near[0], more=0, evenings=0)]
    told = not_yet_lines([*near, *far])
    assert told == (
        *map(not_yet, near[:5]), "And 2 more.", "Not this season: 2 comparisons of what was dealt by lot.",
    )  # fmt: skip
    assert not_yet_lines(near[:5]) == told[:5]
    assert not_yet_lines(far[:1]) == ("Not this season: 1 comparison of what was dealt by lot.",)
    assert not_yet_lines([*near, *far], 0) == ()


def test_no_time_to_spare_is_no_success():
    assert (early(0.04), early(-0.04)) == ("as the window began",) * 2
    home = Figure(name="home_margin", unit="s", value=0.0, low=-0.5, high=0.0, rounds=9)
    assert line(Answer(question="home", figures=(home,))) == (
        "Home as the match ended, middle value of 9 (0.5 s late to 0.0 s)."
    )


def test_the_foot_says_how_late_marks_are_left_in_and_where_a_moved_call_is_told():
    foot = " ".join(legend())
    assert "0.3 to 0.8 s late. That is left in, so the true end was that much sooner." in foot
    assert "If the drill moves its call by lot, seconds are told as if it came at the plan's lead." in foot


@pytest.mark.parametrize(("answer", "said"), [
    (slope("by_round", 0.02, -0.01, 0.05),
     "After 10 more rounds of an evening pushes end 0.2 s later (0.5 s later to 0.1 s sooner). It may be chance."),
    (slope("by_round", 0.03, 0.01, 0.05, verdict="battery_as_rounds"),
     "After 10 more rounds of an evening pushes end 0.3 s later (0.1 to 0.5 s later). Evening and battery cannot be "
     "told apart: change batteries after unequal numbers of rounds."),
    (slope("learning", 6.2, 1.4, 11.0, "percent", "learning"),
     "With twice as many rounds behind them pushes end 6 % sooner (1 to 11 %)."),
    (slope("learning", -2.2, -7.4, 3.0, "percent", "learning"),
     "With twice as many rounds behind them pushes end 2 % later (7 % later to 3 % sooner). It may be chance."),
])  # fmt: skip
def test_a_change_says_its_side_and_whether_it_may_be_chance(answer, said):
    assert line(answer) == said


def test_a_change_is_a_finding_only_well_beyond_its_limits():
    assert not is_clear(Figure(name="by_round", unit="s/round", value=0.03, low=0.01, high=0.05, rounds=80))
    assert is_clear(Figure(name="by_round", unit="s/round", value=0.05, low=0.03, high=0.07, rounds=80))


def test_odd_rounds_stand_beside_how_often_one_is_by_chance():
    figures = (
        Figure(name="odd", unit="rounds", value=2, count=2, rounds=30),
        Figure(name="odd_by_chance", unit="share", value=0.031, rounds=30),
    )
    assert line(Answer(question="odd", figures=figures, marked=("a", "b"))) == (
        "2 pushes of 30 ended far later than is usual for their drivers. By chance alone, 3 of 100 such "
        "evenings would have one."
    )
    none = (Figure(name="odd", unit="rounds", value=0, count=0, rounds=30), figures[1])
    assert line(Answer(question="odd", figures=none)) == "Of 30 pushes none was odd."


def test_what_is_learnt_is_told_in_seconds_too():
    found = slope("learning", 6.2, 1.4, 11.0, "percent", "learning")
    for value, about in ((0.12, "about 0.1 s"), (0.02, "less than 0.1 s")):
        by = replace(found.figures[0], name="learning_s", unit="s", value=value)
        said = f"With twice as many rounds behind them pushes end 6 % sooner, {about} (1 to 11 %)."
        assert line(replace(found, figures=(*found.figures, by))) == said


def test_matches_stand_beside_practice_with_what_else_differs():
    figures = beside("contact", "share", (3, 9), (12, 60), 0.133, -0.1, 0.42)
    figures += beside("break_off", "s", (3.1, 9), (2.8, 60), 0.3, -0.1, 0.7)
    answer = Answer(question="matches", figures=figures)
    assert line(answer) == (
        "Where a push was on at the call: contact in 3 of 9 matches and 12 of 60 rounds of practice called as planned "
        "(in matches 10 of 100 fewer to 42 of 100 more). "
        "In matches pushes end 0.3 s later (0.7 s later to 0.1 s sooner). People, robots and opponents differ too."
    )
    assert headline(review(trust(), contacts(0), answer)) == FINE_TEXT
    filmed = (replace(figures[0], at_most=5 / 9), *figures[1:])
    assert " Of 2 more matches and 0 more rounds only a video can tell. In matches" in line(
        replace(answer, figures=filmed)
    )
    slower = beside("break_off", "s", (3.5, 9), (2.8, 60), 0.7, 0.4, 1.0)
    clear = Answer(question="matches", figures=slower)
    assert headline(review(trust(), clear)) == (
        "In matches pushes end 0.7 s later (0.4 to 1.0 s later). People, robots and opponents differ too."
    )
    lacks = Lacking(question="matches", figure="contact", of="difference", counted="matches", more=5, evenings=2)
    assert not_yet(lacks) == (
        "Not yet: whether contacts are as many in matches, where a push is on at the call. About 5 more matches, "
        "2 evenings."
    )
