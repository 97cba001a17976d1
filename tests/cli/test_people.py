"""``--who``: who plays, and in which crew."""

import pytest

from tocsin.cli.people import people_of, roster_of
from tocsin.cli.project import Meant
from tocsin.errors import UsageError
from tocsin.journal.people import People


def test_each_crew_has_its_own_people_and_one_without_a_letter_is_the_first(tmp_path):
    texts = ["driver=Ann", "A.operator=Ben", "B.driver=Cleo", "B.operator=Ann", "C.coach=R. D"]
    names = People(tmp_path).names
    assert not names
    roster = roster_of(texts, tmp_path, Meant(None))
    names = People(tmp_path).names
    found = {crew: {role: names[key] for role, key in people.items()} for crew, people in roster.items()}
    assert found == {
        "A": {"driver": "Ann", "operator": "Ben"}, "B": {"driver": "Cleo", "operator": "Ann"}, "C": {"coach": "R. D"},
    }  # fmt: skip
    assert roster["A"]["driver"] == roster["B"]["operator"], "one person has one key"


@pytest.mark.parametrize(
    ("texts", "why", "hint"),
    [
        (["D.driver=Ann"], "'D' is not a crew", "write one of A, B, C, e.g. B.driver=Ann"),
        (["b.driver=Ann"], "'b' is not a crew", "B.driver=Ann"),
        ([".driver=Ann"], "'' is not a crew", "B.driver=Ann"),
        (["B.pilot=Ann"], "'B.pilot=Ann' names nobody", "roles: "),
        (["B.driver= "], "'B.driver= ' names nobody", "ROLE=NAME"),
        (["driver=Ann", "A.driver=Ben"], "driver of crew A is given twice", "one person a role"),
    ],
)
def test_who_is_no_crew_or_nobody_is_said(tmp_path, texts, why, hint):
    with pytest.raises(UsageError) as raised:
        roster_of(texts, tmp_path, Meant(None))
    assert (str(raised.value), hint in raised.value.hint) == (why, True)
    assert not People(tmp_path).names


def test_a_match_has_no_crews(tmp_path):
    assert list(people_of(["driver=Ann"], None, tmp_path, Meant(None))) == ["driver"]
    with pytest.raises(UsageError, match="only drills have several"):
        people_of(["B.driver=Ann"], None, tmp_path, Meant(None))
