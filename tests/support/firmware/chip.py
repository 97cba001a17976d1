"""One life of a board on the emulated chip: a script of what happens to it, and what it did.

    script = Script(baud=250_000)
    script.send(100 * NS_PER_MS, tpm2_frame)
    script.pin(200 * NS_PER_MS, "D2", 0)
    life = script.run(image("strip"), until_ns=NS_PER_S)
    life.frames[0].data

Times are nanoseconds of the world since power came; ``ppm`` says by how many millionths the chip's clock runs fast.
"""

import subprocess
import tempfile
from collections import Counter, defaultdict
from collections.abc import Iterable
from pathlib import Path
from typing import NamedTuple

from tests.support.firmware.toolchain import runner

CHIP_HZ = 16_000_000
POWER, EXTERNAL, BROWN_OUT, WATCHDOG = 1, 2, 4, 8           # bits of MCUSR, datasheet of the ATmega328P


class Shown(NamedTuple):
    """A frame on the LEDs' pin: when its first bit rose and its last one fell, and its bytes as on the wire."""

    begin_ns: int
    end_ns: int
    data: bytes


class Life:
    """What a board did. ``pulses`` counts cycles (62.5 ns) of h0 h1 l0 l1 gap; ``parts`` are frames cut in a byte."""

    def __init__(self, lines: Iterable[str], hz: float) -> None:
        self._hz = hz
        self.frames: list[Shown] = []
        self.parts: list[tuple[int, int]] = []
        self.pulses: dict[str, Counter[int]] = defaultdict(Counter)
        self.edges: list[tuple[int, int]] = []              # (cycle, level)
        self.answers: list[tuple[int, int]] = []            # (ns, byte) as it began to leave
        self.pins: dict[str, list[tuple[int, int]]] = defaultdict(list)        # (ns, level)
        self.watched: dict[int, list[tuple[int, int]]] = defaultdict(list)     # (ns, value)
        self.resets: list[tuple[int, int]] = []             # (ns, MCUSR)
        self.visits: tuple[int, int, int, int] | None = None        # count, and cycles between two: least, sum, most
        self.stack = 0                                      # its lowest address, with visits
        self.overruns = self.framings = 0
        self.eeprom = b""
        for line in lines:
            kind, *words = line.split()
            getattr(self, f"_{kind}")(*words)

    @property
    def said(self) -> bytes:
        """All that the board sent."""
        return bytes(byte for _, byte in self.answers)

    def _ns(self, cycle: str) -> int:
        return round(int(cycle) * 1e9 / self._hz)

    def _frame(self, begin: str, end: str, data: str) -> None:
        self.frames.append(Shown(self._ns(begin), self._ns(end), bytes.fromhex(data)))

    def _part(self, begin: str, end: str, bits: str) -> None:
        self.parts.append((self._ns(begin), int(bits)))

    def _pulse(self, kind: str, cycles: str, count: str) -> None:
        self.pulses[kind][int(cycles)] = int(count)

    def _edge(self, cycle: str, level: str) -> None:
        self.edges.append((int(cycle), int(level)))

    def _out(self, cycle: str, byte: str) -> None:
        self.answers.append((self._ns(cycle), int(byte)))

    def _pin(self, name: str, cycle: str, level: str) -> None:
        self.pins[name].append((self._ns(cycle), int(level)))

    def _watch(self, address: str, cycle: str, value: str) -> None:
        self.watched[int(address)].append((self._ns(cycle), int(value)))

    def _reset(self, cycle: str, cause: str) -> None:
        self.resets.append((self._ns(cycle), int(cause)))

    def _visit(self, *numbers: str) -> None:
        count, least, total, most = map(int, numbers)
        self.visits = (count, least, total, most)

    def _stack(self, address: str) -> None:
        self.stack = int(address)

    def _lost(self, overruns: str, framings: str) -> None:
        self.overruns, self.framings = int(overruns), int(framings)

    def _eeprom(self, data: str) -> None:
        self.eeprom = bytes.fromhex(data)


class Script:
    """What happens to a board. Bytes follow each other at ``baud``, those of a call not before its time; call in order
    of time."""

    def __init__(self, *, baud: int = 115_200, ppm: int = 0, seed: int = 1, eeprom: bytes = b"") -> None:
        self._hz = CHIP_HZ * (1 + ppm / 1e6)
        self._head = [f"seed {seed}"] + ([f"eeprom {eeprom.hex()}"] if eeprom else [])
        self._lines: list[str] = []
        self.baud(baud)

    def baud(self, baud: int) -> None:
        """Send at another rate from here on."""
        self._lines.append(f"0 bit {self._hz / baud:.6f}")

    def send(self, at_ns: int, data: bytes) -> None:
        """Send bytes, without a gap between them."""
        for begin in range(0, len(data), 4096):
            self._add(at_ns, "bytes", data[begin : begin + 4096].hex())

    def torn(self, at_ns: int, data: bytes) -> None:
        """Send bytes whose stop bits are low, as at a wrong rate or a loose plug."""
        self._add(at_ns, "bad", data.hex())

    def low(self, at_ns: int, lasts_ns: int) -> None:
        """Hold the line low."""
        self._add(at_ns, "low", self._cycle(lasts_ns))

    def cut(self, at_ns: int) -> None:
        """Leave the line idle from here, even in the middle of a byte; what was to come is gone."""
        self._add(at_ns, "cut")

    def pin(self, at_ns: int, name: str, level: int) -> None:
        """Drive a pin, such as ``D2``, from outside."""
        self._add(at_ns, "pin", name, level)

    def reset(self, at_ns: int, cause: int) -> None:
        """Reset the chip; memory stays. An EEPROM byte that is being written then holds anything."""
        self._add(at_ns, "reset", cause)

    def power(self, at_ns: int) -> None:
        """Take the power away and give it back: memory holds noise."""
        self._add(at_ns, "power")

    def hang(self, at_ns: int) -> None:
        """Let the program go in a circle, interrupts and all, until a reset."""
        self._add(at_ns, "hang")

    def supply(self, at_ns: int, mv: int) -> None:
        """Let the supply have so many millivolts, as the chip's converter measures them; 5000 at first."""
        self._add(at_ns, "supply", mv)

    def log(self, pin: str) -> None:
        """Record a pin's levels."""
        self._head.append(f"log {pin}")

    def watch(self, address: int) -> None:
        """Record the values of a register or a byte of memory, by its address in data space; slow."""
        self._head.append(f"watch {address}")

    def visits(self, word: int) -> None:
        """Measure the cycles between two visits of an instruction, by its address in words, and the stack; slow."""
        self._head.append(f"visits {word}")

    def edges(self) -> None:
        """Record each edge of the LEDs."""
        self._head.append("edges")

    def run(self, image: Path, until_ns: int) -> Life:
        """Live, on as much time as it takes. Raises AssertionError if the program crashed."""
        with tempfile.TemporaryDirectory() as folder:
            script, out = Path(folder) / "script", Path(folder) / "out"
            lines = [*self._head, *self._lines, f"{self._cycle(until_ns)} end"]
            script.write_text("\n".join(lines) + "\n", "ascii")
            done = subprocess.run([str(runner()), str(image), str(script), str(out)], capture_output=True, text=True)
            assert done.returncode == 0, done.stderr
            return Life(out.read_text("ascii").splitlines(), self._hz)

    def _add(self, at_ns: int, *words: object) -> None:
        self._lines.append(" ".join(map(str, (self._cycle(at_ns), *words))))

    def _cycle(self, ns: int) -> int:
        return round(ns * self._hz / 1e9)
