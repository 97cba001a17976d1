"""A field that lies apart, a block at either side and a middle between them: where it lies, where words stand, that it
flashes no more than others, and that drivers tell the bundled fields by their form."""

from itertools import combinations, pairwise

import msgspec
import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.support.channels.screen_scenes import FIRINGS, MATCH_NS, PATTERNS, composer, status
from tocsin.channels.screen.drawing import Painter
from tocsin.channels.screen.field import Box, field_colours, room_for_words, sides_and_middle
from tocsin.channels.sdl import import_pygame
from tocsin.lint.colours import named
from tocsin.model.clock.schedule import Shot
from tocsin.model.pattern import ScreenPattern
from tocsin.model.safety import BLACK, OKABE_ITO, FlashGuard, contrast, flicker, relative_luminance
from tocsin.units import NS_PER_MS, NS_PER_S

pygame = import_pygame("screen")
pygame.font.init()
PAINTER = Painter(pygame)
SIZES = [(640, 360), (1366, 768), (3840, 2160), (1080, 1920)]
ORANGE, YELLOW, WHITE = OKABE_ITO["orange"], OKABE_ITO["yellow"], OKABE_ITO["white"]
every_size = pytest.mark.parametrize("size", SIZES, ids=lambda size: f"{size[0]}x{size[1]}")
# What calls on drivers, each with a field or a frame of its own form.
CALLS = ("prepare", "home", "no_touch", "choose", "over")
TOLD_APART = 3.0                       # WCAG 2.2, SC 1.4.11 (W3C, 2023): of what must be told apart to be understood


def pattern(field="apart", colours=(ORANGE,), **facts):
    given = {"letters": WHITE, "lasts_ns": 4 * NS_PER_S, **facts}
    return ScreenPattern(field=field, colours=colours, **given)


def shot(name, word="No touch", begin_ns=MATCH_NS, lasts_ns=4 * NS_PER_S):
    firing = next(f for f in FIRINGS if f.pattern == "home")
    firing = msgspec.structs.replace(firing, pattern=name, word=word)
    return Shot(firing=firing, instance=0, begin_ns=begin_ns, end_ns=begin_ns + lasts_ns)


def look_of(shown, size=(1280, 720), after_ns=0, word="No touch"):
    made = composer(PAINTER.measure, {"this": shown})
    return made.look(
        status("running"), shot("this", word), FlashGuard(8), size, MATCH_NS + after_ns, 0, focused=True
    )  # fmt: skip


def painted(look, *, words=True):
    surface = pygame.Surface(look.window[2:], depth=32)
    PAINTER.paint(surface, look if words else look._replace(texts=()))
    return np.frombuffer(pygame.image.tobytes(surface, "RGB"), np.uint8).reshape(look.window.h, look.window.w, 3)


def form(shown, after_ns=0):
    """Return which places of a field or a frame, words left out, stand out by their light from its darkest ones."""
    look = look_of(shown, after_ns=after_ns, word="")
    beside = np.ones((720, 1280), bool)
    beside[look.plate.y : look.plate.bottom, look.plate.x : look.plate.right] = False
    small, seen = painted(look, words=False)[::8, ::8].reshape(-1, 3).tolist(), beside[::8, ::8].ravel()
    darkest = min((tuple(c) for c, there in zip(small, seen, strict=True) if there), key=relative_luminance)
    return seen & [contrast(tuple(colour), darkest) >= TOLD_APART for colour in small]


@given(st.builds(Box, st.integers(0, 40), st.integers(0, 40), st.integers(0, 90), st.integers(1, 40)))
def test_sides_and_middle_are_the_whole_box_and_each_as_tall(box):
    parts = sides_and_middle(box)
    assert (parts[0].x, parts[-1].right) == (box.x, box.right)
    assert all(left.right == right.x for left, right in pairwise(parts))
    assert {(part.y, part.h) for part in parts} == {(box.y, box.h)}
    assert parts[0].w == parts[2].w <= max(1, parts[1].w)


def test_one_colour_stands_at_both_sides_and_the_other_or_black_between():
    assert field_colours(pattern(), shot("this"), MATCH_NS) == (ORANGE, ORANGE, BLACK, BLACK)
    assert field_colours(pattern(colours=(BLACK, YELLOW)), shot("this"), MATCH_NS) == (BLACK, BLACK, YELLOW, YELLOW)
    assert field_colours(pattern("stripes", (WHITE, YELLOW)), shot("this"), MATCH_NS) == (WHITE, YELLOW) * 2
    red = field_colours(pattern(colours=((255, 0, 0),)), shot("this"), MATCH_NS)
    assert red == (ORANGE, ORANGE, BLACK, BLACK)


@every_size
def test_full_field_is_two_upright_blocks_with_all_words_between(size):
    look = look_of(pattern(), size)
    pixels, eighth = painted(look), round(size[0] / 8)
    for columns in (pixels[:, :eighth], pixels[:, -eighth:]):
        assert (columns == ORANGE).all()
    assert not (pixels[:, eighth:-eighth] == ORANGE).all(axis=2).any()
    assert look.plate.within(sides_and_middle(look.window)[1]) == look.plate


@every_size
@pytest.mark.parametrize("word", ["No touch", "Home", "Unbreakablyword", "many words to read at one time"])
def test_no_plate_touches_a_block_however_long_the_word(word, size):
    look = look_of(pattern(), size, word=word)
    assert look.plate.within(room_for_words(pattern(), look.window)) == look.plate


@every_size
def test_frame_is_what_the_edge_shows_of_it_and_takes_less_than_a_fifth(size):
    look = look_of(pattern(), size, after_ns=2 * NS_PER_S)
    lit = (painted(look, words=False) == ORANGE).all(axis=2)
    assert lit[:, [0, -1]].all()
    assert lit[0].mean() == pytest.approx(0.25, abs=0.01)
    assert not lit[:, size[0] // 8 + 1 : -size[0] // 8 - 1].any()
    assert 0.05 < lit.mean() < 0.2


@given(after_ms=st.integers(1500, 4000))
def test_frame_that_shrinks_stays_two_brackets_to_its_end(after_ms):
    look = look_of(pattern(frame="shrinks"), after_ns=after_ms * NS_PER_MS)
    lit = (painted(look, words=False) == ORANGE).all(axis=2)
    left, right = np.flatnonzero(lit.any(axis=0))[[0, -1]]
    assert (left, right + 1) == (look.outline.x, look.outline.right)
    assert lit[look.outline.y : look.outline.bottom, [left, right]].all()
    assert not lit[:, (left + right) // 2].any()


def test_piecewise_is_as_if_drawn_at_once():
    looks = [look_of(pattern(frame=frame, colours=colours), after_ns=ms * NS_PER_MS)
             for frame in ("shrinks", "stands") for colours in ((ORANGE,), (BLACK, YELLOW))
             for ms in (0, 1400, 1500, 1550, 2100, 3950)]  # fmt: skip
    surface, at_once = pygame.Surface((1280, 720), depth=32), pygame.Surface((1280, 720), depth=32)
    PAINTER.paint(surface, looks[0])
    for before, after in pairwise(looks):
        PAINTER.repaint(surface, before, after)
        PAINTER.paint(at_once, after)
        assert pygame.image.tobytes(surface, "RGB") == pygame.image.tobytes(at_once, "RGB")


@pytest.mark.parametrize("gap_ms", [50, 130, 250, 400])
@pytest.mark.parametrize("fields", [("apart", "stripes"), ("apart", "plain"), ("apart", "apart")])
def test_no_change_of_form_flashes_more_than_twice_a_second_at_any_pixel(fields, gap_ms):
    """The same two colours in two forms, in turn. WCAG 2.2, SC 2.3.1 allows three; two is the project's own limit."""
    ways = [(ORANGE, BLACK), (BLACK, ORANGE)] if fields[0] == fields[1] else [(ORANGE, BLACK)] * 2
    made = composer(PAINTER.measure, {
        "one": pattern(fields[0], ways[0]), "other": pattern(fields[1], ways[1][: 1 if fields[1] == "plain" else 2]),
    })  # fmt: skip
    guard, frames, size = FlashGuard(8), [], (160, 90)
    for tick in range(60):
        at_ns = MATCH_NS + tick * 50 * NS_PER_MS
        name = ("one", "other")[tick * 50 // gap_ms % 2]
        begin_ns = MATCH_NS + tick * 50 // gap_ms * gap_ms * NS_PER_MS
        live = shot(name, begin_ns=begin_ns, lasts_ns=gap_ms * NS_PER_MS)
        look = made.look(status("running"), live, guard, size, at_ns, 0, focused=True)
        rows = painted(look, words=False)[[0, 1, 44, -1]]
        frames.append((at_ns, [tuple(pixel) for pixel in rows.reshape(-1, 3).tolist()]))
    seen = {tuple(column) for column in zip(*(colours for _, colours in frames), strict=True)}
    assert len(seen) > 1
    for column in seen:
        assert flicker([(at_ns, [colour]) for (at_ns, _), colour in zip(frames, column, strict=True)]).within(2)


# -- the bundled fields -----------------------------------------------------------------------------------------------


@pytest.mark.parametrize(("one", "other"), [*combinations(CALLS, 2)])
def test_calls_on_drivers_are_told_apart_in_grey(one, other):
    """By the form of what is light, as on a grey print or with any colour blindness: in full, then as frames, of which
    some swell or close in."""
    full = [form(PATTERNS[name]) for name in (one, other)]
    assert np.mean(full[0] != full[1]) > 0.1
    frames = [form(PATTERNS[name], 2 * NS_PER_S) for name in (one, other)]
    moves = [(PATTERNS[name].cycle_ns, PATTERNS[name].frame) for name in (one, other)]
    assert np.mean(frames[0] != frames[1]) > 0.03 or moves[0] != moves[1]


@pytest.mark.parametrize("name", ["coach", "home", "no_touch", "choose"])
def test_the_end_is_no_other_white_frame(name):
    """What the coach reads out is no field; but who takes its frame for the end lets go of the sticks."""
    frames = [form(PATTERNS[which], 2 * NS_PER_S) for which in (name, "over")]
    assert np.mean(frames[0] != frames[1]) > 0.03
    assert {PATTERNS[which].frame for which in ("pads", "step")} == {"shrinks", "steps"}


@pytest.mark.parametrize("name", PATTERNS)
def test_parts_of_a_field_are_told_apart(name):
    colours = PATTERNS[name].colours
    ground = colours[1] if len(colours) > 1 else BLACK
    assert contrast(colours[0], ground) >= TOLD_APART


@pytest.mark.parametrize("name", PATTERNS)
def test_no_field_is_a_hazard_marking_or_a_lamp(name):
    """Black and yellow stripes mark what people must stay out of (ISO 3864-1, from memory); a window that stands in
    one colour may be taken for a lamp."""
    shown = PATTERNS[name]
    if shown.field == "stripes":
        assert BLACK not in shown.colours
    if shown.field == "plain":
        assert shown.cycle_ns
    elif shown.field != "none":            # a block in these looks like a card or a lamp
        assert not {YELLOW, ORANGE} & set(shown.colours)
    assert not all(named(colour) for colour in shown.colours if colour != BLACK)
