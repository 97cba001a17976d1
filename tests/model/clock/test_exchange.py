"""The offset of another laptop's clock: against the worked examples of others, and its bound against any delay."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tocsin.model.clock.exchange import DRIFT_PPM, KEPT, Exchange, Offset, OffsetFilter
from tocsin.units import NS_PER_MS as MS
from tocsin.units import NS_PER_S as S

DELAY_NS = st.integers(0, 5 * S)
NOW_NS = 1000 * S


def exchange(offset_ns, out_ns, back_ns, sent_ns=NOW_NS, work_ns=0):
    received_ns = sent_ns + out_ns + offset_ns
    answered_ns = received_ns + work_ns
    return Exchange(
        sent_ns=sent_ns, received_ns=received_ns, answered_ns=answered_ns,
        got_ns=answered_ns - offset_ns + back_ns,
    )  # fmt: skip


def offset_of(*exchanges, now_ns):
    found = OffsetFilter()
    for one in exchanges:
        found.take(one)
    return found.at(now_ns)


def clock(text):
    h, m, s = text.split(":")
    return (int(h) * 3600 + int(m) * 60) * S + round(float(s) * 1000) * MS


def test_the_worked_example_takes_the_exchange_with_the_least_delay():
    """Round trips of 18, 23 and 20 ms read 10:46:23.547, 25.405 and 28.642; the first counts: 10:46:23.556 ± 9 ms when
    its answer came. Source: worked example of Cristian's method (1989), in lecture notes of distributed systems, read.

    The server reads its clock once there: T1 and T2 are one.
    """
    readings = [(18, "10:46:23.547"), (23, "10:46:25.405"), (20, "10:46:28.642")]
    got_ns = [NOW_NS, NOW_NS + 1861 * MS, NOW_NS + 5097 * MS]
    taken = [
        Exchange(sent_ns=at_ns - ms * MS, received_ns=clock(read), answered_ns=clock(read), got_ns=at_ns)
        for at_ns, (ms, read) in zip(got_ns, readings, strict=True)
    ]
    found = offset_of(taken[0], now_ns=got_ns[0])
    assert got_ns[0] + found.offset_ns == clock("10:46:23.556")
    assert found.error_ns == pytest.approx(9 * MS, rel=0.001)
    later = offset_of(*taken, now_ns=got_ns[2])
    assert later.offset_ns == found.offset_ns
    assert later.error_ns == pytest.approx(9 * MS + 5097 * MS * DRIFT_PPM / 1e6, rel=0.001)


def test_equal_clocks_and_equal_ways_differ_by_nothing():
    """Source: RFC 5905: equal clocks and 50 ms each way give 0, the delay is 100 ms; read."""
    found = exchange(0, 50 * MS, 50 * MS)
    assert (found.offset_ns, found.delay_ns) == (0, 100 * MS)
    assert found.error_ns == pytest.approx(50 * MS, rel=0.001)


def test_uneven_ways_are_off_by_half_their_difference_as_the_formula_says():
    """5 ms out and 25 back: 10 ms wrong, within ± 15 ms (RFC 5905's formulas, computed)."""
    found = exchange(0, 5 * MS, 25 * MS)
    assert found.offset_ns == -10 * MS
    assert found.error_ns == pytest.approx(15 * MS, rel=0.001)


@given(st.integers(-(10**18), 10**18), DELAY_NS, DELAY_NS, DELAY_NS)
def test_the_error_never_exceeds_half_the_delay(offset_ns, out_ns, back_ns, work_ns):
    found = exchange(offset_ns, out_ns, back_ns, work_ns=work_ns)
    assert found.delay_ns == out_ns + back_ns
    assert abs(found.offset_ns - offset_ns) <= found.error_ns
    assert abs(2 * (found.offset_ns - offset_ns)) <= found.delay_ns + 1          # a half is rounded down


@given(
    st.integers(-(10**18), 10**18),
    st.floats(-DRIFT_PPM, DRIFT_PPM),
    st.lists(st.tuples(DELAY_NS, DELAY_NS, st.integers(0, 10 * S)), min_size=1, max_size=3 * KEPT),
    st.integers(0, 600 * S),
)
def test_the_bound_holds_whatever_the_delays_and_drift(offset_ns, ppm, ways, since_ns):
    """The other clock runs at its own rate: its reading is computed at each of the four instants."""
    found, now_ns = OffsetFilter(), NOW_NS

    def there(at_ns):
        return at_ns + offset_ns + round((at_ns - NOW_NS) * ppm / 1e6)

    for out_ns, back_ns, pause_ns in ways:
        came_ns = now_ns + out_ns
        got_ns = came_ns + back_ns
        jumped = found.take(
            Exchange(sent_ns=now_ns, received_ns=there(came_ns), answered_ns=there(came_ns), got_ns=got_ns)
        )
        assert not jumped, "a clock that drifts as clocks do has not jumped"
        now_ns = got_ns + pause_ns
    now_ns += since_ns
    offset = found.at(now_ns)
    assert abs(offset.here_ns(there(now_ns)) - now_ns) <= offset.error_ns + 2          # 2 ns for what was rounded


def test_the_last_eight_count():
    quick = exchange(7 * S, MS, MS)
    slow = [exchange(7 * S, 20 * MS, 10 * MS, sent_ns=NOW_NS + n * S) for n in range(1, KEPT + 1)]
    assert offset_of(quick, *slow[:-1], now_ns=NOW_NS).offset_ns == 7 * S
    assert offset_of(quick, *slow, now_ns=NOW_NS).offset_ns == 7 * S + 5 * MS


def test_a_clock_that_jumped_is_believed_anew():
    before = [exchange(7 * S, MS, MS, sent_ns=NOW_NS + n * S) for n in range(4)]
    after = exchange(-90 * S, 15 * MS, 15 * MS, sent_ns=NOW_NS + 5 * S)
    found = OffsetFilter()
    assert [found.take(one) for one in before] == [False] * 4
    assert found.take(after)
    assert found.at(NOW_NS + 5 * S).offset_ns == -90 * S


def test_an_exchange_that_cannot_be_is_left_out():
    found = OffsetFilter()
    found.take(Exchange(sent_ns=NOW_NS, received_ns=5, answered_ns=4, got_ns=NOW_NS + MS))
    found.take(Exchange(sent_ns=NOW_NS, received_ns=0, answered_ns=S, got_ns=NOW_NS + MS))
    assert found.at(NOW_NS) is None


def test_nothing_is_known_before_the_first_and_after_sleep():
    found = OffsetFilter()
    assert found.at(NOW_NS) is None
    found.take(exchange(S, MS, MS))
    found.forget()
    assert found.at(NOW_NS) is None


def test_a_time_of_the_other_clock_is_told_by_this_one():
    assert Offset(offset_ns=-3 * S, error_ns=MS).here_ns(10 * S) == 13 * S
