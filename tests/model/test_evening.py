"""Which runs are of one evening: those less than four hours apart."""

from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tocsin.model.evening import GAP_S, evening_began_s, evenings, is_same_evening

H = 3600.0


@pytest.mark.parametrize(
    ("moments", "found"),
    [
        ([], []),
        ([21 * H, 25 * H - 1], [[21 * H, 25 * H - 1]]),                 # over midnight, by a second
        ([21 * H, 25 * H], [[21 * H], [25 * H]]),
        ([10 * H, 0, 3 * H, 6 * H], [[0, 3 * H, 6 * H], [10 * H]]),     # each is near the one before it
    ],
)  # fmt: skip
def test_a_pause_of_four_hours_ends_an_evening(moments, found):
    assert evenings(moments) == found


@pytest.mark.parametrize(
    ("moments", "began"),
    [
        ([], 40 * H), ([36 * H], 40 * H), ([36 * H + 1], 36 * H + 1), ([20 * H, 34 * H, 37 * H], 34 * H),
        ([41 * H, 39 * H], 39 * H),                                     # the clock was set back by an hour
        ([18 * H, 30 * H], 40 * H),
    ],
)  # fmt: skip
def test_the_evening_that_is_on_began_with_the_first_run_that_leads_to_now(moments, began):
    assert evening_began_s(moments, 40 * H) == began


@given(st.lists(st.floats(0, 40 * H)), st.floats(0, 40 * H))
def test_no_run_is_lost_and_pauses_lie_between_evenings_alone(moments, late):
    found = evenings(moments)
    assert [one for evening in found for one in evening] == sorted(moments)
    assert all(later[0] - earlier[-1] >= GAP_S for earlier, later in pairwise(found))
    last = max(moments, default=0.0) + late
    began = evening_began_s(moments, last)
    assert began == (found[-1][0] if found and is_same_evening(found[-1][-1], last) else last)
