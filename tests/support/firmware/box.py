"""The box on the emulated chip: its image with a plan, hands at its buttons, and what its motors and strip did."""

from functools import cache
from pathlib import Path
from typing import NamedTuple

from intelhex import IntelHex

from tests.support.firmware.chip import Life, Script
from tests.support.firmware.toolchain import BUILD, image
from tocsin.export.box.image import image_of
from tocsin.units import NS_PER_MS

START, RESYNC, CALL, ROLE, PRACTICE = "D2", "D4", "D7", "B1", "C1"
# Registers of timer 0 in data space, datasheet of the ATmega328P, "Register Summary".
TCCR0A, OCR0A, OCR0B, TCCR2A = 0x44, 0x47, 0x48, 0xB0
COM0A1, COM0B1 = 0x80, 0x20
READY_MS = 700                        # after power: dark for 300 ms, then idle; buttons have been seen free


class Motor(NamedTuple):
    """From ``ms`` on the motors' duties, of 255."""

    ms: float
    strong: int
    weak: int


@cache
def _program() -> IntelHex:
    return IntelHex(str(image("box")))


def box_file(block: bytes, name: str) -> Path:
    """Return the file of the box's program with a plan, as `tocsin export --to box` writes it."""
    path = BUILD / f"box_{name}.hex"
    path.write_text(image_of(_program(), block, "a plan of a test"), "ascii")
    return path


class Hands(Script):
    """A box with its buttons free, and hands at them. Times are milliseconds."""

    def __init__(self, **given) -> None:
        super().__init__(**given)
        for pin in (START, RESYNC, CALL, ROLE, PRACTICE):
            self.pin(0, pin, 1)

    def press(self, at_ms: float, pin: str = START, lasts_ms: float = 100) -> None:
        """Press a button."""
        self.pin(ns(at_ms), pin, 0)
        self.pin(ns(at_ms + lasts_ms), pin, 1)

    def watch_motors(self) -> None:
        """Record what ``motors`` reads."""
        for address in (TCCR0A, OCR0A, OCR0B):
            self.watch(address)


def motors(life: Life) -> list[Motor]:
    """Return the motors' duties whenever they change, by the registers that drive them; both off at first."""
    events = sorted((at, address, value) for address in (TCCR0A, OCR0A, OCR0B) for at, value in life.watched[address])
    held = {TCCR0A: 0, OCR0A: 0, OCR0B: 0}
    found: list[Motor] = []
    last = (0, 0)
    for place, (at_ns, address, value) in enumerate(events):
        held[address] = value
        if place + 1 < len(events) and events[place + 1][0] - at_ns < NS_PER_MS // 10:
            continue                                           # of one change the last register counts
        now = (
            held[OCR0A] if held[TCCR0A] & COM0A1 else 0, held[OCR0B] if held[TCCR0A] & COM0B1 else 0
        )  # fmt: skip
        if now != last:
            found.append(Motor(at_ns / NS_PER_MS, *now))
            last = now
    return found


def duty(percent: int) -> int:
    """Return the duty of a strength in percent."""
    return round(percent * 255 / 100 + 1e-9)


def ns(ms: float) -> int:
    """Return milliseconds as nanoseconds."""
    return round(ms * NS_PER_MS)
