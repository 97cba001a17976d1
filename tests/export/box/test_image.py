"""The image of program and plan: an Intel HEX file that other tools read alike, and what does not fit is refused."""

import shutil
import subprocess

import pytest
from intelhex import IntelHex

from tests.support.export.exported_plans import bundled
from tocsin.errors import MistakeError
from tocsin.export.box.block import BLOCK_AT, BLOCK_ENDS, plan_block
from tocsin.export.box.box import box_export
from tocsin.export.box.image import box_program, flash_of, image_of

OBJCOPY = shutil.which("avr-objcopy") or shutil.which("objcopy")


def records(text):
    """Yield (address, type, data) of a file's records, by Intel's specification (1988): length, address, type, data,
    and a sum that makes all bytes of a record come to nothing."""
    for line in text.splitlines():
        assert line[0] == ":"
        data = bytes.fromhex(line[1:])
        assert sum(data) % 256 == 0
        assert data[0] == len(data) - 5
        yield int.from_bytes(data[1:3], "big"), data[3], data[4:-1]


def test_program_and_plan_lie_where_they_belong():
    made = box_export(bundled("full"), None)
    flash = {}
    for address, kind, data in records(made.text):
        assert kind in (0, 1)
        flash.update((address + n, byte) for n, byte in enumerate(data))
    program = box_program()
    assert all(flash[at] == program[at] for at in program.addresses())
    assert max(program.addresses()) < BLOCK_AT
    block = plan_block(bundled("full"), leds=30, order="GRB", max_ma=400, brightness=0.5)
    assert bytes(flash[BLOCK_AT + n] for n in range(len(block))) == block
    assert max(flash) < BLOCK_ENDS
    said = bytes(flash[at] for at in range(BLOCK_AT + len(block), max(flash) + 1)).decode()
    assert said.startswith("Made by Tocsin 9.9.9")
    assert "plan: Full" in said


@pytest.mark.devices
@pytest.mark.skipif(OBJCOPY is None, reason="objcopy is not installed: no other tool read the image")
def test_another_tool_reads_it_alike(tmp_path):
    made = box_export(bundled("doors"), None)
    (tmp_path / "box.hex").write_text(made.text, "ascii")
    done = [OBJCOPY, "-I", "ihex", "-O", "binary", "--gap-fill", "0xFF", "box.hex", "box.bin"]
    subprocess.run(done, cwd=tmp_path, check=True, timeout=60)
    assert (tmp_path / "box.bin").read_bytes() == flash_of(made.text.encode())


def test_what_is_too_large_is_refused_with_the_figure():
    program = IntelHex()
    program.frombytes(bytes(16_000))
    assert image_of(program, bytes(10_000), "")
    with pytest.raises(MistakeError, match=r"takes 10214 bytes of the box, which has room for 10211"):
        image_of(program, bytes(10_214), "abc")
    program.frombytes(bytes(1_000))
    with pytest.raises(MistakeError, match=r"takes 10241 bytes of the box, which has room for 10240"):
        image_of(IntelHex({0: 0}), bytes(BLOCK_ENDS - BLOCK_AT + 1), "")


@pytest.mark.parametrize("data", [
    b"", b"other", b":", b":zz", b":0400000001020304F3\n", b":020000041000EA\n:0400000001020304F2\n:00000001FF\n",
    "ä".encode(), b":00000001FF\n",
])  # fmt: skip
def test_what_is_no_program_of_this_chip_holds_nothing(data):
    assert flash_of(data) == b""
