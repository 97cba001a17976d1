"""Marks: whose they are by the name of their key, and which of them hold."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tocsin.model.mark import Mark, counted_places, standing, standing_places, whose


@pytest.mark.parametrize(
    ("name", "label", "by"),
    [
        ("contact", "contact", ""),
        ("contact_by_partner", "contact", "partner"),
        ("home_half_by_opponent", "home_half", "opponent"),
        ("pushed_by_them", "pushed_by_them", ""),               # a label of one's own
    ],
)
def test_a_keys_name_says_what_and_whose(name, label, by):
    assert whose(name) == (label, by)


@given(st.lists(st.none() | st.integers(0, 8), max_size=9))
def test_what_holds_is_neither_taken_back_nor_takes_back(backs):
    marks = [Mark(label=f"m{n}", begin_ns=n, takes_back=back) for n, back in enumerate(backs)]
    places = standing_places(marks)
    assert [mark.begin_ns for mark in standing(marks)] == list(places)
    for n, back in enumerate(backs):
        assert (n in places) == (back is None and n not in backs)


def test_of_each_statement_the_best_source_counts():
    said = [
        ("contact", "", "key c"), ("contact", "us", "later"), ("contact", "partner", "key i"), ("home", "", "key l"),
        ("home_half", "us", "video"), ("wrong", "", "observed"), ("wrong", "", "later"), ("wrong", "", "key w"),
    ]  # fmt: skip
    marks = [Mark(label=label, begin_ns=0, by=by, source=source) for label, by, source in said]
    assert counted_places(marks) == (1, 2, 4, 5, 6)


@given(st.lists(st.tuples(st.sampled_from(["contact", "home", "home_none"]), st.sampled_from(["", "us", "opponent"]),
                          st.sampled_from(["key c", "later", "video", "observed", ""])), max_size=9))
def test_of_what_was_said_something_always_counts(said):
    marks = [Mark(label=label, begin_ns=n, by=by, source=source) for n, (label, by, source) in enumerate(said)]
    places = counted_places(marks)
    assert set(places) <= set(standing_places(marks))
    assert {marks[place].by == "opponent" for place in places} == {mark.by == "opponent" for mark in marks}
