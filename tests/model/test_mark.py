"""Marks: whose they are by the name of their key, and which of them hold."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tocsin.model.mark import Mark, standing, standing_places, whose


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
