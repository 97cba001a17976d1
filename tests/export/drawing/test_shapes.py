"""Shapes are moved, stacked, written and interrupted. A made-up font: every letter is half an em wide."""

import pytest

from tests.export.drawing.test_fitting import FONT
from tocsin.export.drawing.fitting import NOBREAK, Type, fitted
from tocsin.export.drawing.form import FormStyle, form
from tocsin.export.drawing.shapes import OutlinedBox, Parts, Pen, ShapeRow, Stroke, cut_around, joined, stacked

PEN = Pen(FONT)


def box(x_mm, y_mm):
    return OutlinedBox(x_mm=x_mm, y_mm=y_mm, width_mm=2.0, height_mm=1.0, kind="line")


def one_of_each():
    stroke = Stroke(points=((0.0, 1.0), (4.0, 5.0)), kind="edge")
    return Parts(labels=(PEN.label("ab", 1.0, 2.0, 3.0, "note"),), boxes=(box(5.0, 6.0),), strokes=(stroke,))


def test_all_that_is_moved_goes_equally_far():
    moved = one_of_each().moved(10.0, 100.0)
    assert [(label.x_mm, label.y_mm) for label in moved.labels] == [(11.0, 102.0)]
    assert moved.boxes == (box(15.0, 106.0),)
    assert moved.strokes[0].points == ((10.0, 101.0), (14.0, 105.0))


def test_what_is_joined_keeps_its_place_and_its_order():
    both = joined([one_of_each(), Parts(boxes=(box(0.0, 0.0),))])
    assert both.boxes == (box(5.0, 6.0), box(0.0, 0.0))
    assert (both.labels, both.strokes) == (one_of_each().labels, one_of_each().strokes)


@pytest.mark.parametrize(("gap_mm", "tops", "height_mm"), [(0.0, [0.0, 3.0], 7.0), (0.5, [0.0, 3.5], 7.5)])
def test_rows_stand_one_below_the_other_with_gaps_between_them_only(gap_mm, tops, height_mm):
    parts = Parts(boxes=(box(1.0, 0.0),))
    whole = stacked([ShapeRow(parts, 3.0), ShapeRow(parts, 4.0)], gap_mm)
    assert [each.y_mm for each in whole.parts.boxes] == tops
    assert whole.height_mm == height_mm
    assert stacked([], gap_mm).height_mm == 0.0


def test_a_fitted_text_is_written_from_its_corner_with_all_it_was_fitted_for():
    fit = fitted(f"no touch to{NOBREAK}us", 20.0, Type(4.0, 4.0, bold=True, lines=2), FONT)
    row = PEN.written(fit, "note", 7.0, 100.0, 0.27)
    assert [label.string for label in row.parts.labels] == ["no touch", "to us"]
    assert [label.y_mm for label in row.parts.labels] == [100.0 + line.baseline_mm for line in fit.lines]
    assert {(label.x_mm, label.em_mm, label.bold, label.grey) for label in row.parts.labels} == {(7.0, 4.0, True, 0.27)}
    assert [label.width_mm for label in row.parts.labels] == pytest.approx([8 * 0.6 * 4, 5 * 0.6 * 4])
    assert row.height_mm == fit.height_mm


def test_strokes_have_gaps_where_labels_stand():
    label = PEN.label("abab", 4.0, 5.0, 2.0, "note")               # 4 mm wide, from 1.46 mm above its baseline on
    upright = Stroke(points=((5.0, 0.0), (5.0, 10.0)), kind="leader")
    slanted = Stroke(points=((0.0, 0.0), (3.0, 9.0), (9.0, 9.0)), kind="open")
    above, below, whole = cut_around([upright, slanted], [label])
    assert above.points[0] == (5.0, 0.0)
    assert above.points[1][1] < 5.0 - 1.46
    assert below.points[0][1] > 5.0
    assert below.points[1] == (5.0, 10.0)
    assert whole == slanted


def test_a_form_s_lines_begin_behind_their_words_and_end_at_the_right_edge():
    style = FormStyle(
        em_mm=2.0, left_mm=10.0, width_mm=100.0, height_mm=5.0, base_mm=4.0, top_mm=1.5, box_mm=3.0, text_mm=4.0,
        line_mm=0.2,
    )  # fmt: skip
    row = form(style, PEN)
    tick, for_whom, when = row.parts.boxes
    asked, named, dated = row.parts.labels
    assert (tick.x_mm, tick.y_mm, tick.width_mm, tick.fill) == (10.0, 1.5, 3.0, None)
    assert [label.string for label in (asked, named, dated)] == ["event rules asked", "for", "date"]
    assert asked.x_mm == 14.0
    assert {label.y_mm for label in row.parts.labels} == {for_whom.y_mm} == {when.y_mm} == {4.0}
    assert named.x_mm + named.width_mm < for_whom.x_mm < for_whom.x_mm + for_whom.width_mm < dated.x_mm
    assert when.x_mm + when.width_mm == pytest.approx(110.0)
