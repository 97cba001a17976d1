"""Classes of lateness, held against numpy's histogram: half-open classes, the last one without an end."""

from itertools import pairwise

import numpy as np
from hypothesis import given
from hypothesis import strategies as st

from tocsin.export.picture.lateness import EDGES_MS, counts_of


@given(st.lists(st.one_of(st.sampled_from(EDGES_MS), st.floats(-1, 200, allow_nan=False))))
def test_they_count_as_numpy_does(late_ms):
    # numpy.histogram: all classes but the last are half open; the last edge here is beyond all values.
    counts, _ = np.histogram(late_ms, bins=[-10.0, *EDGES_MS, 1000.0])
    assert counts_of(late_ms) == tuple(counts)


def test_each_class_is_about_twice_the_one_before():
    assert all(2 <= high / low <= 2.5 for low, high in pairwise(EDGES_MS))
