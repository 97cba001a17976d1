"""The one sentence of a review: red flags, then findings, then what happened, and fine only where nothing is amiss."""

import pytest
from msgspec.structs import replace

from tests.support.analysis.review_rows import a_push, a_row
from tests.support.analysis.said_answers import FINE_TEXT, compared, contacts, homes, pushes, review, slope, trust
from tocsin.analysis.review.answer import Answer, Figure, Lacking, LeftOut, Review
from tocsin.analysis.review.evening import evening_review
from tocsin.analysis.review.headline import flags, headline
from tocsin.analysis.review.season import season_review


@pytest.mark.parametrize(("answers", "said"), [
    ((contacts(0), pushes(0.5), homes(19, 1)), FINE_TEXT),
    ((contacts(4, 6), pushes(-0.5), homes(9, 9)), "Contact in 4 of 20 rounds; of 6 more only a video can tell."),
    ((contacts(0, 6), pushes(-0.5), homes(9, 9)), "35 of 100 pushes were still on as the window began (18 to 55)."),
    ((contacts(0), pushes(0.04), homes(20, 0)), "35 of 100 pushes were still on as the window began (18 to 55)."),
    ((contacts(0), pushes(0.5), homes(15, 2)),
     "Home in 15 of 20 rounds (0 to 100 of 100), half home in 3, not home in 2."),
    ((contacts(0, 2), pushes(0.5), homes(20, 0)), "Contact in 0 of 20 rounds; of 2 more only a video can tell."),
    # Nobody knows yet how early pushes are off: that is not fine.
    ((contacts(0), Answer(question="break_off", lacking=(Lacking(question="break_off", figure="margin", more=3),))),
     "Contact in 0 of 20 rounds."),
    ((), "Too little to tell of yet."),
])  # fmt: skip
def test_all_is_fine_only_where_nothing_is_amiss_else_the_headline_says_what_happened(answers, said):
    assert headline(review(trust(), *answers, scope="evening", evenings=1)) == said
    assert headline(review(trust(), *answers)) == said


def test_a_season_of_one_evening_says_that_it_is_one_and_no_share_that_three_evenings_take():
    """Its evening says what happened; the season's page is of the same rounds."""
    rows = [a_push(k, 2.0 + k / 8, contacts=int(k <= 4), clean=k > 4, home="home" if k < 20 else "home_none",
                   home_margin_s=1.0 if k < 20 else None) for k in range(1, 21)]  # fmt: skip
    assert headline(evening_review(rows)) == "Contact in 4 of 20 rounds."
    season = season_review(rows)
    usual = (
        "One evening so far: its own page says what happened. A season says what is usual, which takes three evenings."
    )
    assert headline(season) == usual
    # Whatever else its one sentence is, beside it stands why its evening's page says more.
    found = review(trust(), contacts(10), evenings=1)
    assert headline(found) == "Contact in 10 of 20 rounds (20 to 80 of 100)."
    assert flags(found) == (usual,)
    assert [one.name for answer in season.answers for one in answer.figures if one.unit == "share"] == ["lost"]
    assert {(one.figure, one.more) for one in season.unknown if one.counted == "evenings"} >= {
        ("contact", 2), ("home_full", 2), ("on_at_lead", 2),
    }  # fmt: skip
    assert headline(review(trust(), evenings=2)).startswith("2 evenings so far: their own pages say what")
    assert headline(review(trust(), evenings=1, scope="matches")).startswith("One day of matches so far: its own page")


@pytest.mark.parametrize("factor", ["setup", "shift_s"])
def test_what_nobody_chooses_is_no_headline_beside_what_happened(factor):
    apart = compared(factor, "a", "b", 0.9, 0.5, 1.2, verdict="surely_better")
    for more in (contacts(1), pushes(-0.5), homes(9, 9), slope("learning", 9.0, 8.0, 10.0, "percent", "learning")):
        assert not headline(review(trust(), more, apart)).startswith(("A:", "Called"))
    assert ": pushes end 0.9 s sooner than " in headline(review(trust(), contacts(0), apart))


def test_the_headline_is_a_red_flag_before_a_finding_before_nothing():
    better = compared("coach", "calling", "silent", 0.3, 0.0, 0.6)
    assert headline(review(trust(), contacts(0))) == FINE_TEXT
    assert headline(review(trust(), contacts(10))) == "Contact in 10 of 20 rounds (20 to 80 of 100)."
    assert headline(review(trust(), contacts(10), better)) == "Contact in 10 of 20 rounds (20 to 80 of 100)."
    assert headline(review(trust(), contacts(1), better)).startswith("Coach calling is better")
    assert headline(review(trust(unmarked=4), contacts(10), better)) == "Nobody marked 4 rounds."
    assert headline(review(trust(unmarked=1), contacts(10))) == "Contact in 10 of 20 rounds (20 to 80 of 100)."
    assert headline(review(trust(unclear=11), contacts(0))) == (
        "Film the field next time: of 11 rounds only a video can tell."
    )
    lost = replace(review(trust(lost=8, counted=12), trusted=False), left_out=(
        LeftOut(why="driven at half speed", rounds=4), LeftOut(why="cancelled", rounds=8, lost=True),
    ))  # fmt: skip
    said = "Too few count: 8 of 20 rounds do not (cancelled). Nothing else is told."
    assert headline(lost) == flags(lost)[0] == said
    assert headline(review()) == "No round to tell of."


def test_a_quarter_of_rounds_that_only_a_video_tells_asks_for_one():
    asked = "Film the field next time: of 5 rounds only a video can tell."
    assert flags(review(trust(unclear=5), contacts(1, 5))) == (asked,)
    assert flags(review(trust(unclear=4), contacts(1, 4))) == ()
    assert headline(review(trust(unclear=5), contacts(1, 5))).startswith("Contact in 1 of 20 rounds; of 5 more")


def test_pushes_without_a_noted_end_ask_for_the_key():
    rows = [a_push(k, 3.0, at_most_s=None if k <= 10 else "noted") for k in range(1, 21)]
    found = evening_review([*rows, a_row(21)])
    assert flags(found) == (
        "Of 10 of 20 pushes nobody noted when they ended: somebody must press Contact up, or Turned.",
    )
    assert flags(evening_review(rows[1:])) == ()


def test_pushes_that_reach_into_the_window_are_a_finding_only_if_marks_were_not_just_late():
    """A scribe is late: of pushes that end 0.5 s behind the begin as noted nobody knows; 0.8 s is the latest."""
    rows = [a_push(k, 4.5, contacts_unclear=1, clean=None) for k in range(1, 13)]
    assert not headline(evening_review(rows)).startswith("Most")
    rows = [a_push(k, 4.9, contacts=1, clean=False) for k in range(1, 13)]
    found = evening_review(rows)
    assert (found.answer("break_off").figure("on_at_lead").value, headline(found)[:11]) == (1.0, "Contact in ")
    rows = [a_push(k, 4.9, contacts=None, clean=True) for k in range(1, 13)]
    assert headline(evening_review(rows)) == "Most pushes surely reach into the window: 100 of 100 (76 to 100 of 100)."


def test_a_difference_that_matters_little_is_the_headline_only_where_nothing_else_is():
    small = compared("coach", "calling", "silent", 0.1, 0.0, 0.3)
    assert headline(review(trust(), contacts(10), small)) == "Contact in 10 of 20 rounds (20 to 80 of 100)."
    assert headline(review(trust(), contacts(1), small)) == "Contact in 1 of 20 rounds."
    assert headline(review(trust(), contacts(0), small)).startswith("Coach calling is better")


@pytest.mark.parametrize("scope", ["evening", "season", "matches"])
def test_what_costs_points_stands_above_what_may_explain_it(scope):
    """A contact, then a push that the window found on, then a robot that was not home; then odd pushes and trends."""
    pushed = Figure(name="odd", unit="rounds", value=1, count=1, rounds=30)
    odd = Answer(question="odd", figures=(pushed,), marked=("a",))
    learning = slope("learning", 9.0, 8.0, 10.0, "percent", "learning")
    tired = slope("by_round", 0.05, 0.04, 0.06)
    matches = Answer(question="matches", figures=(
        Figure(name="break_off", of="difference", unit="s", value=0.7, low=0.6, high=0.8, rounds=60),
    ))  # fmt: skip
    rest = (odd, learning, tired, matches)
    for answers, begins in (
        ((contacts(1), pushes(-0.5), homes(9, 9)), "Contact in 1 of 20 rounds."),
        ((contacts(10), pushes(-0.5), homes(9, 9)), "Contact in 10 of 20 rounds (20"),
        ((contacts(0), pushes(-0.5), homes(9, 9)), "35 of 100 pushes were still on"),
        ((contacts(0), pushes(0.5), homes(9, 9)), "Home in 9 of 20 rounds"),
    ):
        for one in (rest, *((each,) for each in rest)):
            assert headline(review(trust(), *answers, *one, scope=scope)).startswith(begins)
    # Where nothing is amiss they are told.
    assert headline(review(trust(), contacts(0), learning, scope=scope)).startswith("With twice as many rounds")


def test_an_odd_round_is_the_headline_of_its_evening_and_not_of_a_season():
    figure = Figure(name="odd", unit="rounds", value=1, count=1, rounds=30)
    odd = Answer(question="odd", figures=(figure,), marked=("a",))
    evening = Review(scope="evening", evenings=("2031-02-01",), answers=(trust(), odd))
    assert headline(evening) == "1 push of 30 ended far later than is usual for its driver."
    assert headline(review(trust(), contacts(0), odd)) == FINE_TEXT
