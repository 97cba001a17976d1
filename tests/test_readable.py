"""What others wrote is shown so that it steers nothing, hides nothing, and stays readable."""

import json
import sys
import unicodedata

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tocsin.readable import readable, readable_json, readable_line

# Of the general category Cf, and yet drawn: signs of Arabic, Syriac, Kaithi and Egyptian numbers and groups (property
# Prepended_Concatenation_Mark of the Unicode Character Database, and the format controls of hieroglyphs; from memory).
VISIBLE = {*range(0x600, 0x606), 0x6DD, 0x70F, 0x890, 0x891, 0x8E2, 0x110BD, 0x110CD, *range(0x13430, 0x13440)}


@pytest.mark.parametrize(
    "text",
    ["Übung für große Füße", "cafe\u0301", "练习 3", "カタカナ", "привет", "Ελληνικά", "עברית", "a\u00a0b",
     "C:\\new\\team", "👍❤\ufe0f", "two\nlines"],
)  # fmt: skip
def test_what_people_write_stays_as_it_is(text):
    assert readable(text) == text


@pytest.mark.parametrize(
    ("text", "shown"),
    [
        ("\x1b]0;title\x07", r"\x1b]0;title\x07"),
        ("\x9b31m", r"\x9b31m"),
        ("\r\b\t\0\x7f", r"\r\x08\t\x00\x7f"),
        ("ok\u202egnp.exe", r"ok\u202egnp.exe"),
        ("\u2066\u2069\u200b\u200e\ufeff\xad", r"\u2066\u2069\u200b\u200e\ufeff\xad"),
        ("a\u2028b\u2029", r"a\u2028b\u2029"),
        ("\ud800\udcff", r"\ud800\xff"),
        ("\U000e0041", r"\U000e0041"),
        ("\u3164", r"\u3164"),
    ],
)
def test_what_steers_or_hides_is_escaped(text, shown):
    assert readable(text) == shown


def test_no_control_and_no_format_character_is_left():
    for code in {*range(sys.maxunicode + 1)} - VISIBLE - {ord("\n")}:
        if unicodedata.category(chr(code)) in ("Cc", "Cf", "Cs", "Zl", "Zp"):
            assert readable(chr(code)).isascii(), hex(code)


@given(st.text(), st.integers(2, 40))
def test_one_line_is_one_line_and_no_longer_than_it_may_be(text, most):
    line = readable_line(text, most)
    assert len(line) <= most
    assert "\n" not in line
    assert readable(line) == line
    if len(readable(text)) <= most and "\n" not in text:
        assert line == readable(text)


def test_a_text_of_a_megabyte_is_cut_at_once():
    assert readable_line("\n" * 1_000_000, 20) == "\\n" * 9 + "\\…"


@given(st.recursive(st.text() | st.integers(), lambda inner: st.dictionaries(st.text(), inner)))
def test_json_means_the_same_and_holds_nothing_hidden(value):
    text = readable_json(json.dumps(value, ensure_ascii=False))
    assert json.loads(text) == value
    assert readable(text) == text
    assert text.encode()
