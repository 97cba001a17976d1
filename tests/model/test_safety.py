"""Flashing, contrast and colour against figures from outside, and the guard against the analysis."""

from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tocsin.model.pattern import Rgb
from tocsin.model.safety import (
    BLACK,
    MAX_FLASHES,
    OKABE_ITO,
    RED_REST_NS,
    WCAG_FLASHES,
    FlashGuard,
    Flicker,
    contrast,
    flicker,
    red_turn,
    relative_luminance,
    saturated_red,
)
from tocsin.units import NS_PER_MS, NS_PER_S

RED: Rgb = (255, 0, 0)
WHITE = OKABE_ITO["white"]


def grey(value: int) -> Rgb:
    return (value, value, value)


def labelled(text: str, low: int = 64, high: int = 109) -> Flicker:
    """Read ``L1 H25``: one frame of the low grey, 25 of the high one, at 30 frames a second."""
    colours: list[Rgb] = []
    for part in text.split():
        colours += [grey(low if part[0] == "L" else high)] * int(part[1:])
    return flicker((round(frame * NS_PER_S / 30), [colour]) for frame, colour in enumerate(colours))


# --- contrast and luminance -------------------------------------------------------------------------------------------


# Computed from the definitions of WCAG 2.2 (W3C, 2023).
@pytest.mark.parametrize(
    ("colour", "ratio"),
    [
        (grey(0x76), 4.5422),
        (grey(0x77), 4.4781),
        (grey(0x94), 3.0335),
        (grey(0x59), 7.0047),
        (RED, 3.9985),
        ((0, 0, 255), 8.5925),
    ],
)
def test_contrast_on_white(colour: Rgb, ratio: float) -> None:
    assert contrast(colour, WHITE) == pytest.approx(ratio, abs=1e-4)
    assert contrast(WHITE, colour) == contrast(colour, WHITE)


def test_luminance_of_greys_at_the_limits() -> None:
    # Computed from the definition of WCAG 2.2.
    assert relative_luminance(grey(89)) == pytest.approx(0.09990, abs=1e-5)
    assert relative_luminance(grey(90)) > 0.1
    assert relative_luminance(grey(231)) == pytest.approx(0.79910, abs=1e-5)
    assert relative_luminance(grey(232)) > 0.8


# Okabe and Ito, Color Universal Design (2002, rev. 2008); luminances computed.
@pytest.mark.parametrize(
    ("name", "colour", "luminance"),
    [
        ("orange", (230, 159, 0), 0.4162),
        ("sky_blue", (86, 180, 233), 0.4050),
        ("bluish_green", (0, 158, 115), 0.2569),
        ("yellow", (240, 228, 66), 0.7441),
        ("blue", (0, 114, 178), 0.1525),
        ("vermillion", (213, 94, 0), 0.2215),
        ("reddish_purple", (204, 121, 167), 0.2930),
    ],
)
def test_okabe_ito(name: str, colour: Rgb, luminance: float) -> None:
    assert OKABE_ITO[name] == colour
    assert relative_luminance(colour) == pytest.approx(luminance, abs=1e-4)


def test_only_vermillion_of_the_palette_is_a_saturated_red() -> None:
    # Computed from WCAG 2.2, R/(R+G+B) >= 0.8.
    assert [name for name, colour in OKABE_ITO.items() if saturated_red(colour)] == ["vermillion"]


# --- analysis ---------------------------------------------------------------------------------------------------------


# Labelled sequences: Jordan, HCII 2025, LNCS 15780, 85-98, its test-media repository (BSD-3).
@pytest.mark.parametrize(
    ("sequence", "passes"),
    [
        ("L1 H1 L1 H1 L1 H1 L1 H25", False),
        ("L1 H1 L1 H1 L1 H1 L26", True),
        ("L1 H1 L9 H1 L9 H1 L8 H1 L3", False),
        ("L1 H1 L9 H1 L9 H1 L9 H1 L2", True),
    ],
)
def test_labelled_sequences(sequence: str, passes: bool) -> None:
    assert labelled(sequence).within(WCAG_FLASHES) is passes


# The same source: greys just below and just above a change of 0.10.
@pytest.mark.parametrize(
    ("low", "high", "passes"), [(64, 108, True), (194, 209, True), (194, 210, False), (64, 109, False)]
)
def test_labelled_greys(low: int, high: int, passes: bool) -> None:
    assert labelled("L1 H1 " * 15, low, high).within(WCAG_FLASHES) is passes


def test_counts_of_the_labelled_sequences() -> None:
    # The same source: seven changes in the first, six in the second.
    assert labelled("L1 H1 L1 H1 L1 H1 L1 H25").general == 7
    assert labelled("L1 H1 L1 H1 L1 H1 L26").general == 6


def test_bright_greys_do_not_flash() -> None:
    # WCAG 2.2: only where the darker state is below 0.80 (grey 232 lies above).
    assert labelled("L1 H1 " * 15, 232, 255).general == 0
    assert labelled("L1 H1 " * 15, 231, 255).general == 30 - 1


def test_a_fade_counts_by_its_swing_not_by_its_steps() -> None:
    up = list(range(0, 256, 5))
    values = (up + up[::-1]) * 4
    frames = [(step * 2 * NS_PER_MS, [grey(value)]) for step, value in enumerate(values)]
    assert flicker(frames).general == 8
    slow = [(at_ns * 10, colours) for at_ns, colours in frames]
    assert flicker(slow).general == 2


def test_regions_that_flash_in_turn_count_together() -> None:
    frames = [(k * 100 * NS_PER_MS, [WHITE if k % 4 == n else BLACK for n in (0, 2)]) for k in range(20)]
    assert flicker(frames).general == 10


def test_frames_of_unequal_size_are_refused() -> None:
    with pytest.raises(ValueError, match=r"shorter|longer"):
        flicker([(0, [BLACK]), (1, [BLACK, BLACK])])


# WCAG: saturated red in one state. 2.2 by chromaticity, 2.0 by (R-G-B)*320 above 20; the stricter of both.
@pytest.mark.parametrize(
    ("old", "new", "turn"),
    [
        (BLACK, RED, 1),
        (RED, BLACK, -1),
        (grey(120), RED, 1),
        (RED, OKABE_ITO["blue"], -1),
        (RED, (180, 0, 0), -1),          # one hue, half the light: the older text only
        ((70, 70, 70), (70, 0, 0), 1),   # (R-G-B)*320 is 19.5: the current text only
        (RED, (250, 0, 0), 0),
        (OKABE_ITO["orange"], OKABE_ITO["yellow"], 0),
        (BLACK, WHITE, 0),
    ],
)
def test_red_changes(old: Rgb, new: Rgb, turn: int) -> None:
    assert red_turn(old, new) == turn


def test_red_flashes_are_counted_by_themselves() -> None:
    dark_red: Rgb = (130, 0, 0)          # luminance 0.047: no general flash
    frames = [(k * 100 * NS_PER_MS, [dark_red if k % 2 else BLACK]) for k in range(20)]
    assert flicker(frames) == Flicker(general=0, red=10)


def test_one_red_that_swells_is_one_change() -> None:
    frames = [(k * 20 * NS_PER_MS, [(k * 5, 0, 0)]) for k in range(50)]
    assert flicker(frames).red == 1


# --- the guard --------------------------------------------------------------------------------------------------------


def shown(frames: list[tuple[int, list[Rgb]]], regions: int) -> list[tuple[int, list[Rgb]]]:
    """Return what the guard lets out, beginning with the black before the first frame."""
    guard = FlashGuard(regions)
    out = [(frames[0][0] - 1 if frames else 0, [BLACK] * regions)]
    for at_ns, colours in frames:
        out.append((at_ns, guard.admit(at_ns, colours)))
    return out


CHANNEL = st.one_of(st.sampled_from([0, 20, 64, 89, 109, 120, 180, 231, 255]), st.integers(0, 255))
COLOUR = st.one_of(
    st.sampled_from([*OKABE_ITO.values(), RED, (180, 0, 0), (70, 0, 0)]), st.tuples(CHANNEL, CHANNEL, CHANNEL)
)
GAP_NS = st.one_of(
    st.sampled_from([1, 16_666_667, 100 * NS_PER_MS, 250 * NS_PER_MS, NS_PER_S - 1, NS_PER_S]),
    st.integers(1, 1_500 * NS_PER_MS),
)


@st.composite
def _sequence(draw: st.DrawFn) -> tuple[int, list[tuple[int, list[Rgb]]]]:
    regions = draw(st.integers(1, 4))
    row = st.lists(COLOUR, min_size=regions, max_size=regions)
    at_ns = 0
    frames: list[tuple[int, list[Rgb]]] = []
    for gap_ns, colours in draw(st.lists(st.tuples(GAP_NS, row), max_size=40)):
        at_ns += gap_ns
        frames.append((at_ns, colours))
    return regions, frames


@given(_sequence())
def test_the_worst_second_is_the_worst_of_all_looked_at_alone(case: tuple[int, list[tuple[int, list[Rgb]]]]) -> None:
    _, frames = case
    alone = [Flicker(general=0, red=0)]
    for begin in range(1, len(frames)):
        inside = [frame for frame in frames[begin:] if frame[0] < frames[begin][0] + NS_PER_S]
        # All at one time, so that there is no second but this one; and each frame twice, which is no change.
        alone.append(flicker((0, colours) for _, colours in (frames[begin - 1], *inside) for _ in range(2)))
    whole = Flicker(general=max(one.general for one in alone), red=max(one.red for one in alone))
    assert flicker(frames) == whole


@given(_sequence())
def test_whatever_goes_in_what_comes_out_is_within_two_flashes(case: tuple[int, list[tuple[int, list[Rgb]]]]) -> None:
    regions, frames = case
    result = flicker(shown(frames, regions))
    assert result.within(MAX_FLASHES)
    assert result.red <= 1


@given(st.lists(st.tuples(st.integers(1, 60), st.integers(0, 255), st.integers(0, 40)), max_size=120))
def test_fades_of_any_shape_come_out_within_two_flashes(steps: list[tuple[int, int, int]]) -> None:
    at_ns, frames, value = 0, [], 0
    for gap_ms, goal, stride in steps:
        at_ns += gap_ms * NS_PER_MS
        value += max(-stride, min(stride, goal - value))
        frames.append((at_ns, [grey(value)]))
    assert flicker(shown(frames, 1)).within(MAX_FLASHES)


def test_what_is_slow_enough_passes_unchanged() -> None:
    frames = [(k * 250 * NS_PER_MS, [WHITE if k % 2 else BLACK]) for k in range(40)]
    assert shown(frames, 1)[1:] == frames


def test_what_is_too_fast_is_held_and_then_goes_on() -> None:
    out = shown([(k * 10 * NS_PER_MS, [WHITE if (k // 5) % 2 else BLACK]) for k in range(400)], 1)
    changes = [at_ns for (_, old), (at_ns, new) in pairwise(out) if new != old]
    assert changes[:4] == [50 * NS_PER_MS, 100 * NS_PER_MS, 150 * NS_PER_MS, 200 * NS_PER_MS]
    assert changes[4] == 1_050 * NS_PER_MS
    assert len(changes) > 12


def test_only_the_region_that_exceeds_waits() -> None:
    guard = FlashGuard(8)
    for k in range(12):
        fast = WHITE if k % 2 else BLACK
        out = guard.admit(k * 50 * NS_PER_MS, [fast, *[OKABE_ITO["yellow"]] * 7])
    assert out == [BLACK, *[OKABE_ITO["yellow"]] * 7]


def test_saturated_red_may_stand_but_never_flashes() -> None:
    blink = [(k * 100 * NS_PER_MS, [RED if (k // 10) % 2 else BLACK]) for k in range(45)]
    out = [colours[0] for _, colours in shown(blink, 1)]
    assert out.count(RED) == 10                         # once for its second, and not again for a while
    guard = FlashGuard(1)
    assert guard.admit(0, [RED]) == [RED]
    assert guard.admit(NS_PER_S - 1, [BLACK]) == [RED]
    assert guard.admit(NS_PER_S, [BLACK]) == [BLACK]
    assert guard.admit(NS_PER_S + RED_REST_NS - 1, [RED]) == [BLACK]
    assert guard.admit(NS_PER_S + RED_REST_NS, [RED]) == [RED]


def test_an_orange_fades_out_without_a_red_at_its_end() -> None:
    guard = FlashGuard(1)
    for k in range(0, 101):
        part = 1 - k / 100
        wanted: list[Rgb] = [(round(230 * part), round(159 * part), 0)]
        assert guard.admit(k * 20 * NS_PER_MS, wanted) == wanted
    assert guard.admit(2 * NS_PER_S, [(1, 0, 0)]) == [(1, 0, 0)]


def test_going_dark_for_good_does_not_wait_and_what_follows_does() -> None:
    guard = FlashGuard(2)
    for k in range(5):
        guard.admit(k * 100 * NS_PER_MS, [WHITE if k % 2 == 0 else BLACK] * 2)
    assert guard.shown == [BLACK] * 2                   # the fifth change was held back
    guard.admit(1_000 * NS_PER_MS, [WHITE] * 2)
    assert guard.force(1_001 * NS_PER_MS) == [BLACK] * 2
    assert guard.admit(1_002 * NS_PER_MS, [WHITE] * 2) == [BLACK] * 2


def test_the_guard_wants_one_colour_for_each_region() -> None:
    with pytest.raises(ValueError, match=r"shorter|longer"):
        FlashGuard(2).admit(0, [BLACK])
