"""Clock values: the table of the W3C forms, what is refused, and the way there and back."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tocsin.units import LONGEST_NS, NS_PER_MS, NS_PER_S, ClockValueError, format_clock, parse_clock

# W3C SMIL 3.0, "Clock values" (read in a secondary table of the W3C forms).
SMIL = [
    ("02:30:03", (2 * 3600 + 30 * 60 + 3) * NS_PER_S),
    ("50:00:10.25", (50 * 3600 + 10) * NS_PER_S + 250 * NS_PER_MS),
    ("02:33", 153 * NS_PER_S),
    ("00:10.5", 10_500 * NS_PER_MS),
    ("3.2h", 11_520 * NS_PER_S),
    ("45min", 2_700 * NS_PER_S),
    ("30s", 30 * NS_PER_S),
    ("5ms", 5 * NS_PER_MS),
]


@pytest.mark.parametrize(("text", "ns"), SMIL)
def test_the_forms_of_smil_are_read(text, ns):
    assert parse_clock(text) == ns


def test_a_count_of_hours_may_have_any_digits_and_fractions_go_down_to_a_nanosecond():
    assert parse_clock("1.000000001s") == NS_PER_S + 1
    assert parse_clock("0.0000005ms") == 0                      # below a nanosecond
    assert parse_clock("1000h") == LONGEST_NS
    assert parse_clock("999:59:59") == LONGEST_NS - NS_PER_S


# From the W3C grammar: two digits in each place after a colon, 00 to 59; a bare number is refused by our design.
@pytest.mark.parametrize(
    ("text", "likely"),
    [
        ("2:30:3", ""), ("2:30", "02:30"), ("30", "30s"), ("1.5", "1.5s"), (".5s", "0.5s"), ("1,5s", "1.5s"),
        ("30 s", "30s"), ("30S", "30s"), ("30sec", "30s"), ("2 minutes", "2min"), ("2m", "2min"), ("02:60", ""),
        ("60:00", ""), ("-4s", ""), ("+4s", ""), ("", ""), ("s", ""), ("1.s", ""), ("1.0000000001s", ""), ("1e3s", ""),
        ("nan", ""), ("²s", ""), ("٣s", ""), ("1001h", ""), ("99999999999999999999s", ""), ("30s\n", "30s"),
    ],
)  # fmt: skip
def test_everything_else_is_refused_with_the_likely_intention(text, likely):
    with pytest.raises(ClockValueError) as caught:
        parse_clock(text)
    assert (caught.value.text, caught.value.likely) == (text, likely)


@given(st.integers(0, LONGEST_NS))
def test_what_is_written_reads_back_to_the_same_nanosecond(ns):
    assert parse_clock(format_clock(ns)) == ns


@given(st.text(max_size=20))
def test_a_likely_intention_can_be_read_and_nothing_else_is_raised(text):
    try:
        assert parse_clock(text) <= LONGEST_NS
    except ClockValueError as error:
        if error.likely:
            parse_clock(error.likely)


@given(st.from_regex(r"\A[0-9]{1,12}([:.][0-9]{1,3}){0,3} ?(h|min|s|ms|m|sec)?\Z"))
def test_near_misses_too(text):
    try:
        parse_clock(text)
    except ClockValueError as error:
        if error.likely:
            parse_clock(error.likely)
