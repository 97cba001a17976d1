"""Times of a run by its newest origins, where the clock was held meanwhile."""

import pytest

from tocsin.journal.clock_history import ClockHistory, clock_spread_ms
from tocsin.journal.records import OriginRecord, State
from tocsin.units import NS_PER_S as S

# Begun at 100 s, held from 110 to 130 and from 140 to 145 s, a press that was refused between.
RUN = (
    OriginRecord(at_ns=100 * S, anchor="match", origin_ns=100 * S, cause="start"),
    State(at_ns=110 * S, states=("held",), event="hold", held_ns=110 * S),
    State(at_ns=112 * S, states=("held",), event="begin", refused="cannot begin a period", held_ns=110 * S),
    State(at_ns=130 * S, states=("running",), event="resume"),
    OriginRecord(at_ns=130 * S, anchor="match", origin_ns=120 * S, cause="resume"),
    State(at_ns=140 * S, states=("held",), event="hold", held_ns=140 * S),
    State(at_ns=145 * S, states=("running",), event="resume"),
    OriginRecord(at_ns=145 * S, anchor="match", origin_ns=125 * S, cause="resume"),
)


@pytest.mark.parametrize(
    ("at_s", "match_s"), [(105, 5), (110, 10), (120, 10), (130, 10), (135, 15), (142, 20), (145, 20), (150, 25)]
)
def test_match_time_stands_still_in_a_hold_and_goes_on_behind_it(at_s, match_s):
    history = ClockHistory(RUN)
    (origin,) = history.newest()
    assert origin.elapsed_ns(history.without_holds(at_s * S)) == match_s * S


@pytest.mark.parametrize(
    ("match_s", "at_s"), [(5, 105), (9, 109), (11, 131), (15, 135), (19, 139), (21, 146), (25, 150)]
)
def test_a_moment_of_the_match_is_found_on_its_side_of_a_hold(match_s, at_s):
    history = ClockHistory(RUN)
    (origin,) = history.newest()
    assert history.with_holds(origin.real_ns(match_s * S)) == at_s * S


def test_without_a_hold_nothing_is_moved():
    history = ClockHistory(RUN[:1])
    assert history.without_holds(105 * S) == history.with_holds(105 * S) == 105 * S


def test_the_spread_of_a_clock_is_that_of_its_newest_error_whose_kind_goes_by_who_kept_it():
    """A ± of 95 in 100 is 1.96 normal spreads (standard normal table), a bound of a video or a robot's timer two."""

    def origin(error_ms, cause="start"):
        return OriginRecord(at_ns=0, anchor="match", origin_ns=0, cause=cause, error_ms=error_ms)

    assert clock_spread_ms([origin(196)], observed=False) == pytest.approx(100)
    assert clock_spread_ms([origin(400), origin(98, "sync")], observed=False) == pytest.approx(50)
    assert clock_spread_ms([origin(400), origin(None, "mark")], observed=False) == pytest.approx(204.08, abs=0.01)
    assert clock_spread_ms([origin(200, "sync")], observed=True) == 100
    assert clock_spread_ms([origin(None)], observed=False) is None
