"""The C export says the same on an emulated ATmega328P as on the desktop, however it is compiled: a whole match, and
what each firing is. GNU C's way to tables in flash, __flash, said something else with -O2 (avr-gcc 5.4).
"""

import subprocess
from pathlib import Path

import pytest

from tests.support.export.exported_plans import bundled
from tests.support.export.robot_drivers import checked
from tests.support.firmware.chip import Script
from tests.support.firmware.toolchain import needs_chip
from tocsin.export.robot.c import c_source
from tocsin.units import NS_PER_S

PROGRAM = Path(__file__).parents[2] / "support" / "firmware" / "exported_plan.c"
LANGUAGES = {"gnu99": ("avr-gcc", "-std=gnu99"), "sketch": ("avr-g++", "-std=gnu++11")}
PARTS = {"FACTS": "coach_call", "MATCH": "outcome=played"}     # and what each says at least once


@pytest.fixture
def folder(tmp_path):
    """Return a folder that holds the bundled plan ``full`` and the program in both languages."""
    (tmp_path / "tocsin_plan.h").write_text(c_source(bundled("full")), encoding="utf-8")
    for name in ("robot.c", "robot.cpp"):
        (tmp_path / name).write_text(PROGRAM.read_text("ascii"), "ascii")
    return tmp_path


@needs_chip
@pytest.mark.parametrize("part", PARTS)
@pytest.mark.parametrize("level", ["-Os", "-O2", "-O3"])
@pytest.mark.parametrize("language", LANGUAGES)
def test_the_chip_says_what_the_desktop_says(language, level, part, folder):
    compiler, standard = LANGUAGES[language]
    name = str(folder / ("robot.cpp" if language == "sketch" else "robot.c"))
    elf, image, desktop = (str(folder / f"robot.{end}") for end in ("elf", "hex", "exe"))
    checked(["gcc", "-std=c99", f"-D{part}", str(folder / "robot.c"), "-o", desktop])
    wanted = subprocess.run([desktop], capture_output=True, check=True, timeout=60).stdout.replace(b"\r\n", b"\n")
    assert PARTS[part] in wanted.decode()
    flags = ["-mmcu=atmega328p", standard, level, "-Wall", "-Wextra", "-Werror"]
    checked([compiler, *flags, f"-D{part}", name, "-o", elf])
    checked(["avr-objcopy", "-O", "ihex", "-R", ".eeprom", elf, image])
    said = Script().run(Path(image), 6 * NS_PER_S).said
    assert said.splitlines() == wanted.splitlines()
    assert said.endswith(b"end\n")
