"""What holds at a moment: examples on both sides of each edge, then a naive reading of the game as a check."""

import pytest
from hypothesis import HealthCheck, assume, given, settings
from hypothesis import strategies as st

from tests.support.model.compiled_games import STANDARD, cue, games, match_of, period, plan_of, window
from tocsin.model.compiler.compiler import compile_plan
from tocsin.model.moment import MomentError, parse
from tocsin.model.timeline.timeline import Point
from tocsin.units import NS_PER_S as S


def timeline_of(game, *cues, leads=None):
    timeline, mistakes = compile_plan(game, plan_of(*cues, leads=leads))
    assert mistakes == ()
    return timeline


MATCH = timeline_of(STANDARD, leads={"break_off": 4 * S})
BY_HAND = timeline_of(
    match_of(
        period("auto", 28, "autonomous"), period("driver", 97, by_hand=True), period("settle", 4, "settle"),
        windows=[
            window("early", "auto.end-5s", "auto.end"),
            window("across", "auto.end-5s", "driver.begin+10s"),
            window("late", "driver.end-18s", "settle.end"),
        ],
    )
)  # fmt: skip
OPEN = timeline_of(match_of(period("auto", 28, "autonomous"), period("pause", None, "pause"), period("driver", 97)))
MARKED = timeline_of(match_of(period("driver", 50), windows=[window("w", "mark.on+1s", "mark.off")]))


# -- one clock --------------------------------------------------------------------------------------------------------


# The match of 28 + 11 + 97 s, with windows in its last 18 s, and 4 s in which robots coast.
@pytest.mark.parametrize(
    ("at_ns", "shown", "windows", "left_ns", "over", "ended"),
    [
        (-1, "", (), 28 * S, False, False),
        (0, "auto", (), 28 * S, False, False),
        (28 * S - 1, "auto", (), 1, False, False),
        (28 * S, "pause", (), 11 * S, False, False),
        (39 * S - 1, "pause", (), 1, False, False),
        (39 * S, "driver", (), 97 * S, False, False),
        (118 * S - 1, "driver", (), 18 * S + 1, False, False),
        (118 * S, "driver", ("endgame.1", "no_contact.1"), 18 * S, False, False),
        (136 * S - 1, "driver", ("endgame.1", "no_contact.1"), 1, False, False),
        (136 * S, "settle", ("no_contact.1",), 0, True, False),
        (140 * S - 1, "settle", ("no_contact.1",), 0, True, False),
        (140 * S, "", (), 0, True, True),
        (500 * S, "", (), 0, True, True),
    ],
)
def test_a_match_on_both_sides_of_each_edge(at_ns, shown, windows, left_ns, over, ended):
    reading = MATCH.at({"match": at_ns})
    assert (reading.period, reading.windows, reading.left_ns) == (shown, windows, left_ns)
    assert (reading.over, reading.ended, reading.awaits) == (over, ended, "")
    assert reading.match_ns == at_ns


def test_nothing_is_known_before_a_start():
    reading = MATCH.at({})
    assert (reading.period, reading.windows, reading.match_ns, reading.left_ns) == ("", (), 0, 28 * S)


def test_a_display_that_counts_the_match():
    timeline = timeline_of(match_of(counts="match"))
    left_s = [timeline.at({"match": at_s * S}).left_ns // S for at_s in (-5, 0, 28, 39, 135, 136, 139, 150)]
    assert left_s == [136, 136, 108, 97, 1, 0, 0, 0]


# -- periods that a person begins -------------------------------------------------------------------------------------


def test_a_fixed_stretch_that_is_over_waits_for_a_person_and_its_clock_stands():
    for at_s in (28, 29, 300):
        reading = BY_HAND.at({"match": at_s * S})
        assert (reading.period, reading.awaits, reading.match_ns) == ("", "driver", 28 * S)
        assert (reading.left_ns, reading.over, reading.ended) == (0, False, False)
        assert reading.windows == ("across.1",)
    assert BY_HAND.at({"match": 28 * S - 1}).awaits == ""


def test_once_a_later_stretch_has_begun_the_earlier_ones_have_passed():
    early = BY_HAND.at({"match": 10 * S, "driver": 0})                # begun 18 s early
    assert (early.period, early.match_ns, early.windows) == ("driver", 28 * S, ("across.1",))
    assert early.left_ns == 97 * S
    unknown = BY_HAND.at({"driver": 10 * S})                          # begun with --from, there never was a start
    assert (unknown.period, unknown.windows) == ("driver", ())
    assert BY_HAND.at({"driver": 10 * S - 1}).windows == ("across.1",)
    assert BY_HAND.at({"match": 23 * S, "driver": -1}).windows == ("early.1", "across.1")


def test_a_later_stretch_whose_origin_lies_ahead_has_not_begun():
    assert BY_HAND.at({"match": 24 * S, "driver": -5 * S}).period == "auto"
    ahead = BY_HAND.at({"driver": -5 * S})
    assert (ahead.period, ahead.match_ns, ahead.left_ns) == ("", 23 * S, 97 * S)


def test_an_open_period_goes_on_until_the_next_begins():
    for at_s in (28, 31, 3000):
        reading = OPEN.at({"match": at_s * S})
        assert (reading.period, reading.awaits, reading.left_ns) == ("pause", "", None)
        assert (reading.over, reading.ended) == (False, False)
    assert OPEN.at({"match": 35 * S, "driver": 0}).period == "driver"
    assert OPEN.at({"match": 500 * S, "driver": 97 * S}).ended


def test_a_match_that_ends_openly_is_over_when_the_settling_begins():
    timeline = timeline_of(match_of(period("driver", None), period("settle", 4, "settle")))
    assert not timeline.at({"match": 999 * S}).over
    settling = timeline.at({"match": 999 * S, "settle": 0})
    assert (settling.period, settling.over, settling.ended) == ("settle", True, False)
    assert timeline.match_end() == Point("settle", 0)
    assert timeline.at({"settle": 4 * S}).ended


def test_a_settling_begun_by_hand_follows_a_match_that_is_over():
    timeline = timeline_of(match_of(period("driver", 50), period("settle", 4, "settle", by_hand=True)))
    reading = timeline.at({"match": 50 * S})
    assert (reading.period, reading.awaits, reading.over, reading.ended) == ("", "settle", True, False)


# -- marks ------------------------------------------------------------------------------------------------------------


def test_a_window_between_marks_is_open_once_the_first_was_made_and_until_the_second_is():
    assert MARKED.at({"match": 9 * S}).windows == ()
    assert MARKED.at({"match": 9 * S, "mark.on": S - 1}).windows == ()
    assert MARKED.at({"match": 9 * S, "mark.on": S}).windows == ("w.1",)
    assert MARKED.at({"match": 9 * S, "mark.on": 5 * S, "mark.off": 0}).windows == ()


def test_no_window_outlives_the_match():
    assert MARKED.at({"match": 50 * S - 1, "mark.on": S}).windows == ("w.1",)
    assert MARKED.at({"match": 50 * S, "mark.on": S}).windows == ()


# -- where things lie -------------------------------------------------------------------------------------------------


def test_boundaries_name_each_anchors_edges():
    assert MATCH.boundaries() == {"match": (0, 28 * S, 39 * S, 118 * S, 136 * S, 140 * S)}
    assert BY_HAND.boundaries() == {
        "match": (0, 23 * S, 28 * S), "driver": (0, 10 * S, 79 * S, 97 * S, 101 * S)
    }  # fmt: skip
    assert MARKED.boundaries() == {"match": (0, 50 * S), "mark.on": (S,), "mark.off": (0,)}


@pytest.mark.parametrize(
    ("text", "point"),
    [
        ("match.begin", Point("match", 0)),
        ("match.end", Point("match", 136 * S)),
        ("driver.begin+60s", Point("match", 99 * S)),
        ("no_contact.begin-break_off", Point("match", 114 * S)),
        ("no_contact.1.begin-10s", Point("match", 108 * S)),
        ("settle.end", Point("match", 140 * S)),
    ],
)
def test_a_run_may_begin_at_any_moment_of_the_match(text, point):
    assert MATCH.locate(parse(text)) == point


def test_a_moment_of_a_later_stretch_is_counted_from_its_own_anchor():
    assert BY_HAND.locate(parse("driver.end-18s")) == Point("driver", 79 * S)


@pytest.mark.parametrize(
    ("text", "likely"),
    [
        ("drivr.begin", "driver.begin"),
        ("no_contact.begin-brake_off", "no_contact.begin-break_off"),
        ("no_contact.2.begin", "no_contact.1.begin"),
        ("match.begin-1s", ""),
        ("settle.end+1s", ""),
        ("mark.swap", ""),
    ],
)
def test_what_is_no_single_moment_of_the_match_is_refused(text, likely):
    with pytest.raises(MomentError) as caught:
        MATCH.locate(parse(text))
    assert caught.value.likely == likely


def test_a_moment_that_stands_for_several_is_refused_with_all_of_them():
    door = window("door", ["driver.begin", "driver.begin+30s"], "door.begin+9s")
    doors = timeline_of(match_of(period("driver", 90), windows=[door]))
    with pytest.raises(MomentError, match="one of the 2 spans") as caught:
        doors.locate(parse("door.begin"))
    assert [doors.locate(parse(one)).offset_ns for one in caught.value.readings] == [0, 30 * S]


# -- properties -------------------------------------------------------------------------------------------------------


def stretches(game):
    """Split the periods where a person begins one: what the anchors mean, read off the game file."""
    found = [[game.periods[0]]]
    for before, after in zip(game.periods, game.periods[1:], strict=False):
        if after.by_hand or before.lasts_ns is None:
            found.append([])
        found[-1].append(after)
    return found


def naive(game, elapsed):
    """Return (period, awaits, over, ended) by walking along the game as a person with a stopwatch would."""
    parts = stretches(game)
    anchors = ["match", *(part[0].id for part in parts[1:])]
    begun = [n for n, anchor in enumerate(anchors) if elapsed.get(anchor, -1) >= 0]
    if not begun:
        return "", "", False, False
    here = begun[-1]
    left_ns = elapsed[anchors[here]]
    passed = [p for part in parts[:here] for p in part]
    for p in parts[here]:
        if p.lasts_ns is None or left_ns < p.lasts_ns:
            return p.id, "", p.kind == "settle" or all(q in passed for q in game.periods if q.kind != "settle"), False
        passed.append(p)
        left_ns -= p.lasts_ns
    over = all(q in passed for q in game.periods if q.kind != "settle")
    if here + 1 < len(parts):
        return "", anchors[here + 1], over, False
    return "", "", True, True


@st.composite
def timelines_and_clocks(draw):
    game = draw(games())
    timeline, _ = compile_plan(game, plan_of())
    assume(timeline)
    elapsed = {}
    for anchor, offsets in timeline.boundaries().items():
        if draw(st.integers(0, 2)):
            near = st.sampled_from(offsets).flatmap(lambda ns: st.integers(ns - 1, ns + 1))
            elapsed[anchor] = draw(near | st.integers(-S, 200 * S))
    return game, timeline, elapsed


MANY = settings(suppress_health_check=[HealthCheck.filter_too_much, HealthCheck.too_slow], deadline=None)


@MANY
@given(timelines_and_clocks())
def test_a_reading_agrees_with_a_walk_along_the_game(case):
    game, timeline, elapsed = case
    reading = timeline.at(elapsed)
    assert (reading.period, reading.awaits, reading.over, reading.ended) == naive(game, elapsed)


@MANY
@given(timelines_and_clocks())
def test_windows_are_open_from_their_begin_to_just_before_their_end(case):
    _, timeline, elapsed = case
    anchors = [segment.anchor for segment in timeline.segments]
    begun = [anchor for anchor in anchors if elapsed.get(anchor, -1) >= 0]
    reading = timeline.at(elapsed)

    def has_come(point):
        if point.anchor in anchors and begun and anchors.index(point.anchor) < anchors.index(begun[-1]):
            return True
        counts = point.anchor not in anchors or point.anchor in begun[-1:]
        return counts and elapsed.get(point.anchor, -1) >= point.offset_ns

    expected = [f"{w.id}.{w.n}" for w in timeline.windows if has_come(w.begin) and not has_come(w.end)]
    assert list(reading.windows) == (expected if begun and not reading.ended else [])


@MANY
@given(timelines_and_clocks())
def test_between_two_boundaries_nothing_changes_but_the_digits(case):
    _, timeline, elapsed = case
    edges = timeline.boundaries()

    def settled(clocks):
        r = timeline.at(clocks)
        return r.period, r.awaits, r.windows, r.over, r.ended

    for anchor, now_ns in elapsed.items():
        last_edge = max((ns for ns in edges[anchor] if ns <= now_ns), default=None)
        if last_edge is not None:
            assert settled({**elapsed, anchor: last_edge}) == settled(elapsed)


@MANY
@given(games())
def test_every_edge_of_every_period_and_window_can_be_located(game):
    timeline, _ = compile_plan(game, plan_of(cue(at="match.end")))
    assume(timeline)
    for slot in timeline.periods:
        assert timeline.locate(parse(f"{slot.id}.begin")) == Point(slot.anchor, slot.begin_ns)
    for span in timeline.windows:
        if not span.begin.anchor.startswith("mark."):
            assert timeline.locate(parse(f"{span.id}.{span.n}.begin")) == span.begin
