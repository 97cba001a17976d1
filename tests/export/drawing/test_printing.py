"""Pages as matplotlib draws them: where the ink is, and what stands before what."""

import numpy as np
import pytest
from matplotlib import rc_context
from matplotlib.backends.backend_agg import FigureCanvasAgg

from tocsin.export.drawing.printing import figure
from tocsin.export.drawing.shapes import OutlinedBox, Page, Parts, Stroke

DOTS_A_MM = 10


def ink(upwards=False, boxes=(), strokes=()):
    """Draw a page of 20 mm x 10 mm; return how bright each dot is, 0 to 255, rows from the top down."""
    page = Page(width_mm=20.0, height_mm=10.0, parts=Parts(boxes=boxes, strokes=strokes), upwards=upwards)
    with rc_context({"text.hinting": "none"}):
        made = figure(page)
        made.set_dpi(DOTS_A_MM * 25.4)
        canvas = FigureCanvasAgg(made)
        canvas.draw()
    return np.asarray(canvas.buffer_rgba())[:, :, 0]


def box(kind, fill, line_mm=0.0):
    return OutlinedBox(x_mm=2.0, y_mm=1.0, width_mm=6.0, height_mm=3.0, kind=kind, fill=fill, line_mm=line_mm)


@pytest.mark.parametrize("upwards", [False, True])
def test_a_box_lies_where_it_says_its_line_inside(upwards):
    dots = ink(upwards, (box("form", None, 1.0),))
    rows, columns = np.nonzero(dots < 128)
    assert (columns.min(), columns.max()) == (20, 79)
    assert (rows.min(), rows.max()) == (10, 39)
    assert dots[11:19, 21:79].max() == 0                    # the line, 1 mm
    assert dots[21:29, 31:69].min() == 255                  # within it


def test_grounds_stand_behind_strokes_and_those_behind_boxes():
    across = Stroke(points=((0.0, 2.5), (20.0, 2.5)), kind="row", line_mm=1.0)
    before = Stroke(points=((0.0, 2.5), (20.0, 2.5)), kind="tail", line_mm=1.0)
    assert ink(boxes=(box("shade", 1.0),), strokes=(across,))[25, 50] == 0
    assert ink(boxes=(box("firing", 1.0),), strokes=(across,))[25, 50] == 255
    assert ink(boxes=(box("firing", 1.0),), strokes=(before,))[25, 50] == 0
