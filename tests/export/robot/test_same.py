"""Java, C and Python give the firings that the laptop's schedule gives, each once, in the same order, in random lives
of a robot's program: late starts, gaps, holds, wrong periods, calls, variants, a clock that is lost and set again.

50 plans by default, 12 of them under gcc's sanitizers. TOCSIN_ROBOT_PLANS=1000 takes as many, all of them sanitized.
"""

import os
import shutil
from collections import Counter

import pytest

from tests.support.export.robot_drivers import (
    GCC,
    JAVA,
    JAVAC,
    SANITIZED,
    PythonRobot,
    asked,
    build_c,
    build_java,
    checked,
)
from tests.support.export.robot_games import lives, random_source
from tests.support.export.robot_oracle import Oracle
from tocsin.export.robot.table import table_of

PLANS = int(os.environ.get("TOCSIN_ROBOT_PLANS", "50"))
SANITIZED_PLANS = PLANS if "TOCSIN_ROBOT_PLANS" in os.environ else 12
BATCH, SANITIZED_BATCH = 50, 20      # how many are compiled at once
LIVES = 8
UNTOLD = "?"                         # the oracle has no word on it: only the three languages have to agree
ANEW = ("r", -1, 0, 0)


def needs_gcc(test):
    """Mark a test that starts gcc and what it has compiled."""
    return pytest.mark.devices(pytest.mark.skipif(GCC is None, reason="gcc is not installed: C was not compared")(test))


def needs_java(test):
    """Mark a test that starts javac and java."""
    missing = JAVAC is None or JAVA is None
    reason = "javac or java is not installed: Java was not compared"
    return pytest.mark.devices(pytest.mark.skipif(missing, reason=reason)(test))


needs_valgrind = pytest.mark.skipif(shutil.which("valgrind") is None, reason="valgrind is not installed")


class Batch:
    """Some plans, what is done to each, what the oracle and what Python answered."""

    def __init__(self, seeds):
        self.sources = [random_source(seed) for seed in seeds]
        self.deeds, self.expected, self.python = [], [], []
        for plan, (seed, source) in enumerate(zip(seeds, self.sources, strict=True)):
            table = table_of(source)
            cues = [cue.id for cue in table.cues[:-1]]
            oracle, robot = Oracle(source, list(table.roles), cues), PythonRobot(source)
            for life in lives(seed, source.timeline, table, LIVES):
                for deed in (ANEW, *life):
                    self._add(plan, deed, oracle.answer(deed), robot.answer(deed))
            # What a firing is, also of numbers beside those that exist: the same in each language.
            all_of_them = ("d", -1, len(table.firings), 0)
            self._add(plan, all_of_them, UNTOLD, robot.answer(all_of_them))

    def _add(self, plan, deed, expected, python):
        self.deeds.append((plan, deed))
        self.expected.append(expected)
        self.python.append(python)

    def hold_against(self, answers):
        """Check that answers are the oracle's, and where it has none, Python's."""
        expected = [p if e == UNTOLD else e for e, p in zip(self.expected, self.python, strict=True)]
        for place, (want, got) in enumerate(zip(expected, answers, strict=True)):
            if want != got:
                plan, deed = self.deeds[place]
                before = [one for other, one in self.deeds[:place] if other == plan]
                before = before[len(before) - 1 - before[::-1].index(ANEW):] if ANEW in before else before
                pytest.fail(f"plan {plan}, {deed}: expected\n{want}\nbut got\n{got}\nafter\n{before}")


@pytest.fixture(scope="module", params=range(0, PLANS, BATCH), ids=lambda first: f"from{first}")
def batch(request):
    return Batch(range(request.param, min(request.param + BATCH, PLANS)))


def test_the_random_lives_meet_everything_that_can_happen(batch):
    answers = zip(batch.deeds, batch.expected, strict=True)
    said = Counter(deed[0] + answer.split(" ")[0] for (_, deed), answer in answers)
    outcomes = Counter(word for answer in batch.expected for word in ("played", "resumed", "called", "clock-lost")
                       for _ in range(answer.count(f"={word}")))  # fmt: skip
    wanted = ["p0", "p1", "p2", "p3", "p9", "o0", "o1", "c0", "c5", "c6", "c8", "v0", "v1", "r0", "r7", "b0", "b1",
              "L100", "H0", "H1", "T0", "T750", "B0", "B1", "R0", "R3", "S0", "S1", "W0", "W1"]  # fmt: skip
    assert {what: said[what] for what in wanted if said[what] < 5} == {}
    assert outcomes["played"] > 1000
    assert min(outcomes["resumed"], outcomes["called"], outcomes["clock-lost"]) > 50


def test_python_gives_what_the_schedule_gives(batch):
    batch.hold_against(batch.python)


@needs_gcc
def test_c_gives_what_the_schedule_gives(batch, tmp_path):
    program = build_c(tmp_path, batch.sources, ())
    batch.hold_against(checked([str(program)], asked(batch.deeds)).splitlines())


@pytest.fixture(scope="module", params=range(0, SANITIZED_PLANS, SANITIZED_BATCH), ids=lambda first: f"from{first}")
def sanitized(request):
    return Batch(range(request.param, min(request.param + SANITIZED_BATCH, SANITIZED_PLANS)))


@needs_gcc
def test_c_does_so_without_a_fault_that_the_sanitizers_find(sanitized, tmp_path):
    program = build_c(tmp_path, sanitized.sources, SANITIZED)
    sanitized.hold_against(checked([str(program)], asked(sanitized.deeds)).splitlines())


@needs_gcc
@needs_valgrind
def test_c_reads_nothing_that_a_restart_has_not_written(tmp_path):
    few = Batch(range(3))
    program = build_c(tmp_path, few.sources, ("-g", "-DUNTOUCHED"))
    valgrind = ["valgrind", "-q", "--error-exitcode=9", str(program)]
    few.hold_against(checked(valgrind, asked(few.deeds)).splitlines())


@needs_java
def test_java_gives_what_the_schedule_gives(batch, tmp_path):
    command = build_java(tmp_path, batch.sources)
    batch.hold_against(checked(command, asked(batch.deeds)).splitlines())
