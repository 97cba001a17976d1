"""A round's result on the window: large enough for 5 m, nothing touches, nothing is cut, told by shape alone."""

import itertools

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.support.channels.screen_scenes import MATCH_NS, composer, status
from tests.support.thinned import crossed
from tocsin.channels.screen.drawing import Painter
from tocsin.channels.screen.field import Box
from tocsin.channels.screen.layout import CAP, ink
from tocsin.channels.screen.round_result import verdict_shape
from tocsin.channels.sdl import import_pygame
from tocsin.model.display.round_picture import SHAPES, Dot, Instant, RoundPicture, Span
from tocsin.model.display.status import KeyHelp
from tocsin.model.safety import BLACK, FlashGuard, contrast
from tocsin.units import NS_PER_S

pygame = import_pygame("screen")
pygame.font.init()
PAINTER = Painter(pygame)
SIZES = [(640, 360), (1366, 768), (1920, 1080), (3840, 2160), (1080, 1920)]
GREY = (128, 128, 128)
LARGE = ("word", "number")
KEYS = tuple(
    KeyHelp(key=key, does=does)
    for key, does in (
        ("s", "next round"), ("i", "details"), ("r", "repeat the round"), ("d", "do not count it"),
        ("z", "undo mark"), ("q", "leave"),
    )
)  # fmt: skip
EDGE = "No-touch time"
SERIES = tuple(
    Dot(at_s=at_s, shape=shape)
    for at_s, shape in (
        (-1.4, "open"), (-0.9, "open"), (-1.5, "filled"), (-1.2, "filled"), (0.6, "cross"), (-0.3, "question"),
        (None, "filled"), (-2.1, "filled"), (-1.45, "filled"), (1.3, "cross"), (-1.4, "filled"),
    )
)  # fmt: skip
VIDEO = "By video: tocsin mark 2031-03-01_10-00-00 --runs evenings/march --video marks.csv --seen 0:12.4=driver.end"
SENTENCE = "This evening: 12 rounds were played again: if because they failed, these figures look too good."
LEAST_NEAR = 0.016                     # capitals that those at the laptop read, as a share of the window's height
TITLE = "Missing signal, round 12 of 12, crew C"


def instants(**at_s):
    return tuple(Instant(what=what.replace("_", " "), at_s=s) for what, s in at_s.items())


PUSHED = RoundPicture(
    shape="filled", word="in time", number="1.4 s to spare", edge=EDGE, title=TITLE,
    windows=(Span(begin_s=0, end_s=22),),
    tally="So far: ● 5 clean, × 2 not clean, ○ 2 not counted, ? 1 not known",
    pushes=(Span(begin_s=-7, end_s=-1.4),), instants=instants(call=-4, turn=-1.1, home=5.2, end=18), series=SERIES,
)  # fmt: skip
PICTURES = {
    "in time": PUSHED,
    "too late": RoundPicture(
        shape="cross", word="too late", number="0.6 s late", reason=f"you pushed 0.6 s into {EDGE}", edge=EDGE,
        title=TITLE, windows=PUSHED.windows, pushes=(Span(begin_s=-9, end_s=-6), Span(begin_s=-5, end_s=0.6)),
        instants=instants(call=-4, turn=0.9, half_home=7.2, end=18), series=(*SERIES, Dot(at_s=0.6, shape="cross")),
    ),
    "called late": RoundPicture(
        shape="cross", word="called late", number="0.9 s late", edge=EDGE,
        title="Break off, round 5 of 12, crew A", windows=(Span(begin_s=0, end_s=18),),
        dealt="By lot the call came 1 s later than in your plan (there 3.5 s ahead)",
        pushes=(Span(begin_s=-5, end_s=0.9),), instants=instants(call=-2.5, end=18),
        series=(*SERIES, Dot(at_s=0.9, shape="cross")),
    ),
    "can't tell": RoundPicture(
        shape="question", word="can't tell", number="see the video", edge=EDGE, title=TITLE, windows=PUSHED.windows,
        reason=f"a contact at an edge of {EDGE}: see the video",
        pushes=(Span(begin_s=-5, end_s=None),), instants=instants(call=-4), series=SERIES[:3],
    ),
    "turned late": RoundPicture(
        shape="cross", word="turned late", number="after 3.1 s", edge="call", title=TITLE,
        reason="turned 3.1 s after the call, not within 2.8 s", instants=instants(turn=3.1, home=9.0), limit_s=2.8,
        series=tuple(Dot(at_s=s, shape="filled") for s in (1.2, 1.4, 1.8, 3.1)),
    ),
    "words": RoundPicture(
        shape="cross", word="not yet", reason="wrong 2 times", title="Words, round 3 of 3, crew A",
        series=tuple(Dot(at_s=None, shape=shape) for shape in ("filled", "question", "cross")),
    ),
}  # fmt: skip


def look_at(picture, size, notice=""):
    video = VIDEO if picture.shape == "question" else ""
    shown = status(
        "over", picture=picture, result=("-",), keys=KEYS, ask="Press s: next round", video=video, keeps_out=True,
        notice=notice,
    )  # fmt: skip
    return composer(PAINTER.measure).look(
        shown, None, FlashGuard(8), size, MATCH_NS + 150 * NS_PER_S, 0, focused=True
    )


def pixels(look, texts=()):
    surface = pygame.Surface(look.window[2:], depth=32)
    PAINTER.paint(surface, look._replace(texts=texts))
    return lit(surface)


def lit(surface):
    """Return which pixels are not black, as (column, row); pygame's own way needs numpy where pygame was imported."""
    width, height = surface.get_size()
    return (np.frombuffer(surface.get_buffer(), np.uint32).reshape(height, width) & 0xFFFFFF).T != 0


@crossed(name=PICTURES, size=SIZES[:2] + SIZES[4:], notice=["", SENTENCE])
def test_no_words_touch_or_leave_the_window_and_no_shape_lies_behind_them(name, size, notice):
    look = look_at(PICTURES[name], size, notice)
    boxes = [(text.name, ink(text, PAINTER.measure)) for text in look.texts]
    for label, box in boxes:
        assert box.within(look.window) == box, label
    for (one, a), (other, b) in itertools.combinations(boxes, 2):
        overlap = a.within(b)
        assert not (overlap.w and overlap.h), (one, other)
    shapes = pixels(look)
    for text in look.texts:
        if text.name != "mark":                            # the question mark stands in its ring
            drawn = pixels(look._replace(shapes=()), (text,))
            assert not (drawn & shapes).any(), text.name


@crossed(name=PICTURES, size=SIZES)
def test_word_and_number_can_be_read_at_5_m(name, size):
    """On a laptop of 14 inches, 16 to 9 (its picture is 174 mm high), capitals of an eighth of the height are 21.8 mm:
    at 5 m 15 minutes of arc, and of a ninth 13. Who sees 20/40, as drivers of cars must (common practice), reads
    letters of 10 minutes. ISO 9241-303 asks for 16 where one reads at length (from memory): that begins at 4.7 m.
    Upright screens are larger ones: a tenth of their width does."""
    least = {"word": size[1] / 8, "number": size[1] / 9} if size[0] > size[1] else dict.fromkeys(LARGE, size[0] / 10)
    for text in look_at(PICTURES[name], size).texts:
        if text.name in LARGE:
            assert text.line_px * CAP >= least[text.name], text


@crossed(name=PICTURES, size=SIZES)
def test_what_the_evening_came_to_and_what_is_due_can_be_read_at_the_laptop(name, size):
    rows = {text.name: text for text in look_at(PICTURES[name], size, SENTENCE).texts}
    assert rows["notice"].text == SENTENCE
    for row in ("notice", "prompt", "outside"):
        assert rows[row].line_px * CAP >= LEAST_NEAR * min(size[1], 1.15 * size[0]), row


@pytest.mark.parametrize("name", PICTURES)
def test_all_colours_stand_out_on_black(name):
    look = look_at(PICTURES[name], SIZES[1])
    drawn = {shape.colour for shape in look.shapes} - {BLACK, GREY}          # a tick on white, the line of time
    colours = {text.colour for text in look.texts} | drawn
    assert min(contrast(colour, BLACK) for colour in colours) >= 7
    assert set(look.field) == {(0, 0, 0)}


def test_the_verdicts_differ_without_colour():
    """Seen as light and dark, each pair of shapes differs in a tenth of their box or more."""
    box, drawn = Box(0, 0, 120, 120), {}
    for shape in SHAPES:
        shapes, texts = verdict_shape(shape, box, PAINTER.measure)
        surface = pygame.Surface((120, 120), depth=32)
        look = look_at(PUSHED, SIZES[0])._replace(window=box, shapes=shapes, texts=texts)
        PAINTER.paint(surface, look)
        drawn[shape] = lit(surface)
    for one, other in itertools.combinations(drawn, 2):
        least = 0.02 if {one, other} == {"open", "question"} else 0.1       # the ring is common; the mark is not
        assert np.mean(drawn[one] != drawn[other]) > least, (one, other)


seconds = st.floats(-40, 40).map(lambda s: round(s, 2))
spans = st.tuples(seconds, st.none() | st.floats(0, 20)).map(
    lambda pair: Span(begin_s=pair[0], end_s=None if pair[1] is None else pair[0] + pair[1])
)
pictures = st.builds(
    RoundPicture,
    shape=st.sampled_from(list(SHAPES)),
    word=st.sampled_from(["in time", "touched", "not counted"]),
    number=st.sampled_from(["", "12 contacts", "19.9 s to spare"]),
    edge=st.sampled_from(["call", EDGE, "end of the match"]),
    windows=st.lists(spans, max_size=3).map(tuple),
    pushes=st.lists(spans, max_size=6).map(tuple),
    instants=st.lists(
        st.builds(Instant, what=st.sampled_from(["call", "turn", "home", "half home", "end"]), at_s=seconds), max_size=5
    ).map(tuple),
    series=st.lists(
        st.builds(Dot, at_s=st.none() | seconds, shape=st.sampled_from(list(SHAPES))), min_size=1, max_size=30
    ).map(tuple),
)


@settings(max_examples=40, deadline=None)
@given(picture=pictures, size=st.sampled_from(SIZES))
def test_whatever_happened_all_is_inside_and_no_label_hides_another(picture, size):
    look = look_at(picture, size)
    boxes = [ink(text, PAINTER.measure) for text in look.texts]
    for a, b in itertools.combinations(boxes, 2):
        overlap = a.within(b)
        assert not (overlap.w and overlap.h)
    for shape in look.shapes:
        for x, y in shape.points:
            assert x - shape.radius >= -1, shape
            assert x + shape.radius <= size[0] + 1, shape
            assert 0 <= y - shape.radius <= y + shape.radius <= size[1], shape
