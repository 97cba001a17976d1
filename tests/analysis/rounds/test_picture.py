"""The picture of a round against what the marks say: its edge, its times, the word and the number."""

import pytest
from hypothesis import given
from hypothesis import strategies as st
from msgspec.structs import replace

from tests.support.analysis.rehearsal_games import ENDED_NS, FOUNDRY, STARTED, TIMELINE, held_on, ns, push, touch
from tocsin.analysis.rounds.picture import round_picture
from tocsin.analysis.rounds.result import PlayedRound, round_result
from tocsin.model.display.round_picture import Dot, Instant, Span
from tocsin.model.drill import Clean
from tocsin.units import NS_PER_S as S

TITLED = replace(TIMELINE, windows=(replace(TIMELINE.windows[0], title="No touch"),))      # [118 s, 140 s)
KEEP_OFF = Clean(keep_off=("no_contact",))
CALL_S = 114


def picture(*marks, rule=KEEP_OFF, counting=(), **rest):
    played = PlayedRound(marks=marks, origins=STARTED, ended_ns=ENDED_NS, home_call_ns=ns(CALL_S), error_ms=60)
    played = replace(played, **rest)
    result = round_result(FOUNDRY, TITLED, played, rule, counting=counting)
    return round_picture(TITLED, played, rule, result, counting=counting)


def test_a_clean_round_has_its_times_from_the_windows_edge():
    found = picture(push(110, 116.5), touch(117, "turned"), touch(123, "home"))
    assert (found.shape, found.word, found.number, found.reason) == ("filled", "in time", "1.5 s to spare", "")
    assert (found.edge, found.windows) == ("No touch", (Span(begin_s=0, end_s=22),))
    assert found.pushes == (Span(begin_s=-8, end_s=-1.5),)
    assert [(one.what, one.at_s) for one in found.instants] == [("call", -4), ("turn", -1), ("home", 5), ("end", 18)]
    assert found.series == (Dot(at_s=-1.5, shape="filled"),)


SAID = [
    (KEEP_OFF, [push(110, 119)], "cross", "too late", "1.0 s late"),
    (KEEP_OFF, [push(110, 119), touch(130)], "cross", "touched", "2 contacts"),
    (KEEP_OFF, [touch(130)], "cross", "touched", "1 contact"),
    (KEEP_OFF, [push(110, 117.6)], "question", "can't tell", "see the video"),
    (KEEP_OFF, [held_on(110)], "question", "end not noted", ""),
    (KEEP_OFF, [], "filled", "clean", ""),
    (Clean(home_ns=0), [touch(130, "home")], "filled", "clean", "6.0 s to spare"),
    (Clean(home_ns=0), [touch(137.5, "home")], "cross", "home late", "1.5 s late"),
    (Clean(home_ns=0), [touch(130, "home_half")], "cross", "half home", ""),
    (Clean(home_ns=0), [touch(130, "home_none")], "cross", "not home", ""),
    (Clean(home_ns=0), [], "question", "not judged", ""),
    (Clean(turned_ns=2 * S), [touch(115.2, "turned")], "filled", "turned", "after 1.2 s"),
    (Clean(turned_ns=2 * S), [touch(117.1, "turned")], "cross", "turned late", "after 3.1 s"),
    # Home before the end by the drill's own limit: late is what lies behind it.
    (Clean(home_ns=3 * S), [touch(134, "home")], "cross", "home late", "1.0 s late"),
    # Turned and home: it is about the call, which is near the turn and far from the end of the match.
    (Clean(turned_ns=2 * S, home_ns=3 * S), [touch(115.2, "turned"), touch(124, "home")], "filled", "turned",
     "after 1.2 s"),
    (Clean(turned_ns=2 * S, home_ns=3 * S), [touch(115.2, "turned"), touch(134, "home")], "cross", "home late",
     "1.0 s late"),
    (Clean(never=("wrong",)), [touch(80, "wrong")], "cross", "not yet", "wrong 1 time"),
    (Clean(never=("wrong",)), [], "filled", "clean", ""),
]


@pytest.mark.parametrize(("rule", "marks", "shape", "word", "number"), SAID)
def test_verdict_in_a_word_and_a_number(rule, marks, shape, word, number):
    found = picture(*marks, rule=rule)
    assert (found.shape, found.word, found.number) == (shape, word, number)
    assert bool(found.reason) == (shape != "filled" and found.word != "not yet")


def test_a_push_whose_end_nobody_noted_has_no_place_in_the_series():
    """It lasts to the run's end in the record: a dot there would say that it was 24 s late."""
    assert picture(held_on(110)).series == (Dot(at_s=None, shape="question"),)


def test_what_does_not_count_is_a_ring_and_says_why():
    found = picture(push(110, 116), half_speed=True)
    assert (found.shape, found.word, found.reason) == ("open", "not counted", "driven at half speed")


def test_the_edge_is_what_the_round_was_about():
    began = (replace(STARTED[0], starts_ns=ns(120)),)                # in the window: its begin is no edge any more
    assert picture(touch(130, "home"), rule=Clean(keep_off=("no_contact",), home_ns=0), origins=began).edge == (
        "end of the match"
    )
    assert picture(rule=Clean(never=("wrong",))).edge == ""
    assert picture(rule=Clean(turned_ns=S), home_call_ns=None).edge == ""
    assert picture(rule=Clean(turned_own=True, home_ns=0)).edge == "call"
    assert picture(rule=Clean(turned_own=True, home_ns=0), home_call_ns=None).edge == "end of the match"


times = st.integers(1050, 1390).map(lambda tenths: tenths / 10)


@given(begins=st.lists(times, max_size=4), lasts=st.lists(st.none() | st.integers(0, 80), min_size=4, max_size=4))
def test_every_own_push_is_in_the_picture_where_it_was(begins, lasts):
    marks = [
        held_on(begin) if last is None else push(begin, begin + last / 10)
        for begin, last in zip(begins, lasts, strict=False)
    ]
    theirs = [replace(mark, by="opponent") for mark in marks]
    expected = [
        (round(begin - 118, 6), None if last is None else round(begin + last / 10 - 118, 6))
        for begin, last in zip(begins, lasts, strict=False)
    ]
    found = [(round(one.begin_s, 6), one.end_s and round(one.end_s, 6)) for one in picture(*marks, *theirs).pushes]
    assert sorted(found, key=str) == sorted(expected, key=str)


def test_nothing_is_drawn_from_another_part_of_the_match():
    assert picture(push(20, 30)).pushes == ()
    assert Instant(what="end", at_s=18) in picture().instants
