"""What exported code gives in a match, and when: by the timeline's nanoseconds, without the schedule."""

import random

import pytest

from tests.support.export.exported_plans import BUNDLED, bundled, source
from tests.support.export.robot_drivers import python_module
from tests.support.model.compiled_games import cue, match_of, period, plan_of
from tocsin.units import NS_PER_MS as MS

RUMBLE = {"rumble": "short"}


def programs(timeline):
    """Yield the periods that have programs of their own: autonomous and driver."""
    return [(n, slot) for n, slot in enumerate(timeline.periods) if slot.kind in ("autonomous", "driver")]


@pytest.mark.parametrize("plan", BUNDLED)
@pytest.mark.parametrize("seed", range(5))
def test_each_cue_comes_once_never_early_and_at_most_a_poll_late(plan, seed):
    """Separate programs for autonomous and driver, polled at 5 to 40 ms, each till 3 s beyond its period's end."""
    made = bundled(plan)
    rng = random.Random(seed)
    module = python_module(made)
    segment = {segment.anchor: segment for segment in made.timeline.segments}
    for number, slot in programs(made.timeline):
        robot = module.TocsinPlan()
        begin_ns = segment[slot.anchor].match_ns + slot.begin_ns
        last_ms, ms = -1, 0
        came = {}
        while ms < (slot.end_ns - slot.begin_ns) // MS + 3000:
            robot.poll(number, ms)
            for i in range(robot.count):
                firing = robot.fired[i]
                key = (module.cue_id(firing), module.n_of(firing), module.role_id(firing))
                assert key not in came
                came[key] = (last_ms, ms)
            last_ms, ms = ms, ms + rng.randint(5, 40)
        expected = {
            (f.cue, f.n, f.role): (f.match_ns - begin_ns) // MS
            for f in made.timeline.firings
            if f.channel == "rumble" and f.match_ns is not None and f.when in ("", made.timeline.default_variant)
            and begin_ns <= f.match_ns <= begin_ns + last_ms * MS
        }  # fmt: skip
        assert came.keys() == expected.keys()
        assert all(came[key][0] < due_ms <= came[key][1] for key, due_ms in expected.items())


def test_the_last_call_comes_in_the_program_that_stays_in_the_driver_period():
    module = python_module(bundled("full"))
    robot = module.TocsinPlan()
    robot.poll(module.PERIOD_DRIVER, 96_990)
    assert robot.poll(module.PERIOD_DRIVER, 97_010) == 3
    assert {module.cue_id(robot.fired[i]) for i in range(3)} == {"over"}


def test_an_autonomous_program_that_runs_on_flows_into_the_driver_period():
    module = python_module(bundled("full"))
    robot = module.TocsinPlan()
    robot.poll(module.PERIOD_AUTO, 40_990)
    assert robot.poll(module.PERIOD_AUTO, 41_000) == 2                  # alive, 2 s into the driver period
    assert robot.poll(module.PERIOD_DRIVER, 2_005) == 0                 # and not again
    assert robot.poll(module.PERIOD_AUTO, 41_020) == 0
    assert robot.status == module.EARLIER_PERIOD


def test_a_lost_clock_is_said_once_and_set_by_the_display_with_a_press_that_is_late():
    module = python_module(bundled("full"))
    robot = module.TocsinPlan()
    robot.clock_lost()
    said = [robot.poll(module.PERIOD_DRIVER, ms) for ms in range(0, 30_000, 20)]
    assert (said[0], sum(said)) == (3, 3)
    assert robot.log_line(0) == ""
    # The display changes to 0:30, and somebody presses a little later: 67 s of 97 have passed, and a quarter second.
    assert robot.official(module.PERIOD_DRIVER, 30_000, 30)
    came = []
    for ms in range(30_020, 61_000, 10):
        robot.poll(module.PERIOD_DRIVER, ms)
        came += [(ms, robot.log_line(i)) for i in range(robot.count)]
    home = [ms for ms, line in came if "cue=home" in line]                # 8 s after 0:30: it shows 0:22
    assert home == [30_000 + 8_000 - 250] * 2
    assert came[0][1] == "TOCSIN1 period=driver ms=74000 cue=coach_call n=0 role=coach outcome=played"


def test_a_display_that_rounds_down_is_a_second_further_when_it_changes():
    module = python_module(bundled("dash"))                              # floor, 50 s, home 16 s before the end
    robot = module.TocsinPlan()
    robot.poll(module.PERIOD_DRIVER, 0)
    assert robot.official(module.PERIOD_DRIVER, 30_000, 20)              # 21 s are left when 0:20 appears
    robot.poll(module.PERIOD_DRIVER, 30_000 + 5_000 - 250 - 1)
    assert robot.count == 0
    assert robot.poll(module.PERIOD_DRIVER, 30_000 + 5_000 - 250) == 2


def test_negative_milliseconds_are_an_unknown_clock_for_as_long_as_they_come():
    module = python_module(bundled("quiet"))
    robot = module.TocsinPlan()
    assert robot.poll(module.PERIOD_DRIVER, -1) == 2
    assert robot.status == module.CLOCK_LOST
    assert robot.poll(module.PERIOD_DRIVER, -1) == 0
    assert robot.poll(module.PERIOD_DRIVER, 75_000) == 2
    assert robot.status == module.OK


def test_a_call_before_the_first_poll_takes_nothing_from_the_match():
    module = python_module(bundled("quiet"))
    robot = module.TocsinPlan()
    assert robot.call(module.CUE_HOME, 0) == 2
    robot.poll(module.PERIOD_DRIVER, 74_990)
    assert robot.poll(module.PERIOD_DRIVER, 75_000) == 2


def test_a_call_in_the_match_stands_for_the_next_scheduled_one():
    module = python_module(bundled("quiet"))
    robot = module.TocsinPlan()
    robot.poll(module.PERIOD_DRIVER, 69_000)
    assert robot.call(module.CUE_HOME, 0) == 2
    assert robot.call(module.CUE_HOME, 999) == 0
    assert robot.status == module.PRESSED_TWICE
    assert robot.poll(module.PERIOD_DRIVER, 75_000) == 0
    assert robot.poll(module.PERIOD_DRIVER, 79_000) == 2                # no_touch is another cue


def test_nothing_rumbles_on_when_polls_stop():
    module = python_module(bundled("quiet"))
    robot = module.TocsinPlan()
    robot.poll(module.PERIOD_DRIVER, 75_000)
    levels = [robot.level(module.ROLE_DRIVER, now) for now in range(5_000, 8_000, 10)]
    assert levels[0] == (100, 100)
    assert [now for now, level in zip(range(0, 3_000, 10), levels, strict=True) if level != (0, 0)][-1] == 1140
    assert all(level == (0, 0) for level in levels[135:])


def test_the_teams_own_rumble_is_kept_away_around_a_cue():
    module = python_module(bundled("quiet"))
    robot = module.TocsinPlan()
    busy = []
    for ms in range(73_000, 78_000, 10):
        robot.poll(module.PERIOD_DRIVER, ms)
        if robot.busy(module.ROLE_DRIVER, ms):
            busy.append(ms)
    # home at 75 s, a triple of 3 x (250 + 200) ms
    assert (busy[0], busy[-1]) == (74_700, 75_000 + 1_350 + 150 - 10)
    assert len(busy) == (busy[-1] - busy[0]) // 10 + 1


def test_python_takes_milliseconds_with_a_fraction_for_what_has_passed():
    module = python_module(bundled("quiet"))
    plan = module.TocsinPlan()
    assert plan.poll(module.PERIOD_DRIVER, 74_999.9) == 0
    assert plan.poll(module.PERIOD_DRIVER, 75_000.4) == 2


def test_milliseconds_that_fall_back_further_than_a_hold_are_told_until_they_have_caught_up():
    """By the rule's own words: more than 5 s behind the most that were polled in the newest period."""
    module = python_module(bundled("full"))
    robot = module.TocsinPlan()

    def status(period, ms):
        robot.poll(period, ms)
        return robot.status

    driver, auto, ok, fell_back = module.PERIOD_DRIVER, module.PERIOD_AUTO, module.OK, module.FELL_BACK
    assert status(auto, 30_000) == ok
    assert status(driver, 0) == ok                                      # another period begins at its own zero
    assert [status(driver, ms) for ms in (60_000, 55_000, 54_999, 0, 54_999, 55_000)] == [
        ok, ok, fell_back, fell_back, fell_back, ok
    ]  # fmt: skip
    # The display may set the clock back: that is none of the milliseconds' doing.
    assert robot.official(driver, 60_000, 90)
    assert status(driver, 60_020) == ok
    # A clock that is lost may count on from any moment.
    robot.clock_lost()
    assert [status(driver, ms) for ms in (60_040, 100)] == [module.CLOCK_LOST] * 2
    assert robot.official(driver, 200, 85)
    assert status(driver, 220) == ok


def test_a_hundred_cues_at_one_moment_are_given_by_one_poll():
    cues = [cue(f"c{n}", "drive.begin+1s", patterns=RUMBLE, roles=("driver",)) for n in range(100)]
    module = python_module(source(match_of(period("drive", 60)), plan_of(*cues)))
    robot = module.TocsinPlan()
    assert [robot.poll(0, ms) for ms in (999, 1000, 1001)] == [0, 100, 0]
