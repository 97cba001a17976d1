"""How many frames are kept that follow each other without a pause: the firmware listens while it sends."""

import pytest

from tests.support.firmware.budgets import FRAMES, kept
from tests.support.firmware.toolchain import needs_chip


@needs_chip
@pytest.mark.parametrize(("baud", "leds"), [
    (115_200, 1), (115_200, 30), (115_200, 144), (115_200, 200), (250_000, 1), (250_000, 30), (250_000, 144),
    (250_000, 200), (500_000, 1), (500_000, 30), (500_000, 60),
])  # fmt: skip
def test_every_frame_is_kept_without_any_pause(baud, leds):
    assert kept(baud, leds) == (FRAMES, 0, 0)


@needs_chip
@pytest.mark.parametrize("leds", [144, 200])
def test_at_half_a_megabaud_frames_are_lost_whole_or_not_at_all(leds):
    """The ring of 256 bytes fills while a long strip is sent; with the gap that Tocsin leaves none is lost."""
    shown, wrong, _ = kept(500_000, leds)
    assert shown >= 3
    assert wrong == 0
    assert kept(500_000, leds, gap=True) == (FRAMES, 0, 0)
