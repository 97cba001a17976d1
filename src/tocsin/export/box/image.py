"""Put the box's program and a plan into one image of the chip's flash, as an Intel HEX file.

The format is Intel's (Hexadecimal Object File Format Specification, Revision A, 1988). It has no comments, so what the
file is stands as text behind the plan, where the chip keeps it: whoever reads a box out can tell which plan is in it.
"""

import io
from importlib.resources import files

from intelhex import IntelHex, IntelHexError

from tocsin.errors import MistakeError
from tocsin.export.box.block import BLOCK_AT, BLOCK_ENDS
from tocsin.translation import tr

FLASH_BYTES = 32_768                   # ATmega328P
MOST_BYTES = FLASH_BYTES * 8 // 10     # of program and plan together: room for a boot loader and for the next version
_FILL = 0xFF                           # what erased flash reads
_RECORD_START = b":"


def box_image(block: bytes, told: str) -> str:
    """Return the image of the box's program with a plan's block, as the text of an Intel HEX file; ``told`` is text
    that lies behind the block. Raises MistakeError, with the figure, for what does not fit."""
    return image_of(box_program(), block, told)


def box_program() -> IntelHex:
    """Return the program of the box that comes with Tocsin."""
    text = (files("tocsin") / "firmware" / "box.hex").read_text(encoding="ascii")
    return IntelHex(io.StringIO(text))


def image_of(program: IntelHex, block: bytes, told: str) -> str:
    """Return a program with a plan's block, as ``box_image``."""
    note = told.encode("utf-8")
    size = len(program) + len(block) + len(note)
    if BLOCK_AT + len(block) + len(note) > BLOCK_ENDS or size > MOST_BYTES:
        most = min(BLOCK_ENDS - BLOCK_AT, MOST_BYTES - len(program)) - len(note)
        raise MistakeError(
            tr("this plan takes {size} bytes of the box, which has room for {most}", size=len(block), most=most),
            hint=tr("let repeats (every) come less often, or make patterns simpler"),
        )
    image = IntelHex()
    image.merge(program, overlap="error")
    image.frombytes(block + note, offset=BLOCK_AT)
    text = io.StringIO()
    image.write_hex_file(text, eolstyle="native")
    return text.getvalue()


def flash_of(data: bytes) -> bytes:
    """Return what an Intel HEX file puts into the chip, from its first address to its last; nothing for a file of
    another kind."""
    if not data.startswith(_RECORD_START):
        return b""
    image = IntelHex()
    image.padding = _FILL
    try:
        image.loadhex(io.StringIO(data.decode("ascii")))
        return bytes(image.tobinarray()) if image.maxaddr() is not None and image.maxaddr() < FLASH_BYTES else b""
    except (IntelHexError, UnicodeDecodeError):
        return b""
