"""What is filled in by hand on paper: a box to tick, for whom, when. Pure; lengths in mm."""

from typing import NamedTuple

from tocsin.export.drawing.shapes import BLACK, Label, OutlinedBox, Parts, Pen, ShapeRow
from tocsin.translation import tr

_BOX_LINE_MM = 0.3
_FOR_SHARE = 0.72                      # where the line for a name ends, of the width


class FormStyle(NamedTuple):
    """How large a form is. ``base_mm`` is where the letters stand, ``top_mm`` where the box begins, both from the top;
    ``text_mm`` is where words begin, from the left edge, ``line_mm`` how thick the lines are on which one writes."""

    em_mm: float
    left_mm: float
    width_mm: float
    height_mm: float
    base_mm: float
    top_mm: float
    box_mm: float
    text_mm: float
    line_mm: float


def form(style: FormStyle, pen: Pen) -> ShapeRow:
    """Return the form of a card, or of a page for the wall."""
    em_mm, base_mm = style.em_mm, style.base_mm
    boxes = [
        OutlinedBox(
            x_mm=style.left_mm, y_mm=style.top_mm, width_mm=style.box_mm, height_mm=style.box_mm, kind="form",
            line_mm=_BOX_LINE_MM,
        )
    ]  # fmt: skip
    labels: list[Label] = []
    x_mm = style.left_mm + style.text_mm
    for text, share in ((tr("event rules asked"), 0.0), (tr("for"), _FOR_SHARE), (tr("date"), 1.0)):
        labels.append(pen.label(text, x_mm, base_mm, em_mm, "form"))
        x_mm += labels[-1].width_mm + 0.4 * em_mm
        if share:
            end_mm = style.left_mm + share * style.width_mm
            boxes.append(
                OutlinedBox(x_mm=x_mm, y_mm=base_mm, width_mm=end_mm - x_mm, height_mm=style.line_mm, kind="line",
                            fill=BLACK)
            )  # fmt: skip
            x_mm = end_mm
        x_mm += em_mm
    return ShapeRow(Parts(labels=tuple(labels), boxes=tuple(boxes)), style.height_mm)
