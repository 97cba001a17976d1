"""Compute where a cue's colour lies: full field, frame, and the plate of the words. Pure geometry, in pixels."""

import math
from collections.abc import Iterable, Iterator
from typing import NamedTuple

from tocsin.model.clock.schedule import Shot
from tocsin.model.pattern import Rgb, ScreenPattern
from tocsin.model.safety import BLACK, OKABE_ITO, saturated_red

FRAME_SHARE = 0.18                     # of the area; the design allows a fifth
STRIPE_SHARE = 0.11                    # width of a stripe, of the shorter side
# Width of either side of a field or a frame. Between them TOUCH still finds room in letters a quarter of 16:9 high.
SIDE_SHARE = 0.125
# A field that swells goes down to this share of its light values; slower than this it cannot be taken for a flash.
SWELL_LOW = 0.65
SHORTEST_CYCLE_NS = 1_000_000_000
# The two colours of the stripes at both sides of a field or a frame, then the two of those in its middle.
Colours = tuple[Rgb, Rgb, Rgb, Rgb]
DARK: Colours = (BLACK, BLACK, BLACK, BLACK)
REGIONS = 8                            # of the flash guard: these four of the field, and of the frame


class Box(NamedTuple):
    """A rectangle: left, top, width, height."""

    x: int
    y: int
    w: int
    h: int

    @property
    def right(self) -> int:
        """The first column right of the box."""
        return self.x + self.w

    @property
    def bottom(self) -> int:
        """The first row below the box."""
        return self.y + self.h

    def grown(self, by: int) -> "Box":
        """Return the box with ``by`` pixels more on each side; a negative ``by`` shrinks it, at most to nothing."""
        return Box(self.x - by, self.y - by, max(0, self.w + 2 * by), max(0, self.h + 2 * by))

    def within(self, other: "Box") -> "Box":
        """Return the intersection with another box."""
        x, y = max(self.x, other.x), max(self.y, other.y)
        return Box(x, y, max(0, min(self.right, other.right) - x), max(0, min(self.bottom, other.bottom) - y))


def without(box: Box, hole: Box) -> Iterator[Box]:
    """Yield the parts of a box outside a hole: at most four, without overlap."""
    hole = hole.within(box)
    if not (hole.w and hole.h):
        hole = Box(box.x, box.y, 0, 0)
    parts = (
        Box(box.x, box.y, box.w, hole.y - box.y),
        Box(box.x, hole.bottom, box.w, box.bottom - hole.bottom),
        Box(box.x, hole.y, hole.x - box.x, hole.h),
        Box(hole.right, hole.y, box.right - hole.right, hole.h),
    )
    yield from (part for part in parts if part.w > 0 and part.h > 0)


def stripes(width: int, height: int) -> list[tuple[tuple[int, int], ...]]:
    """Return the corners of the stripes of the second colour on a window, at 45 degrees and of equal width; they reach
    beyond it."""
    # Seen along the edge, a stripe at 45 degrees is wider by the root of two.
    across = max(2, round(min(width, height) * STRIPE_SHARE * 2**0.5))
    return [
        ((x, 0), (x + across, 0), (x + across - height, height), (x - height, height))
        for x in range(0, width + height, 2 * across)
    ]


def sides_and_middle(box: Box) -> tuple[Box, Box, Box]:
    """Return the left side of a field or of a frame's outline, its middle and its right side."""
    side = round(box.w * SIDE_SHARE)
    return (
        Box(box.x, box.y, side, box.h),
        Box(box.x + side, box.y, box.w - 2 * side, box.h),
        Box(box.right - side, box.y, side, box.h),
    )


def room_for_words(pattern: ScreenPattern, window: Box) -> Box:
    """Return where a cue's words may stand while its field is full: between the blocks at its sides if the middle is
    dark, so that no plate touches them."""
    dark = pattern.field == "apart" and (*pattern.colours, BLACK)[1] == BLACK
    return sides_and_middle(window)[1] if dark else window


def thickness(width: int, height: int) -> int:
    """Return the thickness in pixels of a frame along the window's edge that takes FRAME_SHARE of the area."""
    both = width + height
    return max(1, int((both - math.sqrt(both * both - 4 * FRAME_SHARE * width * height)) / 4))


def frame_outline(window: Box, plate: Box, thick: int, progress: float) -> Box:
    """Return the outer edge of the frame: the window's at progress 0; close around the plate at 1."""
    plate = plate.grown(thick).within(window)
    left = round((plate.x - window.x) * progress)
    top = round((plate.y - window.y) * progress)
    right = round((window.right - plate.right) * progress)
    bottom = round((window.bottom - plate.bottom) * progress)
    return Box(window.x + left, window.y + top, window.w - left - right, window.h - top - bottom)


def frame_parts(outline: Box, thick: int, plate: Box) -> list[Box]:
    """Return the boxes of a frame; the plate lies above it."""
    return [part for side in without(outline, outline.grown(-thick)) for part in without(side, plate)]


def progress_of(pattern: ScreenPattern, shot: Shot, now_ns: int, count: int) -> float | None:
    """Return how far a cue's frame has closed in, 0 to 1, or None if it has no frame.

    ``count`` is how often the cue's firing occurs: a stepping frame moves an equal share each time.
    """
    if pattern.frame == "none":
        return None
    if pattern.frame == "steps":
        return shot.firing.n / max(1, count)
    if pattern.frame == "shrinks" and shot.end_ns is not None:
        return min(1.0, max(0.0, (now_ns - shot.begin_ns) / max(1, shot.end_ns - shot.begin_ns)))
    return 0.0


def field_colours(pattern: ScreenPattern, shot: Shot, now_ns: int) -> Colours:
    """Return the colours of a cue's field at this moment of its swelling; equal ones for a plain field."""
    one = _harmless(pattern.colours[0] if pattern.colours else OKABE_ITO["white"])
    other = _harmless(pattern.colours[1]) if len(pattern.colours) > 1 else BLACK
    laid = {"stripes": (one, other, one, other), "apart": (one, one, other, other)}.get(pattern.field, (one,) * 4)
    if not pattern.cycle_ns:
        return laid
    cycle_ns = max(pattern.cycle_ns, SHORTEST_CYCLE_NS)
    phase = (now_ns - shot.begin_ns) % cycle_ns / cycle_ns
    light = SWELL_LOW + (1 - SWELL_LOW) * (1 + math.cos(2 * math.pi * phase)) / 2
    return four(_dimmed(colour, light) for colour in laid)


def four(colours: Iterable[Rgb]) -> Colours:
    """Return the colours of a field or a frame, of four that are counted out; raises ValueError if they are not
    four."""
    one, other, middle, across = colours
    return one, other, middle, across


def full_until_ns(pattern: ScreenPattern, shot: Shot) -> int:
    """Return until when the cue fills the field, in nanoseconds; its begin for a pattern without a field."""
    return shot.begin_ns + (0 if pattern.field == "none" else pattern.full_ns)


def _dimmed(colour: Rgb, light: float) -> Rgb:
    return (round(colour[0] * light), round(colour[1] * light), round(colour[2] * light))


def _harmless(colour: Rgb) -> Rgb:
    """Return the colour, orange for saturated red: no field and no frame is ever red."""
    return OKABE_ITO["orange"] if saturated_red(colour) else colour
