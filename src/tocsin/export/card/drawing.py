"""A layout drawn as SVG or PDF with matplotlib's vector writers. No window, no state of ``pyplot``, no date.

Letters are those of DejaVu Sans, which comes with matplotlib: as outlines in SVG, so that a card looks the same where
the font is missing, and as text in PDF, so that it can be searched and read aloud.
"""

from functools import cache, lru_cache
from pathlib import Path
from typing import TYPE_CHECKING, Any

from tocsin.export.card.layout import Layout
from tocsin.export.card.pieces import CardText, Rectangle
from tocsin.export.drawing.fitting import Extent
from tocsin.export.drawing.printing import blank, points, printed

if TYPE_CHECKING:
    from matplotlib.figure import Figure
    from matplotlib.font_manager import FontProperties

_FILES = {False: "DejaVuSans.ttf", True: "DejaVuSans-Bold.ttf"}


class DejaVu:
    """The letters of DejaVu Sans, regular and bold, measured without hinting."""

    @staticmethod
    @lru_cache(maxsize=50_000)
    def extent(text: str, bold: bool) -> Extent:
        """Return the room that a text takes, in ems."""
        from matplotlib.textpath import TextToPath

        width, height, below = TextToPath().get_text_width_height_descent(text, font(bold, 100.0), False)
        return Extent(width / 100, (height - below) / 100, below / 100)

    @staticmethod
    @cache
    def has(letter: str) -> bool:
        """Return whether both weights have the letter."""
        from matplotlib.font_manager import get_font

        return all(get_font(str(font_path(bold))).get_char_index(ord(letter)) for bold in (False, True))


DEJAVU = DejaVu()                      # one for all layouts: what is fitted once with it is known


@cache
def font_path(bold: bool) -> Path:
    """Return the file of the font of a weight."""
    import matplotlib

    return Path(matplotlib.get_data_path()) / "fonts" / "ttf" / _FILES[bold]


def font(bold: bool, size_pt: float) -> "FontProperties":
    """Return the font at a size in points."""
    from matplotlib.font_manager import FontProperties

    return FontProperties(fname=font_path(bold), size=size_pt)


def figure(layout: Layout) -> "Figure":
    """Return the page as a figure with all texts and blocks on it."""
    page = blank(layout.width_mm, layout.height_mm)
    for block in layout.blocks:
        page.add_artist(_rectangle(block, layout))
    for text in layout.texts:
        _write(page, text, layout)
    return page


def svg(layout: Layout, title: str, creator: str) -> str:
    """Return the page as an SVG document."""
    return printed(lambda: figure(layout), "svg", title, creator).decode("utf-8")


def pdf(layout: Layout, title: str, creator: str) -> bytes:
    """Return the page as a PDF document."""
    return printed(lambda: figure(layout), "pdf", title, creator)


def _write(page: "Figure", text: CardText, layout: Layout) -> None:
    page.text(
        text.x_mm / layout.width_mm, 1 - text.y_mm / layout.height_mm, text.string,
        fontproperties=font(text.bold, points(text.em_mm)),
        color=str(text.grey), ha="left", va="baseline", parse_math=False,
    )  # fmt: skip


def _rectangle(block: Rectangle, layout: Layout) -> Any:
    from matplotlib.patches import Rectangle

    corner = (block.x_mm / layout.width_mm, 1 - (block.y_mm + block.height_mm) / layout.height_mm)
    return Rectangle(
        corner, block.width_mm / layout.width_mm, block.height_mm / layout.height_mm,
        facecolor="none" if block.line_mm else str(block.grey),
        edgecolor=str(block.grey) if block.line_mm else "none",
        linewidth=points(block.line_mm),
    )  # fmt: skip
