"""Texts shrink, wrap and are cut within their limits. A made-up font: every letter is half an em wide."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tocsin.export.drawing.fitting import ELLIPSIS, UNKNOWN, Extent, Type, fitted


class HalfEms:
    def extent(self, text, bold):
        return Extent(len(text) * (0.6 if bold else 0.5), 0.9 if "Å" in text else 0.73, 0.2 if "g" in text else 0.0)

    def has(self, letter):
        return letter != "終"


FONT = HalfEms()


def strings(fit):
    return [line.string for line in fit.lines]


@pytest.mark.parametrize(
    ("width_mm", "kind", "lines", "em_mm"),
    [
        (40.0, Type(10.0, 5.0), ["ring out"], 10.0),                        # 8 letters of 5 mm
        (32.0, Type(10.0, 5.0), ["ring out"], 8.0),                         # shrinks to what fits
        (20.0, Type(10.0, 5.0), ["ring out"], 5.0),                         # down to the smallest
        (20.0, Type(10.0, 5.0, lines=2), ["ring", "out"], 10.0),            # rather one more line than smaller
        (35.0, Type(10.0, 5.0, lines=2, rather=0.8), ["ring out"], 8.7),    # rather a little smaller than one more line
        (15.0, Type(10.0, 5.0, lines=2), ["ring", "out"], 7.5),
        (17.5, Type(10.0, 5.0), ["ring o" + ELLIPSIS], 5.0),
        (10.0, Type(5.0, 5.0, lines=2), ["ring", "out"], 5.0),
        (7.5, Type(5.0, 5.0, lines=2), ["ri-", "ng" + ELLIPSIS], 5.0),      # a word that is too wide is broken
        (7.5, Type(5.0, 5.0, lines=2, last_lines=3), ["ri-", "ng", "out"], 5.0),
        (15.0, Type(5.0, 5.0, lines=1, last_lines=9), ["ring", "out"], 5.0),
        (20.0, Type(5.0, 5.0, last_lines=9), ["ring out"], 5.0),            # further lines are a last resort
    ],
)  # fmt: skip
def test_a_text_shrinks_wraps_and_is_cut_in_this_order(width_mm, kind, lines, em_mm):
    fit = fitted("ring out", width_mm, kind, FONT)
    assert strings(fit) == lines
    assert fit.em_mm == pytest.approx(em_mm, rel=0.05)


def test_bold_letters_count_as_wide_as_they_are():
    assert fitted("ring out", 40.0, Type(10.0, 5.0, bold=True), FONT).em_mm == pytest.approx(8.33, rel=0.05)


def test_letters_that_the_font_lacks_are_replaced_and_blanks_tidied():
    assert strings(fitted(" 終  a\n\tb ", 99.0, Type(3.0, 3.0), FONT)) == [f"{UNKNOWN} a b"]


@pytest.mark.parametrize("tight", [False, True])
def test_letters_of_two_lines_never_meet(tight):
    fit = fitted("gggg ÅÅÅÅ gggg", 20.0, Type(10.0, 10.0, lines=3, tight=tight), FONT)
    first, second, third = (line.baseline_mm for line in fit.lines)
    assert first >= 7.3                                         # in ems 0.73 above and 0.2 below, 0.9 with a ring
    assert second - first > 2.0 + 9.0
    assert third - second > 7.3
    assert fit.height_mm >= third + 2.0


@given(
    text=st.text(alphabet="abg Å", max_size=60), width_mm=st.floats(1.0, 80.0), em_mm=st.floats(2.0, 12.0),
    share=st.floats(0.3, 1.0), bold=st.booleans(), lines=st.integers(1, 4), rather=st.floats(0.5, 1.0),
    last_lines=st.integers(0, 9),
)  # fmt: skip
def test_whatever_the_text_it_stays_within_its_limits(text, width_mm, em_mm, share, bold, lines, rather, last_lines):
    kind = Type(em_mm, em_mm * share, bold=bold, lines=lines, rather=rather, last_lines=last_lines)
    fit = fitted(text, width_mm, kind, FONT)
    assert 1 <= len(fit.lines) <= max(lines, last_lines)
    assert kind.least_mm - 1e-9 <= fit.em_mm <= em_mm
    lone_letter_mm = fit.em_mm * 1.2                            # nothing is narrower than a letter and an ellipsis
    assert all(line.width_mm <= max(width_mm, lone_letter_mm) + 1e-6 for line in fit.lines)
    # Hyphens, which no text has here, stand where a line ends within a word, and nowhere else.
    assert "-" not in "".join(line.removesuffix("-") for line in strings(fit))
    shown = "".join(line.removesuffix("-") if line.endswith("-") else f"{line} " for line in strings(fit)).rstrip()
    whole = " ".join(text.split())
    assert shown == whole or (shown.endswith(ELLIPSIS) and whole.startswith(shown[:-1]))
    if shown.endswith(ELLIPSIS):
        assert len(fit.lines) == max(lines, last_lines)


@pytest.mark.parametrize("text", ["at most 5 % of all", "about 12 s of it", "worth 3.5 points each", "1 point"])
def test_no_line_ends_between_a_number_and_its_unit(text):
    for width_mm in range(8, 60):
        found = fitted(text, float(width_mm), Type(4.0, 4.0, lines=9), FONT)
        assert not any(line.string[-1].isdigit() for line in found.lines)
    assert fitted("5 seconds", 8.0, Type(4.0, 4.0, lines=9), FONT).lines[0].string == "5"
