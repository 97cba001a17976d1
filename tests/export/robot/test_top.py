"""What stands at the top of exported code for people is what the code does."""

import pytest

from tests.export.robot.test_wiring import FIRINGS, POLLS
from tests.support.export.exported_plans import bundled
from tests.support.export.robot_drivers import python_module
from tocsin.export.robot.c import c_source
from tocsin.export.robot.java import java_source
from tocsin.export.robot.python import python_source


def test_the_top_says_what_a_next_match_and_a_robot_that_was_disabled_need():
    """Both of them in the code itself: without restart() it stays still and says so; noted anew, the call is late."""
    for source_of, restart, status in (
        (c_source, "tocsin_restart()", "TOCSIN_FELL_BACK"), (python_source, "restart()", "tocsin_plan.FELL_BACK")
    ):  # fmt: skip
        told = source_of(bundled("full")).split("THE NEXT MATCH, AND A ROBOT THAT WAS DISABLED")[1]
        assert f"comes again only after {restart}." in told
        assert f"The status then is {status}:" in told
    module = python_module(bundled("full"))
    robot = module.TocsinPlan()
    assert sum(robot.poll(module.PERIOD_DRIVER, ms) for ms in POLLS) == FIRINGS
    told = {}
    for ms in POLLS:
        assert robot.poll(module.PERIOD_DRIVER, ms) == 0
        told.setdefault(robot.status, []).append(ms)
    # More than 5 s behind the last poll of the match before.
    assert told == {module.FELL_BACK: [ms for ms in POLLS if ms < POLLS[-1] - 5000],
                    module.OK: [ms for ms in POLLS if ms >= POLLS[-1] - 5000]}  # fmt: skip
    robot.restart()
    assert sum(robot.poll(module.PERIOD_DRIVER, ms) for ms in POLLS) == FIRINGS
    robot.restart()
    disabled_ms = 10_000
    for ms in POLLS:
        robot.poll(module.PERIOD_DRIVER, ms if ms < disabled_ms else ms - disabled_ms)
        assert robot.status == (module.FELL_BACK if 0 <= ms - disabled_ms < disabled_ms - 5000 - 20 else module.OK)
        if robot.count and module.cue_id(robot.fired[0]) == "home":
            assert ms == 75_000 + disabled_ms
            break
    else:
        raise AssertionError("home never came")


def test_the_top_says_up_to_when_a_missed_cue_still_comes_and_the_code_keeps_it():
    made = python_source(bundled("full"))
    table = made.split("WHAT COMES WHEN")[1].split("What each is for")[0]
    # Rows with a second figure: "#   driver   75        79  0:22   home ..."
    rows = [line.split() for line in table.splitlines() if line.startswith("#   driver ")]
    held = {row[5]: int(row[3]) for row in rows if ":" not in row[3]}
    assert held == {"home": 79, "no_touch": 97}
    module = python_module(bundled("full"))
    for cue_id, to_s in held.items():
        for ms, comes in ((to_s * 1000 - 20, True), (to_s * 1000, False)):
            robot = module.TocsinPlan()
            given = [robot.fired[i] for i in range(robot.poll(module.PERIOD_DRIVER, ms))]
            assert (cue_id in {module.cue_id(firing) for firing in given}) is comes, (cue_id, ms)


@pytest.mark.parametrize("make", [c_source, python_source, lambda made: java_source(made, "Plan")])
def test_the_top_says_what_each_cue_that_shakes_is_for(make):
    told = make(bundled("full")).split("What each is for:")[1].split("Patterns, in percent")[0]
    reasons = {cue.id: cue.why for cue in bundled("full").plan.cues if "rumble" in cue.patterns}
    assert len(reasons) == 7
    assert [line.lstrip("*# ").split(None, 1) for line in told.splitlines() if line.strip(" *#")] == [
        [cue_id, why] for cue_id, why in reasons.items()
    ]
