"""When a better knowledge of the keeper's clock moves the origins here, and what is stated meanwhile."""

from tests.support.runner.match_stand import TIMELINE
from tocsin.features.follow.offset_in_use import DIFFERS_NS, FAR_NS, NEAR_NS, WAITS_NS, OffsetInUse
from tocsin.model.clock.exchange import Offset, drift_ns
from tocsin.model.clock.origins import Origin
from tocsin.units import NS_PER_MS as MS
from tocsin.units import NS_PER_S as S

NOW_NS = 5000 * S
FIRST_NS = min(one.begin.offset_ns for one in TIMELINE.firings if one.begin.anchor == "match")


def in_use(begins_in_ns):
    """Return an offset in use, the first signal of the match so far ahead."""
    found = OffsetInUse()
    found.use(Offset(offset_ns=0, error_ns=MS), NOW_NS)
    found.place(TIMELINE, [Origin(anchor="match", origin_ns=NOW_NS + begins_in_ns - FIRST_NS)])
    return found


def off(by_ns, error_ns=MS):
    return Offset(offset_ns=by_ns, error_ns=error_ns)


def test_less_than_two_milliseconds_move_nothing():
    found = in_use(10 * S)
    assert not found.is_due(off(DIFFERS_NS), NOW_NS)
    assert not found.is_due(off(-DIFFERS_NS), NOW_NS)
    assert found.is_due(off(DIFFERS_NS + 1), NOW_NS)


def test_nothing_moves_near_a_begin():
    for begins_in_ns in (-NEAR_NS, 0, NEAR_NS):
        assert not in_use(begins_in_ns).is_due(off(5 * MS), NOW_NS)
    assert in_use(-NEAR_NS - 1).is_due(off(5 * MS), NOW_NS)
    assert in_use(NEAR_NS + 1).is_due(off(5 * MS), NOW_NS)


def test_an_offset_that_is_wrong_altogether_moves_at_once():
    assert in_use(0).is_due(off(FAR_NS + 1), NOW_NS)


def test_where_begins_follow_each_other_closely_it_moves_in_the_end():
    found = in_use(0)
    assert not found.is_due(off(5 * MS), NOW_NS)
    found.place(TIMELINE, [Origin(anchor="match", origin_ns=NOW_NS + WAITS_NS + S - FIRST_NS)])
    found.is_due(off(5 * MS), NOW_NS + S)
    found.place(TIMELINE, [Origin(anchor="match", origin_ns=NOW_NS + WAITS_NS + 1 - FIRST_NS)])
    assert found.is_due(off(5 * MS), NOW_NS + WAITS_NS + 1)


def test_the_stated_bound_is_the_better_of_the_two():
    found = in_use(10 * S)
    assert found.error_ns(None, NOW_NS + 60 * S) == MS + drift_ns(60 * S)
    assert found.error_ns(off(MS, MS // 2), NOW_NS + 60 * S) == MS + MS // 2
    assert OffsetInUse().error_ns(off(MS, 3 * MS), NOW_NS) == 3 * MS
    assert OffsetInUse().error_ns(None, NOW_NS) is None
