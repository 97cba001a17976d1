"""What the strip's forms look like, and that nothing bundled flashes or is taken for an official lamp."""

from itertools import combinations, pairwise

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from tocsin.channels.light.forms import MOVING, colours_at
from tocsin.channels.light.protocol import frame_interval_ns
from tocsin.config.load import load
from tocsin.model.pattern import LightPattern
from tocsin.model.rig import Light
from tocsin.model.safety import MAX_FLASHES, FlashGuard, contrast, flicker, relative_luminance
from tocsin.units import NS_PER_MS, NS_PER_S

Y, W, B = (240, 228, 66), (255, 255, 255), (0, 0, 0)
ORANGE = (230, 159, 0)
BUNDLED = load(None, ["full"], "nothing").plans[0].plan.patterns.light
# Few regions at the pace of a common strip, which is what costs time here.
FRAME_NS = frame_interval_ns(Light(leds=30))


def at(form, elapsed_ms=0, left=1.0, leds=10, colours=(Y, W), **more):
    pattern = LightPattern(form=form, colours=colours, lasts_ns=NS_PER_S, **more)
    return colours_at(pattern, leds, elapsed_ms * NS_PER_MS, left)


def picture(colours):
    """Return a letter a LED: Y, W, B."""
    return "".join({Y: "Y", W: "W", B: "."}[colour] for colour in colours)


# The looks are our own (the design's chapter 8), written down here by hand.
@pytest.mark.parametrize(
    ("form", "elapsed_ms", "left", "width", "expected"),
    [
        ("plain", 0, 1, 0.2, "YYYYYYYYYY"),
        ("plain", 900, 0.1, 0.2, "YYYYYYYYYY"),
        ("on_off", 0, 1, 0.2, "YYYYYYYYYY"),
        ("on_off", 499, 1, 0.2, "YYYYYYYYYY"),
        ("on_off", 500, 1, 0.2, "WWWWWWWWWW"),
        ("on_off", 1000, 1, 0.2, "YYYYYYYYYY"),
        ("shuttle", 0, 1, 0.2, "YYWWWWWWWW"),
        ("shuttle", 500, 1, 0.2, "WWWWWWWWYY"),
        ("shuttle", 250, 1, 0.2, "WWWWYYWWWW"),
        ("shuttle", 1000, 1, 0.2, "YYWWWWWWWW"),
        ("queue", 0, 1, 0.2, "YYWWYYWWYY"),
        ("queue", 250, 1, 0.2, "WYYWWYYWWY"),
        ("queue", 500, 1, 0.2, "WWYYWWYYWW"),
        ("ebb", 0, 1, 0.2, "YYYYYYYYYY"),
        ("ebb", 0, 0.8, 0.2, "WYYYYYYYYW"),
        ("ebb", 0, 0.4, 0.2, "WWWYYYYWWW"),
        ("ebb", 0, 0.01, 0.2, "WWWWYWWWWW"),
        ("ebb", 0, 0, 0.2, "WWWWWWWWWW"),
        ("bands", 0, 1, 0.2, "YYWWYYWWYY"),
        ("bands", 700, 0.3, 0.2, "YYWWYYWWYY"),
        ("bands", 0, 1, 0.01, "YWYWYWYWYW"),
        ("apart", 0, 1, 0.2, "YYWWWWWWYY"),
        ("apart", 700, 0.3, 0.3, "YYYWWWWYYY"),
        ("apart", 0, 1, 1.0, "YYYYWWYYYY"),
        ("apart", 0, 1, 0.01, "YWWWWWWWWY"),
    ],
)
def test_a_form_looks_like_this(form, elapsed_ms, left, width, expected):
    assert picture(at(form, elapsed_ms, left, width=width)) == expected


@pytest.mark.parametrize("form", ["on_off", "shuttle", "queue", "ebb", "bands", "apart"])
def test_a_form_with_one_colour_has_black_for_the_other(form):
    shown = at(form, 600, 0.3, colours=(Y,), width=0.2)
    assert set(shown) == {Y, B} or (form == "on_off" and set(shown) == {B})


def test_breathing_begins_bright_and_never_goes_out():
    swell = [at("swell", ms, colours=(Y,))[0] for ms in range(0, 2001, 10)]
    assert swell[0] == Y
    assert min(relative_luminance(colour) for colour in swell) > 0.01
    assert swell[0] == swell[100] == swell[200]
    assert swell[50] == min(swell)


def test_the_level_scales_the_light():
    assert at("plain", colours=(W,), level=0.6) == [(153, 153, 153)] * 10


@pytest.mark.parametrize("form", ["plain", "swell", "on_off", "shuttle", "queue", "ebb", "bands", "apart"])
@given(leds=st.integers(1, 300), elapsed_ms=st.integers(0, 200_000), left=st.floats(-1, 2), width=st.floats(0.001, 1))
def test_every_form_has_one_colour_a_led(form, leds, elapsed_ms, left, width):
    shown = at(form, elapsed_ms, left, leds=leds, width=width)
    assert len(shown) == leds
    assert all(0 <= value <= 255 for colour in shown for value in colour)


@given(st.integers(1, 300), st.lists(st.floats(0, 1), min_size=2, max_size=20))
def test_a_fill_only_shrinks_and_from_both_ends(leds, lefts):
    lit = [[k for k, c in enumerate(at("ebb", 0, left, leds=leds)) if c == Y] for left in sorted(lefts, reverse=True)]
    for before, after in pairwise(lit):
        assert set(after) <= set(before)
    for places in lit:
        if places:
            assert places == list(range(places[0], places[-1] + 1))
            assert abs(places[0] - (leds - 1 - places[-1])) <= 1       # as much dark on one side as on the other


@pytest.mark.parametrize("form", ["plain", "bands", "apart"])
@given(st.integers(0, 10**12), st.floats(0, 1))
def test_what_does_not_move_stands(form, elapsed_ns, left):
    """Moving stripes pull eyes off the robot."""
    pattern = LightPattern(form=form, colours=(Y, B), lasts_ns=NS_PER_S)
    assert form not in MOVING
    assert colours_at(pattern, 30, elapsed_ns, left) == colours_at(pattern, 30, 0, 1.0)


def rendered(cues, leds):
    """Return the frames that a guard lets out for patterns shown one after the other: (pattern or None, ms)."""
    guard, frames, now_ns = FlashGuard(leds), [], 0
    frames.append((now_ns, guard.shown))
    for name, lasts_ms in cues:
        begin_ns, lasts_ns = now_ns, max(lasts_ms * NS_PER_MS, 1)
        while now_ns < begin_ns + lasts_ns:
            wanted = [B] * leds
            if name is not None:
                left = 1 - (now_ns - begin_ns) / lasts_ns
                wanted = colours_at(BUNDLED[name], leds, now_ns - begin_ns, left)
            frames.append((now_ns, guard.admit(now_ns, wanted)))
            now_ns += FRAME_NS
    return frames


@pytest.mark.parametrize("name", sorted(BUNDLED))
def test_no_bundled_pattern_flashes_more_than_twice_in_any_second(name):
    """WCAG 2.2, SC 2.3.1 (read) allows three; two is this project's limit for students."""
    frames = rendered([(name, 2500), (None, 500)], 7)
    assert flicker(frames).within(MAX_FLASHES)
    assert any(colour != B for _, colours in frames for colour in colours)


@settings(max_examples=settings.default.max_examples // 3, suppress_health_check=[HealthCheck.too_slow])
@given(
    st.lists(st.tuples(st.sampled_from([None, *sorted(BUNDLED)]), st.integers(20, 700)), min_size=2, max_size=12),
)
def test_no_sequence_of_bundled_patterns_flashes_more_than_twice_in_any_second(cues):
    assert flicker(rendered(cues, 4)).within(MAX_FLASHES)


def hue(colour):
    """Return which plain lamp colour a light may be taken for, or nothing."""
    most = max(colour)
    if most < 30:
        return ""
    high = "".join(name for name, value in zip("RGB", colour, strict=True) if value > 0.6 * most)
    return {"R": "red", "G": "green", "B": "blue", "RB": "purple"}.get(high, "")


@pytest.mark.parametrize(
    ("colour", "name"),
    [
        ((255, 0, 0), "red"), ((0, 0, 255), "blue"), ((0, 160, 0), "green"), ((160, 0, 200), "purple"),
        ((0, 114, 178), ""), ((240, 228, 66), ""), ((86, 180, 233), ""), ((230, 159, 0), ""),
    ],
)  # fmt: skip
def test_what_is_meant_by_a_plain_lamp_colour(colour, name):
    assert hue(colour) in (name, "")
    assert not name or hue(colour) == name


@pytest.mark.parametrize("name", sorted(BUNDLED))
def test_no_bundled_pattern_is_a_full_field_of_a_plain_lamp_colour(name):
    """Red and blue are alliance colours, green and purple may be the field's own lamps (common practice, no source)."""
    for elapsed_ms in range(0, 4000, 50):
        shown = colours_at(BUNDLED[name], 60, elapsed_ms * NS_PER_MS, max(0.0, 1 - elapsed_ms / 4000))
        plain = [hue(colour) for colour in shown]
        assert max(plain.count(lamp) for lamp in ("red", "blue", "green", "purple")) <= 40


@pytest.mark.parametrize("name", sorted(BUNDLED))
def test_no_bundled_pattern_is_a_hazard_marking_or_stands_in_one_colour(name):
    """Bands in black and yellow mark what people must stay out of (ISO 3864-1, from memory); a strip all in one colour
    may be taken for a lamp (common practice, no source)."""
    pattern = BUNDLED[name]
    if pattern.form == "bands":
        assert set(pattern.colours) != {B, Y}
    assert ORANGE not in pattern.colours       # the lamp of a robot whose power is on (common practice, no source)
    if pattern.form in ("on_off", "queue"):            # in yellow, a hazard lamp or a beacon
        assert Y not in pattern.colours
    for leds in (8, 30, 60, 144):
        assert pattern.form in MOVING or len(set(colours_at(pattern, leds, 0, 1.0))) > 1


CALLS = ("prepare", "home", "no_touch", "choose", "last_five", "over")


@pytest.mark.parametrize(("one", "other"), [*combinations(CALLS, 2)])
def test_bundled_calls_are_told_apart_by_their_light_alone_as_they_begin(one, other):
    """As with any colour blindness. 3:1 is WCAG 2.2, SC 1.4.11 (W3C, 2023)."""
    for leds in (8, 30, 60, 144):
        shown = [colours_at(BUNDLED[name], leds, 0, 1.0) for name in (one, other)]
        differ = [contrast(*colours) >= 3 for colours in zip(*shown, strict=True)]
        moves = {BUNDLED[name].form in MOVING for name in (one, other)}
        assert sum(differ) > 0.2 * leds or len(moves) == 2
