"""Where things stand on a card, measured by the renderer that draws them: nothing overlaps, nothing leaves the page."""

from functools import cache
from itertools import pairwise

import pytest
from hypothesis import HealthCheck, assume, given, settings
from hypothesis import strategies as st

from tests.support.export.card_sources import CARDS, LONG_WORD, crowd, cue, game, laid_out, made
from tests.support.export.drawn_areas import Area, meeting, text_areas
from tests.support.export.exported_plans import BUNDLED, bundled, source
from tests.support.model.compiled_games import games_and_plans
from tocsin.errors import USAGE, UsageError
from tocsin.export.card.card import SIZES, card_layout
from tocsin.export.drawing.printing import figure
from tocsin.export.rows import BY_HAND
from tocsin.model.compiler.compiler import compile_plan
from tocsin.model.display.digits import official

every_card = pytest.mark.parametrize("name", CARDS)
both_sizes = pytest.mark.parametrize("size", SIZES)


@cache
def text_boxes(layout):
    return text_areas(figure(layout), layout.height_mm)


def block_boxes(layout):
    return [
        Area("block", b.x_mm, b.y_mm, b.x_mm + b.width_mm, b.y_mm + b.height_mm) for b in layout.parts.boxes
    ]  # fmt: skip


def assert_in_order(layout):
    texts, blocks = text_boxes(layout), block_boxes(layout)
    assert len(texts) == len(layout.parts.labels)
    for box in (*texts, *blocks):
        # Printers leave out about 4 mm along the edges (common practice, no source).
        assert 4 < box.left < box.right < layout.width_mm - 4, box
        assert 4 < box.top < box.bottom < layout.height_mm - 4, box
    assert meeting(texts, texts) == []
    assert meeting(texts, blocks) == []


def test_boxes_that_meet_would_be_found():
    box = Area("a", 0, 0, 2, 2)
    assert box.meets(Area("b", 1.9, 1.9, 3, 3))
    assert not box.meets(Area("b", 2, 0, 3, 2))
    assert not box.meets(Area("b", 0, 2.01, 2, 3))


@both_sizes
@every_card
def test_nothing_overlaps_and_nothing_leaves_the_page(name, size):
    assert_in_order(laid_out(name, size))


READINGS = ("reading", "minor_reading")
WORDS = ("word", "minor_word")


def shown_readings(layout):
    """Gather the digits at the left of rows, in the order of the layout; of folded ones the first and the last."""
    parts = " ".join(text.string for text in layout.parts.labels if text.kind in READINGS).split()
    return [part for part in parts if ":" in part]


def expected_readings(of):
    """Work out from the timeline what the display reads at each occurrence, where it reads something."""
    origins = {segment.anchor for segment in of.timeline.segments}
    begins = {(f.cue, f.n): f.begin for f in of.timeline.firings if f.begin.anchor in origins}
    left = {key: of.timeline.at({point.anchor: point.offset_ns}).left_ns for key, point in begins.items()}
    return {key: official(ns, of.timeline.digits) for key, ns in left.items() if ns is not None}


def unfolded(of):
    """Return the readings of cues without repeats, and first and last of cues with them (each within one period)."""
    repeats = {c.id for c in of.plan.cues if c.every_ns is not None}
    by_cue = {}
    for (cue_id, n), reading in sorted(expected_readings(of).items()):
        by_cue.setdefault(cue_id, []).append((n, reading))
    return {
        reading for cue_id, found in by_cue.items()
        for _, reading in (found if cue_id not in repeats else (min(found), max(found)))
    }  # fmt: skip


@both_sizes
@pytest.mark.parametrize("name", [name for name in CARDS if name not in ("crowd of 60", "five orders")])
def test_every_call_stands_there_as_the_display_shows_it(name, size):
    layout = laid_out(name, size)
    assert layout.left_out == ()
    assert set(shown_readings(layout)) == unfolded(CARDS[name]())


@both_sizes
@pytest.mark.parametrize("name", BUNDLED)
def test_words_stand_beside_their_readings(name, size):
    of, layout = bundled(name), laid_out(name, size)
    boxes = list(zip(layout.parts.labels, text_boxes(layout), strict=True))
    lines = [box for box in block_boxes(layout) if box.right - box.left > layout.width_mm / 2]
    pairs = set()
    for text, at in boxes:
        if text.kind in READINGS:
            top = max(line.bottom for line in lines if line.bottom <= at.top)
            bottom = min(line.top for line in lines if line.top >= at.bottom)
            beside = [t.string for t, box in boxes if t.kind in WORDS and top <= box.top and box.bottom <= bottom]
            pairs |= {(reading, word) for reading in text.string.split() for word in beside}
    words = {(f.cue, f.n): f.word for f in of.timeline.firings}
    wanted = {(reading, words[key]) for key, reading in expected_readings(of).items()}
    folded = {(f"0:0{left}", "Last five") for left in (4, 3, 2)}       # five repeats: 0:05 to 0:01
    assert {pair for pair in pairs if ":" in pair[0]} == wanted - folded
    assert {pair for pair in pairs if pair[0] == "hand"} == {("hand", "Home")}


@settings(max_examples=12, deadline=None, suppress_health_check=[HealthCheck.filter_too_much, HealthCheck.too_slow])
@given(both=games_and_plans(), size=st.sampled_from(SIZES))
def test_any_plan_makes_a_card_in_order(both, size):
    of_game, plan = both
    assume(compile_plan(of_game, plan)[0] is not None)
    of = source(of_game, plan)
    layout = card_layout(of, size)
    assert_in_order(layout)
    # A row of repeats that is left out is named by its first and its last reading.
    named = (part for row in layout.left_out for part in row.reading.split(" to\N{NO-BREAK SPACE}") if ":" in part)
    on_card_or_named = {*shown_readings(layout), *named}
    assert on_card_or_named <= set(expected_readings(of).values())
    if all(c.every_ns is None for c in plan.cues):
        assert on_card_or_named == set(expected_readings(of).values())


# -- when there is no room ----------------------------------------------------------------------------------------


@both_sizes
def test_24_cues_fit(size):
    layout = laid_out("crowd of 24", size)
    assert layout.left_out == ()
    assert len(shown_readings(layout)) == 24


@both_sizes
def test_each_column_begins_with_the_heading_of_its_rows(size):
    layout = laid_out("crowd of 24", size)
    left, right = (text for text in layout.parts.labels if text.kind == "heading")
    assert left.string == "Hands on, from 1:37"
    assert right.string == "Hands on, continued"
    assert left.y_mm == pytest.approx(right.y_mm)
    for heading, begin in ((left, 0), (right, layout.width_mm / 2)):
        end = begin + layout.width_mm / 2
        below = [t.y_mm for t in layout.parts.labels if t.kind in READINGS and begin < t.x_mm < end]
        assert len(below) > 8
        assert min(below) > heading.y_mm


def test_a_column_that_begins_with_calls_by_hand_has_no_heading_of_a_period():
    timed = [cue(f"t{n}", f"driver.end-{60 - 5 * n}s", say="Home") for n in range(8)]
    by_hand = [cue(f"h{n}", say=f"Help {n}", callable=True) for n in range(12)]
    layout = card_layout(made(game(), *timed, *by_hand), "a6")
    right = [t for t in layout.parts.labels if t.kind in ("heading", *READINGS) and t.x_mm > layout.width_mm / 2]
    assert layout.left_out == ()
    assert len(right) > 8
    assert {text.string for text in right} == {BY_HAND}
    assert [text.string for text in layout.parts.labels if text.kind == "heading"] == ["Hands on, from 1:37"]


@both_sizes
def test_of_60_cues_those_of_the_lowest_priority_are_left_out_and_the_card_says_which(size):
    of, layout = crowd(60), laid_out("crowd of 60", size)
    count = len(layout.left_out)
    assert 0 < count < 60
    assert sorted(row.priority for row in layout.left_out) == sorted(c.priority for c in of.plan.cues)[:count]
    note = " ".join(text.string for text in layout.parts.labels if text.kind == "note")
    assert f"No room for {count} of 60 rows, those of the lowest priority: " in note
    named = [row for row in layout.left_out if row.name in note]
    assert named
    assert len(named) == count or f", and {count - len(named)} more." in note
    gone = [row.reading for row in layout.left_out]
    assert sorted([*gone, *shown_readings(layout)]) == sorted(expected_readings(of).values())


@both_sizes
def test_the_card_leaves_out_no_more_than_it_must(size):
    layout = laid_out("crowd of 60", size)
    lines = sorted(line.bottom for line in block_boxes(layout) if line.left > layout.width_mm / 2)
    tallest_mm = max(below - above for above, below in pairwise(lines) if below - above < 20)
    texts = zip(layout.parts.labels, text_boxes(layout), strict=True)
    note_mm = min(box.top for text, box in texts if text.kind == "note")
    last_row_mm = max(line for line in lines if line < note_mm)
    assert note_mm - last_row_mm < tallest_mm + 4               # and the room that sets the note apart


def test_of_equal_priority_those_without_a_word_go_first_then_the_earliest():
    layout = card_layout(crowd(60, priorities=lambda n: 5), "a4")
    silent = [row.reading for row in layout.left_out if not row.large]
    worded = [row.reading for row in layout.left_out if row.large]
    assert len(silent) == 18                                    # three of ten, all of them
    assert worded == shown_first(crowd(60), len(worded))


def shown_first(of, count):
    """Return the first readings of cues with a word."""
    words = {c.id for c in of.plan.cues if c.say}
    return [reading for (cue_id, _), reading in expected_readings(of).items() if cue_id in words][:count]


@both_sizes
def test_a_card_that_must_leave_out_what_matters_most_is_refused(size):
    with pytest.raises(UsageError) as refused:
        card_layout(crowd(60, priorities=lambda n: 9), size)
    assert refused.value.exit_code == USAGE
    assert "60 rows of the highest priority do not fit" in str(refused.value)
    assert "give fewer cues the highest priority" in refused.value.hint


def test_a_size_that_does_not_exist_is_refused_with_those_that_do():
    with pytest.raises(UsageError, match="no card of size a5") as refused:
        card_layout(bundled("quiet"), "a5")
    assert "a4, a6" in refused.value.hint


@both_sizes
def test_a_word_wider_than_the_card_goes_on_behind_hyphens_and_a_reason_that_fits_is_whole(size):
    layout = laid_out("long words", size)
    lines = [text.string for text in layout.parts.labels if text.kind == "word" and text.bold]
    assert len(lines) > 2
    assert all(line.endswith("-") for line in lines[:-1])
    assert "".join(line.removesuffix("-") for line in lines) == LONG_WORD
    words = " ".join(text.string for text in layout.parts.labels if text.kind == "word" and not text.bold)
    assert ("so many words that they " * 3).strip() in words
    assert "…" not in words
    details = " ".join(text.string for text in layout.parts.labels if text.kind == "detail")
    assert ("they go on and on and on " * 3).strip() in details
    notes = " ".join(text.string for text in layout.parts.labels if text.kind == "note")
    assert "\N{REPLACEMENT CHARACTER} is in place of letters that this font lacks" in notes


# Real words of a language whose words are long.
SAID = ("Fußgänger", "Heimwärts", "Nachladen", "Übergabestelle", "Sachte zurück", "Greifer schließen")


@pytest.mark.parametrize(
    ("size", "count", "whole", "rows"),
    [("a4", 10, True, 10), ("a4", 16, True, 16), ("a4", 24, False, 24), ("a6", 10, True, 10), ("a6", 24, True, None)],
)
def test_a_word_is_broken_for_a_second_column_before_a_row_goes_and_is_whole_where_rows_go(size, count, whole, rows):
    cues = [
        cue(f"c{n}", f"driver.end-{103 - n * 103 // count}s", say=SAID[n % len(SAID)], priority=9 if n % 8 == 0 else 5)
        for n in range(count)
    ]
    layout = card_layout(made(game(), *cues), size)
    shown = {word for text in layout.parts.labels if text.kind == "word" for word in text.string.split(" ")}
    assert (shown <= {word for phrase in SAID for word in phrase.split(" ")}) is whole
    assert count - len(layout.left_out) == rows or (rows is None and 10 <= count - len(layout.left_out) < count)
    assert_in_order(layout)


def test_important_rows_break_a_word_rather_than_be_refused():
    """Twenty rows need two columns on an A6, and one of their words has room in a single one only."""
    cues = [cue(f"c{n}", f"driver.end-{100 - 5 * n}s", say="Fußgänger" if n == 7 else "Home", priority=9)
            for n in range(20)]  # fmt: skip
    layout = card_layout(made(game(), *cues), "a6")
    shown = [text.string for text in layout.parts.labels if text.kind == "word"]
    assert shown.count("Home") == 19
    *broken, last = (word for word in shown if word != "Home")
    assert all(part.endswith("-") for part in broken)
    assert "".join(part.removesuffix("-") for part in broken) + last == "Fußgänger"
    assert len(shown) > 20
    assert_in_order(layout)


def test_a_plan_without_calls_says_so():
    notes = [text.string for text in card_layout(made(game()), "a6").parts.labels if text.kind == "note"]
    assert notes == ["This plan has no calls."]


# -- how large, how dark ------------------------------------------------------------------------------------------


# Common practice, no source: letters of a 120th of the distance are read at a glance; 0.6 m to a wrist, 1 m to a desk.
@pytest.mark.parametrize(("size", "digits_mm", "words_mm"), [("a6", 5.0, 3.0), ("a4", 8.0, 5.0)])
@every_card
def test_what_is_called_can_be_read_at_a_glance(name, size, digits_mm, words_mm):
    layout = laid_out(name, size)
    for text, box in zip(layout.parts.labels, text_boxes(layout), strict=True):
        if text.kind == "reading" and ":" in text.string:
            assert box.bottom - box.top >= digits_mm, box
        if text.kind == "word" and text.string[0].isupper():
            assert box.bottom - box.top >= words_mm, box


@pytest.mark.parametrize(("size", "most_mm"), [("a6", 9.0), ("a4", 17.0)])
def test_few_calls_take_very_large_digits(size, most_mm):
    boxes = text_boxes(laid_out("quiet", size))
    assert min(box.bottom - box.top for box in boxes if box.name in ("0:22", "0:18", "0:00")) > most_mm


@both_sizes
def test_what_matters_most_has_a_bar_and_bold_letters_and_nothing_else_has(size):
    layout = laid_out("full", size)
    readings = [text for text in layout.parts.labels if text.kind in READINGS]
    assert {text.string for text in readings if text.bold} == {"0:22", "0:00", BY_HAND}
    bars = [b for b in layout.parts.boxes if 0.5 < b.width_mm < b.height_mm and not b.line_mm]
    barred = {t.string for t in readings for b in bars if b.y_mm < t.y_mm < b.y_mm + b.height_mm}
    assert barred == {"0:22", "0:00", BY_HAND}
    assert len(bars) == 3


@both_sizes
def test_the_card_says_where_it_comes_from_and_what_it_is_not(size):
    texts = " ".join(text.string for text in laid_out("full", size).parts.labels)
    assert "No cue stops a robot. No cue allows you onto the field." in texts
    assert "ask before you use it there, each time" in texts
    assert "event rules asked" in texts
    assert "Made by Tocsin 9.9.9. Do not edit: change the plan and export it again." in texts
    digests = {"a4": "a" * 64, "a6": "a" * 12 + "…"}
    assert f"game: Casting Day (sha256 {digests[size]})" in texts


@both_sizes
def test_what_is_for_the_coach_alone_is_for_whoever_calls(size):
    """The rule of the card is to call a word to those named, and nobody calls to themselves."""
    details = [text.string for text in laid_out("full", size).parts.labels if text.kind == "detail"]
    assert [detail for detail in details if "caller" in detail] == ["for the caller", "each second · for the caller"]
    assert details.count("operator, coach") == 2
    assert "coach" not in details


def test_a_reason_stands_once_not_at_each_occurrence():
    of = made(game(), cue("soon", "driver.end-60s", "driver.end-30s", say="Soon", why="because"))
    assert [text.string for text in card_layout(of, "a4").parts.labels].count("because") == 1
