"""The code that a phone scans, as a reader that is not ours reads it."""

import numpy as np
import pytest

from tests.support.channels.codes import ADDRESS, WATCHES, ZBAR, scanned
from tocsin.runner.phones.code import modules

pytestmark = pytest.mark.skipif(ZBAR is None, reason="zbarimg is not installed")


def drawn(code, px, margin=4, *, inverted=False):
    """Return a code as grey pixels, black on white."""
    bits = np.pad(np.array([[bit == "1" for bit in row] for row in code]), margin)
    return np.kron(np.where(bits != inverted, 0, 255).astype(np.uint8), np.ones((px, px), np.uint8))


@pytest.mark.devices
@pytest.mark.parametrize("px", [3, 7])
@pytest.mark.parametrize("text", [WATCHES, f"{ADDRESS}/#g=-_0123456789abcdefghij", "http://[2001:db8::17]:49152/#t=x"])
def test_it_is_read_as_what_was_written(text, px):
    assert scanned(drawn(modules(text), px)) == [text]


@pytest.mark.devices
def test_white_on_black_is_not_read_which_is_why_it_is_never_drawn_so():
    assert scanned(drawn(modules(WATCHES), 7, inverted=True)) == []


def test_an_address_in_a_private_network_gives_33_modules():
    """41 with the margin: what a terminal of 80 columns and a window of 800 have room for."""
    code = modules("http://192.168.178.117:8737/#t=AbCdEfGhIjKlMnOpQrStUv")
    assert {len(code), *map(len, code)} == {33}
    assert set("".join(code)) == {"0", "1"}
