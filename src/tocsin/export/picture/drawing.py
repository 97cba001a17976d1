"""A picture's page drawn as SVG, PDF or PNG with matplotlib's own writers. No window, no state of ``pyplot``, no date.

As with cards, letters are those of DejaVu Sans: outlines in SVG, text in PDF. Everything is grey.
"""

from collections.abc import Sequence
from typing import TYPE_CHECKING

from tocsin.export.card.drawing import font
from tocsin.export.drawing.printing import Form, blank, points, printed
from tocsin.export.drawing.shapes import Label, OutlinedBox, Stroke
from tocsin.export.picture.sheet import Sheet

if TYPE_CHECKING:
    from matplotlib.figure import Figure
    from matplotlib.transforms import Transform

_STROKES_BELOW = ("edge", "row", "leader", "zoom")       # what bars stand before


def figure(sheet: Sheet) -> "Figure":
    """Return the page as a figure, everything on it."""
    from matplotlib.transforms import Affine2D

    page = blank(sheet.width_mm, sheet.height_mm)
    to_page = Affine2D().scale(1 / sheet.width_mm, -1 / sheet.height_mm).translate(0, 1) + page.transFigure
    parts = sheet.parts
    below = [stroke for stroke in parts.strokes if stroke.kind in _STROKES_BELOW]
    shades = [box for box in parts.boxes if box.kind == "shade"]
    _add_boxes(page, shades, to_page, 1)
    _add_strokes(page, below, to_page, 2)
    _add_boxes(page, [box for box in parts.boxes if box.kind != "shade"], to_page, 3)
    _add_strokes(page, [stroke for stroke in parts.strokes if stroke.kind not in _STROKES_BELOW], to_page, 4)
    for label in parts.labels:
        _write(page, label, sheet)
    return page


def drawn(sheet: Sheet, form: Form, title: str, creator: str) -> bytes:
    """Return the page as a file of that form."""
    return printed(lambda: figure(sheet), form, title, creator)


def _add_boxes(page: "Figure", boxes: Sequence[OutlinedBox], to_page: "Transform", order: int) -> None:
    from matplotlib.patches import Rectangle

    for box in boxes:
        inset = box.line_mm / 2
        page.add_artist(
            Rectangle(
                (box.x_mm + inset, box.y_mm + inset), box.width_mm - 2 * inset, box.height_mm - 2 * inset,
                facecolor="none" if box.fill is None else str(box.fill),
                edgecolor=str(box.grey) if box.line_mm else "none",
                linewidth=points(box.line_mm), joinstyle="miter", hatch=box.hatch or None,
                transform=to_page, zorder=order,
            )
        )  # fmt: skip


def _add_strokes(page: "Figure", strokes: Sequence[Stroke], to_page: "Transform", order: int) -> None:
    from matplotlib.lines import Line2D

    for stroke in strokes:
        xs, ys = zip(*stroke.points, strict=True)
        page.add_artist(
            Line2D(
                xs, ys, color=str(stroke.grey), linewidth=points(stroke.line_mm),
                linestyle=(0, tuple(points(mm) for mm in stroke.dots)) if stroke.dots else "-",
                solid_capstyle="butt", dash_capstyle="butt", solid_joinstyle="miter", transform=to_page, zorder=order,
            )
        )  # fmt: skip


def _write(page: "Figure", label: Label, sheet: Sheet) -> None:
    page.text(
        label.x_mm / sheet.width_mm, 1 - label.y_mm / sheet.height_mm, label.string,
        fontproperties=font(label.bold, points(label.em_mm)), color=str(label.grey), ha="left", va="baseline",
        parse_math=False, zorder=5,
    )  # fmt: skip
