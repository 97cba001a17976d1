"""Which marks count: those of the best source, and a push that two scribes saw once."""

import random

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tocsin.model.counted import Counted, counted, counted_marks, counted_places, scribes, sources
from tocsin.model.mark import SCRIBE_ERROR_NS, STATES, VIDEO, Mark, scribe_of, standing_places
from tocsin.units import NS_PER_MS, NS_PER_S

KEY, TURN_KEY, ONE, TWO = "key 7", "key 8", "board 1", "board 2"


def mark(begin_s, end_s=None, source=KEY, label="contact", **rest):
    end_ns = None if end_s is None else round(end_s * NS_PER_S)
    return Mark(label=label, begin_ns=round(begin_s * NS_PER_S), end_ns=end_ns, source=source, **rest)


def times(marks):
    """Return begin and end of what counts in seconds, in the order of time."""
    found = sorted(counted_marks(marks), key=lambda one: (one.begin_ns, one.end_ns or 0))
    return [(one.begin_ns / NS_PER_S, None if one.end_ns is None else one.end_ns / NS_PER_S) for one in found]


# -- by hand ----------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("marks", "expected"),
    [
        # Two spans of one push: the earliest begin, the latest end.
        ([mark(10, 12), mark(10.4, 12.5, ONE)], [(10, 12.5)]),
        # The second scribe looked up late: the spans overlap all the same.
        ([mark(10, 14), mark(12.9, 14.2, ONE)], [(10, 14.2)]),
        # Two short pushes do not overlap, but begin within what a scribe may be late.
        ([mark(10, 10.4), mark(10.5, 10.9, ONE)], [(10, 10.9)]),
        # One push that only the first saw, then one that only the second saw.
        ([mark(10, 12), mark(12.5, 14, ONE)], [(10, 12), (12.5, 14)]),
        # A tap and a span: at its begin, in it, just behind its end, too far behind.
        ([mark(10, 12), mark(9.3, source=ONE)], [(9.3, 12)]),
        ([mark(10, 12), mark(11.5, source=ONE)], [(10, 12)]),
        ([mark(10, 12), mark(12.7, source=ONE)], [(10, 12.7)]),
        ([mark(10, 12), mark(12.9, source=ONE)], [(10, 12), (12.9, None)]),
        # Taps by two, near enough and not; a point stays a point.
        ([mark(10), mark(10.8, source=ONE)], [(10, None)]),
        ([mark(10), mark(10.81, source=ONE)], [(10, None), (10.81, None)]),
        # Two quick touches by one scribe stay two, also where the other notes them later, or sees one of them only.
        ([mark(10), mark(10.3)], [(10, None), (10.3, None)]),
        ([mark(10), mark(10.6), mark(10.5, source=ONE), mark(11.3, source=ONE)], [(10, None), (10.6, None)]),
        ([mark(10), mark(10.7), mark(10.75, source=ONE)], [(10, None), (10.7, None)]),
        # Two keys of the laptop are one scribe, two boards are two.
        ([mark(10), mark(10.1, source=TURN_KEY)], [(10, None), (10.1, None)]),
        ([mark(10, source=ONE), mark(10.1, source=TWO)], [(10, None)]),
        # A finger held through two touches: whoever saw two has seen two.
        ([mark(10, 14), mark(10.2, 11, ONE), mark(13, 13.6, ONE)], [(10, 14), (13, 13.6)]),
        # What one scribe noted from a missed touch on goes with the push it overlaps.
        ([mark(10, 10.4), mark(10.7, 12), mark(10.75, 12.2, ONE), mark(12.5, source=ONE)],
         [(10, 10.4), (10.7, 12.2), (12.5, None)]),
        # Three scribes in a chain: the first and the last do not overlap, the one between overlaps both.
        ([mark(10, 12), mark(11.5, 13.5, ONE), mark(13.2, 15, TWO)], [(10, 15)]),
        ([mark(10), mark(10.7, source=ONE), mark(11.4, source=TWO)], [(10, None)]),
        ([mark(10, source=TWO), mark(10.7, source=ONE), mark(11.4)], [(10, None)]),
        # Whose they are tells them apart.
        ([mark(10, 12), mark(10, 12, ONE, by="partner")], [(10, 12), (10, 12)]),
        ([mark(10, 12), mark(10.1, 12.1, ONE, by="us")], [(10, 12.1)]),
        # What lies within a video's error, noted from it by hand and as a whole; and what does not.
        ([mark(10, source="observed", error_ns=200 * NS_PER_MS), mark(10.2, source="later", error_ns=200 * NS_PER_MS)],
         [(10, None)]),
        ([mark(10, source="observed", error_ns=200 * NS_PER_MS), mark(10.3, source="later", error_ns=200 * NS_PER_MS)],
         [(10, None), (10.3, None)]),
    ],
)  # fmt: skip
def test_what_two_scribes_saw_counts_once(marks, expected):
    assert times(marks) == expected
    assert times(list(reversed(marks))) == expected


def test_one_mark_says_who_saw_it():
    marks = [mark(10, 12), mark(30, 31, TWO), mark(10.3, 12.2, ONE), mark(10.1, 12, TWO)]
    first, second = counted(marks)
    assert (first.places, sources(first.mark)) == ((0, 2, 3), (ONE, TWO, KEY))
    assert (second.places, second.mark) == ((1,), marks[1])                # what one saw alone is as it was noted


@pytest.mark.parametrize(
    ("first", "second", "ended"),
    [
        (mark(10, open=True), mark(10.3, 12, ONE), (12, False, False)),            # a pad that never came up
        (mark(10, pointlike=True), mark(10.3, 12, ONE), (12, False, False)),       # a terminal tells no key up
        (mark(10, pointlike=True), mark(10.3, source=ONE), (None, False, False)),  # the board saw that it was short
        (mark(10, pointlike=True), mark(10.3, source=ONE, pointlike=True), (None, False, True)),
        (mark(10, open=True), mark(10.3, source=ONE, open=True), (None, True, False)),
    ],
)  # fmt: skip
def test_an_end_that_one_noted_counts_instead_of_one_that_nobody_did(first, second, ended):
    (one,) = counted_marks([first, second])
    end_s = None if one.end_ns is None else one.end_ns / NS_PER_S
    assert (one.begin_ns, (end_s, one.open, one.pointlike)) == (10 * NS_PER_S, ended)


def test_a_finger_forgotten_on_a_pad_takes_no_later_push():
    later = [mark(at, at + 1, ONE) for at in (13, 20, 40)]
    assert times([mark(10, open=True), *later]) == [(10, None), (13, 14), (20, 21), (40, 41)]


def test_the_errors_of_both_hold_for_one_mark():
    known = [mark(10, error_ns=200 * NS_PER_MS), mark(10.1, source=ONE, error_ns=500 * NS_PER_MS)]
    assert counted_marks(known)[0].error_ns == 500 * NS_PER_MS
    assert counted_marks([known[0], mark(10.1, source=ONE)])[0].error_ns is None


@pytest.mark.parametrize(
    ("said", "expected"),
    [
        # One arrival, said a little later by the second scribe: the lesser holds, whoever was quicker.
        ([(10, "home", KEY), (10.5, "home_half", ONE)], [(10, "home_half")]),
        ([(10.5, "home", KEY), (10, "home_half", ONE)], [(10, "home_half")]),
        ([(10, "home", KEY), (10.2, "home", ONE)], [(10, "home")]),
        # Further apart both are told, and the later one holds.
        ([(10, "home_half", KEY), (12, "home", ONE)], [(10, "home_half"), (12, "home")]),
        ([(10, "home", KEY), (12, "home_none", ONE)], [(10, "home"), (12, "home_none")]),
        # One scribe who says home after half has seen the robot come in.
        ([(10, "home_half", KEY), (10.5, "home", KEY)], [(10, "home_half"), (10.5, "home")]),
    ],
)
def test_of_two_scribes_who_disagree_on_home_the_lesser_holds_of_one_moment(said, expected):
    found = counted_marks([mark(at_s, source=source, label=label) for at_s, label, source in said])
    assert sorted((one.begin_ns / NS_PER_S, one.label) for one in found) == expected


def test_of_each_statement_the_best_source_counts():
    said = [
        ("contact", "", "key c"), ("contact", "us", "later"), ("contact", "partner", "key i"), ("home", "", "key l"),
        ("home_half", "us", "video"), ("wrong", "", "observed"), ("wrong", "", "later"), ("wrong", "", "key w"),
    ]  # fmt: skip
    marks = [Mark(label=label, begin_ns=0, by=by, source=source) for label, by, source in said]
    assert counted_places(marks) == (1, 2, 4, 5, 6)


def test_a_video_counts_instead_of_all_scribes():
    marks = [mark(10, 12), mark(10.2, 12, ONE), mark(9.5, 11.4, VIDEO), mark(30, 31, TWO)]
    assert counted_marks(marks) == (marks[2],)


def test_a_mark_that_is_taken_back_takes_no_other_with_it():
    marks = [mark(10, 12), mark(10.2, 12.3, ONE), mark(20, source=ONE, takes_back=1)]
    assert counted_marks(marks) == (marks[0],)
    assert counted_marks([*marks[:2], mark(20, takes_back=0)]) == (marks[1],)


def test_more_than_anybody_notes_takes_no_time():
    marks = [mark(at_s / 1000, source=ONE if at_s % 2 else TWO) for at_s in range(20_000)]
    assert len(counted_marks(marks)) == len(marks)


# -- whatever scribes note --------------------------------------------------------------------------------------------

KEYED = [KEY, TURN_KEY, ONE, TWO, "board 17", ""]
_times = st.integers(0, 60).map(lambda tenth: tenth * 100 * NS_PER_MS)
_lasting = st.none() | st.integers(0, 30).map(lambda tenth: tenth * 100 * NS_PER_MS)


@st.composite
def noted(draw, among=(*KEYED, "later", "observed", VIDEO)):
    begin_ns, lasts_ns = draw(_times), draw(_lasting)
    end = draw(st.sampled_from(["", "", "", "open", "pointlike"])) if lasts_ns is None else ""
    return Mark(
        label=draw(st.sampled_from(["contact", "contact", "turned", "wrong", *STATES])),
        begin_ns=begin_ns, end_ns=None if lasts_ns is None else begin_ns + lasts_ns,
        by=draw(st.sampled_from(["", "us", "partner"])), source=draw(st.sampled_from(among)),
        takes_back=draw(st.sampled_from([None, None, None, None, 0, 1, 5])),
        error_ns=draw(st.sampled_from([None, None, 200 * NS_PER_MS])), open=end == "open", pointlike=end == "pointlike",
    )  # fmt: skip


many = st.lists(noted(), max_size=14)


def best_alone(marks):
    """Return the places that count if nothing is merged: the rule as it was when there was one scribe."""
    held = standing_places(marks)

    def said(one):
        return ("home" if one.label in STATES else one.label, "us" if one.by == "" else one.by)

    def rank(one):
        return {VIDEO: 0, "later": 1, "observed": 1}.get(one.source, 2)

    best = {what: min(rank(marks[place]) for place in held if said(marks[place]) == what)
            for what in {said(marks[place]) for place in held}}  # fmt: skip
    return tuple(place for place in held if rank(marks[place]) == best[said(marks[place])])


@given(many)
def test_nothing_that_counts_is_lost(marks):
    found = counted(marks)
    places = [place for one in found for place in one.places]
    assert sorted(places) == list(best_alone(marks)) == list(counted_places(marks))
    for one in found:
        assert {scribe_of(marks[place].source) for place in one.places} == scribes(one.mark)
        for raw in (marks[place] for place in one.places):
            assert one.mark.begin_ns <= raw.begin_ns
            if one.mark.end_ns is None:        # a point: no further off than a scribe may be from the one before
                assert raw.end_ns in (None, raw.begin_ns)
                assert raw.begin_ns - one.mark.begin_ns <= SCRIBE_ERROR_NS * (len(one.places) - 1)
            else:
                assert max(raw.begin_ns, raw.end_ns or 0) <= one.mark.end_ns


@given(many)
def test_a_second_scribe_takes_nothing_away(marks):
    """As many count as the busiest scribe noted, and none of one scribe's has become one with another of theirs."""
    for one in counted(marks):
        assert len(one.places) == len(scribes(one.mark))


@given(many)
def test_merging_again_changes_nothing(marks):
    once = counted_marks(marks)
    assert sorted(counted_marks(once), key=repr) == sorted(once, key=repr)


@given(many, st.randoms(use_true_random=False))
def test_the_order_of_marks_changes_nothing(marks, dice: random.Random):
    marks = [one for one in marks if one.takes_back is None]
    mixed = list(marks)
    dice.shuffle(mixed)
    assert sorted(map(repr, counted_marks(mixed))) == sorted(map(repr, counted_marks(marks)))


@given(st.lists(noted(among=(KEY, TURN_KEY, "", "key of undo")), max_size=14) | st.lists(noted(among=(TWO,))),
       st.lists(noted(among=(VIDEO,)), max_size=3))  # fmt: skip
def test_with_one_scribe_all_is_as_it_was(marks, by_video):
    marks = [*marks, *by_video]
    assert counted(marks) == tuple(Counted(marks[place], (place,)) for place in best_alone(marks))
    assert all(one.mark is marks[one.places[0]] for one in counted(marks))


@given(many)
def test_of_what_was_said_something_always_counts(marks):
    held = {marks[place].by == "partner" for place in standing_places(marks)}
    assert {one.by == "partner" for one in counted_marks(marks)} == held


@given(st.lists(st.tuples(st.integers(0, 40), st.integers(4, 20)), max_size=6),
       st.lists(st.integers(0, 800), min_size=24, max_size=24))  # fmt: skip
def test_two_who_mark_everything_count_what_happened(touches, late_ms):
    """Pushes with a second between them, each end noted up to 0.8 s late by each of two scribes."""
    at_ms, pushes = 0, []
    for pause, lasts in touches:
        begin_ms = at_ms + 2000 + 100 * pause
        at_ms = begin_ms + 100 * lasts
        pushes.append((begin_ms, at_ms))
    late, marks = iter(late_ms), []
    for begin_ms, end_ms in pushes:
        for source in (KEY, ONE):
            begin_ns, end_ns = (begin_ms + next(late)) * NS_PER_MS, (end_ms + next(late)) * NS_PER_MS
            end_ns = end_ns if end_ns - begin_ns >= 300 * NS_PER_MS else None      # else the key says a point
            marks.append(Mark(label="contact", begin_ns=begin_ns, end_ns=end_ns, source=source))
    assert len(counted_marks(marks)) == len(pushes)
