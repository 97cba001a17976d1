"""The images: what is shipped is what the sources make, neither outgrows the chip, and they are a sketch as well."""

import shutil
import subprocess

import pytest

from tests.support.firmware.chip import Script
from tests.support.firmware.toolchain import SHIPPED, SOURCE, image, needs_chip
from tocsin.units import NS_PER_MS

CORE_MAIN = """
void setup(void);
void loop(void);
void init(void) {}
int main(void) { init(); setup(); for (;;) loop(); }
"""


def compiler():
    return subprocess.run(["avr-gcc", "--version"], capture_output=True, text=True).stdout.splitlines()[0]


@needs_chip
@pytest.mark.parametrize("board", ["strip", "box"])
def test_what_is_shipped_is_what_the_sources_make(board):
    if compiler() != (SHIPPED / "compiler.txt").read_text("utf-8").strip():
        pytest.skip(f"another compiler made the shipped images: {compiler()}")
    assert image(board).read_text("ascii") == (SHIPPED / f"{board}.hex").read_text("ascii"), "make -C src/firmware ship"


@needs_chip
@pytest.mark.parametrize(("growth", "fits"), [
    ('const char extra[18000] __attribute__((used, section(".progmem.extra"))) = {1};', True),
    ('const char extra[24000] __attribute__((used, section(".progmem.extra"))) = {1};', False),
    ("char extra[400] __attribute__((used));", False),
])  # fmt: skip
def test_an_image_past_four_fifths_of_the_chip_is_not_built(tmp_path, growth, fits):
    folder = tmp_path / "firmware"
    shutil.copytree(SOURCE, folder)
    with (folder / "strip.c").open("a") as file:
        file.write(growth + "\n")
    made = subprocess.run(
        ["make", "-C", str(folder), f"BUILD={tmp_path / 'build'}", "LDFLAGS=-mmcu=atmega328p",
         str(tmp_path / "build" / "strip.hex")],
        capture_output=True, text=True,
    )  # fmt: skip
    assert (made.returncode == 0) is fits, made.stdout + made.stderr
    assert (tmp_path / "build" / "strip.hex").exists() is fits


@needs_chip
def test_the_sources_are_a_sketch_as_well(tmp_path):
    """The usual editor links a library that has a `main` of its own, and compiles the folder's C files in GNU C with
    link-time optimisation: ours is taken, the sketch itself may be empty. Written from memory of that editor's core."""
    core = tmp_path / "core.c"
    core.write_text(CORE_MAIN, "ascii")
    run = ["avr-gcc", "-mmcu=atmega328p", "-Os", "-DF_CPU=16000000L", "-std=gnu11", "-flto", "-ffat-lto-objects"]
    subprocess.run([*run, "-c", core, "-o", tmp_path / "core.o"], check=True)
    subprocess.run(["avr-gcc-ar", "rcs", tmp_path / "core.a", tmp_path / "core.o"], check=True)
    listed = (SOURCE / "README.md").read_text("utf-8")
    names = sorted(path.name for path in SOURCE.glob("*.[ch]") if not path.name.startswith(("box", "plan")))
    assert [name for name in names if f"`{name}`" not in listed] == []
    sources = [SOURCE / name for name in names if name.endswith(".c")]
    (tmp_path / "strip.c").write_text("", "ascii")
    done = subprocess.run(
        [*run, "-Wall", "-Wextra", "-Werror", "-fuse-linker-plugin", *sources, tmp_path / "strip.c",
         tmp_path / "core.a", "-o", tmp_path / "sketch.elf"], capture_output=True, text=True, cwd=tmp_path,
    )  # fmt: skip
    assert done.returncode == 0, done.stderr
    subprocess.run(["avr-objcopy", "-O", "ihex", tmp_path / "sketch.elf", tmp_path / "sketch.hex"], check=True)
    assert Script().run(tmp_path / "sketch.hex", 20 * NS_PER_MS).said == b"Ada\n"
