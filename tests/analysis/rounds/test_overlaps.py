"""Marks against windows: a table of cases, windows of every kind, and what holds for any mark."""

from itertools import pairwise, product

import pytest
from hypothesis import HealthCheck, assume, example, given, settings
from hypothesis import strategies as st
from msgspec.structs import replace

from tests.support.analysis.rehearsal_games import (
    ENDED_NS,
    FOUNDRY,
    ORIGIN_NS,
    STARTED,
    TIMELINE,
    held_on,
    ns,
    push,
    touch,
)
from tests.support.analysis.span_cases import CASES
from tests.support.model.compiled_games import games, plan_of
from tests.support.model.lifecycle_games import (
    BY_KEY,
    GAMES,
    MARKED,
    OPEN_PAUSE,
    OVERLAPPING,
    segment,
    slot,
    span,
    timeline,
)
from tocsin.analysis.rounds.overlaps import WindowTime, end_of, meeting, passes_ns, window_times
from tocsin.analysis.rounds.stakes import points
from tocsin.model.clock.origins import Origin
from tocsin.model.compiler.compiler import compile_plan
from tocsin.model.mark import Mark, standing
from tocsin.model.timeline.point import Point
from tocsin.units import NS_PER_MS as MS
from tocsin.units import NS_PER_S as S

TIMES = window_times(TIMELINE, STARTED)


def spans_of(timeline, origins):
    """Return the windows as (id, n, begin, end) in seconds after ORIGIN_NS."""
    return [
        (time.id, time.n, (time.begin_ns - ORIGIN_NS) / S, (time.end_ns - ORIGIN_NS) / S)
        for time in window_times(timeline, origins)
    ]


def meetings(marks, times, ended_ns):
    """Return how each mark that stands lies to each span by itself, the marks in their order, then the spans."""
    return [meeting(mark, [time], ended_ns=ended_ns) for mark in standing(marks) for time in times]


def at(anchor, match_s, **rest):
    return Origin(anchor=anchor, origin_ns=ns(match_s), **rest)


# -- the table --------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("case", CASES, ids=[case.name for case in CASES])
def test_overlap_class_and_cost(case):
    found = meetings(case.marks, TIMES, ended_ns=ENDED_NS)
    assert [(one.overlap_ns, one.where) for one in found] == [(ms * MS, where) for ms, where in case.expected]
    assert points(FOUNDRY, case.marks, TIMES, ended_ns=ENDED_NS).cost == case.cost


def test_a_push_without_an_end_is_flagged():
    (found,) = meetings([held_on(130)], TIMES, ended_ns=ENDED_NS)
    assert found.mark.open
    assert end_of(found.mark, ENDED_NS) == ENDED_NS


# -- where windows lie ------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("rate", "begin_s", "end_s"),
    [(1.0, 118, 140), (0.5, 236, 280), (2.0, 59, 70), (0.1, 1180, 1400), (100.0, 1.18, 1.4)],
)
def test_at_another_rate_windows_lie_elsewhere_in_real_time(rate, begin_s, end_s):
    assert spans_of(TIMELINE, [at("match", 0, rate=rate)]) == [("no_contact", 1, begin_s, end_s)]


def test_overlap_is_real_time_at_any_rate():
    times = window_times(TIMELINE, [at("match", 0, rate=0.5)])
    (found,) = meetings([push(230, 240)], times, ended_ns=ns(290))
    assert (found.overlap_ns, found.where) == (4 * S, "inside")


def test_nothing_is_known_of_a_clock_that_was_never_started():
    assert window_times(TIMELINE, []) == ()
    assert passes_ns(TIMELINE, [], Point("match", 0)) is None


def test_windows_that_recur_lie_each_by_itself():
    assert spans_of(OVERLAPPING, STARTED) == [
        ("door", 1, 19, 53), ("door", 2, 73, 106), ("endgame", 1, 94, 134), ("no_contact", 1, 53, 99),
    ]  # fmt: skip


def test_a_push_over_two_spans_of_a_window_overlaps_with_both():
    times = window_times(OVERLAPPING, STARTED)
    found = meetings([push(48, 78)], times, ended_ns=ns(136))
    assert [(time.id, time.n, one.overlap_ns) for time, one in zip(times, found, strict=True)] == [
        ("door", 1, 5 * S), ("door", 2, 5 * S), ("endgame", 1, 0), ("no_contact", 1, 25 * S),
    ]  # fmt: skip
    together = meeting(push(48, 78), [time for time in times if time.id == "door"], ended_ns=ns(136))
    assert (together.overlap_ns, together.where) == (10 * S, "inside")


DOORS = timeline(
    [segment("match", 0, 90)],
    [slot("driver", "match", 0, 90)],
    [span("door", n + 1, ("match", 30 * n), ("match", 30 * n + 30)) for n in range(3)],
)


def test_where_the_spans_of_a_window_touch_there_is_no_edge():
    times = window_times(DOORS, STARTED)
    each = meetings([touch(30)], times, ended_ns=ns(90))
    assert [one.where for one in each] == ["unclear", "unclear", "outside"]
    assert meeting(touch(30), times, ended_ns=ns(90)).where == "inside"
    assert meeting(touch(90), times, ended_ns=ns(90)).where == "unclear"


def test_a_period_that_nobody_has_begun_has_no_windows_yet_and_ends_none():
    ((name, n, begin_s, end_s),) = spans_of(OPEN_PAUSE, STARTED)
    assert (name, n, begin_s) == ("furnace", 1, 16)
    assert end_s > 1e6


def test_a_period_begun_by_hand_carries_its_windows():
    assert spans_of(OPEN_PAUSE, [*STARTED, at("driver", 47)]) == [("furnace", 1, 16, 57), ("no_contact", 1, 126, 148)]


def test_a_period_begun_early_ends_the_windows_before_it():
    early = [*STARTED, at("driver", 39), at("second", 78)]              # the driver period's window is [74, 89)
    assert spans_of(BY_KEY, early) == [("endgame", 1, 74, 78), ("endgame", 2, 113, 128)]


def test_a_window_begins_with_a_mark():
    assert spans_of(MARKED, STARTED) == []
    assert spans_of(MARKED, [*STARTED, at("mark.swap", 60)]) == [("swap", 1, 60, 136), ("truce", 1, 62, 67)]


def test_a_window_that_begins_with_a_mark_opens_anew_with_each():
    twice = [*STARTED, at("mark.swap", 60), at("mark.swap", 64, instance=1)]
    assert spans_of(MARKED, twice) == [("swap", 1, 60, 136), ("truce", 1, 62, 64), ("truce", 1, 66, 71)]


def test_a_window_ends_with_the_match():
    assert spans_of(MARKED, [*STARTED, at("mark.swap", 134)]) == [("swap", 1, 134, 136), ("truce", 1, 136, 140)]


def test_what_lies_before_a_start_in_mid_match_did_not_take_place():
    late = [at("match", 0, starts_ns=ns(80))]
    assert spans_of(OVERLAPPING, late) == [("door", 2, 80, 106), ("endgame", 1, 94, 134), ("no_contact", 1, 80, 99)]


# -- held against the match clock -------------------------------------------------------------------------------------


def _newest(origins, now_ns):
    """Return the match time since each origin that is known at ``now_ns``, of marks the newest."""
    elapsed = {}
    for origin in sorted(origins, key=lambda origin: origin.instance):
        if not origin.anchor.startswith("mark.") or origin.origin_ns <= now_ns:
            elapsed[origin.anchor] = origin.elapsed_ns(now_ns)
    return elapsed


@st.composite
def known_origins(draw, timeline, rate=1.0):
    """Origins of some of a timeline's anchors; marks have up to three instances, one behind the other."""
    step_ns, known = 200, []                 # at 0.5 times the speed match time stays whole
    for anchor in timeline.boundaries():
        if anchor.startswith("mark."):
            for n, at_ns in enumerate(sorted(draw(st.sets(st.integers(0, 170 * S // step_ns), max_size=3)))):
                known.append(Origin(anchor=anchor, origin_ns=ORIGIN_NS + at_ns * step_ns, rate=rate, instance=n))
        elif draw(st.integers(0, 4)):
            origin_ns = ORIGIN_NS + draw(st.integers(-5 * S // step_ns, 170 * S // step_ns)) * step_ns
            known.append(Origin(anchor=anchor, origin_ns=origin_ns, rate=rate))
    return known


def _open_at(timeline, origins, now_ns):
    times = window_times(timeline, origins)
    return {f"{time.id}.{time.n}" for time in times if time.begin_ns <= now_ns < time.end_ns}


def _open_by_the_clock(timeline, origins, now_ns):
    return set(timeline.at(_newest(origins, now_ns)).windows)


def _nows(draw, timeline, origins):
    """Times to look at: each edge of each window, right before it, and any."""
    edges = [edge for time in window_times(timeline, origins) for edge in (time.begin_ns, time.end_ns)]
    nows = [edge - before for edge in edges for before in (0, 2)]
    return [*(now for now in nows if now < 1 << 60), ORIGIN_NS + 2 * draw(st.integers(0, 200 * S))]


@pytest.mark.parametrize("name", GAMES)
@given(st.data(), st.sampled_from([0.5, 1.0, 2.0]))
@settings(max_examples=settings.default.max_examples // 2)
def test_a_span_is_open_exactly_while_the_timeline_says_so(name, data, rate):
    origins = data.draw(known_origins(GAMES[name], rate))
    for now_ns in _nows(data.draw, GAMES[name], origins):
        assert _open_at(GAMES[name], origins, now_ns) == _open_by_the_clock(GAMES[name], origins, now_ns)


@given(st.data())
@settings(suppress_health_check=[HealthCheck.filter_too_much, HealthCheck.too_slow])
def test_the_same_in_any_game(data):
    compiled, _ = compile_plan(data.draw(games()), plan_of())
    assume(compiled is not None and compiled.windows)
    origins = data.draw(known_origins(compiled))
    for now_ns in _nows(data.draw, compiled, origins):
        assert _open_at(compiled, origins, now_ns) == _open_by_the_clock(compiled, origins, now_ns)


# -- what holds for any mark ------------------------------------------------------------------------------------------

ANY_NS = st.integers(ORIGIN_NS + 110 * S, ORIGIN_NS + 149 * S)
NEAR_NS = st.sampled_from([ns(118), ns(140)]).flatmap(lambda edge: st.integers(edge - 800 * MS, edge + 800 * MS))
TIMES_NS = ANY_NS | NEAR_NS
ERRORS_NS = st.sampled_from([0, 1, 40 * MS, 700 * MS])


@st.composite
def marks(draw):
    begin_ns = draw(TIMES_NS)
    form = draw(st.sampled_from(["point", "span", "open"]))
    end_ns = begin_ns + draw(st.integers(1, 12 * S)) if form == "span" else None
    return Mark(label="contact", begin_ns=begin_ns, end_ns=end_ns, open=form == "open")


def _lies(mark, times=TIMES, error_ns=700 * MS, ended_ns=ENDED_NS):
    return meeting(mark, times, ended_ns=ended_ns, error_ns=error_ns)


def _moved(mark, by_ns):
    end_ns = None if mark.end_ns is None else mark.end_ns + by_ns
    return replace(mark, begin_ns=mark.begin_ns + by_ns, end_ns=end_ns)


@given(marks(), st.integers(-40 * S, 40 * S))
def test_a_mark_moved_anywhere_overlaps_by_nothing_up_to_its_own_length(mark, by_ns):
    moved = _moved(mark, by_ns)
    length_ns = end_of(moved, ENDED_NS) - moved.begin_ns
    assert 0 <= _lies(moved).overlap_ns <= min(length_ns, 22 * S)


@given(marks(), st.integers(-400 * S, 400 * S), ERRORS_NS)
def test_what_moves_together_meets_alike(mark, by_ns, error_ns):
    later = window_times(TIMELINE, [Origin(anchor="match", origin_ns=ORIGIN_NS + by_ns)])
    here = _lies(mark, error_ns=error_ns)
    there = _lies(_moved(mark, by_ns), later, error_ns, ENDED_NS + by_ns)
    assert (there.overlap_ns, there.where) == (here.overlap_ns, here.where)


@given(st.lists(TIMES_NS, min_size=2, max_size=6))
def test_the_overlaps_of_parts_sum_to_that_of_the_whole(cuts_ns):
    cuts_ns = sorted(cuts_ns)
    parts = [Mark(label="contact", begin_ns=begin, end_ns=end) for begin, end in pairwise(cuts_ns)]
    whole = Mark(label="contact", begin_ns=cuts_ns[0], end_ns=cuts_ns[-1])
    assert sum(_lies(part).overlap_ns for part in parts) == _lies(whole).overlap_ns


@given(marks(), st.lists(st.integers(ns(118), ns(140)), max_size=4), ERRORS_NS)
def test_a_window_cut_into_touching_spans_is_the_same_window(mark, cuts_ns, error_ns):
    edges = [ns(118), *sorted(cuts_ns), ns(140)]
    spans = [
        WindowTime(id="no_contact", n=n, title="", begin_ns=begin, end_ns=end)
        for n, (begin, end) in enumerate(pairwise(edges), start=1)
    ]
    cut, whole = _lies(mark, spans, error_ns), _lies(mark, error_ns=error_ns)
    assert (cut.overlap_ns, cut.where) == (whole.overlap_ns, whole.where)
    assert sum(one.overlap_ns for one in meetings([mark], spans, ended_ns=ENDED_NS)) == whole.overlap_ns


@given(marks(), ERRORS_NS, st.data())
@example(Mark(label="contact", begin_ns=ns(110), end_ns=ns(118.7)), 700 * MS, None)
def test_certain_is_what_holds_wherever_within_the_error_it_truly_was(mark, error_ns, data):
    """The definition itself: of all true times only the outermost can differ, and those inside them must agree."""
    found = _lies(mark, error_ns=error_ns).where
    shifts = [(-error_ns, error_ns)] * 2
    if data is not None:
        shifts = [(*both, data.draw(st.integers(-error_ns, error_ns))) for both in shifts]
    outcomes = {outcome for by in product(*shifts) for outcome in _true_classes(mark, *by)}
    assert outcomes == {found} if found != "unclear" else len(outcomes) == 2


def _true_classes(mark, begin_by_ns, end_by_ns):
    """Return how a mark that truly lay so much elsewhere may lie to [118 s, 140 s): none for one that could not be."""
    begin_ns, low_ns, high_ns = mark.begin_ns + begin_by_ns, ns(118), ns(140)
    if mark.end_ns is None and not mark.open:
        return {"inside" if low_ns <= begin_ns < high_ns else "outside"}
    ends_ns = [mark.end_ns + end_by_ns] if mark.end_ns is not None else [begin_ns + 1, ENDED_NS + end_by_ns]
    return {
        "inside" if begin_ns < high_ns and end_ns > low_ns else "outside" for end_ns in ends_ns if end_ns > begin_ns
    }
