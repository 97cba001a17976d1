"""Pages drawn as SVG, PDF or PNG with matplotlib's own writers, alike on every machine. No window, no ``pyplot``.

Letters are outlines in SVG, so that a page looks the same where the font is missing, and text in PDF, so that it can be
searched and read aloud. Everything is grey but areas and letters that have a colour of their own.
"""

from collections.abc import Iterable, Sequence
from io import BytesIO
from typing import TYPE_CHECKING, Any, Literal

from tocsin.export.drawing.letters import font
from tocsin.export.drawing.shapes import Area, Label, OutlinedBox, Page, Stroke
from tocsin.model.pattern import Rgb

if TYPE_CHECKING:
    from matplotlib.figure import Figure
    from matplotlib.lines import Line2D
    from matplotlib.patches import Polygon, Rectangle

Form = Literal["svg", "png", "pdf"]
#: What a page is. Its file says so: only a page of the same kind ever takes its place.
PageKind = Literal["card", "picture", "poster", "lateness", "review", "advice"]
KIND_MARK = "tocsin-page: "             # stands in a page's file before its kind
_MM_PER_INCH = 25.4
_POINTS_PER_INCH = 72
_PIXELS_PER_INCH = 220
_STROKES_BELOW = ("edge", "row", "leader", "zoom")       # what boxes stand before
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


def figure(page: Page) -> "Figure":
    """Return a page as a figure: grounds, the strokes behind, boxes, the other strokes, areas, labels."""
    from matplotlib.figure import Figure
    from matplotlib.transforms import Affine2D

    made = Figure(
        figsize=(page.width_mm / _MM_PER_INCH, page.height_mm / _MM_PER_INCH), dpi=_POINTS_PER_INCH, facecolor="white",
        edgecolor="none",
    )  # fmt: skip
    to_page = Affine2D().scale(1 / page.width_mm, -1 / page.height_mm).translate(0, 1) + made.transFigure
    shapes: Iterable[tuple[float, Rectangle | Line2D | Polygon]] = (
        *((1 if box.kind == "shade" else 3, _rectangle(box, page.upwards)) for box in page.parts.boxes),
        *((2 if stroke.kind in _STROKES_BELOW else 4, _line(stroke)) for stroke in page.parts.strokes),
        *((4.5, _polygon(area)) for area in page.parts.areas),
    )
    for order, artist in shapes:
        artist.set(transform=to_page, zorder=order)
        made.add_artist(artist)
    for label in page.parts.labels:
        _write(made, label, page)
    return made


def drawn(page: Page, form: Form, kind: PageKind, title: str, creator: str) -> bytes:
    """Return the page as a file of that form; there is no date in it."""
    import matplotlib

    canvas, metadata = _canvas(form, kind, title, creator)
    dpi = _PIXELS_PER_INCH if form == "png" else _POINTS_PER_INCH
    with matplotlib.rc_context(_SETTINGS), BytesIO() as stream:
        canvas(figure(page)).print_figure(stream, format=form, metadata=metadata, dpi=dpi)
        return stream.getvalue()


def drawn_sheets(pages: Sequence[Page], kind: PageKind, title: str, creator: str) -> bytes:
    """Return several pages as one PDF; there is no date in it."""
    import matplotlib
    from matplotlib.backends.backend_pdf import PdfPages

    with matplotlib.rc_context(_SETTINGS), BytesIO() as stream:
        canvas, metadata = _canvas("pdf", kind, title, creator)
        with PdfPages(stream, metadata=metadata) as file:
            for page in pages:
                file.savefig(canvas(figure(page)).figure, dpi=_POINTS_PER_INCH)
        return stream.getvalue()


def _points(mm: float) -> float:
    return mm / _MM_PER_INCH * _POINTS_PER_INCH


def _rectangle(box: OutlinedBox, upwards: bool) -> "Rectangle":
    from matplotlib.patches import Rectangle

    inset = box.line_mm / 2
    width_mm, height_mm = box.width_mm - box.line_mm, box.height_mm - box.line_mm
    x_mm, y_mm = box.x_mm + inset, box.y_mm + inset
    return Rectangle(
        (x_mm, y_mm + height_mm if upwards else y_mm), width_mm, -height_mm if upwards else height_mm,
        facecolor="none" if box.fill is None else str(box.fill), edgecolor=str(box.grey) if box.line_mm else "none",
        linewidth=_points(box.line_mm), joinstyle="miter", hatch=box.hatch or None,
    )  # fmt: skip


def _line(stroke: Stroke) -> "Line2D":
    from matplotlib.lines import Line2D

    xs, ys = zip(*stroke.points, strict=True)
    return Line2D(
        xs, ys, color=str(stroke.grey), linewidth=_points(stroke.line_mm),
        linestyle=(0, tuple(_points(mm) for mm in stroke.dots)) if stroke.dots else "-",
        solid_capstyle="butt", dash_capstyle="butt", solid_joinstyle="miter",
    )  # fmt: skip


def _polygon(area: Area) -> "Polygon":
    from matplotlib.patches import Polygon

    return Polygon(
        area.points, closed=True, facecolor=_colour(area.colour), edgecolor="black" if area.line_mm else "none",
        linewidth=_points(area.line_mm), joinstyle="miter",
    )  # fmt: skip


def _colour(colour: Rgb) -> str:
    return "#{:02x}{:02x}{:02x}".format(*colour)


def _write(made: "Figure", label: Label, page: Page) -> None:
    colour = str(label.grey) if label.colour is None else _colour(label.colour)
    made.text(
        label.x_mm / page.width_mm, 1 - label.y_mm / page.height_mm, label.string,
        fontproperties=font(label.bold, _points(label.em_mm)), color=colour, ha="left", va="baseline",
        parse_math=False, zorder=5,
    )  # fmt: skip


def _canvas(form: Form, kind: PageKind, title: str, creator: str) -> tuple[Any, dict[str, str | None]]:
    told = {"Title": title, "Keywords": f"{KIND_MARK}{kind}"}
    match form:
        case "svg":
            from matplotlib.backends.backend_svg import FigureCanvasSVG

            return FigureCanvasSVG, {**told, "Creator": creator, "Date": None}
        case "pdf":
            from matplotlib.backends.backend_pdf import FigureCanvasPdf

            return FigureCanvasPdf, {**told, "Creator": creator, "Producer": None, "CreationDate": None}
        case _:
            from matplotlib.backends.backend_agg import FigureCanvasAgg

            return FigureCanvasAgg, {**told, "Software": creator}
