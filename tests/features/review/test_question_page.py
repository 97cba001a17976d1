"""The page of one question: its sentences and meters alone, tidy on paper and phone."""

import pytest

from tests.support.analysis.review_pages import NAMES, assert_tidy, team
from tests.support.thinned import crossed
from tocsin.features.records.example_season import example_season
from tocsin.features.review.chosen import ReviewRequest, reviewed
from tocsin.features.review.look import look_lines
from tocsin.features.review.question_page import question_pages
from tocsin.model.project import Question

SIZES = ("a4", "phone")
TEAMS = ("busy with long names", "three rounds", "half lost", "nothing known", "m one evening")


def pages(look, rows, question=None, **options):
    wish = ReviewRequest(of="season", look=look, question=question)
    (chosen,) = reviewed(rows, wish)
    return chosen, wish, question_pages(chosen, wish, **{"size": "a4", "names": {}, **options})


def read(found):
    return " ".join(label.string for page in found for label in page.parts.labels)


@pytest.mark.parametrize("size", SIZES)
@pytest.mark.parametrize("asked", ["coach", "setup", "plan"])
def test_it_says_all_that_the_terminal_says_of_the_question_and_nothing_of_another_one(asked, size):
    season = example_season()
    chosen, wish, found = pages(asked, season.rows, season.project.question, size=size, example=True)
    for page in found:
        assert_tidy(page)
        assert "invented" in read([page]).lower()
    told = read(found)
    for line in look_lines(chosen, wish):
        assert all(word in told for word in line.split())
    for other in ("way home", "Within an evening", "What was changed", "How many of 100", "Contact in 28"):
        assert other not in told
    named = {"coach": "coach calling or coach silent", "setup": "push in the middle", "plan": "plan: no"}
    assert [one for one, words in named.items() if words in told and one != asked] == []


def test_where_meters_go_by_several_things_each_says_by_which():
    season = example_season()
    _, _, found = pages("coach", season.rows, season.project.question)
    bars = [label.string for page in found for label in page.parts.labels if label.string.startswith("coach calling")]
    assert bars == [
        "coach calling or coach silent, by when pushes end (question of the month)",
        "coach calling or coach silent, by the time to the turn", "coach calling or coach silent, by contacts",
    ]  # fmt: skip
    assert len([box for page in found for box in page.parts.boxes if box.hatch]) == 3


@crossed(name=TEAMS, size=SIZES)
def test_no_text_meets_another_one_whoever_asks(name, size):
    for asked in ("setup", "shift"):
        for question in (None, Question(asks="setup", since="2031-01-01")):
            _, _, found = pages(asked, team(name), question, size=size, names=NAMES, tall=size == "phone")
            for page in found:
                assert_tidy(page)


def test_where_the_records_are_not_trusted_it_says_so_and_draws_nothing():
    _, _, found = pages("setup", team("half lost"))
    assert "Nothing else is told." in read(found)
    assert [box for page in found for box in page.parts.boxes if box.kind == "bar"] == []
