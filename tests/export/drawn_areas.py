"""What letters on a page cover, measured by the renderer that draws them."""

from matplotlib.backends.backend_agg import RendererAgg

DPI = 720                                  # hinting moves letters by less than 0.02 mm
PIXEL_MM = 25.4 / DPI


class Area:
    """What letters cover, in mm from the top left corner."""

    def __init__(self, name, left, top, right, bottom):
        self.name, self.left, self.top, self.right, self.bottom = name, left, top, right, bottom

    def meets(self, other):
        wide = min(self.right, other.right) - max(self.left, other.left)
        tall = min(self.bottom, other.bottom) - max(self.top, other.top)
        return wide > 0.02 and tall > 0.02

    def holds(self, other):
        return (
            self.left <= other.left and other.right <= self.right
            and self.top <= other.top + 0.05 and other.bottom <= self.bottom + 0.05
        )  # fmt: skip

    def __repr__(self):
        return f"{self.name!r} at ({self.left:.2f}, {self.top:.2f}) to ({self.right:.2f}, {self.bottom:.2f})"


def text_areas(page, height_mm):
    """Measure every text of a figure as it is drawn: its letters from side to side and from top to bottom."""
    page.set_dpi(DPI)
    renderer = RendererAgg(8, 8, DPI)           # measures the same as one of the page's size
    areas = []
    for text in page.texts:
        extent = text.get_window_extent(renderer)
        baseline = text.get_transform().transform(text.get_position())[1]
        _, height, below = renderer.get_text_width_height_descent(text.get_text(), text.get_fontproperties(), False)
        top, bottom = (height_mm - y * PIXEL_MM for y in (baseline + height - below, baseline - below))
        areas.append(Area(text.get_text(), extent.x0 * PIXEL_MM, top, extent.x1 * PIXEL_MM, bottom))
    return areas
