"""What the strip's controller takes of its chip and what it can do, and what the box takes, as a table.

    python -m tests.benchmarks.firmware_budgets

Needs the packages that `tests/support/firmware/toolchain.py` names. Runs on an emulated ATmega328P at 16 MHz, so the
figures do not depend on the machine.
"""

import random

from tests.support.firmware import line
from tests.support.firmware.budgets import BEGIN_NS, FRAMES, MOST_FLASH, MOST_RAM, kept, memory, turn_cycles
from tests.support.firmware.chip import Script
from tests.support.firmware.toolchain import image
from tocsin.export.box.block import BLOCK_AT
from tocsin.units import NS_PER_MS, NS_PER_S

LENGTHS = (1, 30, 60, 144, 200)


def main() -> None:
    """Print the tables."""
    flash, ram = memory("strip")
    print(f"strip.hex: flash {flash} of {MOST_FLASH} bytes allowed, RAM {ram} of {MOST_RAM}")
    flash, ram = memory("box")
    print(f"box.hex: flash {flash} of {BLOCK_AT} bytes below its plan, RAM {ram} of {MOST_RAM}\n")
    print(f"Of {FRAMES} frames, kept without a pause / at Tocsin's pace; wrong ones; bytes lost")
    print(f"{'baud':>9} " + "".join(f"{leds:>18} LEDs" for leds in LENGTHS))
    for baud in line.BAUDS:
        cells = []
        for leds in LENGTHS:
            at_once, paced = kept(baud, leds), kept(baud, leds, gap=True)
            cells.append(f"{at_once[0]:>9} / {paced[0]}; {at_once[1] + paced[1]}; {at_once[2]}")
        print(f"{baud:>9} " + "".join(f"{cell:>23}" for cell in cells))
    print("\nCycles of a turn of the main loop (16 are a microsecond), and from a frame's last byte to its first edge")
    for leds in LENGTHS:
        pictures = line.steady(random.Random(leds), leds, 8)
        script = Script(baud=250_000, eeprom=line.eeprom(leds=leds, baud=250_000))
        for place, picture in enumerate(pictures):
            script.send(BEGIN_NS + place * 50 * NS_PER_MS, line.tpm2(picture))
        least, mean, most, stack = turn_cycles("strip", script, 2 * NS_PER_S)
        script = Script(baud=250_000, eeprom=line.eeprom(leds=leds, baud=250_000))
        script.send(BEGIN_NS, line.tpm2(pictures[0]))
        life = script.run(image("strip"), 2 * NS_PER_S)
        delay_ns = life.frames[1].begin_ns - BEGIN_NS - (3 * leds + 5) * 40_000
        sent_ns = life.frames[1].end_ns - life.frames[1].begin_ns
        print(f"{leds:>4} LEDs: {least} to {most}, mean {mean}; stack {stack} bytes; "
              f"first edge after {delay_ns / 1000:.0f} us, all sent {sent_ns / 1000:.0f} us later")


if __name__ == "__main__":
    main()
