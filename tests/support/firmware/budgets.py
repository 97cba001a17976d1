"""What a strip's controller can do: frames kept without a pause, cycles of a turn of its loop, memory."""

import random
import subprocess

from tests.support.firmware import line
from tests.support.firmware.chip import Script
from tests.support.firmware.toolchain import BUILD, image
from tocsin.channels.light.protocol import frame_interval_ns
from tocsin.model.rig import Light
from tocsin.units import NS_PER_MS, NS_PER_S

FRAMES = 12
BEGIN_NS = 1_500 * NS_PER_MS
MOST_FLASH, MOST_RAM = 26_214, 1_638
RAM_END = 0x8FF


def kept(baud: int, leds: int, *, gap: bool = False) -> tuple[int, int, int]:
    """Return how many of 12 frames are shown, how many wrong ones, how many bytes the receiver lost; with ``gap`` at
    the pace at which Tocsin sends."""
    pictures = line.steady(random.Random(leds), leds, FRAMES)
    script = Script(baud=baud, eeprom=line.eeprom(leds=leds, baud=baud))
    pace_ns = frame_interval_ns(Light(leds=leds, baud=baud)) if gap else 0
    for place, picture in enumerate(pictures):
        script.send(BEGIN_NS + place * pace_ns, line.tpm2(picture))
    wire_ns = (3 * leds + 5) * 10 * NS_PER_S // baud
    life = script.run(image("strip"), BEGIN_NS + FRAMES * max(pace_ns, wire_ns) + 40 * NS_PER_MS)
    shown = [frame.data for frame in life.frames[1:]]
    wrong = [data for data in shown if data not in pictures]
    places = [pictures.index(data) for data in shown if data in pictures]
    assert places == sorted(places)
    return len(set(places)), len(wrong), life.overruns


def memory(board: str) -> tuple[int, int]:
    """Return the bytes of flash and of RAM that an image takes, by avr-size."""
    image(board)
    done = subprocess.run(["avr-size", str(BUILD / f"{board}.elf")], capture_output=True, text=True, check=True)
    text, data, bss = map(int, done.stdout.splitlines()[1].split()[:3])
    return text + data, data + bss


def turn_cycles(board: str, script: Script, until_ns: int) -> tuple[int, int, int, int]:
    """Return the least, mean and most cycles of a turn of an image's main loop, which begins where it calls
    clock_poll, and how many bytes its stack took."""
    done = subprocess.run(["avr-nm", str(BUILD / f"{board}.elf")], capture_output=True, text=True, check=True)
    address = next(int(row.split()[0], 16) for row in done.stdout.splitlines() if row.endswith(" clock_poll"))
    script.visits(address // 2)
    life = script.run(image(board), until_ns)
    assert life.visits is not None
    count, least, total, most = life.visits
    return least, total // count, most, RAM_END + 1 - life.stack
