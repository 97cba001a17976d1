"""Pages drawn by matplotlib: blank ones of a size in millimetres, and their files, alike on every machine."""

from collections.abc import Callable
from io import BytesIO
from typing import TYPE_CHECKING, Any, Literal

if TYPE_CHECKING:
    from matplotlib.figure import Figure

Form = Literal["svg", "png", "pdf"]
_MM_PER_INCH = 25.4
_POINTS_PER_INCH = 72
_PIXELS_PER_INCH = 220
# Whatever a user's own settings for matplotlib say, pages look the same and equal ones have equal bytes.
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
    "text.hinting": "none",
    "hatch.linewidth": 0.45,
    "hatch.color": "black",
    "lines.antialiased": True,
    "lines.scale_dashes": False,
    "patch.antialiased": True,
    "path.simplify": False,
    "path.snap": True,
    "path.sketch": None,
    "path.effects": [],
    "agg.path.chunksize": 0,
    "savefig.bbox": None,
    "savefig.facecolor": "auto",
    "savefig.transparent": False,
}  # fmt: skip


def points(mm: float) -> float:
    """Return a length in points."""
    return mm / _MM_PER_INCH * _POINTS_PER_INCH


def blank(width_mm: float, height_mm: float) -> "Figure":
    """Return a white page."""
    from matplotlib.figure import Figure

    return Figure(
        figsize=(width_mm / _MM_PER_INCH, height_mm / _MM_PER_INCH), dpi=_POINTS_PER_INCH, facecolor="white",
        edgecolor="none",
    )  # fmt: skip


def printed(draw: Callable[[], "Figure"], form: Form, title: str, creator: str) -> bytes:
    """Return the page that ``draw`` makes as a file of that form; there is no date in it."""
    import matplotlib

    canvas, metadata = _canvas(form, title, creator)
    dpi = _PIXELS_PER_INCH if form == "png" else _POINTS_PER_INCH
    with matplotlib.rc_context(_SETTINGS), BytesIO() as stream:
        canvas(draw()).print_figure(stream, format=form, metadata=metadata, dpi=dpi)
        return stream.getvalue()


def _canvas(form: Form, title: str, creator: str) -> tuple[Any, dict[str, str | None]]:
    match form:
        case "svg":
            from matplotlib.backends.backend_svg import FigureCanvasSVG

            return FigureCanvasSVG, {"Title": title, "Creator": creator, "Date": None}
        case "pdf":
            from matplotlib.backends.backend_pdf import FigureCanvasPdf

            return FigureCanvasPdf, {"Title": title, "Creator": creator, "Producer": None, "CreationDate": None}
        case _:
            from matplotlib.backends.backend_agg import FigureCanvasAgg

            return FigureCanvasAgg, {"Title": title, "Software": creator}
