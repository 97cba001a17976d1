"""Encode frames for a strip's controller, and compute how long they take. Pure; opens no port.

Sources: the two protocols as published (Adalight, TPM2); 8N1 sends ten bits a byte; WS2812B datasheet: 24 bits of 1.25
us a LED, 50 us of silence to latch (280 us on newer parts, from memory). Some 50 mA for a small board is an estimate,
no source. A small controller that listens while it feeds its strip takes 35 us a LED: measured on an emulated
ATmega328P at 16 MHz.
"""

from collections.abc import Sequence

from tocsin.model.pattern import Rgb
from tocsin.model.rig import IDLE_LED_MA, MA_A_COLOUR, Light, Protocol
from tocsin.units import NS_PER_S

BITS_A_BYTE = 10
LED_NS = 35_000
LATCH_NS = 280_000
BOARD_MA = 50.0
_WHITE: Rgb = (255, 255, 255)
# Interrupts are off while a small controller feeds its strip, and bytes that come meanwhile are lost: leave room.
DUTY = 0.6
# What a device of a package gets at most often: 40 frames a second.
DEVICE_INTERVAL_NS = 25_000_000
_HEADER_BYTES = {"adalight": 6, "tpm2": 5}     # all that is no colour


def frame(protocol: Protocol, pixels: Sequence[bytes]) -> bytes:
    """Return the bytes of one frame for pixels of three bytes each, in wire order."""
    body = b"".join(pixels)
    if protocol == "adalight":
        high, low = divmod(len(pixels) - 1, 256)
        return b"Ada" + bytes((high, low, high ^ low ^ 0x55)) + body
    return b"\xc9\xda" + len(body).to_bytes(2, "big") + body + b"\x36"


def ordered(colour: Rgb, order: str) -> bytes:
    """Return a colour's bytes in the controller's order, e.g. ``GRB``."""
    by_letter = dict(zip("RGB", colour, strict=True))
    return bytes(by_letter[letter] for letter in order)


def current_ma(colours: Sequence[Rgb]) -> float:
    """Return the largest current of a strip with these colours, in milliamperes, that of dark LEDs included."""
    return sum(sum(colour) for colour in colours) * MA_A_COLOUR / 255 + len(colours) * IDLE_LED_MA


def most_ma(light: Light) -> float:
    """Return what a strip draws at most by its brightness and limit, in milliamperes, without its board."""
    return current_ma(limited([_WHITE] * light.leds, light.brightness, light.max_ma))


def limited(colours: Sequence[Rgb], brightness: float, max_ma: float) -> list[Rgb]:
    """Return the colours dimmed by a fixed scale with which even an all-white strip draws at most ``max_ma``.

    What dark LEDs draw is taken off first: where that alone is more, all stay dark. The scale is the same for every
    frame. A scale for each frame would let LEDs flare up when their neighbours go dark, unseen by the flash guard.
    """
    full_ma = len(colours) * 3 * MA_A_COLOUR
    left_ma = max(0.0, max_ma - len(colours) * IDLE_LED_MA)
    scale = min(brightness, left_ma / full_ma) if full_ma else brightness
    return [(int(r * scale), int(g * scale), int(b * scale)) for r, g, b in colours]


def encode(light: Light, colours: Sequence[Rgb]) -> bytes:
    """Return a controller's frame bytes: dimmed, limited in current, in its colour order and protocol; for a device of
    a package the colours alone."""
    safe = limited(colours, light.brightness, light.max_ma)
    pixels = [ordered(colour, light.order) for colour in safe]
    return b"".join(pixels) if light.device else frame(light.protocol, pixels)


def wire_ns(byte_count: int, baud: int) -> int:
    """Return how long a number of bytes takes on the wire at 8N1, in nanoseconds."""
    return byte_count * BITS_A_BYTE * NS_PER_S // baud


def frame_wire_ns(light: Light) -> int:
    """Return how long one whole frame takes on the wire, in nanoseconds; 0 for a device of a package: nobody knows."""
    if light.device:
        return 0
    return wire_ns(_HEADER_BYTES[light.protocol] + 3 * light.leds, light.baud)


def shown_after_ns(light: Light) -> int:
    """Return the nanoseconds from a frame's first byte until it shows: wire, strip and latch, without the board's own
    time."""
    return frame_wire_ns(light) + light.leds * LED_NS + LATCH_NS


def frame_interval_ns(light: Light) -> int:
    """Return the shortest interval between two frames that wire and strip allow, in nanoseconds."""
    return DEVICE_INTERVAL_NS if light.device else int(shown_after_ns(light) / DUTY)
