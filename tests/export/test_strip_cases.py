"""One set of cases for every strip: the laptop's schedule, robot code in Python, C and Java, and the box.

What each case expects stands in `tests/cases/strip.json`, worked out by hand from the plan's moments, priorities and
late limits; random lives stand beside (robot/test_same, box/test_block).
"""

import json

import pytest

from tests.export.robot.test_same import needs_gcc, needs_java
from tests.support import PROJECT
from tests.support.export.box_driver import build_box
from tests.support.export.exported_plans import bundled
from tests.support.export.robot_drivers import SANITIZED, PythonRobot, asked, build_c, build_java, checked
from tocsin.channels.light.forms import colours_at
from tocsin.export.box.block import plan_block
from tocsin.export.robot.table import table_of
from tocsin.model.clock.origins import Origin
from tocsin.model.clock.schedule import Schedule
from tocsin.model.timeline.timeline import MATCH
from tocsin.units import NS_PER_MS as MS
from tocsin.units import NS_PER_S as S

CASES = json.loads((PROJECT / "tests" / "cases" / "strip.json").read_text("utf-8"))["cases"]
PLANS = sorted({case["plan"] for case in CASES})
SOURCES = {plan: bundled(plan) for plan in PLANS}
BEGIN_NS = 1000 * S
LEDS = 30
each_case = pytest.mark.parametrize("case", CASES, ids=[case["name"] for case in CASES])


def expected(case):
    """Return what the strip shows at each ask, as the laptop's own forms draw it: hexadecimal, black where dark."""
    plan = SOURCES[case["plan"]].plan
    cues = {cue.id: cue.patterns["light"] for cue in plan.cues if "light" in cue.patterns}
    shown = [ask["shows"] for ask in case["asks"]]
    return [
        "000000" * LEDS if one is None else bytes(
            value for rgb in colours_at(plan.patterns.light[cues[one["cue"]]], LEDS, one["ago_ms"] * MS, one["left"])
            for value in rgb
        ).hex()
        for one in shown
    ]  # fmt: skip


def deeds(case):
    """Return what a robot's program is asked, from its start on."""
    numbers = {period.id: number for number, period in enumerate(SOURCES[case["plan"]].timeline.periods)}
    asks = [(("p", numbers[ask["period"]], ask["ms"], 0), ("H", 0, LEDS, 0)) for ask in case["asks"]]
    return [("r", -1, 0, 0), *(deed for both in asks for deed in both)]


def hold_against(case, answers):
    """Check the answers to a case's deeds; where a colour fades it may be a step of 1 in 255 off."""
    seen = ["".join(answer.split(" ")[2:-1]) for answer in answers[2::2]]
    for made, want, ask in zip(seen, expected(case), case["asks"], strict=True):
        pairs = zip(bytes.fromhex(made), bytes.fromhex(want), strict=True)
        assert max(abs(one - other) for one, other in pairs) <= 1, ask


@each_case
def test_the_laptops_schedule(case):
    """Which firing shows, and since when: the highest priority, the newest among equals, as the strip's channel has
    it."""
    timeline = SOURCES[case["plan"]].timeline
    firings = [firing for firing in timeline.firings if firing.channel == "light"]
    schedule = Schedule(firings, [segment.anchor for segment in timeline.segments])
    begins_ns = {period.id: period.begin_ns for period in timeline.periods}
    moments = [BEGIN_NS + begins_ns[ask["period"]] + ask["ms"] * MS for ask in case["asks"]]
    schedule.set_origin(Origin(anchor=MATCH, origin_ns=BEGIN_NS))
    for now_ns, ask in zip(moments, case["asks"], strict=True):
        schedule.due(now_ns)
        shot = max(schedule.live, key=lambda s: (s.firing.priority, s.begin_ns, s.firing.no), default=None)
        want = ask["shows"]
        assert (shot and shot.firing.cue) == (want and want["cue"])
        if shot is not None:
            assert now_ns - shot.begin_ns == want["ago_ms"] * MS
            assert abs((shot.end_ns - now_ns) / (shot.end_ns - shot.begin_ns) - want["left"]) < 1e-3


@each_case
def test_a_robot_in_python(case):
    robot = PythonRobot(SOURCES[case["plan"]])
    hold_against(case, [robot.answer(deed) for deed in deeds(case)])


def hold_all_against(command):
    """Ask a program of all plans every case in turn."""
    asking = [(PLANS.index(case["plan"]), deed) for case in CASES for deed in deeds(case)]
    answers = checked(command, asked(asking)).splitlines()
    for case in CASES:
        own, answers = answers[: len(deeds(case))], answers[len(deeds(case)) :]
        hold_against(case, own)


@needs_gcc
def test_robots_in_c(tmp_path):
    hold_all_against([str(build_c(tmp_path, [SOURCES[plan] for plan in PLANS], SANITIZED))])


@needs_java
def test_robots_in_java(tmp_path):
    hold_all_against(build_java(tmp_path, [SOURCES[plan] for plan in PLANS]))


@needs_gcc
def test_the_box(tmp_path):
    made = [SOURCES[plan] for plan in PLANS]
    blocks = [plan_block(one, leds=LEDS, order="GRB", max_ma=390, brightness=1.0) for one in made]
    hold_all_against([str(build_box(tmp_path, [table_of(one) for one in made], blocks, SANITIZED))])
