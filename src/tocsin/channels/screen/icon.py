"""Draw the window's icon: three pulses in a frame that has closed in, as hands and eyes are told to go home."""

from types import ModuleType
from typing import TYPE_CHECKING

from tocsin.channels.screen.field import Box, without
from tocsin.model.safety import BLACK, OKABE_ITO

if TYPE_CHECKING:
    from pygame import Surface

SIDE = 64                              # pixels; systems scale it to what their lists need
_INSET, _THICK = 4, 6
_PULSES = (15, 28, 41)                 # where they begin, from the left
_WIDE, _TALL = 8, 28


def icon(pygame: ModuleType) -> "Surface":
    """Return the icon as a square surface of SIDE pixels: a white frame on black, in it three bars."""
    surface: Surface = pygame.Surface((SIDE, SIDE), depth=32)
    surface.fill(BLACK)
    outline = Box(0, 0, SIDE, SIDE).grown(-_INSET)
    for part in without(outline, outline.grown(-_THICK)):
        surface.fill(OKABE_ITO["white"], part)
    for left in _PULSES:
        surface.fill(OKABE_ITO["reddish_purple"], (left, (SIDE - _TALL) // 2, _WIDE, _TALL))
    return surface
