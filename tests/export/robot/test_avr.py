"""The C export on a small chip: it compiles in silence for an ATmega328P, its tables stay in flash, and the plan of a
match fits. Where avr-gcc is missing that is skipped, but in CI (CI=true) it has to be there.
"""

import os
import shutil

import pytest

from tests.support.export.exported_plans import BUNDLED, bundled
from tests.support.export.robot_drivers import checked
from tocsin.export.box.block import STATE_BYTES, plan_header
from tocsin.export.robot.c import c_source

CHIP = ("-mmcu=atmega328p", "-Os", "-Wall", "-Wextra", "-Wconversion", "-Wsign-conversion", "-Wshadow", "-Werror")
LANGUAGES = {"gnu99": ("avr-gcc", "-std=gnu99"), "c99": ("avr-gcc", "-std=c99", "-pedantic"),
             "sketch": ("avr-g++", "-std=gnu++11")}  # fmt: skip
pytestmark = [
    pytest.mark.devices,
    pytest.mark.skipif(
        shutil.which("avr-gcc") is None and os.environ.get("CI") != "true",
        reason="avr-gcc is not installed (apt-get install gcc-avr avr-libc): small chips were not tried",
    ),
]
PROGRAM = """
static tocsin_plan plan;
volatile int32_t in, out;

int main(void)
{
    tocsin_restart(&plan, TOCSIN_DEFAULT_VARIANT);
    for (;;) {
        out = tocsin_poll(&plan, TOCSIN_MAIN_PERIOD, in) + tocsin_roll(&plan, in) + tocsin_level(&plan, 0, in);
        out = tocsin_light(&plan, in, 30) + (int32_t)tocsin_led(&plan, 3) + tocsin_tone(&plan, in);
        out = tocsin_busy(&plan, 0, in) + tocsin_call(&plan, 0, in) + tocsin_official(&plan, 0, in, 30);
        out = tocsin_begin(&plan, in) + tocsin_sync(&plan, in, 3) + tocsin_over(&plan, in) + tocsin_waits(&plan, in);
    }
}
"""
TEXTS = """
static char line[120];

int log_one(void);
int log_one(void)
{
    return (int)tocsin_log(&plan, 0, line, sizeof line) + tocsin_period_named("driver") + (tocsin_word(0) != 0);
}
"""


def sizes(program):
    """Return the bytes of text, data and bss."""
    return tuple(map(int, checked(["avr-size", str(program)]).splitlines()[1].split()[:3]))


@pytest.mark.parametrize("language", LANGUAGES)
@pytest.mark.parametrize("plan", BUNDLED)
def test_it_compiles_in_silence_and_its_tables_take_no_memory(plan, language, tmp_path):
    """`data` is what is copied to memory at the start: of the tables nothing is. What is left is the plan's state."""
    (tmp_path / "tocsin_plan.h").write_text(c_source(bundled(plan)), encoding="utf-8")
    compiler, *flags = LANGUAGES[language]
    name = tmp_path / ("robot.cpp" if language == "sketch" else "robot.c")
    name.write_text('#include "tocsin_plan.h"\n' + PROGRAM + TEXTS, encoding="ascii")
    checked([compiler, *CHIP, *flags, str(name), "-o", str(tmp_path / "robot.elf")])
    flash, data, memory = sizes(tmp_path / "robot.elf")
    # Of the log some letters that the code itself holds: "TOCSIN1" and so on stand in flash, too.
    assert data <= 16
    assert flash < 32_768 * 0.4
    assert memory < 2048 * 0.4


def test_the_same_tables_without_flash_would_take_memory(tmp_path):
    """The macros do it: with them set to nothing, as on a desktop, the tables are copied."""
    made = c_source(bundled("full")).replace("#ifdef __AVR__", "#if 0")
    (tmp_path / "tocsin_plan.h").write_text(made, encoding="utf-8")
    (tmp_path / "robot.c").write_text('#include "tocsin_plan.h"\n' + PROGRAM, encoding="ascii")
    checked(["avr-gcc", *CHIP, "-std=gnu99", str(tmp_path / "robot.c"), "-o", str(tmp_path / "robot.elf")])
    assert sizes(tmp_path / "robot.elf")[1] > 1000


def test_the_boxs_plan_takes_the_memory_that_was_set_aside_for_it(tmp_path):
    """By the compiler's own sizeof, and the header's size as the block has it."""
    (tmp_path / "plan.h").write_text(plan_header(), encoding="utf-8")
    program = """
#include "plan.h"
static tocsin_plan plan;
volatile int32_t in, out;
typedef char header_is_64_bytes[sizeof(tocsin_header) == 64 ? 1 : -1];
typedef char rows_are_as_in_the_block[sizeof(tocsin_period_row) == 28 && sizeof(tocsin_firing_row) == 24
                                      && sizeof(tocsin_light_row) == 20 ? 1 : -1];
int main(void)
{
    if (tocsin_block_found())
        tocsin_restart(&plan, TOCSIN_DEFAULT_VARIANT);
    for (;;)
        out = tocsin_roll(&plan, in) + tocsin_light(&plan, in, 30) + tocsin_call(&plan, TOCSIN_HOME, in);
}
"""
    (tmp_path / "box.c").write_text(program, encoding="ascii")
    checked(["avr-gcc", *CHIP, "-std=gnu99", str(tmp_path / "box.c"), "-o", str(tmp_path / "box.elf")])
    _, data, memory = sizes(tmp_path / "box.elf")
    assert data == 0
    assert STATE_BYTES - 10 < memory - 8 <= STATE_BYTES
