"""The numbers of a page: what only a video can tell stands beside a share, and what nobody knows is no riddle."""

import pytest

from tests.support.analysis.review_rows import a_row
from tocsin.analysis.review.answer import Answer, Figure, Review
from tocsin.analysis.review.evening import evening_review
from tocsin.features.review.cells import cells


def cell(figure: Figure, question: str):
    review = Review(scope="season", evenings=("2031-02-01",), answers=(Answer(question=question, figures=(figure,)),))
    (found,) = cells(review)
    return found


def test_a_share_of_contacts_has_its_unclear_rounds_beside_it():
    rows = [a_row(k, contacts=int(k <= 4), clean=k > 4) for k in range(1, 15)]
    rows += [a_row(k, contacts_unclear=1, clean=None) for k in range(15, 21)]
    (found, *_), (clear, *_) = (cells(evening_review(some)) for some in (rows, rows[:14]))
    assert (found.number, found.limits) == ("4 of 20", "(8 to 70 of 100)")
    assert found.beside == "6 more: only a video can tell"
    assert (clear.number, clear.limits) == ("4 of 14", "(12 to 55 of 100)")


@pytest.mark.parametrize(("facts", "number", "limits"), [
    ({"value": 0.0, "at_most": 2.5}, "0 points", "(up to 2.5 if a video shows contact)"),
    ({"value": 0.0, "at_most": 2.5, "high": 4.0}, "0 points", "(up to 2.5 if a video shows contact)"),
    ({"value": 1.0}, "1 point", ""),
    ({"value": 0.7, "low": 0.4, "high": 4.7, "at_most": 3.8}, "0.7 points", "(0.4 to 4.7)"),
])  # fmt: skip
def test_points_that_nobody_knows_exactly(facts, number, limits):
    found = cell(Figure(name="cost", unit="points", rounds=30, **facts), "cost")
    assert (found.name, found.number, found.limits) == ("Given to the opponents in a round", number, limits)


def test_a_robot_home_at_the_very_end_is_no_window():
    assert cell(Figure(name="home_margin", unit="s", value=0.0, rounds=9), "home").number == "as the match ended"
