"""What the official display shows: exact on both sides of each second (design section 3, ``digits``)."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tocsin.model.digits import official
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
