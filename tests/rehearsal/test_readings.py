"""Several readings of one quantity."""

import random
import statistics

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tocsin.rehearsal.readings import reading_of

values = st.lists(st.floats(-500, 500), min_size=1, max_size=40)


def test_none_of_no_reading():
    assert reading_of([]) is None


def test_darwins_differences_have_the_textbook_interval():
    """Darwin's crossed against self-fertilised plants in eighths of an inch, as Fisher gives them (The Design of
    Experiments, 1935, section 17): mean 20.933, standard deviation 37.744, t = 2.148; from memory. By t at 95 % with 14
    degrees of freedom, 2.145, the ± is 20.90. The rule for strays leaves all of them in."""
    found = reading_of([49, -67, 8, 16, 6, 23, 28, 41, 14, 29, 56, 24, 75, 60, -48])
    assert (found.n, found.refused) == (15, 0)
    assert found.mean_ms == pytest.approx(20.933, abs=0.001)
    assert found.spread_ms == pytest.approx(37.744, abs=0.001)
    assert found.mean_ms / (found.spread_ms / 15**0.5) == pytest.approx(2.148, abs=0.001)
    assert found.error_ms == pytest.approx(2.145 * 37.744 / 15**0.5, abs=0.01)


def test_a_stray_is_refused_and_moves_nothing():
    steady = [80.0, 82, 81, 79, 80, 83, 78, 81]
    assert reading_of([*steady, 190.0]).mean_ms == reading_of(steady).mean_ms
    assert reading_of([*steady, 190.0]).refused == 1


def test_what_a_step_can_explain_is_no_stray():
    """All but one in one picture: the middle deviation is nothing, and still the next picture is no stray."""
    readings = [80.0] * 9 + [80 + 1000 / 120]
    assert reading_of(readings, step_ms=1000 / 120).refused == 0
    assert reading_of([*readings, 80 + 3 * 1000 / 120], step_ms=1000 / 120).refused == 1


@pytest.mark.parametrize("fps", [60, 120, 240])
def test_equal_readings_are_no_better_known_than_the_pictures_allow(fps):
    """A difference of two uniform errors has the variance of a triangle, step**2 / 6 (computed)."""
    found = reading_of([100.0] * 16, step_ms=1000 / fps)
    assert found.error_ms == pytest.approx(2.131 * 1000 / fps / 96**0.5, rel=0.01)      # 2.131: t at 95 %, 15 degrees


def test_a_single_reading_is_known_to_a_step_or_not_at_all():
    assert reading_of([5.0]).error_ms is None
    assert reading_of([5.0], step_ms=4.0).error_ms == 4.0


def test_the_interval_holds_the_truth_as_often_as_it_says():
    rng = random.Random(5)
    found = [reading_of([rng.gauss(80, 6) for _ in range(12)]) for _ in range(1500)]
    held = statistics.fmean(abs(one.mean_ms - 80) <= one.error_ms for one in found)
    assert 0.93 <= held <= 0.965


@given(values, st.floats(0, 20))
def test_nothing_is_lost_and_the_mean_lies_among_the_readings(readings, step):
    found = reading_of(readings, step_ms=step)
    assert found.n + found.refused == len(readings)
    assert 2 * found.n >= len(readings)
    assert min(readings) - 1e-6 <= found.mean_ms <= max(readings) + 1e-6
