"""When the official display changes to a time: worked out by hand, and asked of the display second by second."""

import msgspec
import pytest

from tests.support.model.lifecycle_games import BY_KEY, OPEN_PAUSE, SIMPLE
from tocsin.model.display.digits import official
from tocsin.model.moment import MomentError
from tocsin.model.timeline.shown import changes_to, locate_given, most_shown_s, taken_note
from tocsin.model.timeline.timeline import Point
from tocsin.units import NS_PER_S as S

FLOOR = msgspec.structs.replace(SIMPLE, digits="floor")
WHOLE = msgspec.structs.replace(SIMPLE, counts="match")           # 28, 11 and 97 s: it counts from 2:16
WHOLE_FLOOR = msgspec.structs.replace(WHOLE, digits="floor")


def places(timeline, seconds):
    return [(one.slot.id, one.point.anchor, one.point.offset_ns / S) for one in changes_to(timeline, seconds)]


@pytest.mark.parametrize(
    ("timeline", "seconds", "found"),
    [
        (SIMPLE, 22, [("auto", "match", 6), ("driver", "match", 114)]),
        (SIMPLE, 5, [("auto", "match", 23), ("pause", "match", 34), ("driver", "match", 131)]),
        (SIMPLE, 97, [("driver", "match", 39)]),
        (SIMPLE, 98, []),
        (SIMPLE, 0, [("auto", "match", 28), ("pause", "match", 39), ("driver", "match", 136)]),
        (FLOOR, 22, [("auto", "match", 5), ("driver", "match", 113)]),      # at least 22 and less than 23 s are left
        (FLOOR, 97, [("driver", "match", 39)]),
        (WHOLE, 22, [("driver", "match", 114)]),
        (WHOLE, 104, [("pause", "match", 32)]),
        (WHOLE, 136, [("auto", "match", 0)]),
        (WHOLE_FLOOR, 136, [("auto", "match", 0)]),
        (WHOLE_FLOOR, 22, [("driver", "match", 113)]),
        (WHOLE, 137, []),
    ],
)
def test_a_time_is_shown_from_where_the_display_changes_to_it(timeline, seconds, found):
    assert places(timeline, seconds) == found


@pytest.mark.parametrize("timeline", [SIMPLE, FLOOR, WHOLE, WHOLE_FLOOR, BY_KEY, OPEN_PAUSE])
def test_the_display_shows_another_time_just_before_and_this_one_from_then_on(timeline):
    """By the timeline's own reading of what is left, which the screens show: a millisecond before, and behind."""
    def shows(point, by_ns):
        known = {segment.anchor: 0 for segment in timeline.segments[: ranks[point.anchor] + 1]}
        before = {anchor: 10_000 * S for anchor in known if anchor != point.anchor}
        left_ns = timeline.at({**before, point.anchor: point.offset_ns + by_ns}).left_ns
        return None if left_ns is None else official(left_ns, timeline.digits)

    ranks = {segment.anchor: n for n, segment in enumerate(timeline.segments)}
    asked = 0
    for seconds in range(most_shown_s(timeline) + 1):
        for one in changes_to(timeline, seconds):
            if one.slot.begin_ns < one.point.offset_ns < one.slot.end_ns:
                asked += 1
                text = f"{seconds // 60}:{seconds % 60:02d}"
                assert (shows(one.point, 1), shows(one.point, -1_000_000)) == (text, shown_before(seconds))
    assert asked > 60


def shown_before(seconds):
    return f"{(seconds + 1) // 60}:{(seconds + 1) % 60:02d}"


@pytest.mark.parametrize(
    ("timeline", "text", "point"),
    [
        (SIMPLE, "0:22", Point("match", 114 * S)),
        (SIMPLE, "auto@0:22", Point("match", 6 * S)),
        (SIMPLE, "auto 0:22", Point("match", 6 * S)),
        (SIMPLE, "pause@0:05", Point("match", 34 * S)),
        (SIMPLE, "driver.end-22s", Point("match", 114 * S)),
        (WHOLE, "2:08", Point("match", 8 * S)),
        (FLOOR, "0:22", Point("match", 113 * S)),
    ],
)
def test_the_displays_time_is_a_moment_of_the_command_line(timeline, text, point):
    assert locate_given(text, timeline) == point


@pytest.mark.parametrize(
    ("text", "readings"),
    [("2:08", ()), ("auto@1:00", ("driver@1:00",)), ("paws@0:05", ("auto@0:05", "pause@0:05", "driver@0:05"))],
)
def test_a_time_that_is_not_shown_there_comes_with_where_it_is(text, readings):
    with pytest.raises(MomentError) as raised:
        locate_given(text, SIMPLE)
    assert raised.value.readings == readings
    assert raised.value.expected == (
        "a time that the display shows: auto 0:28 to 0:00, pause 0:11 to 0:00, driver 1:37 to 0:00"
    )


def test_what_stands_in_several_periods_is_said_to_be_taken_in_the_last():
    assert taken_note("0:05", SIMPLE) == (
        "0:05 counts in driver, the last period; for another one: auto@0:05, pause@0:05"
    )
    assert [taken_note(text, SIMPLE) for text in ("1:05", "auto@0:05", "driver.end")] == ["", "", ""]
    assert taken_note("0:05", WHOLE) == ""
