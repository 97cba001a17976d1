"""Which change of the display a typed time means: the nearest by the clock, in the part of the match that is on."""

import pytest

from tests.support.model.lifecycle_games import OPEN_PAUSE, SIMPLE
from tests.support.runner.match_stand import Stand
from tocsin.model.clock.origins import Origin
from tocsin.runner.match.display_reading import DisplayReadings
from tocsin.runner.outcome import Done, Refused
from tocsin.units import NS_PER_MS as MS
from tocsin.units import NS_PER_S as S


def meant(timeline, seconds, at_s, anchor="match"):
    found = DisplayReadings(timeline).meant(seconds, Origin(anchor=anchor, origin_ns=1000 * S), 1000 * S + at_s * S)
    return found and (found.text, found.point.offset_ns // S)


@pytest.mark.parametrize(
    ("seconds", "at_s", "found"),
    [
        (22, 10, ("0:22 of auto", 6)),
        (22, 110, ("0:22 of driver", 114)),
        (95, 28, ("1:35 of driver", 41)),      # the official clock is ahead: its driver period has begun
        (5, 27, ("0:05 of auto", 23)),         # auto and the pause both show it, eleven seconds apart: the nearer
        (5, 30, ("0:05 of pause", 34)),
        (98, 60, None),
    ],
)
def test_of_several_periods_that_show_it_the_nearest_is_meant(seconds, at_s, found):
    assert meant(SIMPLE, seconds, at_s) == found


def test_a_part_that_a_person_begins_has_its_own_display():
    assert meant(OPEN_PAUSE, 20, 40, anchor="driver") == ("0:20 of driver", 77)
    assert meant(OPEN_PAUSE, 20, 12) == ("0:20 of auto", 8)
    assert meant(OPEN_PAUSE, 40, 12) is None


def test_a_count_in_that_began_too_late_is_put_right_while_it_counts(tmp_path):
    """The official match began two seconds ago, and shows 0:26; by this clock it begins in three."""
    stand = Stand(tmp_path, by="count_in")
    real_ns = stand.first_ns - 5 * S
    stand.go_on(real_ns + 2 * S + 250 * MS)
    assert stand.match.lifecycle.phase == "waiting"
    assert isinstance(stand.match.read_display(stand.now_ns, real_ns + 2 * S + 250 * MS, 26), Done)
    stand.go_on(stand.now_ns + S)
    assert stand.match.lifecycle.phase == "running"
    assert stand.match.lifecycle.latest.origin_ns == pytest.approx(real_ns, abs=60 * MS)


def test_a_held_clock_takes_no_reading_and_keeps_its_error(tmp_path):
    stand = Stand(tmp_path)
    stand.go_on(stand.first_ns + 60 * S)
    stand.match.hold_or_resume(stand.now_ns)
    known = stand.match.error_ms
    told = stand.match.read_display(stand.now_ns, stand.now_ns, 76)
    assert isinstance(told, Refused)
    assert told.why.endswith("the clock is held")
    assert stand.match.error_ms == known
