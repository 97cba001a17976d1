"""A layout drawn as SVG or PDF with matplotlib's vector writers. No window, no state of ``pyplot``, no date.

Letters are those of DejaVu Sans, which comes with matplotlib: as outlines in SVG, so that a card looks the same where
the font is missing, and as text in PDF, so that it can be searched and read aloud.
"""

from functools import cache, lru_cache
from io import BytesIO
from pathlib import Path
from typing import TYPE_CHECKING, Any

from tocsin.export.card_fitting import Extent
from tocsin.export.card_layout import Layout
from tocsin.export.card_pieces import Block, Text

if TYPE_CHECKING:
    from matplotlib.figure import Figure
    from matplotlib.font_manager import FontProperties

_MM_PER_INCH = 25.4
_POINTS_PER_INCH = 72
_FILES = {False: "DejaVuSans.ttf", True: "DejaVuSans-Bold.ttf"}
# Whatever a user's own settings for matplotlib say, cards look the same and equal ones have equal bytes.
_SETTINGS: Any = {
    "svg.fonttype": "path",
    "svg.hashsalt": "tocsin",
    "svg.id": None,
    "svg.image_inline": True,
    "pdf.fonttype": 42,
    "pdf.compression": 6,
    "pdf.use14corefonts": False,
    "text.usetex": False,
    "text.color": "black",
    "text.antialiased": True,
    "path.simplify": False,
    "path.sketch": None,
    "path.effects": [],
    "savefig.bbox": None,
    "savefig.facecolor": "auto",
    "savefig.transparent": False,
}  # fmt: skip


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
    from matplotlib.figure import Figure

    page = Figure(
        figsize=(layout.width_mm / _MM_PER_INCH, layout.height_mm / _MM_PER_INCH), dpi=_POINTS_PER_INCH,
        facecolor="white", edgecolor="none",
    )  # fmt: skip
    for block in layout.blocks:
        page.add_artist(_rectangle(block, layout))
    for text in layout.texts:
        _write(page, text, layout)
    return page


def svg(layout: Layout, title: str, creator: str) -> str:
    """Return the page as an SVG document."""
    from matplotlib.backends.backend_svg import FigureCanvasSVG

    metadata = {"Title": title, "Creator": creator, "Date": None}
    return _printed(layout, FigureCanvasSVG, "svg", metadata).decode("utf-8")


def pdf(layout: Layout, title: str, creator: str) -> bytes:
    """Return the page as a PDF document."""
    from matplotlib.backends.backend_pdf import FigureCanvasPdf

    metadata = {"Title": title, "Creator": creator, "Producer": None, "CreationDate": None}
    return _printed(layout, FigureCanvasPdf, "pdf", metadata)


def _printed(layout: Layout, canvas: Any, form: str, metadata: dict[str, str | None]) -> bytes:
    import matplotlib

    with matplotlib.rc_context(_SETTINGS), BytesIO() as stream:
        canvas(figure(layout)).print_figure(stream, format=form, metadata=metadata, dpi=_POINTS_PER_INCH)
        return stream.getvalue()


def _write(page: "Figure", text: Text, layout: Layout) -> None:
    page.text(
        text.x_mm / layout.width_mm, 1 - text.y_mm / layout.height_mm, text.string,
        fontproperties=font(text.bold, text.em_mm / _MM_PER_INCH * _POINTS_PER_INCH),
        color=str(text.grey), ha="left", va="baseline", parse_math=False,
    )  # fmt: skip


def _rectangle(block: Block, layout: Layout) -> Any:
    from matplotlib.patches import Rectangle

    corner = (block.x_mm / layout.width_mm, 1 - (block.y_mm + block.height_mm) / layout.height_mm)
    return Rectangle(
        corner, block.width_mm / layout.width_mm, block.height_mm / layout.height_mm,
        facecolor="none" if block.line_mm else str(block.grey),
        edgecolor=str(block.grey) if block.line_mm else "none",
        linewidth=block.line_mm / _MM_PER_INCH * _POINTS_PER_INCH,
    )  # fmt: skip
