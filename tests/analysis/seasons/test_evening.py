"""Evenings: less than four hours between one run and the next, and the date of the first one's place."""

import random
from datetime import UTC, datetime, timedelta, timezone
from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tocsin.analysis.seasons.evening import evenings

GAP = timedelta(hours=4)
WEST = timezone(-timedelta(hours=8))
EAST = timezone(timedelta(hours=14))


def named(*begins: datetime) -> list[str]:
    found = evenings({str(place): begin for place, begin in enumerate(begins)})
    return [found[str(place)].name for place in range(len(begins))]


def at(text: str, zone: timezone = WEST) -> datetime:
    return datetime.fromisoformat(f"2031-03-{text}").replace(tzinfo=zone)


@pytest.mark.parametrize("zone", [WEST, UTC, EAST])
def test_an_evening_that_passes_midnight_is_one_by_the_day_on_which_it_began(zone: timezone) -> None:
    begins = [at("14 20:30", zone), at("14 23:59", zone), at("15 00:01", zone), at("15 02:00", zone)]
    assert set(named(*begins)) == {"2031-03-14"}


def test_four_hours_part_and_a_second_less_does_not() -> None:
    assert named(at("14 09:00"), at("14 12:59:59")) == ["2031-03-14", "2031-03-14"]
    assert named(at("14 09:00"), at("14 13:00")) == ["2031-03-14", "2031-03-14.2"]
    assert named(at("14 13:00"), at("14 09:00")) == ["2031-03-14.2", "2031-03-14"], "in whatever order they come"


def test_a_laptop_that_is_taken_elsewhere_stays_in_its_evening() -> None:
    before = at("14 21:00")
    assert named(before, (before + timedelta(hours=1)).astimezone(EAST)) == ["2031-03-14", "2031-03-14"]


@given(st.lists(st.integers(0, 10**6), max_size=30), st.sampled_from([WEST, UTC, EAST]))
def test_runs_are_of_one_evening_if_and_only_if_no_gap_is_between_them(seconds: list[int], zone: timezone) -> None:
    begins = {str(s): datetime(2031, 3, 1, tzinfo=zone) + timedelta(seconds=s) for s in seconds}
    mixed = list(begins.items())
    random.Random(len(mixed)).shuffle(mixed)
    found, ordered = evenings(dict(mixed)), sorted(begins, key=int)
    assert set(found) == set(begins)
    for one, other in pairwise(ordered):
        assert (found[one] == found[other]) == (begins[other] - begins[one] < GAP)
    firsts = [one for n, one in enumerate(ordered) if n == 0 or found[ordered[n - 1]] != found[one]]
    assert all(found[one].date == begins[one].date() for one in firsts)
    assert len({found[one].name for one in firsts}) == len(firsts), "no two of one name"
