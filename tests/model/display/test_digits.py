"""What the official display shows: exact on both sides of each second."""

import re

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.support import PROJECT
from tocsin.model.display.digits import official, rounding
from tocsin.units import NS_PER_S as S


@pytest.mark.parametrize(
    ("left_ns", "ceil", "floor"),
    [
        (20 * S + 1, "0:21", "0:20"),
        (20 * S, "0:20", "0:20"),
        (20 * S - 1, "0:20", "0:19"),
        (19 * S + 1, "0:20", "0:19"),
        (19 * S, "0:19", "0:19"),
        (120 * S, "2:00", "2:00"),
        (120 * S - 1, "2:00", "1:59"),
        (60 * S + 1, "1:01", "1:00"),
        (60 * S - 1, "1:00", "0:59"),
        (1, "0:01", "0:00"),
        (0, "0:00", "0:00"),
        (-1, "0:00", "0:00"),
        (-5 * S, "0:00", "0:00"),
        (3600 * S, "60:00", "60:00"),
    ],
)
def test_digits_on_both_sides_of_a_second(left_ns, ceil, floor):
    assert official(left_ns, "ceil") == ceil
    assert official(left_ns, "floor") == floor


@given(st.integers(0, 3 * 3600), st.integers(0, S - 1))
def test_ceil_holds_a_second_until_it_is_over_and_floor_from_when_it_begins(whole_s, part_ns):
    shown = f"{whole_s // 60}:{whole_s % 60:02d}"
    assert official(whole_s * S - part_ns, "ceil") == shown
    assert official(whole_s * S + part_ns, "floor") == shown


SHOWS = re.compile(r"shows 0:20 while (more than|at least) (\d+)\.0 and (at most|less than) (\d+)\.0 s are left")


@pytest.mark.parametrize("digits", ["ceil", "floor"])
def test_the_rule_in_words_holds_to_the_nanosecond(digits):
    above, low, below, high = SHOWS.fullmatch(rounding(digits)).groups()
    first_ns = int(low) * S + (above == "more than")
    last_ns = int(high) * S - (below == "less than")
    assert [official(ns, digits) for ns in (first_ns, last_ns)] == ["0:20", "0:20"]
    assert "0:20" not in (official(first_ns - 1, digits), official(last_ns + 1, digits))


def test_the_bundled_games_that_give_the_rule_give_this_one():
    games = PROJECT / "configs" / "games"
    lines = [line for path in games.glob("*.toml") for line in path.read_text("utf-8").splitlines() if "0:20" in line]
    assert len(lines) == 2
    for line in lines:
        assert rounding(re.match('digits = "(ceil|floor)"', line)[1]) in line
