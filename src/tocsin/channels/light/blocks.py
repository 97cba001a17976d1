"""Encode command blocks for a strip's controller and read its answers: who it is, and its settings. Pure.

A block is one of TPM2, as published: C9, its type (C0 a command, AA an answer), the payload's length with the high byte
first, the payload, 36. What a payload means is agreed between Tocsin and the firmware in ``src/firmware``: its first
byte says what it is, numbers have the high byte first. Checksum: CRC-8/SMBUS (polynomial 07, initial 0).
"""

import struct
from typing import Literal, get_args

import msgspec

from tocsin.model.rig import ColourOrder
from tocsin.translation import tr

ORDERS: tuple[ColourOrder, ...] = get_args(ColourOrder)
BAUDS = (115_200, 250_000, 500_000)
LEAST_MA, MOST_MA = 50, 20_000
MOST_PPM = 20_000
WHO, WRITE, CLOCK, ERROR = b"I", b"W", b"K", b"E"

_COMMAND, _ANSWER, _END = b"\xc9\xc0", b"\xc9\xaa", 0x36
_HEAD = 4                              # two bytes of type, two of length
_MOST_PAYLOAD = 64                     # the longest answer has 15 bytes; what claims to be longer is noise
_SETTINGS = struct.Struct(">BHBHBh")
_IDENTITY = struct.Struct(">BBH9sB")
_LAYOUT = 1

Firmware = Literal["strip", "box"]
_KINDS: dict[int, Firmware] = {ord("S"): "strip", ord("B"): "box"}


class Settings(msgspec.Struct, frozen=True, kw_only=True):
    """What a controller keeps without power: the number of LEDs, the order in which the strip wants its bytes, the
    current limit, the speed of its line, and by how many millionths its clock runs fast."""

    leds: int
    order: ColourOrder
    max_ma: int
    baud: int
    clock_ppm: int = 0


class Identity(msgspec.Struct, frozen=True, kw_only=True):
    """Who a controller is. ``reset`` is the chip's register of what restarted it last (``reset_words``)."""

    firmware: Firmware
    version: int
    most_leds: int
    settings: Settings
    reset: int = 0


class BlockError(ValueError):
    """An answer does not say what it should."""


def command(payload: bytes) -> bytes:
    """Return a command's whole block."""
    return _COMMAND + len(payload).to_bytes(2, "big") + payload + bytes((_END,))


def crc8(data: bytes) -> int:
    """Return the CRC-8/SMBUS of some bytes: polynomial x^8 + x^2 + x + 1, initial 0, not reflected (System Management
    Bus specification)."""
    crc = 0
    for byte in data:
        crc ^= byte
        for _ in range(8):
            crc = (crc << 1 ^ 0x07) & 0xFF if crc & 0x80 else crc << 1
    return crc


def write_payload(settings: Settings) -> bytes:
    """Return the payload that lets a controller keep these settings. They must be within their limits
    (``refusal``)."""
    packed = _SETTINGS.pack(
        _LAYOUT, settings.leds, ORDERS.index(settings.order), settings.max_ma, BAUDS.index(settings.baud),
        settings.clock_ppm,
    )  # fmt: skip
    return WRITE + packed + bytes((crc8(packed),))


def read_identity(payload: bytes) -> Identity:
    """Return who has answered. Raises BlockError for what is no such answer, also of a later firmware's layout."""
    if len(payload) != 1 + _IDENTITY.size or payload[:1] != WHO:
        raise BlockError(tr("the answer has {count} bytes and not 15", count=len(payload)))
    kind, version, most_leds, packed, reset = _IDENTITY.unpack(payload[1:])
    layout, leds, order, max_ma, baud, clock_ppm = _SETTINGS.unpack(packed)
    if kind not in _KINDS or layout != _LAYOUT or order >= len(ORDERS) or baud >= len(BAUDS):
        raise BlockError(tr("the board's firmware is of another version than this Tocsin knows"))
    settings = Settings(leds=leds, order=ORDERS[order], max_ma=max_ma, baud=BAUDS[baud], clock_ppm=clock_ppm)
    return Identity(firmware=_KINDS[kind], version=version, most_leds=most_leds, settings=settings, reset=reset)


def refusal(settings: Settings, most_leds: int) -> str:
    """Return why a controller for at most ``most_leds`` would not take these settings, or an empty text."""
    if not 1 <= settings.leds <= most_leds:
        return tr("{leds} LEDs: this board takes 1 to {most}", leds=settings.leds, most=most_leds)
    if settings.order not in ORDERS:
        return tr("order {order}: there are {orders}", order=settings.order, orders=", ".join(ORDERS))
    if not LEAST_MA <= settings.max_ma <= MOST_MA:
        return tr("{max_ma} mA: from {least} to {most}", max_ma=settings.max_ma, least=LEAST_MA, most=MOST_MA)
    if settings.max_ma <= settings.leds:
        return tr("{max_ma} mA: {leds} dark LEDs take that alone", max_ma=settings.max_ma, leds=settings.leds)
    if settings.baud not in BAUDS:
        return tr("{baud} baud: there are {bauds}", baud=settings.baud, bauds=", ".join(map(str, BAUDS)))
    if abs(settings.clock_ppm) > MOST_PPM:
        return tr("{ppm} ppm: from -{most} to {most}", ppm=settings.clock_ppm, most=MOST_PPM)
    return ""


def reset_words(reset: int) -> str:
    """Return in words what restarted a controller last; empty if it does not say, as behind many boot loaders.

    Source: ATmega328P datasheet, register MCUSR: bit 0 power on, 1 reset line, 2 brown-out, 3 watchdog.
    """
    if reset & 0x08:
        return tr("its watchdog: the program hung")
    if reset & 0x04:
        return tr("too low a voltage")
    if reset & 0x01:
        return tr("power")
    return tr("its reset line, as when a port is opened") if reset & 0x02 else ""


class BlockReader:
    """Finds answers among whatever else a board sends: greetings, answers to frames, the rest of a torn block."""

    def __init__(self) -> None:
        self._data = b""

    @property
    def begun(self) -> bool:
        """Whether the begin of an answer is there, and not yet its end."""
        return self._data.startswith(_ANSWER[:1])

    def take(self, data: bytes) -> list[bytes]:
        """Take bytes, in whatever pieces they come; return the payloads of the answers that are whole now."""
        self._data += data
        found: list[bytes] = []
        while True:
            at = self._data.find(_ANSWER)
            if at < 0:
                self._data = _ANSWER[:1] if self._data.endswith(_ANSWER[:1]) else b""
                return found
            self._data = self._data[at:]
            if len(self._data) < _HEAD:
                return found
            end = _HEAD + int.from_bytes(self._data[2:_HEAD], "big")
            if end <= _HEAD + _MOST_PAYLOAD:
                if len(self._data) <= end:
                    return found
                if self._data[end] == _END:
                    found.append(self._data[_HEAD:end])
                    self._data = self._data[end + 1 :]
                    continue
            self._data = self._data[len(_ANSWER) :]            # no answer: the next one may begin within it
