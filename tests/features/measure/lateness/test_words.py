"""The table, the histogram and what was not measured, as people read it in a terminal of 80 columns."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.support.runner.measurements import READY, measured, row
from tocsin.export.picture.lateness import EDGES_MS
from tocsin.features.measure.lateness.round import MeasuredDevice
from tocsin.features.measure.lateness.verdict import verdict
from tocsin.features.measure.lateness.words import caution, histogram, lines, page_of, table

OFF = MeasuredDevice(state="absent", why="not in the rig", off=True)
GONE = MeasuredDevice(state="absent", why="no display; log in at the laptop itself, or set DISPLAY")


def text_of(found):
    return " ".join(" ".join(lines(found)).split())


def test_the_table_has_the_measured_figures():
    ways = (row("frame loop", [8.0] * 99),)
    rows = list(table(measured(row("light", [*[0.1] * 98, 0.5, 3.0], "light"), beside=ways)))
    assert rows[1].split() == ["light", "100", "0.10", "0.10", "0.50", "3.00"]
    assert rows[2] == "simple timers:"
    assert rows[3].split() == ["frame", "loop", "99", "8.00", "8.00", "-", "8.00"]


def test_the_histogram_puts_signs_below_the_class_they_belong_to():
    head, line = histogram((row("light", [*[0.05] * 60, *[1.5] * 35, *[60.0] * 5], "light"),))
    ends = [head.index(f" {edge:g} ") + len(f"{edge:g}") for edge in EDGES_MS[:-1]]
    cells = [line[end - 4 : end + 1].strip() for end in ends]
    assert cells == ["###", "", "", "", "##", "", "", ""]
    assert head.index("more") - 2 <= line.rindex(".") < len(head)


@given(st.lists(st.floats(0, 5000, allow_nan=False), min_size=1, max_size=50))
def test_nothing_that_was_measured_vanishes_from_the_histogram(late_ms):
    _, line = histogram((row("light", late_ms, "light"),))
    assert set(line.removeprefix("light")) - {" "} <= {"#", "."}
    assert line.removeprefix("light").strip()


@pytest.mark.parametrize("late_ms", [0.1, 20.0, 5000.0])
def test_it_is_plain_and_fits_a_terminal(late_ms):
    found = measured(
        row("rumble operator", [late_ms] * 1000, "rumble", "operator"), row("screen", [late_ms] * 7, "screen"),
        beside=(row("threading.Timer", [late_ms] * 1000),), drives_robot=True, busy=64, load_percent=99.0, whole=False,
        devices={"rumble": READY, "light": OFF, "screen": GONE, "sound": OFF}, pads_left_alone=True, window=False,
        stand_in=True, power="battery 3 %: plug it in",
    )  # fmt: skip
    for line in (*lines(measured(*found.rows, verdict=verdict(found))), *lines(found), *caution(found.devices)):
        assert len(line) < 80
        assert line.isascii()


def test_it_says_that_the_devices_own_delay_is_not_in_it():
    assert "The device's own delay comes on top" in text_of(measured(row("light", [1], "light")))


def test_what_was_not_measured_is_told_with_its_reason():
    said = text_of(measured(row("light", [1], "light"), devices={"rumble": OFF, "light": READY, "screen": GONE}))
    assert "Not in the rig 'Stand': rumble." in said
    assert "Not measured: screen (absent: no display; log in at the laptop itself, or set DISPLAY)." in said
    assert "Not measured: light" not in said


def test_of_two_pads_the_one_that_is_missing_is_told():
    one = MeasuredDevice(state="ready", missing={"operator": "plug in the second pad"})
    said = text_of(measured(row("rumble driver", [1], "rumble", "driver"), devices={"rumble": one}))
    assert "Not measured: rumble operator (plug in the second pad)." in said


def test_pads_that_may_drive_a_robot_are_told_of():
    said = text_of(measured(row("light", [1], "light"), pads_left_alone=True, drives_robot=True))
    assert "Not measured: rumble." in said
    assert "--pads" in said


def test_a_stand_in_is_no_device():
    said = text_of(measured(row("stand-in", [1], "light"), stand_in=True, devices={"light": GONE}))
    assert "No device is there." in said
    assert "the laptop's delay, not a device's" in said


def test_usual_ways_that_hang_are_told_and_take_nothing_along():
    said = text_of(measured(row("light", [1], "light"), beside_why="their program hung"))
    assert "Simple timers were not fully measured: their program hung" in said
    assert said.startswith("late by (ms)")


def test_what_was_ended_early_is_said_so():
    assert "Ended before its time" in text_of(measured(row("light", [1], "light"), whole=False))
    assert "Ended before its time" not in text_of(measured(row("light", [1], "light")))


def test_the_caution_names_what_is_measured():
    assert "robot" not in " ".join(caution(["sound"]))
    assert "ticks" in " ".join(caution(["sound"]))
    assert caution([]) == ["Ctrl-C ends it."], "nothing to be cautious of where no device is"
    said = " ".join(" ".join(caution(["rumble", "light"])).split())
    assert said.startswith("CAUTION. Pads shake weakly, the strip glows dimly. Where pads can move a robot,")


def test_the_picture_has_a_row_for_each_and_says_the_same():
    found = measured(row("light", [0.1] * 100, "light"), beside=(row("sched", [0.2] * 50),), verdict=("On time.",))
    page = page_of(found, "Made by Tocsin 9.9.9.")
    assert [(lane.title, lane.usual, list(lane.figures)) for lane in page.lanes] == [
        ("light", False, ["half within 0.10, 9 of 10 within 0.10", "99 of 100 within 0.10, all within 0.10"]),
        ("sched", True, ["half within 0.20, 9 of 10 within 0.20", "all within 0.20"]),
    ]
    assert page.texts[0] == "On time."
