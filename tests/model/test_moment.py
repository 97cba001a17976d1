"""Moments: what the grammar takes, what it refuses and where, and the way there and back."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tocsin.model.moment import Moment, MomentError, format, parse
from tocsin.units import LONGEST_NS
from tocsin.units import NS_PER_S as S

# Syncbase values as in the W3C SMIL 2.0 and 3.0 test suites (read): image1.begin, image1.begin+3s,
# and a negative offset (test 1.14). Blanks around the sign as in the W3C grammar.
GOOD = [
    ("image1.begin", Moment("image1", "begin")),
    ("image1.begin+3s", Moment("image1", "begin", offset_ns=3 * S)),
    ("image1.end-1.14s", Moment("image1", "end", offset_ns=-1_140_000_000)),
    ("no_contact.begin - 4s", Moment("no_contact", "begin", offset_ns=-4 * S)),
    ("no_contact.begin- 00:04", Moment("no_contact", "begin", offset_ns=-4 * S)),
    ("no_contact.begin-break_off", Moment("no_contact", "begin", lead="break_off", lead_sign=-1)),
    ("no_contact.begin+break_off", Moment("no_contact", "begin", lead="break_off")),
    ("door.2.begin", Moment("door", "begin", 2)),
    ("door.12.end+1ms", Moment("door", "end", 12, 1_000_000)),
    ("mark.swap", Moment("mark.swap", "begin")),
    ("mark.begin+2s", Moment("mark.begin", "begin", offset_ns=2 * S)),
    ("match.end", Moment("match", "end")),
    ("begin.begin", Moment("begin", "begin")),
    ("driver.begin-0s", Moment("driver", "begin")),
]


@pytest.mark.parametrize(("text", "moment"), GOOD)
def test_moments_are_read(text, moment):
    assert parse(text) == moment


BAD = [
    # a stopwatch's time
    ("30s", "30s", ""),
    ("02:30", "02:30", ""),
    ("2:30", "2:30", ""),
    # the base
    ("no_contact", "no_contact", ""),
    ("no_contact-4s", "no_contact", ""),
    ("no_contact.start-4s", "no_contact.start", "no_contact.begin-4s"),
    ("driver.endd-35s", "driver.endd", "driver.end-35s"),
    ("door.2.begn", "door.2.begn", "door.2.begin"),
    ("No_Contact.Begin", "No_Contact.Begin", "no_contact.begin"),
    ("no-contact.begin-4s", "no", "no_contact.begin-4s"),
    ("door.0.begin", "0", ""),
    ("mark.home.begin", "mark.home.begin", "mark.home"),
    ("mark.", "mark.", ""),
    ("+4s", "+", ""),
    ("9th.begin", "9th.begin", ""),
    # the offset
    ("no_contact.begin-4", "4", "no_contact.begin-4s"),
    ("no_contact.begin-2:30", "2:30", "no_contact.begin-02:30"),
    ("no_contact.begin-1,5s", "1,5s", "no_contact.begin-1.5s"),
    ("no_contact.begin-break-off", "break-off", "no_contact.begin-break_off"),
    ("no_contact.begin-4s+2s", "4s+2s", ""),
    ("no_contact.begin--4s", "-4s", ""),
    ("no_contact.begin-", "-", ""),
    # the sign
    ("no_contact.begin 4s", " 4s", ""),
    ("no_contact.begin ", " ", "no_contact.begin"),
]


@pytest.mark.parametrize(("text", "marked", "likely"), BAD)
def test_what_is_no_moment_is_marked_and_the_likely_one_offered(text, marked, likely):
    with pytest.raises(MomentError) as caught:
        parse(text)
    begin, end = caught.value.span
    assert (caught.value.text, text[begin:end], caught.value.likely) == (text, marked, likely)
    assert caught.value.expected


@pytest.mark.parametrize(
    ("text", "readings"),
    [
        ("casting-15s", ["casting.begin-15s", "casting.end-15s"]),
        ("door.2", ["door.2.begin", "door.2.end"]),
        ("30s", ["match.begin+30s", "match.end-30s"]),
        ("driver.end-500", ["driver.end-500s", "driver.end-500ms"]),
        ("match-10s", ["match.end-10s"]),                       # before the match nothing comes
        ("casting.end-swap-2s", []),                           # a moment has one offset
        ("door..begin", []),
    ],
)  # fmt: skip
def test_what_may_mean_more_than_one_moment_has_all_of_them(text, readings):
    with pytest.raises(MomentError) as caught:
        parse(text)
    assert list(caught.value.readings) == readings


def test_an_empty_text_has_nothing_to_mark():
    with pytest.raises(MomentError) as caught:
        parse("")
    assert caught.value.span == (0, 0)


IDS = st.from_regex(r"[a-z][a-z0-9_]{0,8}", fullmatch=True)


@st.composite
def moments(draw):
    if draw(st.booleans()):
        base, edge, span = f"mark.{draw(IDS)}", "begin", None
    else:
        base = draw(IDS.filter(lambda name: name != "mark"))
        edge, span = draw(st.sampled_from(["begin", "end"])), draw(st.none() | st.integers(1, 999_999))
    if draw(st.booleans()):
        return Moment(base, edge, span, lead=draw(IDS), lead_sign=draw(st.sampled_from([1, -1])))
    return Moment(base, edge, span, draw(st.integers(-LONGEST_NS, LONGEST_NS)))


@given(moments())
def test_what_is_written_reads_back_to_the_same_moment(moment):
    assert parse(format(moment)) == moment


@given(st.text(max_size=30) | st.text(alphabet="abz_.019+- :smh", max_size=30))
def test_nothing_else_is_raised_and_a_likely_moment_can_be_read(text):
    try:
        parse(text)
    except MomentError as error:
        begin, end = error.span
        assert 0 <= begin <= end <= len(text)
        if error.likely:
            parse(error.likely)
