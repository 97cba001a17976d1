"""What a person sees on the strip: the look of a frame by the name of the bundled pattern that it belongs to.

Written from the plan's and the patterns' text, for a strip of 30 LEDs; colours after Okabe and Ito (2008).
"""

from collections.abc import Callable
from itertools import groupby

from tests.support.stands.stand import LEDS

Rgb = tuple[int, int, int]
Frame = list[Rgb]
BLACK, WHITE, YELLOW = (0, 0, 0), (255, 255, 255), (240, 228, 66)
PURPLE = (204, 121, 167)
THIRD, HALF = (76, 76, 76), (153, 153, 153)     # white at levels 0.3 and 0.6


def blocks(frame: Frame) -> list[tuple[Rgb, int]]:
    """Return the stretches of equal colour and how many LEDs each has."""
    return [(colour, len(list(leds))) for colour, leds in groupby(frame)]


def lit(frame: Frame) -> list[int]:
    """Return the places of LEDs that are not black."""
    return [place for place, colour in enumerate(frame) if colour != BLACK]


def _one_block(frame: Frame, colour: Rgb) -> bool:
    """Return whether there is one block of the colour, and else nothing."""
    places = lit(frame)
    return bool(places) and {frame[place] for place in places} == {colour} and len(places) == places[-1] - places[0] + 1


def _pads(frame: Frame) -> bool:
    """Lit around the middle, dim: all of it, less and less."""
    return _one_block(frame, THIRD) and abs(lit(frame)[0] - (LEDS - 1 - lit(frame)[-1])) <= 1


def _prepare(frame: Frame) -> bool:
    """One colour, a yellow that swells and fades."""
    red, green, blue = frame[0]
    share = red / YELLOW[0]
    yellow = abs(green - share * YELLOW[1]) <= 1 and abs(blue - share * YELLOW[2]) <= 1
    return len(blocks(frame)) == 1 and yellow and 0.15 <= share <= 1


LOOKS: dict[str, Callable[[Frame], bool]] = {
    "black": lambda frame: frame == [BLACK] * LEDS,
    "pads": _pads,
    "home": lambda frame: blocks(frame) == [(PURPLE, 6), (WHITE, 6)] * 2 + [(PURPLE, 6)],
    "no_touch": lambda frame: blocks(frame) == [(WHITE, 9), (BLACK, 12), (WHITE, 9)],
    "choose": lambda frame: _one_block(frame, YELLOW) and len(lit(frame)) == 6,
    "last_five": lambda frame: blocks(frame) == [(THIRD, 2), (BLACK, 2)] * 7 + [(THIRD, 2)],
    "over": lambda frame: blocks(frame) == [(BLACK, 10), (HALF, 10), (BLACK, 10)],
    "prepare": _prepare,
}


def look(frame: Frame) -> str:
    """Return the name of the pattern that a frame belongs to, "black", or "mixed" for anything else."""
    return next((name for name, fits in LOOKS.items() if fits(frame)), "mixed")
