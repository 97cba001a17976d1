"""The picture of a measurement: bars as tall as their counts, texts that never meet, one grey page."""

import io
import random
import re
import xml.etree.ElementTree as ET
from itertools import combinations

import pypdf
import pytest
from hypothesis import given
from hypothesis import strategies as st

from tocsin.export.picture.lateness import (
    HEIGHT_MM,
    MARGIN_MM,
    WIDTH_MM,
    LatenessLane,
    LatenessPage,
    counts_of,
    lateness_picture,
    layout,
)

POINT_MM = 25.4 / 72
FIGURES = ("half within 1234.56, 9 of 10 within 2345.67", "99 of 100 within 4567.89, all within 4999.99")
LONG = (
    "This laptop is too late to be trusted. The latest of its channels: 99 of 100 rumble operator calls began within "
    "4791 ms. People notice 45 ms, and a call later than 150 ms is left out.",
    "No number from 11 events, first on sound: skipped (late).",
    "Faults: 10, first on sound: restarted (worker started again (1)). They are in these numbers too: "
    "fix them first.",
    *["Fix: set the system's power plan to best performance, and leave updates and virus scans for later."] * 4,
    "Priority: asked for real-time, got ordinary for rumble, light, screen, sound.",
    "Not measured: screen (absent: no display; log in at the laptop itself, or set DISPLAY).",
    "Late means: the device was called so long after its time. How long the device itself takes comes on top.",
)


def lane(title, late_ms, usual=False):
    return LatenessLane(title, late_ms, FIGURES, usual)


def spread(seed, count=100):
    rng = random.Random(seed)
    return [rng.lognormvariate(seed - 3, 1.5) for _ in range(count)]


def page(lanes=8, texts=LONG):
    titles = ["rumble driver", "rumble operator", "rumble coach", "rumble scribe", "light", "screen", "sound"]
    own = [lane(title, spread(no)) for no, title in enumerate(titles)][:lanes]
    ways = [lane(way, spread(6), True) for way in ("frame loop", "threading.Timer", "sched")][: max(0, lanes - 7)]
    about = "rig Practice bench, 100 events on each channel"
    return LatenessPage("How late this laptop is", about, [*own, *ways], texts, "Made by Tocsin 9.9.9.")


def box_of(label):
    return (label.x_mm, label.y_mm - label.above_mm, label.x_mm + label.width_mm, label.y_mm + label.below_mm)


def meet(one, other):
    return min(one[2], other[2]) - max(one[0], other[0]) > 0.01 and min(one[3], other[3]) - max(one[1], other[1]) > 0.01


@pytest.mark.parametrize("lanes", [1, 3, 8, 10])
@pytest.mark.parametrize("texts", [(*LONG, *LONG[2:8]), LONG, LONG[:1]])
def test_texts_stay_on_the_page_and_never_meet(lanes, texts):
    labels = layout(page(lanes, texts)).parts.labels
    for label in labels:
        left, top, right, bottom = box_of(label)
        assert left >= MARGIN_MM - 0.5
        assert top >= MARGIN_MM - 0.5
        assert right <= WIDTH_MM - MARGIN_MM + 0.5, label.string
        assert bottom <= HEIGHT_MM - MARGIN_MM + 1, label.string
    for one, other in combinations(labels, 2):
        assert not meet(box_of(one), box_of(other)), (one.string, other.string)


@given(st.lists(st.floats(0, 500), min_size=1, max_size=200))
def test_bars_are_as_tall_as_their_counts(late_ms):
    sheet = layout(LatenessPage("", "", [lane("light", late_ms)], (), ""))
    counts = [count for count in counts_of(late_ms) if count]
    bars = sheet.parts.boxes
    assert [label.string for label in sheet.parts.labels if label.kind == "second"][: len(counts)] == list(
        map(str, counts)
    )
    assert [bar.height_mm / bars[0].height_mm for bar in bars] == pytest.approx([n / counts[0] for n in counts])
    assert len({round(bar.y_mm + bar.height_mm, 6) for bar in bars}) == 1
    assert [bar.x_mm for bar in bars] == sorted(bar.x_mm for bar in bars)


def test_each_row_is_drawn_with_whole_figures():
    labels = [label.string for label in layout(page(8)).parts.labels]
    assert labels.count(FIGURES[0]) == labels.count(FIGURES[1]) == 8


def test_usual_ways_are_told_by_hatching_and_not_by_grey_alone():
    boxes = layout(LatenessPage("", "", [lane("light", [1.0]), lane("sched", [1.0], True)], (), "")).parts.boxes
    assert [bool(box.hatch) for box in boxes] == [False, True]


def test_it_is_one_lying_page_with_all_texts():
    # ISO 216: A4 is 210 mm x 297 mm (from memory).
    (sheet,) = pypdf.PdfReader(io.BytesIO(lateness_picture(page(), "pdf"))).pages
    size_mm = (float(sheet.mediabox.width) * POINT_MM, float(sheet.mediabox.height) * POINT_MM)
    assert size_mm == pytest.approx((297, 210), abs=0.1)
    read = re.sub(r"\s+", "", sheet.extract_text())
    for label in layout(page()).parts.labels:
        assert re.sub(r"\s+", "", label.string) in read


@pytest.mark.parametrize("form", ["svg", "png", "pdf"])
def test_equal_figures_give_equal_files_that_say_who_made_them(form):
    data = lateness_picture(page(2), form)
    assert data == lateness_picture(page(2), form)
    assert b"Made by Tocsin" in data


def test_it_is_grey():
    svg = lateness_picture(page(), "svg").decode()
    ET.fromstring(svg)
    colours = set(re.findall(r"#[0-9a-fA-F]{6}\b", svg))
    assert colours
    for colour in colours:
        assert len({colour[at : at + 2] for at in (1, 3, 5)}) == 1
