"""Marks from a video: times as players show them, alignment by moments that were seen, tables with mistakes."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tocsin.analysis.csv_table import TableError
from tocsin.analysis.rounds.video_marks import (
    VIDEO_ERROR_NS,
    Seen,
    VideoMark,
    align,
    on_clock,
    read_table,
    video_time_ns,
)
from tocsin.model.timeline.point import Point

S = 10**9
TABLE = """time,label,until,by
83.4,contact,85.0,us
1:30,home,,
1:31,contact,1:31.5,partner
"""


@pytest.mark.parametrize(
    ("text", "s"),
    [("83.4", 83.4), ("83,4", 83.4), ("83.4s", 83.4), ("1:23.4", 83.4), ("01:23", 83), ("90:00", 5400),
     ("1:02:03", 3723)],
)
def test_times_are_read_as_players_show_them(text, s):
    assert video_time_ns(text) == round(s * S)


@pytest.mark.parametrize("text", ["", "soon", "1:2:3:4", "-5", "1:23:", "nan"])
def test_other_texts_are_no_time(text):
    assert video_time_ns(text) is None


@given(st.integers(0, 359_999), st.integers(0, 999))
def test_every_time_reads_back(whole_s, ms):
    minutes, seconds = divmod(whole_s, 60)
    hours, minutes = divmod(minutes, 60)
    text = f"{hours}:{minutes:02d}:{seconds:02d}.{ms:03d}"
    assert video_time_ns(text) == (whole_s * 1000 + ms) * 10**6


@pytest.mark.parametrize("separator", [",", ";", "\t"])
def test_a_table_is_read_whatever_its_separator(separator):
    assert read_table("\ufeff" + TABLE.replace(",", separator)) == (
        VideoMark(round(83.4 * S), 85 * S, "contact", "us"),
        VideoMark(90 * S, None, "home", ""),
        VideoMark(91 * S, round(91.5 * S), "contact", "partner"),
    )


def test_all_mistakes_are_told_with_their_lines():
    with pytest.raises(TableError) as caught:
        read_table("time,label,until,by\nsoon,contact,,\n5,Contact!,,\n9,contact,8,\n9,contact,,them\n\n")
    lines = [problem.split(":")[0] for problem in caught.value.problems]
    assert lines == ["line 2", "line 3", "line 4", "line 5"]
    with pytest.raises(TableError, match="time,label,until,by"):
        read_table("when,what\n5,contact\n")


def test_one_moment_places_the_match_and_two_are_averaged():
    one = align([Seen(58 * S, Point("match", 39 * S))])
    assert one.zeros_ns == {"match": 19 * S}
    assert one.error_ns == VIDEO_ERROR_NS
    two = align([Seen(58 * S, Point("match", 39 * S)), Seen(round(155.4 * S), Point("match", 136 * S))])
    assert two.zeros_ns == {"match": round(19.2 * S)}
    assert two.error_ns == VIDEO_ERROR_NS + round(0.2 * S)


def test_moments_that_cannot_be_of_one_match_are_refused():
    with pytest.raises(ValueError, match=r"disagree by 3\.0 s"):
        align([Seen(58 * S, Point("match", 39 * S)), Seen(158 * S, Point("match", 136 * S))])


def test_anchors_are_aligned_each_by_itself():
    found = align([Seen(5 * S, Point("match", 0)), Seen(60 * S, Point("driver", 10 * S))])
    assert found.zeros_ns == {"match": 5 * S, "driver": 50 * S}


def test_marks_lie_on_the_shared_clock_with_their_error():
    contact, home, _ = on_clock(read_table(TABLE), 1000 * S, 7)
    assert (contact.begin_ns, contact.end_ns, contact.error_ns) == (round(1083.4 * S), 1085 * S, 7)
    assert (home.label, home.end_ns) == ("home", None)
