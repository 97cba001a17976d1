"""Exported code by itself, as a robot's programmer meets it: it compiles under strict flags in each language version
that it names, needs no library, takes no memory in the loop, never throws, and is the same bytes in each process.
"""

import ast
import os
import random
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

from tests.export.robot.test_same import needs_gcc, needs_java
from tests.support.export.exported_plans import BUNDLED, bundled, source
from tests.support.export.robot_drivers import C_FLAGS, GCC, JAVA, JAVAC, checked, python_module
from tests.support.model.compiled_games import PATTERNS, cue, match_of, period, plan_of
from tocsin.export.robot.c import c_source
from tocsin.export.robot.java import java_source
from tocsin.export.robot.python import python_source
from tocsin.export.robot.table import table_of
from tocsin.model.pattern import Patterns, RumblePattern, RumbleStep
from tocsin.units import NS_PER_MS as MS

GXX = shutil.which("g++")
OLD_PYTHONS = [
    *Path.home().glob(".pyenv/versions/3.8.*/bin/python"),
    # A shim is there whether or not a version stands behind it.
    *(Path(found) for name in ("python3.8", "python3.9") if (found := shutil.which(name)) and "shims" not in found),
]
RUMBLE = {"rumble": "short"}


def test_the_python_of_each_bundled_plan_is_python_3_8_without_an_import():
    for plan in BUNDLED:
        tree = ast.parse(python_source(bundled(plan)), feature_version=(3, 8))
        assert not [node for node in ast.walk(tree) if isinstance(node, ast.Import | ast.ImportFrom)]


@pytest.mark.devices
@pytest.mark.skipif(not OLD_PYTHONS, reason="no Python 3.8 or 3.9 is installed: an old Python was not tried")
def test_an_old_python_runs_it(tmp_path):
    (tmp_path / "tocsin_plan.py").write_text(python_source(bundled("full")), encoding="utf-8")
    (tmp_path / "robot.py").write_text(
        "import tocsin_plan\n"
        "plan = tocsin_plan.TocsinPlan()\n"
        "for ms in range(0, 98000, 20):\n"
        "    plan.poll(tocsin_plan.PERIOD_DRIVER, ms)\n"
        "    for i in range(plan.count):\n"
        "        print(plan.log_line(i))\n",
        encoding="ascii",
    )
    said = checked([str(OLD_PYTHONS[0]), "-W", "error", str(tmp_path / "robot.py")])
    assert said.splitlines()[4:6] == [
        "TOCSIN1 period=driver ms=74000 cue=coach_call n=0 role=coach outcome=played",
        "TOCSIN1 period=driver ms=75000 cue=home n=0 role=driver outcome=played",
    ]


@needs_gcc
@pytest.mark.parametrize("plan", BUNDLED)
def test_c_compiles_alone_in_silence_when_it_is_optimised(plan, tmp_path):
    (tmp_path / "plan.c").write_text(c_source(bundled(plan)), encoding="utf-8")
    for level in ("-O2", "-Os") if plan == "full" else ("-O2",):
        checked([GCC, *C_FLAGS, level, "-c", str(tmp_path / "plan.c"), "-o", str(tmp_path / "plan.o")])


@pytest.mark.devices
@pytest.mark.skipif(GXX is None, reason="g++ is not installed: C++ was not tried")
@pytest.mark.parametrize("plan", BUNDLED)
def test_c_is_cpp_too(plan, tmp_path):
    (tmp_path / "plan.h").write_text(c_source(bundled(plan)), encoding="utf-8")
    (tmp_path / "robot.cpp").write_text(
        '#include "plan.h"\n#include "plan.h"\n'
        "int robot(int32_t ms) { static tocsin_plan plan; return tocsin_poll(&plan, TOCSIN_PERIOD_DRIVER, ms); }\n"
    )
    flags = ("-Wall", "-Wextra", "-Werror", "-Wconversion", "-Wshadow", "-pedantic")
    for version in ("-std=c++11", "-std=c++20") if plan == "full" else ("-std=c++11",):
        checked([GXX, version, *flags, "-c", str(tmp_path / "robot.cpp"), "-o", str(tmp_path / "robot.o")])


@needs_gcc
@pytest.mark.skipif(shutil.which("nm") is None, reason="nm is not installed")
def test_c_needs_nothing_from_any_library_nor_any_memory_of_its_own(tmp_path):
    """Two plans in one program; every function is used. What the object asks for from outside is nothing, so it cannot
    allocate; and it holds no writable data."""
    calls = (
        "q_restart(p, 0); q_poll(p, 0, 0); q_call(p, 0, 0); q_choose(p, 0); q_clock_lost(p); q_official(p, 0, 0, 0);"
        "q_busy(p, 0, 0); q_level(p, 0, 0); q_log(p, 0, s, 9); q_period_named(s); q_word(0); q_cue_id(0); q_role_id(0);"
        "q_cue_of(0); q_role_of(0); q_n_of(0); q_priority_of(0); q_step_count(0); q_step_strong(0, 0);"
        "q_step_weak(0, 0); q_step_ms(0, 0); q_pulse_count(0); q_pulse_ms(0, 0); q_light(p, 0, 30); q_led(p, 0);"
        "q_light_word(0); q_tone(p, 0); q_begin(p, 0); q_roll(p, 0); q_sync(p, 0, 0); q_waits(p, 0); q_over(p, 0);"
    )
    parts = []
    for prefix, plan in (("one", "full"), ("two", "doors")):
        (tmp_path / f"{prefix}.h").write_text(c_source(bundled(plan), prefix), encoding="utf-8")
        parts += [f'#include "{prefix}.h"', f"void run_{prefix}({prefix}_plan *p, char *s);"]
        parts += [f"void run_{prefix}({prefix}_plan *p, char *s) {{ {calls.replace('q_', f'{prefix}_')} }}"]
    (tmp_path / "robot.c").write_text("\n".join([*parts, ""]))
    checked([GCC, "-std=c99", "-fno-pic", "-c", str(tmp_path / "robot.c"), "-o", str(tmp_path / "robot.o")])
    symbols = [line.split()[-2:] for line in checked(["nm", str(tmp_path / "robot.o")]).splitlines()]
    assert {name for _, name in symbols} >= {"run_one", "run_two", "one_poll", "two_poll"}
    assert [name for kind, name in symbols if kind in "UDdBbC"] == []


@needs_java
def test_java_makes_no_object_in_the_loop(tmp_path):
    """By the count of bytes that the machine has allocated for this thread, over a whole match of everything but the
    log line."""
    (tmp_path / "Plan.java").write_text(java_source(bundled("full"), "Plan"), encoding="ascii")
    (tmp_path / "Main.java").write_text("""
final class Main {
    private Main() {
    }

    static int match(Plan plan) {
        int found = 0;
        plan.restart(Plan.DEFAULT_VARIANT);
        for (int ms = 0; ms < 98000; ms += 20) {
            found += plan.poll(Plan.PERIOD_DRIVER, ms);
            for (int role = 0; role < Plan.ROLES; role++) {
                found += plan.level(role, ms) + (plan.busy(role, ms) ? 1 : 0);
            }
            found += (plan.light(ms, 30) ? plan.led(7) & 1 : 0) + plan.tone(ms);
            found += plan.waits(ms) || plan.over(ms) ? 1 : 0;
            for (int i = 0; i < plan.count(); i++) {
                found += Plan.cueOf(plan.fired(i)) + plan.outcome(i) + Plan.word(plan.fired(i)).length();
            }
            if (ms == 50000) {
                found += plan.call(Plan.CUE_HOME, ms);
                plan.clockLost();
                plan.official(Plan.PERIOD_DRIVER, ms, 70);
                plan.choose(0);
            }
        }
        plan.restart(Plan.DEFAULT_VARIANT);
        plan.begin(0);
        for (int ms = 0; ms < 98000; ms += 20) {
            found += plan.roll(ms) + (ms == 50000 && plan.sync(ms, 60) ? 1 : 0);
        }
        return found;
    }

    public static void main(String[] arguments) {
        Plan plan = new Plan();
        com.sun.management.ThreadMXBean threads =
            (com.sun.management.ThreadMXBean) java.lang.management.ManagementFactory.getThreadMXBean();
        long id = Thread.currentThread().getId();
        int found = 0;
        long least = Long.MAX_VALUE;
        for (int round = 0; round < 5; round++) {
            long before = threads.getThreadAllocatedBytes(id);
            found += match(plan);
            least = Math.min(least, threads.getThreadAllocatedBytes(id) - before);
        }
        System.out.println(least + " " + (found > 0));
    }
}
""")
    checked([JAVAC, "-J-XX:TieredStopAtLevel=1", "-d", str(tmp_path), *map(str, tmp_path.glob("*.java"))])
    assert checked([JAVA, "-Xint", "-cp", str(tmp_path), "Main"]) == "0 true\n"


# Measured as on the robot, in a process with nothing else in it: the threads of a test runner take some too.
PYTHON_MATCHES = """
import tracemalloc
import tocsin_plan as module

plan = module.TocsinPlan()

def match():
    for ms in range(0, 98_000, 20):
        plan.poll(module.PERIOD_DRIVER, ms)
        for role in range(module.ROLES):
            plan.level(role, ms)
            plan.busy(role, ms)
        plan.light(ms, 30)
        plan.led(7)
        plan.tone(ms)
    plan.restart()
    plan.begin(0)
    for ms in range(0, 98_000, 20):
        plan.roll(ms)
        plan.light(ms, 30)

def lengths():
    return [len(getattr(plan, name)) for name in plan.__slots__ if isinstance(getattr(plan, name), list)]

match()
before = lengths()
plan.restart()
tracemalloc.start()
match()
held, most = tracemalloc.get_traced_memory()
print(held, most, lengths() == before)
"""


@pytest.mark.devices
def test_python_keeps_nothing_in_the_loop(tmp_path):
    (tmp_path / "tocsin_plan.py").write_text(python_source(bundled("full")), encoding="utf-8")
    (tmp_path / "matches.py").write_text(PYTHON_MATCHES, encoding="utf-8")
    held, most, same = checked([sys.executable, str(tmp_path / "matches.py")]).split()
    # What it holds are the few whole numbers of its state; what it needs at most besides are as few.
    assert int(held) < 2000
    assert int(most) < 4000
    assert same == "True"


ODD = (None, -1, 99, 1 << 40, -(1 << 40), 1.5, float("nan"), float("inf"), "driver", "12", b"x", [], {}, object(), True)


def test_python_never_throws_whatever_it_is_given():
    module = python_module(bundled("doors"))
    plan = module.TocsinPlan()
    rng = random.Random(1)
    for _ in range(4000):
        odd = rng.choices([*ODD, 0, 1, 60_000], k=3)
        plan.poll(odd[0], odd[1])
        plan.call(odd[0], odd[1])
        plan.choose(odd[0])
        plan.official(*odd)
        plan.busy(odd[0], odd[1])
        plan.level(odd[0], odd[1])
        plan.log_line(odd[0])
        plan.light(odd[0], odd[1])
        plan.led(odd[2])
        plan.tone(odd[0])
        plan.begin(odd[0])
        plan.roll(odd[1])
        plan.sync(odd[0], odd[2])
        plan.waits(odd[1]), plan.over(odd[2]), plan.ms(odd[0])
        if rng.random() < 0.1:
            plan.restart(odd[2])
    for odd in ODD:
        for name in ("cue_of", "role_of", "n_of", "priority_of", "cue_id", "word", "role_id", "period_named"):
            getattr(module, name)(odd)
        for name in ("step_strong", "step_weak", "step_ms", "pulse_ms"):
            getattr(module, name)(0, odd)
            getattr(module, name)(odd, 0)


def test_a_period_is_found_by_its_id():
    module = python_module(bundled("full"))
    assert [module.period_named(id) for id in ("auto", "driver", "", "drive", None)] == [0, 2, -1, -1, -1]


def largest():
    """Return nearly as many firings as are allowed, and patterns with as many steps as a file may hold."""
    steps = tuple(RumbleStep(strong=k % 50 / 50, weak=k % 7 / 7, lasts_ns=50 * MS) for k in range(200))
    patterns = {"short": PATTERNS.rumble["short"]} | {f"p{n}": RumblePattern(steps=steps[: 200 - n]) for n in range(40)}
    beats = [
        cue(f"b{n}", f"drive.begin+{n}ms", "drive.end", every_ns=990 * MS, patterns=RUMBLE, roles=("coach",))
        for n in range(40)
    ]
    drawn_out = [cue(f"d{n}", "drive.begin", patterns={"rumble": f"p{n}"}, roles=("coach",)) for n in range(40)]
    plan = plan_of(*beats, *drawn_out, patterns=Patterns(rumble=patterns))
    return source(match_of(period("drive", 120)), plan)


@needs_java
def test_the_largest_plan_is_not_too_large_for_java(tmp_path):
    made = largest()
    assert table_of(made).lost > 4800
    (tmp_path / "Plan.java").write_text(java_source(made, "Plan"), encoding="ascii")
    flags = ("-J-XX:TieredStopAtLevel=1", "--release", "11", "-Xlint:all,-options", "-Werror", "-d", str(tmp_path))
    checked([JAVAC, *flags, str(tmp_path / "Plan.java")])


def test_a_table_that_nobody_would_read_is_cut_at_the_top():
    top = python_source(largest()).split("WHAT IS LEFT OUT")[0]
    assert "And 4820 more, in the table of firings below." in top
    assert len(top.splitlines()) < 200


@pytest.mark.devices
def test_another_process_writes_the_same_bytes():
    script = (
        "from tests.support.export.exported_plans import BUNDLED, bundled\n"
        "from tocsin.export.robot.c import c_source\n"
        "from tocsin.export.robot.java import java_source\n"
        "from tocsin.export.robot.python import python_source\n"
        "for plan in BUNDLED:\n"
        "    made = bundled(plan)\n"
        "    print(c_source(made), java_source(made, 'P'), python_source(made))\n"
    )
    said = set()
    for seed in ("1", "2"):
        done = subprocess.run(
            [sys.executable, "-c", script], env={**os.environ, "PYTHONHASHSEED": seed}, capture_output=True, check=True
        )
        said.add(done.stdout)
    assert len(said) == 1
    assert c_source(bundled("full")).encode() in said.pop()
