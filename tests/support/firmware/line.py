"""What goes over a board's serial line, written and read by the open protocols' own texts, not by Tocsin's code.

Adalight and TPM2 as published; commands and settings as `src/firmware/README.md` has them. CRC-8/SMBUS: polynomial
0x07, check value 0xF4 (catalogue of parametrised CRC algorithms).
"""

import random
import struct
from collections.abc import Sequence

BAUDS = (115_200, 250_000, 500_000)
ORDERS = ("RGB", "RBG", "GRB", "GBR", "BRG", "BGR")
DEFAULT_LEDS, MOST_LEDS = 60, 200
TAKEN = b"\xac"


def tpm2(colours: bytes) -> bytes:
    """Return a TPM2 data block."""
    return b"\xc9\xda" + struct.pack(">H", len(colours)) + colours + b"\x36"


def adalight(colours: bytes) -> bytes:
    """Return an Adalight frame."""
    high, low = divmod(len(colours) // 3 - 1, 256)
    return b"Ada" + bytes((high, low, high ^ low ^ 0x55)) + colours


def command(payload: bytes) -> bytes:
    """Return a TPM2 command block."""
    return b"\xc9\xc0" + struct.pack(">H", len(payload)) + payload + b"\x36"


def answers(said: bytes) -> list[bytes]:
    """Return the payloads of the answer blocks in what a board said, beside greetings and AC."""
    found = []
    while (begin := said.find(b"\xc9\xaa")) >= 0:
        (length,) = struct.unpack(">H", said[begin + 2 : begin + 4])
        assert said[begin + 4 + length : begin + 5 + length] == b"\x36"
        found.append(said[begin + 4 : begin + 4 + length])
        said = said[begin + 5 + length :]
    return found


def crc8(data: bytes) -> int:
    """Return CRC-8/SMBUS, bit by bit."""
    crc = 0
    for byte in data:
        crc ^= byte
        for _ in range(8):
            crc = (crc << 1 ^ (0x07 if crc & 0x80 else 0)) & 0xFF
    return crc


def settings(
    *, leds: int = DEFAULT_LEDS, order: str = "RGB", max_ma: int = 20_000, baud: int = 115_200, ppm: int = 0
) -> bytes:
    """Return settings with their checksum, 10 bytes."""
    data = struct.pack(">BHBHBh", 1, leds, ORDERS.index(order), max_ma, BAUDS.index(baud), ppm)
    return data + bytes((crc8(data),))


def eeprom(**values) -> bytes:
    """Return an EEPROM that holds settings, twice."""
    return 2 * settings(**values)


def picture(source: random.Random, leds: int, most: int = 255) -> bytes:
    """Return random colours of a number of LEDs, three bytes each."""
    return bytes(source.randint(0, most) for _ in range(3 * leds))


def steady(source: random.Random, leds: int, count: int) -> list[bytes]:
    """Return pictures that all differ, and so little that no flash guard minds: no red, and each byte moves by one at
    most."""
    base = [source.randint(low, high) for _ in range(leds) for low, high in ((1, 40), (60, 90), (1, 90))]
    found: list[bytes] = []
    while len(found) < count:
        one = bytes(value + source.randint(-1, 1) for value in base)
        found += [one] if one not in found else []
    return found


def ordered(colours: bytes, order: str) -> bytes:
    """Return the bytes as a strip of that order gets them."""
    places = ["RGB".index(letter) for letter in order]
    return bytes(colours[led + place] for led in range(0, len(colours), 3) for place in places)


def without_black(frames: Sequence[bytes]) -> list[bytes]:
    """Return frames that light something."""
    return [frame for frame in frames if any(frame)]


def frames_of(data: bytes) -> list[bytes]:
    """Return the colours of TPM2 data blocks that follow each other. Raises AssertionError on anything else."""
    found = []
    while data:
        assert data[:2] == b"\xc9\xda"
        end = 4 + int.from_bytes(data[2:4], "big")
        assert data[end : end + 1] == b"\x36"
        found.append(data[4:end])
        data = data[end + 1 :]
    return found
