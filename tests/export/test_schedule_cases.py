"""One set of cases for every schedule: the program's own, the page's, and robot code in Python, C and Java.

What each case expects stands in `tests/cases/schedule.json`, worked out by hand from the plans' moments and late
limits; random lives stand beside (test_page_clock, robot/test_same).
"""

import json
import re

import pytest

from tests.export.robot.test_same import needs_gcc, needs_java
from tests.support import PROJECT
from tests.support.export.exported_plans import bundled
from tests.support.export.page_stand import browser, opened, write_page
from tests.support.export.robot_drivers import SANITIZED, PythonRobot, asked, build_c, build_java, checked
from tocsin.model.clock.origins import Origin
from tocsin.model.clock.schedule import Schedule
from tocsin.model.timeline.timeline import MATCH
from tocsin.units import NS_PER_MS as MS
from tocsin.units import NS_PER_S as S

CASES = json.loads((PROJECT / "tests" / "cases" / "schedule.json").read_text("utf-8"))["cases"]
PLANS = sorted({case["plan"] for case in CASES})
SOURCES = {plan: bundled(plan) for plan in PLANS}
BEGIN_NS = 1000 * S
VERBS = {"begin": "played", "resume": "resumed"}
each_case = pytest.mark.parametrize("case", CASES, ids=[case["name"] for case in CASES])
ASKED_IN_THE_PAGE = """([origin, dues]) => {
  const firings = page.timeline.firings.filter((firing) => firing.channel === 'rumble');
  const schedule = new Schedule(firings, page.timeline);
  schedule.setOrigins([origin], '');
  return dues.map((due) => schedule.due(due).map(({verb, shot}) => [verb, shot.firing.cue, shot.firing.role]));
}"""


def expected(case):
    return [ask["gives"] for ask in case["asks"]]


def due_ns(case):
    """Return when each answer is asked for on the shared clock, in a match that began at BEGIN_NS."""
    begins_ns = {period.id: period.begin_ns for period in SOURCES[case["plan"]].timeline.periods}
    return [BEGIN_NS + begins_ns[ask["period"]] + ask["ms"] * MS for ask in case["asks"]]


def told(orders):
    return [[f"{cue} {role} {VERBS[verb]}" for verb, cue, role in one if verb in VERBS] for one in orders]


def deeds(case):
    """Return what a robot's program is asked, from its start on."""
    numbers = {period.id: number for number, period in enumerate(SOURCES[case["plan"]].timeline.periods)}
    return [("r", -1, 0, 0), *(("p", numbers[ask["period"]], ask["ms"], 0) for ask in case["asks"])]


def logged(answers):
    """Return what a robot's answers to a case say, without that to its start."""
    return [
        [" ".join(found) for found in re.findall(r"cue=(\w+) n=\d+ role=(\w+) outcome=(\w+)", answer)]
        for answer in answers[1:]
    ]


@each_case
def test_the_programs_schedule(case):
    timeline = SOURCES[case["plan"]].timeline
    firings = [firing for firing in timeline.firings if firing.channel == "rumble"]
    schedule = Schedule(firings, [segment.anchor for segment in timeline.segments])
    schedule.set_origin(Origin(anchor=MATCH, origin_ns=BEGIN_NS))
    orders = [schedule.due(ns) for ns in due_ns(case)]
    found = [[(order.verb, order.shot.firing.cue, order.shot.firing.role) for order in one] for one in orders]
    assert told(found) == expected(case)


@each_case
def test_a_robot_in_python(case):
    robot = PythonRobot(SOURCES[case["plan"]])
    assert logged([robot.answer(deed) for deed in deeds(case)]) == expected(case)


def hold_all_against(command):
    """Ask a program of all plans every case in turn."""
    asking = [(PLANS.index(case["plan"]), deed) for case in CASES for deed in deeds(case)]
    answers = checked(command, asked(asking)).splitlines()
    for case in CASES:
        own, answers = answers[: len(deeds(case))], answers[len(deeds(case)) :]
        assert logged(own) == expected(case), case["name"]


@needs_gcc
def test_robots_in_c(tmp_path):
    hold_all_against([str(build_c(tmp_path, [SOURCES[plan] for plan in PLANS], SANITIZED))])


@needs_java
def test_robots_in_java(tmp_path):
    hold_all_against(build_java(tmp_path, [SOURCES[plan] for plan in PLANS]))


@pytest.mark.devices
@pytest.mark.parametrize("plan", PLANS)
def test_the_pages_schedule(tmp_path, plan):
    origin = {"anchor": MATCH, "originNs": BEGIN_NS, "rate": 1, "instance": 0, "sentNs": 0, "startsNs": 0}
    with browser() as running, opened(running, write_page(tmp_path, SOURCES[plan])) as page:
        for case in (case for case in CASES if case["plan"] == plan):
            assert told(page.ask(ASKED_IN_THE_PAGE, [origin, due_ns(case)])) == expected(case), case["name"]
