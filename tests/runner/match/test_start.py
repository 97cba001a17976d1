"""Where the clock begins by a press, once it is known how late people press."""

import pytest

from tocsin.config.load import load
from tocsin.model.rig import Start
from tocsin.model.timeline.timeline import MATCH, Point
from tocsin.runner.match.match import Match
from tocsin.runner.match.record import Heading, RunRecord
from tocsin.runner.outcome import Done
from tocsin.units import NS_PER_MS, NS_PER_S

TIMELINE = load(None, ["full"], "nothing").plans[0].timeline
PRESS_NS = 900 * NS_PER_S


def begins_ms(tmp_path, start):
    """Return how long after the press the clock begins."""
    record = RunRecord(tmp_path, Heading(options={}, label="", files=()))
    match = Match(TIMELINE, start, Point(MATCH, 0), 1.0, record)
    assert isinstance(match.press_start(PRESS_NS, PRESS_NS), Done)
    return (match.lifecycle.latest.origin_ns - PRESS_NS) / NS_PER_MS


@pytest.mark.parametrize("by", ["horn", "press", "countdown"])
def test_a_start_that_is_pressed_late_lies_before_the_press(tmp_path, by):
    assert begins_ms(tmp_path, Start(by=by, late_ms=210, spread_ms=50)) == -210


@pytest.mark.parametrize(("late_ms", "begins"), [(None, 5000), (40, 5040), (-35, 4965)])
def test_a_counted_start_lies_behind_the_beat_by_as_much_as_people_press_behind_it(tmp_path, late_ms, begins):
    """The press begins the count-in; the official clock is started on its last beat, early or late."""
    assert begins_ms(tmp_path, Start(by="count_in", count_in_ns=5 * NS_PER_S, late_ms=late_ms)) == begins
