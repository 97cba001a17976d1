"""One pad's motors: examples on both sides of each edge, then properties of every series of calls."""

from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tocsin.channels.rumble.arbiter import APART_NS, LATE_NS, LONGEST_NS, MARGIN_NS, Arbiter, Buzz, Stop
from tocsin.model.pattern import RumblePattern, RumbleStep
from tocsin.model.pattern import lasts_ns as length_ns
from tocsin.units import NS_PER_MS as MS
from tocsin.units import NS_PER_S as S


def pattern(*steps, times=1):
    """Return a pattern of (strength, milliseconds)."""
    return RumblePattern(
        steps=tuple(RumbleStep(strong=level, weak=level, lasts_ns=ms * MS) for level, ms in steps), times=times
    )


TRIPLE = pattern((1.0, 250), (0.0, 200), times=3)
LONG = pattern((1.0, 800))


def played(arbiter, until_ns, begin_ns=0):
    """Step an arbiter at the very times it asks for; return (milliseconds, call)."""
    calls, now_ns = [], begin_ns
    while (next_ns := arbiter.next_ns()) is not None and next_ns <= until_ns:
        now_ns = max(now_ns, next_ns)
        if (call := arbiter.step(now_ns)) is not None:
            calls.append((now_ns // MS, call))
    return calls


def begun(shape, begin_ns=0, now_ns=0, priority=5, key="a", strength=1.0):
    arbiter = Arbiter(strength)
    assert arbiter.begin(key, shape, begin_ns, now_ns, priority)
    return arbiter


# SDL (read): durations in whole milliseconds, 0 would mean "until stopped", 65.535 s is the cap.
@pytest.mark.parametrize(
    ("shape", "expected"),
    [
        (LONG, [(0, Buzz(1, 1, 900)), (800, Stop())]),
        (
            TRIPLE,
            [
                (0, Buzz(1, 1, 350)), (250, Stop()), (450, Buzz(1, 1, 350)), (700, Stop()), (900, Buzz(1, 1, 350)),
                (1150, Stop()),
            ],
        ),
        (pattern((0.5, 250), (1.0, 300)), [(0, Buzz(0.5, 0.5, 350)), (250, Buzz(1, 1, 400)), (550, Stop())]),
        (pattern((0.6, 100), (0.6, 100)), [(0, Buzz(0.6, 0.6, 300)), (200, Stop())]),      # equal steps are one
        (pattern((0.6, 100), times=3), [(0, Buzz(0.6, 0.6, 400)), (300, Stop())]),
        (pattern((0.0, 300), (1.0, 200)), [(300, Buzz(1, 1, 300)), (500, Stop())]),
        (pattern((0.0, 300)), []),
    ],
)  # fmt: skip
def test_a_pattern_is_these_calls(shape, expected):
    assert played(begun(shape), 10 * S) == expected


def test_a_pattern_longer_than_sdl_can_is_called_again():
    calls = played(begun(pattern((1.0, 150_000))), 200 * S)
    assert [at_ms for at_ms, _ in calls] == [0, 60_000, 120_000, 150_000]
    assert all(call.ms < 65_535 for _, call in calls[:-1])


def test_strength_scales_both_motors():
    shape = RumblePattern(steps=(RumbleStep(strong=0.8, weak=0.4, lasts_ns=S),))
    assert begun(shape, strength=0.5).step(0) == Buzz(0.4, 0.2, 1100)


def test_strength_nothing_is_no_call_at_all():
    assert played(begun(LONG, strength=0.0), S) == []


def test_what_begins_a_little_late_keeps_its_end():
    arbiter = begun(LONG, begin_ns=0, now_ns=LATE_NS)
    assert played(arbiter, 5 * S, LATE_NS) == [(20, Buzz(1, 1, 880)), (800, Stop())]


def test_what_begins_too_late_is_played_whole():
    arbiter = begun(LONG, begin_ns=0, now_ns=LATE_NS + MS)
    assert played(arbiter, 5 * S, LATE_NS + MS) == [(21, Buzz(1, 1, 900)), (821, Stop())]


def test_a_begin_that_lies_ahead_waits():
    arbiter = begun(LONG, begin_ns=500 * MS)
    assert arbiter.step(500 * MS - 1) is None
    assert arbiter.next_ns() == 500 * MS
    assert arbiter.step(500 * MS) == Buzz(1, 1, 900)


def test_a_lower_pattern_is_outranked_for_good():
    arbiter = begun(LONG, priority=9)
    arbiter.step(0)
    assert not arbiter.begin("b", TRIPLE, 100 * MS, 100 * MS, 8)
    assert arbiter.playing == "a"
    assert played(arbiter, 10 * S) == [(800, Stop())]


@pytest.mark.parametrize("priority", [5, 9])
def test_an_equal_or_higher_pattern_replaces(priority):
    arbiter = begun(TRIPLE, priority=5)
    arbiter.step(0)
    assert arbiter.begin("b", LONG, 100 * MS, 100 * MS, priority)
    assert arbiter.playing == "b"
    assert played(arbiter, 10 * S, 100 * MS) == [(100, Buzz(1, 1, 900)), (900, Stop())]


def test_once_the_higher_has_ended_the_lower_may_come():
    arbiter = begun(LONG, priority=9)
    played(arbiter, S)
    assert arbiter.begin("b", TRIPLE, S, S, 0)


def test_a_replaced_pattern_does_not_run_on_into_the_silence_before_the_next():
    arbiter = begun(LONG)
    arbiter.step(0)
    assert arbiter.begin("b", TRIPLE, 400 * MS, 100 * MS, 5)
    assert arbiter.next_ns() <= 100 * MS
    assert arbiter.step(100 * MS) == Stop()
    assert arbiter.next_ns() == 400 * MS


def test_an_end_stops_only_its_own_pattern():
    arbiter = begun(LONG)
    arbiter.step(0)
    arbiter.end("other")
    assert arbiter.playing == "a"
    arbiter.end("a")
    assert arbiter.step(10 * MS) == Stop()
    assert arbiter.next_ns() is None


def test_an_end_before_the_first_call_makes_none():
    arbiter = begun(LONG)
    arbiter.end("a")
    assert arbiter.next_ns() is None
    assert arbiter.step(S) is None


def test_nothing_is_left_after_clearing():
    arbiter = begun(LONG)
    arbiter.step(0)
    arbiter.clear()
    assert arbiter.playing is None
    assert arbiter.step(S) is None


def test_a_step_missed_in_a_long_call_is_left_out_and_the_rest_is_in_time():
    arbiter = begun(TRIPLE)
    arbiter.step(0)
    assert arbiter.step(500 * MS) == Buzz(1, 1, 300)         # the driver held us up over the pause
    assert played(arbiter, 10 * S, 500 * MS) == [(700, Stop()), (900, Buzz(1, 1, 350)), (1150, Stop())]


def test_a_pattern_that_is_over_before_its_next_call_is_stopped():
    arbiter = begun(TRIPLE)
    arbiter.step(0)
    assert arbiter.step(7 * S) == Stop()
    assert arbiter.next_ns() is None


# The files refuse steps below 50 ms, so does this.
levels = st.sampled_from([0.0, 0.4, 0.8, 1.0])
steps = st.lists(st.tuples(levels, st.integers(50, 900)), min_size=1, max_size=5)
shapes = st.builds(lambda parts, times: pattern(*parts, times=times), steps, st.integers(1, 4))
begins = st.lists(st.tuples(shapes, st.integers(0, 2000), st.integers(0, 9), st.integers(-60, 60)), max_size=5)


@given(shapes)
def test_steps_do_not_drift(shape):
    """Each call falls at the very millisecond that the sums of the pattern give."""
    edges, at_ms = {0}, 0
    for step in shape.steps * shape.times:
        at_ms += step.lasts_ns // MS
        edges.add(at_ms)
    calls = played(begun(shape), 100 * S)
    assert {at for at, _ in calls} <= edges
    assert not calls or (calls[-1] == (calls[-1][0], Stop()) and calls[-1][0] <= length_ns(shape) // MS)


@given(shapes, st.lists(st.integers(0, 120), max_size=60))
def test_whatever_the_delays_motors_end_explicitly_and_calls_lie_apart(shape, delays_ms):
    arbiter, now_ns, calls = begun(shape), 0, []
    delays = iter(delays_ms)
    while (next_ns := arbiter.next_ns()) is not None:
        now_ns = max(now_ns, next_ns) + next(delays, 0) * MS
        if (call := arbiter.step(now_ns)) is not None:
            calls.append((now_ns, call))
    assert all(later - before >= APART_NS for (before, _), (later, _) in pairwise(calls))
    for at_ns, call in calls:
        if isinstance(call, Buzz):
            assert 0 < call.ms <= (LONGEST_NS + APART_NS + MARGIN_NS) // MS
            assert 0 <= call.weak <= 1
            assert at_ns + call.ms * MS <= length_ns(shape) + MARGIN_NS + MS
    if calls:
        assert isinstance(calls[-1][1], Stop)
    kinds = [type(call) for _, call in calls]
    assert (Stop, Stop) not in list(pairwise(kinds))


@given(begins)
def test_whatever_comes_the_higher_plays_and_all_ends_in_silence(coming):
    arbiter, turning, longest_ns = Arbiter(), False, 0
    running = None                                           # priority of what should play, and until when
    for no, (shape, after_ms, priority, early_ms) in enumerate(sorted(coming, key=lambda entry: entry[1])):
        now_ns = after_ms * MS
        for _, call in played(arbiter, now_ns):
            turning = isinstance(call, Buzz)
        playing = arbiter.playing
        taken = arbiter.begin(no, shape, now_ns - early_ms * MS, now_ns, priority)
        assert taken == (playing is None or running <= priority)
        if taken:
            running = priority
            longest_ns = max(longest_ns, now_ns + 60 * MS + length_ns(shape))
    calls = played(arbiter, 1000 * S)
    for _, call in calls:
        turning = isinstance(call, Buzz)
    assert not turning
    assert arbiter.next_ns() is None
    assert all(at_ms * MS <= longest_ns for at_ms, _ in calls)
