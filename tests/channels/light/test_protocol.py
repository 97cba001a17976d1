"""The strip's bytes, times and current against figures from outside."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tocsin.channels.light.protocol import (
    DUTY,
    current_ma,
    encode,
    frame,
    frame_interval_ns,
    frame_wire_ns,
    limited,
    most_ma,
    ordered,
    wire_ns,
)
from tocsin.model.rig import Light
from tocsin.units import NS_PER_MS

RED, BLUE, WHITE = (255, 0, 0), (0, 0, 255), (255, 255, 255)
byte = st.integers(0, 255)
colours_of = st.lists(st.tuples(byte, byte, byte), min_size=1, max_size=300)


# Adalight, the protocol's published text (read): "Ada", high and low byte of N - 1, their exclusive-or with 0x55.
@pytest.mark.parametrize(
    ("leds", "tail"),
    [
        (1, "00 00 55"), (2, "00 01 54"), (30, "00 1D 48"), (60, "00 3B 6E"), (144, "00 8F DA"), (256, "00 FF AA"),
        (257, "01 00 54"), (300, "01 2B 7F"),
    ],
)  # fmt: skip
def test_an_adalight_header_names_the_length_and_checks_it(leds, tail):
    sent = frame("adalight", [b"\x01\x02\x03"] * leds)
    assert sent[:6] == b"Ada" + bytes.fromhex(tail)
    assert sent[6:] == b"\x01\x02\x03" * leds


def test_red_and_blue_as_adalight():
    """Adalight, the protocol's published text (read)."""
    assert frame("adalight", [bytes(RED), bytes(BLUE)]) == bytes.fromhex("41 64 61 00 01 54 FF 00 00 00 00 FF")


def test_red_and_blue_as_tpm2():
    """TPM2, the protocol's published text (read): C9 DA, length high and low, payload, 36."""
    assert frame("tpm2", [bytes(RED), bytes(BLUE)]) == bytes.fromhex("C9 DA 00 06 FF 00 00 00 00 FF 36")


@pytest.mark.parametrize(("leds", "length"), [(1, "00 03"), (85, "00 FF"), (86, "01 02"), (300, "03 84")])
def test_a_tpm2_header_counts_bytes_high_byte_first(leds, length):
    """TPM2 (read); the lengths are three times the LEDs (computed)."""
    sent = frame("tpm2", [b"\x00\x00\x00"] * leds)
    assert sent[2:4] == bytes.fromhex(length)
    assert len(sent) == 5 + 3 * leds


def test_a_controllers_order_is_kept():
    """WS2812B datasheet (read): (0x12, 0x34, 0x56) goes out green first, as 34 12 56."""
    assert ordered((0x12, 0x34, 0x56), "GRB") == bytes.fromhex("34 12 56")
    assert ordered((0x12, 0x34, 0x56), "RGB") == bytes.fromhex("12 34 56")


@pytest.mark.parametrize(
    ("order", "wire"),
    [("RGB", "010203"), ("RBG", "010302"), ("GRB", "020103"), ("GBR", "020301"), ("BRG", "030102"), ("BGR", "030201")],
)
def test_every_order_reaches_the_wire(order, wire):
    light = Light(leds=1, order=order, max_ma=5000)
    assert encode(light, [(1, 2, 3)])[4:7] == bytes.fromhex(wire)


def test_bytes_at_8n1_take_ten_bits_each():
    """8N1 at 115200 baud (computed): 86.806 us a byte, by Adalight 16.146 ms for 60 LEDs and 38.021 ms for 144, by TPM2
    a byte less."""
    assert wire_ns(1, 115_200) == pytest.approx(86_806, abs=1)
    for protocol, less in (("adalight", 0), ("tpm2", 1)):
        short, long = Light(leds=60, protocol=protocol), Light(leds=144, protocol=protocol)
        assert frame_wire_ns(short) == pytest.approx(16_145_833 - 86_806 * less, abs=1_000)
        assert frame_wire_ns(long) == pytest.approx(38_020_833 - 86_806 * less, abs=1_000)
        assert len(encode(short, [WHITE] * 60)) == 186 - less
        assert len(encode(long, [WHITE] * 144)) == 438 - less


@pytest.mark.parametrize("protocol", ["adalight", "tpm2"])
def test_the_time_of_a_frame_is_that_of_its_bytes(protocol):
    light = Light(leds=77, protocol=protocol, baud=230_400)
    assert frame_wire_ns(light) == wire_ns(len(encode(light, [WHITE] * 77)), 230_400)


@given(st.integers(1, 1000), st.sampled_from([9_600, 115_200, 500_000, 2_000_000]))
def test_frames_leave_the_controller_time_for_its_strip(leds, baud):
    """WS2812B datasheet (read): 30 us a LED during which a small controller hears nothing, 50 us to latch. One that
    listens meanwhile takes 35 (measured on an emulated ATmega328P at 16 MHz with bytes arriving)."""
    light = Light(leds=leds, baud=baud)
    busy_ns = frame_wire_ns(light) + leds * 35_000 + 50_000
    assert frame_interval_ns(light) * DUTY >= busy_ns - 1
    assert frame_interval_ns(light) > frame_wire_ns(light)


def test_a_strip_of_thirty_is_quick_enough_to_be_smooth():
    # 24 frames a second: common practice, no source.
    assert frame_interval_ns(Light(leds=30)) < 1000 * NS_PER_MS / 24


def test_the_current_of_white_strips():
    """20 mA a colour, 60 mA a LED at full white (vendors' guides, read): 60 LEDs 3.6 A, 144 LEDs 8.64 A; and 1 mA for
    each LED's chip (others measured just under 1 mA)."""
    assert current_ma([WHITE]) == pytest.approx(60 + 1)
    assert current_ma([WHITE] * 60) == pytest.approx(3_600 + 60)
    assert current_ma([WHITE] * 144) == pytest.approx(8_640 + 144)
    assert current_ma([RED]) == pytest.approx(20 + 1)
    assert current_ma([(0, 0, 0)] * 144) == current_ma([]) + 144 == 144


# By hand: what is left of max_ma beside 1 mA a LED, of 60 mA a LED, is the scale; 255 times that, cut to a whole byte;
# 3 x 20 / 255 mA a step and LED, and the dark LEDs again.
@pytest.mark.parametrize(
    ("leds", "max_ma", "byte", "drawn_ma"),
    [
        (30, 400, 52, 397.06),             # 370 / 1800 = 0.2056, 52.4; 30 x 52 x 0.23529 = 367.06
        (60, 390, 23, 384.71),             # 330 / 3600 = 0.0917, 23.4; 60 x 23 x 0.23529 = 324.71
        (144, 306, 4, 279.53),             # 162 / 8640 = 0.0188, 4.8; 144 x 4 x 0.23529 = 135.53
        (60, 3_660, 255, 3_660.0),         # all of it
        (60, 61, 0, 60.0),                 # 1 / 3600: less than a step
        (60, 60, 0, 60.0), (60, 20, 0, 60.0),     # dark LEDs alone take that much
    ],
)  # fmt: skip
def test_what_dark_leds_draw_is_taken_off_the_limit_first(leds, max_ma, byte, drawn_ma):
    assert limited([WHITE] * leds, 1.0, max_ma) == [(byte, byte, byte)] * leds
    assert most_ma(Light(leds=leds, max_ma=max_ma)) == pytest.approx(drawn_ma, abs=0.01)


@pytest.mark.parametrize(("max_ma", "never"), [(60, True), (74, True), (75, False), (400, False)])
def test_a_limit_that_leaves_no_step_of_white_never_lights(max_ma, never):
    """60 LEDs: 60 mA while dark, and a step of white is 3600 / 255 = 14.1 mA (by hand)."""
    light = Light(leds=60, max_ma=max_ma)
    assert light.never_lit is never
    assert (not any(limited([WHITE] * 60, 1.0, max_ma)[0])) is never


def test_a_dimmer_strip_draws_less_than_its_limit():
    """A tenth of 60 x 60 mA is 360 mA, by whole bytes (25 of 255) 353; and 60 dark (by hand)."""
    assert most_ma(Light(leds=60, max_ma=2_000, brightness=0.1)) == pytest.approx(60 * 60 * 25 / 255 + 60)


@given(colours_of, st.floats(0, 1), st.integers(1, 20_000))
def test_no_frame_draws_more_than_the_rig_allows(colours, brightness, max_ma):
    assert current_ma(limited(colours, brightness, max_ma)) <= max(max_ma, len(colours)) + 1e-6


@given(colours_of, st.floats(0, 1), st.integers(1, 20_000))
def test_dimming_never_makes_a_colour_brighter_or_another_colour(colours, brightness, max_ma):
    dimmed = limited(colours, brightness, max_ma)
    # All alike: what was equal stays equal, what was not brighter does not become brighter.
    for before, after in zip(colours, dimmed, strict=True):
        assert all(0 <= new <= old for old, new in zip(before, after, strict=True))
        assert all(after[a] <= after[b] for a in range(3) for b in range(3) if before[a] <= before[b])


@given(colours_of)
def test_what_is_within_the_limit_is_left_as_it_is(colours):
    assert limited(colours, 1.0, 20_000) == colours       # 300 LEDs in white draw 18,300 mA


@given(st.integers(2, 60), st.integers(20, 5000))
def test_an_led_is_as_bright_whatever_its_neighbours_do(leds, max_ma):
    """Else LEDs would flare when others go dark, and flash behind the guard's back."""
    alone = limited([WHITE] + [(0, 0, 0)] * (leds - 1), 1.0, max_ma)[0]
    assert alone == limited([WHITE] * leds, 1.0, max_ma)[0]


@given(st.integers(1, 300), st.integers(100, 5000), st.sampled_from(["adalight", "tpm2"]))
def test_the_bytes_themselves_keep_the_limit(leds, max_ma, protocol):
    light = Light(leds=leds, max_ma=max_ma, protocol=protocol)
    header, tail = (6, None) if protocol == "adalight" else (4, -1)
    assert sum(encode(light, [WHITE] * leds)[header:tail]) * 20 / 255 <= max(0, max_ma - leds) + 1e-6
