"""What letters on a page cover, measured by the renderer that draws them, and what of it meets."""

from functools import cache

import matplotlib
import numpy as np
from matplotlib.backends.backend_agg import RendererAgg
from matplotlib.font_manager import FontProperties

DPI = 720
PIXEL_MM = 25.4 / DPI
MEASURED_PT = 20.0                         # letters are outlines: in another size they are as much larger or smaller
ROOM_MM = 0.02                             # what meets by less than that does not meet


class Area:
    """What letters cover, in mm from the top left corner."""

    def __init__(self, name, left, top, right, bottom):
        self.name, self.left, self.top, self.right, self.bottom = name, left, top, right, bottom

    def meets(self, other):
        wide = min(self.right, other.right) - max(self.left, other.left)
        tall = min(self.bottom, other.bottom) - max(self.top, other.top)
        return wide > ROOM_MM and tall > ROOM_MM

    def holds(self, other):
        return (
            self.left <= other.left and other.right <= self.right
            and self.top <= other.top + 0.05 and other.bottom <= self.bottom + 0.05
        )  # fmt: skip

    def __repr__(self):
        return f"{self.name!r} at ({self.left:.2f}, {self.top:.2f}) to ({self.right:.2f}, {self.bottom:.2f})"


def meeting(areas, others):
    """Return all pairs of an area and another one that meet, each as ``Area.meets`` says; there may be thousands."""
    if not areas or not others:
        return []
    left, top, right, bottom = np.array([(a.left, a.top, a.right, a.bottom) for a in areas]).T[:, :, None]
    sides = np.array([(b.left, b.top, b.right, b.bottom) for b in others]).T[:, None, :]
    wide = np.minimum(right, sides[2]) - np.maximum(left, sides[0])
    tall = np.minimum(bottom, sides[3]) - np.maximum(top, sides[1])
    found = np.argwhere((wide > ROOM_MM) & (tall > ROOM_MM))
    return [(areas[a], others[b]) for a, b in found.tolist() if areas[a] is not others[b]]


@cache
def _measured(string, file):
    """Return how wide and tall a text of this font is, and how much of it is below the baseline, in its size."""
    font = FontProperties(fname=file, size=MEASURED_PT)
    with matplotlib.rc_context({"text.hinting": "none"}):          # as pages are printed
        measures = RendererAgg(8, 8, DPI).get_text_width_height_descent(string, font, False)
    return [pixels / (MEASURED_PT / 72 * DPI) for pixels in measures]


def text_areas(page, height_mm):
    """Measure every text of a figure as it is drawn: its letters from side to side and from top to bottom."""
    page.set_dpi(DPI)
    areas = []
    for text in page.texts:
        assert (text.get_ha(), text.get_va(), text.get_rotation()) == ("left", "baseline", 0.0)
        x, baseline = text.get_transform().transform(text.get_position()) * PIXEL_MM
        em_mm = text.get_fontsize() / 72 * 25.4
        width, height, below = (ems * em_mm for ems in _measured(text.get_text(), text.get_fontproperties().get_file()))
        top, bottom = (height_mm - y for y in (baseline + height - below, baseline - below))
        areas.append(Area(text.get_text(), x, top, x + width, bottom))
    return areas
