"""Codes that a phone scans: examples of what stands at the laptop about them, and a reader that is not ours."""

import shutil
import subprocess

import msgspec

from tocsin.model.display.boards import BoardsFact, GivenBoard
from tocsin.runner.phones.code import modules
from tocsin.units import NS_PER_S

ZBAR = shutil.which("zbarimg")
ADDRESS = "http://192.0.2.117:8737"    # an address that RFC 5737 keeps for examples
WATCHES = f"{ADDRESS}/#t=AbCdEfGhIjKlMnOpQrStUv"
GIVES = f"{ADDRESS}/#g=vUtSrQpOnMlKjIhGfEdCbA"
UNTIL_NS = 10 * NS_PER_S

FIRST = BoardsFact(address=ADDRESS, code=modules(WATCHES))
MISSING = msgspec.structs.replace(FIRST, missing=True)
GIVEN = (GivenBoard(number=2, right="mark"), GivenBoard(number=3, right="steer", here=False))
SECOND = BoardsFact(address=ADDRESS, code=modules(GIVES), gives="steer", until_ns=UNTIL_NS, given=GIVEN, watching=4)


def scanned(pixels):
    """Return the texts of all codes that zbar finds in a picture: (row, column, colour) as bytes, or (row, column)."""
    rows, columns, *colours = pixels.shape
    kind = "P6" if colours else "P5"
    picture = f"{kind} {columns} {rows} 255\n".encode() + pixels.tobytes()
    # Only codes of two dimensions: in text it sees bars.
    command = [ZBAR, "--quiet", "--raw", "-Sdisable", "-Sqrcode.enable", "PNM:-"]
    found = subprocess.run(command, input=picture, capture_output=True, check=False, timeout=60)
    return found.stdout.decode().splitlines()
