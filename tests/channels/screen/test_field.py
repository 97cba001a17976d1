"""Field and frame: where they lie, how much they take, how often they change."""

from itertools import pairwise

import msgspec
import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.support.channels.screen_scenes import FIRINGS, MATCH_NS, PATTERNS, composer, status
from tocsin.channels.screen.field import (
    DARK,
    Box,
    field_colours,
    frame_outline,
    frame_parts,
    progress_of,
    thickness,
    without,
)
from tocsin.model.clock.schedule import Shot
from tocsin.model.pattern import ScreenPattern
from tocsin.model.safety import OKABE_ITO, FlashGuard, flicker, saturated_red
from tocsin.units import NS_PER_MS, NS_PER_S

SIZES = [(640, 360), (1280, 720), (3840, 2160), (720, 1280), (2160, 3840)]
YELLOW, PURPLE, WHITE = OKABE_ITO["yellow"], OKABE_ITO["reddish_purple"], OKABE_ITO["white"]
boxes = st.builds(Box, st.integers(0, 40), st.integers(0, 40), st.integers(0, 40), st.integers(0, 40))


def measure(text):
    return 0.6 * len(text)


def area(parts):
    return sum(part.w * part.h for part in parts)


def pixels(box):
    return {(x, y) for x in range(box.x, box.right) for y in range(box.y, box.bottom)}


def shot(begin_ns=0, end_ns=4 * NS_PER_S, number=0, pattern="home"):
    firing = next(f for f in FIRINGS if f.pattern == pattern and f.n == number)
    return Shot(firing=firing, instance=0, begin_ns=begin_ns, end_ns=end_ns)


@given(box=boxes, hole=boxes)
def test_box_without_a_hole_is_every_other_pixel_once(box, hole):
    parts = list(without(box, hole))
    assert sum(len(pixels(part)) for part in parts) == len(set().union(*map(pixels, parts)))
    assert set().union(*map(pixels, parts)) == pixels(box) - pixels(hole)


@pytest.mark.parametrize("size", SIZES)
@given(progress=st.floats(0, 1))
def test_frame_takes_at_most_a_fifth_and_never_touches_the_words(size, progress):
    window = Box(0, 0, *size)
    plate = Box(size[0] // 4, size[1] // 4, size[0] // 2, size[1] // 2)
    thick = thickness(*size)
    parts = frame_parts(frame_outline(window, plate, thick, progress), thick, plate)
    assert 0 < area(parts) <= 0.2 * size[0] * size[1]
    assert all(area([part.within(plate)]) == 0 and part.within(window) == part for part in parts)


def test_frame_that_shrinks_closes_in_from_all_sides():
    window, plate = Box(0, 0, 1280, 720), Box(440, 260, 400, 200)
    outlines = [frame_outline(window, plate, 40, part / 10) for part in range(11)]
    assert outlines[0] == window
    for outer, inner in pairwise(outlines):
        assert outer.x < inner.x
        assert outer.y < inner.y
        assert inner.right < outer.right
        assert inner.bottom < outer.bottom


def test_frame_shrinks_with_the_time_left_and_steps_with_each_firing():
    home, step = PATTERNS["home"], PATTERNS["step"]
    assert [progress_of(home, shot(), s * NS_PER_S, 1) for s in (0, 1, 2, 4, 9)] == [0, 0.25, 0.5, 1, 1]
    assert [progress_of(step, shot(number=n, pattern="step"), 0, 5) for n in range(5)] == [0, 0.2, 0.4, 0.6, 0.8]
    assert progress_of(PATTERNS["no_touch"], shot(), 3 * NS_PER_S, 1) == 0
    assert progress_of(home, shot(end_ns=None), 3 * NS_PER_S, 1) == 0


def test_field_swells_slowly_and_is_never_saturated_red():
    slow = ScreenPattern(field="plain", colours=(YELLOW,), letters=WHITE, lasts_ns=NS_PER_S, cycle_ns=2 * NS_PER_S)
    lights = [field_colours(slow, shot(), t * NS_PER_S // 10)[0][0] for t in range(21)]
    assert lights[0] == lights[20] == YELLOW[0]
    assert min(lights) == lights[10] < YELLOW[0]
    red = ScreenPattern(field="stripes", colours=((255, 0, 0), WHITE), letters=WHITE, lasts_ns=NS_PER_S)
    assert not any(saturated_red(colour) for colour in field_colours(red, shot(), 0))


def shown(pattern, shots, until_ns, step_ns=10 * NS_PER_MS):
    """Return the colours of field and frame over time, as the composer lets them out, with shots in a row."""
    made, guard, seen, frames = composer(measure, {"wild": pattern}), FlashGuard(8), status("running"), []
    for now_ns in range(MATCH_NS, MATCH_NS + until_ns, step_ns):
        live = next((s for s in shots if s.begin_ns <= now_ns < s.end_ns), None)
        look = made.look(seen, live, guard, (1280, 720), now_ns, 0, focused=True)
        frames.append((now_ns, [*look.field, *look.frame]))
    return frames


@pytest.mark.parametrize("gap_ms", [50, 100, 170, 250, 400])
@pytest.mark.parametrize("colour", [WHITE, YELLOW, PURPLE, (255, 0, 0)])
def test_no_plan_makes_the_screen_flash_more_than_twice_a_second(gap_ms, colour):
    pattern = ScreenPattern(field="plain", colours=(colour,), letters=WHITE, lasts_ns=NS_PER_S, full_ns=40 * NS_PER_MS)
    firing = next(f for f in FIRINGS if f.pattern == "home")
    firing = msgspec.structs.replace(firing, pattern="wild")
    shots = [
        Shot(firing=firing, instance=n, begin_ns=at_ns, end_ns=at_ns + gap_ms * NS_PER_MS)
        for n, at_ns in enumerate(range(MATCH_NS, MATCH_NS + 5 * NS_PER_S, 2 * gap_ms * NS_PER_MS))
    ]
    frames = shown(pattern, shots, 6 * NS_PER_S)
    # WCAG 2.2, SC 2.3.1 (read) allows three; two is the project's own limit.
    assert flicker(frames).within(2)
    assert frames[-1][1] == [*DARK, *DARK]


def test_cue_is_seen_in_full_then_as_a_frame_then_not():
    pattern = ScreenPattern(field="plain", colours=(YELLOW,), letters=WHITE, lasts_ns=4 * NS_PER_S)
    firing = next(f for f in FIRINGS if f.pattern == "home")
    firing = msgspec.structs.replace(firing, pattern="wild")
    live = Shot(firing=firing, instance=0, begin_ns=MATCH_NS + NS_PER_S, end_ns=MATCH_NS + 5 * NS_PER_S)
    frames = dict(shown(pattern, [live], 6 * NS_PER_S, 100 * NS_PER_MS))
    lit = (YELLOW,) * 4

    def at(seconds):
        return frames[MATCH_NS + round(seconds * NS_PER_S)]

    # The design: the full field for 1.5 s, then only the frame.
    assert at(0.9) == [*DARK, *DARK]
    assert at(1.0) == at(2.4) == [*lit, *lit]
    assert at(2.5) == at(4.9) == [*DARK, *lit]
    assert at(5.0) == [*DARK, *DARK]
