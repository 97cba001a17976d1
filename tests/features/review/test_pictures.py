"""The pictures of a review hold what their sentences say: heights, arrows, steps, flags, trends."""

import itertools
import math
import statistics

import pytest
from msgspec.structs import replace

from tests.support.analysis.review_pages import evening, review_of_season, team
from tocsin.analysis.review.answer import Answer, Figure
from tocsin.analysis.review.evening import evening_review
from tocsin.analysis.review.rounds import rounds_of
from tocsin.analysis.review.times import break_off_times
from tocsin.analysis.review.words.trends import tired_line
from tocsin.analysis.seasons.row import Row
from tocsin.export.drawing.flow import look_of
from tocsin.export.drawing.plot import below_mm
from tocsin.features.review.pictures.evenings import evenings
from tocsin.features.review.pictures.heights import Height, heights
from tocsin.features.review.pictures.marks import INK
from tocsin.features.review.pictures.rounds import ODD_LIMIT, rounds
from tocsin.features.review.pictures.still_pushing import still_pushing
from tocsin.features.review.pictures.within import within

LOOK = look_of("a4")
WIDTH_MM, HEIGHT_MM = 180.0, 80.0


def row(number, **known):
    return Row(**{
        "folder": f"round_{number}", "wall": f"2031-01-07T18:{number:02}:00Z", "game": "Casting Day", "plan": "Full",
        "source": "", "outcome": "over", "evening": "2031-01-07", "kind": "drill", "drill": "Break off", "session": "a",
        "round": number, "counted": True, "watched": True, "clean": True, "leads_s": {"break_off": 4.0}, **known,
    })  # fmt: skip


def off(number, time_s, *, shift_s=0.0, **known):
    """Return a round whose push ended so long after the call, which the lot moved."""
    return row(
        number, break_off_at_least_s=time_s, break_off_at_most_s=time_s, shift_s=shift_s,
        leads_s={"break_off": 4.0 + shift_s}, **known,
    )  # fmt: skip


def drawn(picture):
    return picture.plot(WIDTH_MM, HEIGHT_MM, LOOK)


def middles(parts, corners=32, colour=None):
    """Return the middles of what is round, of this colour, from left to right."""
    found = [area for area in parts.areas if len(area.points) == corners and colour in (None, area.colour)]
    return sorted(tuple(statistics.fmean(axis) for axis in zip(*area.points, strict=True)) for area in found)


# -- rounds -----------------------------------------------------------------------------------------------------------


def test_a_height_is_the_plan_s_own_lead_less_the_time_whatever_the_lot_did_to_the_call():
    rows = [off(1, 3.0), off(2, 3.0, shift_s=1.0), off(3, 3.0, shift_s=-1.0), off(4, 4.5)]
    found = heights(rows)
    assert found.kind == "window"
    assert [height.low_s for height in found.of] == pytest.approx([1.0, 1.0, 1.0, -0.5])
    assert all(height.is_known for height in found.of)


def test_a_push_that_nobody_saw_end_has_its_best_height_and_no_end():
    (known, never) = heights([off(1, 3.0), row(2, break_off_at_least_s=1.0)]).of
    assert known == Height(1.0, 1.0)
    assert never == Height(-math.inf, 3.0)


@pytest.mark.parametrize("margins_s", [(13.0, 14.5, 12.0, 13.2), (1.0, -2.0, 0.0, 0.4), (25.0, 25.0, 30.0, 1.0)])
def test_marks_lie_where_their_times_are(margins_s):
    rows = [row(number, home="home", home_margin_s=margin_s) for number, margin_s in enumerate(margins_s, 1)]
    picture = rounds(evening_review(rows), rows)
    ys = [y for _, y in middles(drawn(picture))][-4:]
    at = sorted(zip(margins_s, [y for _, y in _plotted(picture)], strict=True))
    assert len(ys) == 4
    for (low, low_y), (high, high_y) in itertools.pairwise(at):
        assert (high > low) == (high_y < low_y - 1e-6)
    scale = {round((a[1] - b[1]) / (a[0] - b[0]), 3) for a, b in itertools.combinations(at, 2) if a[0] != b[0]}
    assert len(scale) == 1


def _plotted(picture):
    """Return the middles of the marks of rounds, without those of the key."""
    key_from_mm = HEIGHT_MM - 1.5 * LOOK.em_mm
    return [(x, y) for x, y in middles(drawn(picture)) if y < key_from_mm]


def test_turns_are_drawn_before_the_way_home():
    rows = [row(n, turn_at_least_s=2.0, turn_at_most_s=2.0, home="home", home_margin_s=13.0) for n in range(1, 9)]
    assert rounds(evening_review(rows), rows).title == "Rounds: seconds from the call to the turn"


def test_a_round_whose_end_nobody_noted_does_not_stand_where_good_rounds_stand():
    rows = [off(number, 3.0 + number / 10) for number in range(1, 9)]
    quiet = drawn(rounds(evening_review(rows), rows))
    assert "nobody noted when" not in [label.string for label in quiet.labels]
    assert [area for area in quiet.areas if len(area.points) == 3] == []
    rows.append(row(9, break_off_at_least_s=0.0))
    picture = rounds(evening_review(rows), rows)
    parts = drawn(picture)
    head, key = sorted((area for area in parts.areas if len(area.points) == 3), key=lambda area: area.points[0][1])
    assert {head.colour, key.colour} == {(255, 255, 255)}              # hollow
    assert "nobody noted when" in [label.string for label in parts.labels]
    tip, *back = sorted((y for _, y in head.points), reverse=True)
    assert all(tip > y for y in back)                      # the worse is below
    marks = _plotted(picture)
    assert marks[-1][1] == max(y for _, y in marks)        # its own mark is below all others, and below the arrow
    assert marks[-1][1] > tip
    zero = [float(label.string) for label in parts.labels if label.string == "1"]
    assert zero                                            # the axis is made for what was noted


def test_the_key_says_what_a_cross_is_and_the_caption_what_the_lot_moved():
    rows = [off(1, 3.0), off(2, 4.5, clean=False), off(3, 3.2, clean=None)]
    picture = rounds(evening_review(rows), rows)
    told = [label.string for label in drawn(picture).labels]
    assert "not clean (contact, too late, or not home)" in told
    assert "only a video can tell" in told
    assert "lot moved" not in picture.sentence
    moved = [*rows, off(4, 3.0, shift_s=1.0)]
    assert "Calls that the lot moved stand as if they came at the plan's lead." in (
        rounds(evening_review(moved), moved).sentence
    )


def test_no_line_hides_a_question_mark():
    rows = [off(1, 3.0), off(2, 4.0, clean=None), off(3, 5.0)]
    parts = drawn(rounds(evening_review(rows), rows))
    level = [stroke for stroke in parts.strokes if stroke.kind == "tail"]
    assert len(level) == 2
    (mark,) = [stroke for stroke in parts.strokes if len(stroke.points) == 14 and stroke.points[0][1] < 60]
    xs = [x for x, _ in mark.points]
    assert all(end[1][0] < min(xs) - 0.5 or end[0][0] > max(xs) + 0.5 for end in (stroke.points for stroke in level))


@pytest.mark.parametrize("times_s", [(3.9, 4.1), (3.0, 5.4), (4.2, 4.3), (2.1, 8.9), (3.1, 3.9), (1.0, 14.0)])
@pytest.mark.parametrize("height_mm", [36.0, 80.0])
def test_the_axis_has_three_numbers_at_least(times_s, height_mm):
    rows = [off(number, time_s) for number, time_s in enumerate(times_s, 1)]
    parts = rounds(evening_review(rows), rows).plot(WIDTH_MM, height_mm, LOOK)
    left_mm = min(stroke.points[0][0] for stroke in parts.strokes if stroke.kind == "edge" and
                  stroke.points[0][0] == stroke.points[1][0])  # fmt: skip
    numbers = [label for label in parts.labels if label.x_mm + label.width_mm < left_mm]
    assert len(numbers) >= 3
    assert all(below.y_mm - above.y_mm > below.above_mm for below, above in itertools.pairwise(numbers))


def test_the_limit_of_odd_rounds_is_dashed_and_in_the_key():
    rows = [off(number, 3.0) for number in range(1, 12)]
    review = evening_review(rows)
    limit = Figure(name=ODD_LIMIT, unit="s", value=5.0, rounds=40)
    others = tuple(one for one in review.answers if one.question != "odd")
    told = replace(review, answers=(*others, Answer(question="odd", figures=(limit,))))
    without = replace(review, answers=others)
    assert [sum(bool(stroke.dots) for stroke in drawn(rounds(one, rows)).strokes) for one in (without, told)] == [0, 2]
    assert "odd below it" in [label.string for label in drawn(rounds(told, rows)).labels]


def test_an_odd_round_has_a_ring_around_it_and_its_crew_s_number():
    rows = [off(number, 3.0, crew="A") for number in range(1, 5)]
    rows += [replace(off(number, 3.2, crew="B"), folder=f"b{number}", wall=f"2031-01-07T19:{number:02}:00Z")
             for number in range(1, 5)]  # fmt: skip
    review = evening_review(rows)
    others = tuple(one for one in review.answers if one.question != "odd")
    told = replace(review, answers=(*others, Answer(question="odd", marked=("b2",))))
    before, after = (drawn(rounds(one, rows)) for one in (replace(review, answers=others), told))
    rings = [stroke for stroke in after.strokes if len(stroke.points) > 30]
    assert len(rings) == 2                                 # around the round, and in the key
    assert len(after.areas) == len(before.areas)           # it hides nothing: an area would lie above a cross
    labels = [label.string for label in drawn(rounds(told, rows)).labels]
    assert [text for text in labels if text.isdigit() and int(text)][-8:] == ["1", "2", "3", "4"] * 2
    assert "odd" in labels


def test_rounds_of_which_nothing_is_known_stand_below_the_others():
    rows = [off(1, 3.0), off(2, 3.4), row(3, clean=False), off(4, 3.2), off(5, 3.1)]
    parts = drawn(rounds(evening_review(rows), rows))
    floor = max(y for x, y in _plotted(rounds(evening_review(rows), rows)))
    crosses = [stroke for stroke in parts.strokes if stroke.kind == "tone" and len(stroke.points) == 2]
    in_plot = [stroke for stroke in crosses if stroke.points[0][1] < HEIGHT_MM - 1.5 * LOOK.em_mm]
    assert len(in_plot) == 2
    assert min(y for stroke in in_plot for _, y in stroke.points) > floor


def test_nothing_is_drawn_of_rounds_without_any_time():
    rows = [row(number) for number in range(1, 5)]
    assert rounds(evening_review(rows), rows) is None


# -- still pushing ----------------------------------------------------------------------------------------------------


def test_steps_fall_from_all_to_none_and_the_window_is_marked():
    rows = evening("a plain", 0)
    review = evening_review(rows)
    picture = still_pushing(review, break_off_times(rounds_of(rows)))
    parts = drawn(picture)
    (steps,) = [stroke for stroke in parts.strokes if len(stroke.points) > 4]
    ys = [y for _, y in steps.points]
    assert ys == sorted(ys)
    assert len([stroke for stroke in parts.strokes if stroke.dots]) >= 1
    assert "window begins: 4 s" in [label.string for label in parts.labels]
    assert picture.sentence.startswith("4 s after the call ")


@pytest.mark.parametrize("name", ["a plain", "busy", "f never ended"])
def test_band_and_caption_are_of_one_function_at_every_time(name):
    rows = evening(name, 0)
    review, times = evening_review(rows), break_off_times(rounds_of(rows))
    picture = still_pushing(review, times)
    parts = drawn(picture)
    band = [box for box in parts.boxes if box.kind == "shade"]
    left_mm, low_mm = band[0].x_mm, HEIGHT_MM - below_mm(LOOK)
    (two,) = [label for label in parts.labels if label.string == "2" and label.y_mm > low_mm]
    second_mm = (two.x_mm + two.width_mm / 2 - left_mm) / 2
    tall_mm = low_mm - min(box.y_mm for box in band)
    figure, lead_s = (review.answer("break_off").figure(name) for name in ("on_at_lead", "lead"))
    assert f"({100 * figure.low:.0f} to {100 * figure.high:.0f})" in picture.sentence
    for time_s in (*(step / 100 + 0.003 for step in range(1, 700)), lead_s.value + 1e-6):
        boxes = [box for box in band if box.x_mm < left_mm + time_s * second_mm < box.x_mm + box.width_mm]
        if not boxes:
            continue                                       # beyond the axis, or at a bound
        (found,) = times.still_on([time_s])
        assert (low_mm - boxes[0].y_mm) / tall_mm == pytest.approx(found.high, abs=1e-6)
        assert (low_mm - boxes[0].y_mm - boxes[0].height_mm) / tall_mm == pytest.approx(found.low, abs=1e-6)


def test_the_names_of_lines_touch_neither_curve_nor_dashes():
    rows = evening("a plain", 0)
    parts = drawn(still_pushing(evening_review(rows), break_off_times(rounds_of(rows))))
    (steps,) = [stroke for stroke in parts.strokes if len(stroke.points) > 4]
    named = [label for label in parts.labels if label.kind == "lane" and "s" in label.string and ":" in label.string]
    assert named
    for label in named:
        assert min(y for _, y in steps.points) - label.y_mm - label.below_mm > 0.6
        for stroke in parts.strokes:
            if stroke.dots and stroke.points[0][0] == stroke.points[1][0]:
                x_mm, (above, below) = stroke.points[0][0], sorted(y for _, y in stroke.points)
                beside = x_mm < label.x_mm - 1 or x_mm > label.x_mm + label.width_mm + 1
                assert beside or below < label.y_mm - label.above_mm or above > label.y_mm + label.below_mm


def test_below_eight_pushes_there_is_no_curve():
    rows = [off(number, 3.0 + number / 10) for number in range(1, 8)]
    assert still_pushing(evening_review(rows), break_off_times(rounds_of(rows))) is None
    rows.append(off(8, 3.3))
    assert still_pushing(evening_review(rows), break_off_times(rounds_of(rows))) is not None


# -- over evenings ----------------------------------------------------------------------------------------------------


def test_each_change_of_the_lead_has_a_flag():
    found = rounds_of(team("twenty evenings"))
    parts = drawn(evenings(found))
    assert len([area for area in parts.areas if len(area.points) == 3]) == 2
    assert len(middles(parts)) == 20


def test_an_evening_of_few_pushes_is_a_ring_without_limits():
    rows = [off(number, 3.0 + number / 10, evening=f"2031-01-{day:02}", wall=f"2031-01-{day:02}T18:{number:02}:00Z",
                folder=f"{day} {number}")
            for day, most in ((7, 10), (9, 3)) for number in range(1, most + 1)]  # fmt: skip
    picture = evenings(rounds_of(rows))
    parts = drawn(picture)
    assert "A ring: fewer than 8 pushes." in picture.sentence
    assert [len(middles(parts, colour=colour)) for colour in (INK, (255, 255, 255))] == [1, 1]
    assert len([stroke for stroke in parts.strokes if stroke.kind == "tone"]) == 3         # a line with two caps


def test_one_evening_is_no_season():
    assert evenings(rounds_of(evening("a plain"))) is None


def test_the_trend_within_evenings_points_where_times_go():
    review, found = review_of_season("twenty evenings"), rounds_of(team("twenty evenings"))
    (by_round, *_) = within(review, found)
    slope = review.answer("tired").figure("by_round").value
    (trend,) = [stroke for stroke in drawn(by_round).strokes if stroke.dots]
    (x0, y0), (x1, y1) = trend.points
    assert x1 > x0
    assert (y1 < y0) == (slope > 0)
    assert tired_line(replace(review.answer("tired"), figures=(review.answer("tired").figure("by_round"),))) in (
        by_round.sentence
    )


def test_a_trend_that_may_be_none_says_so():
    review, found = review_of_season("five evenings"), rounds_of(team("five evenings"))
    figure = review.answer("tired").figure("by_battery")
    assert figure.low < 0 < figure.high
    (_, by_battery) = within(review, found)
    assert by_battery.sentence.startswith("No sure change. ")


def test_a_place_has_one_mark_and_its_axis_a_unit():
    review, found = review_of_season("twenty evenings"), rounds_of(team("twenty evenings"))
    for picture in within(review, found):
        parts = drawn(picture)
        places = [x for x, _ in middles(parts, colour=INK)]
        assert len(places) == len({round(x, 3) for x in places})
        assert [label.string for label in parts.labels if label.string == "0 s"] == ["0 s"]


def test_an_evening_tells_no_trend():
    assert within(evening_review(evening("a plain")), rounds_of(evening("a plain"))) == []
