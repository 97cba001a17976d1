"""What a box's export says of a stop watch, against the timeline itself; and the guide's figures are the program's."""

import re

import pytest

from tests.support import PROJECT
from tests.support.export.exported_plans import BUNDLED, bundled, source
from tests.support.model.compiled_games import cue, match_of, period, plan_of
from tocsin.export.box.box import MOST_LEDS, MOST_MA
from tocsin.export.box.watch import watch_lines
from tocsin.export.robot.table import main_period, table_of
from tocsin.model.display.digits import official
from tocsin.units import NS_PER_S

SHAKE = {"rumble": "short"}
GUIDE = PROJECT / "hardware_notes" / "box.md"


def lines_of(made):
    return watch_lines(made, table_of(made))


def test_the_watch_counts_up_where_the_display_counts_down():
    """Full's match is 136 s of which the drivers' period is the last part, as `tocsin preview` shows it: display 0:30
    comes 30 s before its end, the call home 22 s before."""
    assert lines_of(bundled("full"))[1:] == (
        "  1:46: the display changes to 0:30: press resync",
        "  1:54: home, for driver, operator; the call button gives the same",
    )


@pytest.mark.parametrize("plan", BUNDLED)
def test_the_display_changes_to_thirty_seconds_then(plan):
    made = bundled(plan)
    (line,) = [line for line in lines_of(made) if "resync" in line]
    minutes, seconds = map(float, re.match(r"  (\d+):([\d.]+)", line).groups())
    slot, timeline = main_period(made.timeline), made.timeline
    begins_ns = next(one.match_ns for one in timeline.segments if one.anchor == slot.anchor)
    after_ns = round((minutes * 60 + seconds) * NS_PER_S)
    if "is begun" not in line:
        after_ns -= begins_ns
    before, then = (timeline.at({slot.anchor: after_ns + moved}).left_ns for moved in (-1, 1))
    assert (official(before, timeline.digits), official(then, timeline.digits)) in {("0:31", "0:30"), ("0:30", "0:30")}
    tenth_before = timeline.at({slot.anchor: after_ns - NS_PER_S // 10}).left_ns
    assert official(tenth_before, timeline.digits) == "0:31"


def test_a_match_too_short_for_the_reading_has_no_line_for_it():
    call = cue("a", "drive.begin", callable=True, roles=("driver",), patterns=SHAKE)
    made = source(match_of(period("drive", 20)), plan_of(call))
    assert lines_of(made)[1:] == ("  0:00: a, for driver; the call button gives the same",)


def test_a_period_that_a_person_begins_is_counted_from_there():
    game = match_of(period("auto", 15, "autonomous"), period("drive", 100.5, by_hand=True))
    made = source(game, plan_of(cue("a", "drive.end-20s", callable=True, roles=("driver",), patterns=SHAKE)))
    assert lines_of(made)[1:] == (
        "  1:10.5 after drive is begun: the display changes to 0:30: press resync",
        "  1:20.5 after drive is begun: a, for driver; the call button gives the same",
    )


def test_the_guide_names_the_figures_of_the_program():
    text = GUIDE.read_text("utf-8")
    assert f"**{MOST_LEDS} LEDs at most**" in text
    assert f"Strip {MOST_MA} mA at most" in text
    # The guide's rule: what flows is no more than three quarters of the fuse of 1 A (rule of thumb, from memory).
    motors_ma, board_ma = 200, 40
    assert MOST_MA + motors_ma + board_ma <= 0.75 * 1000
    flags = (PROJECT / "src" / "firmware" / "Makefile").read_text("utf-8")
    assert f"-DMOST_LEDS={MOST_LEDS} " in flags
