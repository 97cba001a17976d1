"""Exported code by itself, as a robot's programmer meets it: it compiles under strict flags in each language version
that it names, needs no library, takes no memory in the loop, never throws, and gives each bundled cue on time.
"""

import ast
import os
import random
import shutil
import subprocess
import sys
import tracemalloc
from pathlib import Path

import pytest
from compiled_games import PATTERNS, cue, match_of, period, plan_of
from exported_plans import BUNDLED, bundled, source
from robot_drivers import C_FLAGS, GCC, JAVA, JAVAC, checked, python_module
from test_robot_same import needs_gcc, needs_java

from tocsin.export.robot_c import c_source
from tocsin.export.robot_java import java_source
from tocsin.export.robot_python import python_source
from tocsin.export.robot_table import table_of
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


@pytest.mark.skipif(not OLD_PYTHONS, reason="no Python 3.8 or 3.9 is installed: an old Python was not tried")
def test_an_old_python_runs_it(tmp_path):
    (tmp_path / "tocsin_plan.py").write_text(python_source(bundled("full")), encoding="ascii")
    (tmp_path / "robot.py").write_text(
        "import tocsin_plan\n"
        "plan = tocsin_plan.TocsinPlan()\n"
        "for ms in range(0, 121000, 20):\n"
        "    plan.poll(tocsin_plan.PERIOD_DRIVER, ms)\n"
        "    for i in range(plan.count):\n"
        "        print(plan.log_line(i))\n",
        encoding="ascii",
    )
    said = checked([str(OLD_PYTHONS[0]), "-W", "error", str(tmp_path / "robot.py")])
    assert said.splitlines()[4:6] == [
        "TOCSIN1 period=driver ms=95000 cue=coach_call n=0 role=coach outcome=played",
        "TOCSIN1 period=driver ms=96000 cue=home n=0 role=driver outcome=played",
    ]


@needs_gcc
@pytest.mark.parametrize("plan", BUNDLED)
def test_c_compiles_alone_in_silence_when_it_is_optimised(plan, tmp_path):
    (tmp_path / "plan.c").write_text(c_source(bundled(plan)), encoding="ascii")
    for level in ("-O2", "-Os") if plan == "full" else ("-O2",):
        checked([GCC, *C_FLAGS, level, "-c", str(tmp_path / "plan.c"), "-o", str(tmp_path / "plan.o")])


@pytest.mark.skipif(GXX is None, reason="g++ is not installed: C++ was not tried")
@pytest.mark.parametrize("plan", BUNDLED)
def test_c_is_cpp_too(plan, tmp_path):
    (tmp_path / "plan.h").write_text(c_source(bundled(plan)), encoding="ascii")
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
        "q_step_weak(0, 0); q_step_ms(0, 0); q_pulse_count(0); q_pulse_ms(0, 0);"
    )
    parts = []
    for prefix, plan in (("one", "full"), ("two", "turns")):
        (tmp_path / f"{prefix}.h").write_text(c_source(bundled(plan), prefix), encoding="ascii")
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
        for (int ms = 0; ms < 121000; ms += 20) {
            found += plan.poll(Plan.PERIOD_DRIVER, ms);
            for (int role = 0; role < Plan.ROLES; role++) {
                found += plan.level(role, ms) + (plan.busy(role, ms) ? 1 : 0);
            }
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


def test_python_keeps_nothing_in_the_loop():
    module = python_module(bundled("full"))
    plan = module.TocsinPlan()

    def match():
        for ms in range(0, 121_000, 20):
            plan.poll(module.PERIOD_DRIVER, ms)
            for role in range(module.ROLES):
                plan.level(role, ms)
                plan.busy(role, ms)

    match()
    plan.restart()
    before = {name: len(getattr(plan, name)) for name in plan.__slots__ if isinstance(getattr(plan, name), list)}
    tracemalloc.start()
    try:
        match()
        held, most = tracemalloc.get_traced_memory()
    finally:
        tracemalloc.stop()
    # What it holds are the few whole numbers of its state; what it needs at most besides are as few.
    assert held < 2000
    assert most < 4000
    assert {name: len(getattr(plan, name)) for name in before} == before


ODD = (None, -1, 99, 1 << 40, -(1 << 40), 1.5, float("nan"), float("inf"), "driver", "12", b"x", [], {}, object(), True)


def test_python_never_throws_whatever_it_is_given():
    module = python_module(bundled("turns"))
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
        if rng.random() < 0.1:
            plan.restart(odd[2])
    for odd in ODD:
        for name in ("cue_of", "role_of", "n_of", "priority_of", "cue_id", "word", "role_id", "period_named"):
            getattr(module, name)(odd)
        for name in ("step_strong", "step_weak", "step_ms", "pulse_ms"):
            getattr(module, name)(0, odd)
            getattr(module, name)(odd, 0)


def test_python_takes_milliseconds_with_a_fraction_for_what_has_passed():
    module = python_module(bundled("quiet"))
    plan = module.TocsinPlan()
    assert plan.poll(module.PERIOD_DRIVER, 95_999.9) == 0
    assert plan.poll(module.PERIOD_DRIVER, 96_000.4) == 2


def test_a_period_is_found_by_its_id():
    module = python_module(bundled("full"))
    assert [module.period_named(id) for id in ("auto", "driver", "", "drive", None)] == [0, 2, -1, -1, -1]


# -- on time: by the timeline's nanoseconds, without the schedule ---------------------------------------------------


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
    robot.poll(module.PERIOD_DRIVER, 119_990)
    assert robot.poll(module.PERIOD_DRIVER, 120_010) == 3
    assert {module.cue_id(robot.fired[i]) for i in range(3)} == {"over"}


def test_an_autonomous_program_that_runs_on_flows_into_the_driver_period():
    module = python_module(bundled("full"))
    robot = module.TocsinPlan()
    robot.poll(module.PERIOD_AUTO, 39_990)
    assert robot.poll(module.PERIOD_AUTO, 40_000) == 2                  # alive, 2 s into the driver period
    assert robot.poll(module.PERIOD_DRIVER, 2_005) == 0                 # and not again
    assert robot.poll(module.PERIOD_AUTO, 40_020) == 0
    assert robot.status == module.EARLIER_PERIOD


def test_a_lost_clock_is_said_once_and_set_by_the_display_with_a_press_that_is_late():
    module = python_module(bundled("full"))
    robot = module.TocsinPlan()
    robot.clock_lost()
    said = [robot.poll(module.PERIOD_DRIVER, ms) for ms in range(0, 30_000, 20)]
    assert (said[0], sum(said)) == (3, 3)
    assert robot.log_line(0) == ""
    # The display changes to 0:30, and somebody presses a little later: 90 s of 120 have passed, and a quarter second.
    assert robot.official(module.PERIOD_DRIVER, 30_000, 30)
    came = []
    for ms in range(30_020, 61_000, 10):
        robot.poll(module.PERIOD_DRIVER, ms)
        came += [(ms, robot.log_line(i)) for i in range(robot.count)]
    home = [ms for ms, line in came if "cue=home" in line]
    assert home == [30_000 + 6_000 - 250] * 2
    assert came[0][1] == "TOCSIN1 period=driver ms=95000 cue=coach_call n=0 role=coach outcome=played"


def test_a_display_that_rounds_down_is_a_second_further_when_it_changes():
    module = python_module(bundled("dash"))                              # floor, 60 s, home 16 s before the end
    robot = module.TocsinPlan()
    robot.poll(module.PERIOD_DRIVER, 0)
    assert robot.official(module.PERIOD_DRIVER, 40_000, 20)              # 21 s are left when 0:20 appears
    robot.poll(module.PERIOD_DRIVER, 40_000 + 5_000 - 250 - 1)
    assert robot.count == 0
    assert robot.poll(module.PERIOD_DRIVER, 40_000 + 5_000 - 250) == 2


def test_negative_milliseconds_are_an_unknown_clock_for_as_long_as_they_come():
    module = python_module(bundled("quiet"))
    robot = module.TocsinPlan()
    assert robot.poll(module.PERIOD_DRIVER, -1) == 2
    assert robot.status == module.CLOCK_LOST
    assert robot.poll(module.PERIOD_DRIVER, -1) == 0
    assert robot.poll(module.PERIOD_DRIVER, 96_000) == 2
    assert robot.status == module.OK


def test_a_call_before_the_first_poll_takes_nothing_from_the_match():
    module = python_module(bundled("quiet"))
    robot = module.TocsinPlan()
    assert robot.call(module.CUE_HOME, 0) == 2
    robot.poll(module.PERIOD_DRIVER, 95_990)
    assert robot.poll(module.PERIOD_DRIVER, 96_000) == 2


def test_a_call_in_the_match_stands_for_the_next_scheduled_one():
    module = python_module(bundled("quiet"))
    robot = module.TocsinPlan()
    robot.poll(module.PERIOD_DRIVER, 90_000)
    assert robot.call(module.CUE_HOME, 0) == 2
    assert robot.call(module.CUE_HOME, 999) == 0
    assert robot.status == module.PRESSED_TWICE
    assert robot.poll(module.PERIOD_DRIVER, 96_000) == 0
    assert robot.poll(module.PERIOD_DRIVER, 100_000) == 2                # keep_off is another cue


def test_nothing_rumbles_on_when_polls_stop():
    module = python_module(bundled("quiet"))
    robot = module.TocsinPlan()
    robot.poll(module.PERIOD_DRIVER, 96_000)
    levels = [robot.level(module.ROLE_DRIVER, now) for now in range(5_000, 8_000, 10)]
    assert levels[0] == (100, 100)
    assert [now for now, level in zip(range(0, 3_000, 10), levels, strict=True) if level != (0, 0)][-1] == 1140
    assert all(level == (0, 0) for level in levels[135:])


def test_the_teams_own_rumble_is_kept_away_around_a_cue():
    module = python_module(bundled("quiet"))
    robot = module.TocsinPlan()
    busy = []
    for ms in range(94_000, 99_000, 10):
        robot.poll(module.PERIOD_DRIVER, ms)
        if robot.busy(module.ROLE_DRIVER, ms):
            busy.append(ms)
    # home at 96 s, a triple of 3 x (250 + 200) ms
    assert (busy[0], busy[-1]) == (95_700, 96_000 + 1_350 + 150 - 10)
    assert len(busy) == (busy[-1] - busy[0]) // 10 + 1


def test_a_hundred_cues_at_one_moment_are_given_by_one_poll():
    cues = [cue(f"c{n}", "drive.begin+1s", patterns=RUMBLE, roles=("driver",)) for n in range(100)]
    module = python_module(source(match_of(period("drive", 60)), plan_of(*cues)))
    robot = module.TocsinPlan()
    assert [robot.poll(0, ms) for ms in (999, 1000, 1001)] == [0, 100, 0]


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
    assert "And 4820 more, which stand in the table of firings below." in top
    assert len(top.splitlines()) < 200


# -- the same bytes in another process ------------------------------------------------------------------------------


def test_another_process_writes_the_same_bytes():
    script = (
        f"import sys; sys.path.insert(0, {str(Path(__file__).parent)!r})\n"
        "from exported_plans import BUNDLED, bundled\n"
        "from tocsin.export.robot_c import c_source\n"
        "from tocsin.export.robot_java import java_source\n"
        "from tocsin.export.robot_python import python_source\n"
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


# -- the lines at the top of the file that wire it in --------------------------------------------------------------


def wiring(text):
    """Return the lines of code that the top of a file shows, without their comment marks."""
    block = text.split("HOW TO WIRE IT IN")[1].split("THE NEXT MATCH")[0]
    return [line[6:] for line in block.splitlines() if line.startswith((" *     ", "#     "))]


# Two matches, each a driver period at 20 ms: 14 firings on all pads (alive 2, last_load 2, coach_call 1, home 2,
# keep_off 2, choose 2, over 3), and some seconds of shaking. In the second the button is held from 90 s on for a
# second: home then is called, and not scheduled.
FIRINGS, POLLS, PRESSED = 14, range(0, 121_000, 20), range(90_000, 91_000)
PLAYED_HOME = "TOCSIN1 period=driver ms=96000 cue=home n=0 role={} outcome=played"
CALLED_HOME = "TOCSIN1 period=driver ms=90000 cue=home n=1 role={} outcome=called"
ROLES = ("driver", "operator")


def check_wired(log, shaken):
    """Check the log lines of both matches, and how many polls each pad shook for."""
    assert [len(log), len(set(log))] == [2 * FIRINGS, FIRINGS + len(ROLES)]
    assert [log[:FIRINGS].count(PLAYED_HOME.format(role)) for role in ROLES] == [1, 1]
    assert [log[FIRINGS:].count(CALLED_HOME.format(role)) for role in ROLES] == [1, 1]
    assert [line for line in log if "outcome=called" in line] == [CALLED_HOME.format(role) for role in ROLES]
    # By hand from the patterns: polls in blip's 200 ms, triple's three times 250, long's 800 and close's 500; the
    # operator has short's 300 twice besides.
    both = 10 + (13 + 12 + 13) + 40 + 25
    assert shaken == [2 * both, 2 * (both + 2 * 15)]


def test_the_lines_that_wire_python_in_work():
    first, made, begins, *loop = wiring(python_source(bundled("full")))
    assert first.strip() == "import tocsin_plan"
    log, shaken = [], [0, 0]

    def shake_pad(role, strong, weak):
        shaken[role] += strong > 0 and weak > 0

    names = {"tocsin_plan": python_module(bundled("full")), "WRITE_LOG": log.append, "SHAKE_PAD": shake_pad,
             "began": 0}  # fmt: skip
    exec(made.strip(), names)
    code = compile("\n".join(loop), "loop", "exec")
    for match in (1, 2):
        exec(begins.strip(), names)
        for names["now"] in POLLS:
            names["BUTTON"] = match == 2 and names["now"] in PRESSED
            exec(code, names)
    check_wired(log, shaken)


@needs_gcc
def test_the_lines_that_wire_c_in_work(tmp_path):
    made = c_source(bundled("full"))
    (tmp_path / "tocsin_plan.h").write_text(made, encoding="ascii")
    memory, begins, remark, *loop = wiring(made)
    (tmp_path / "robot.c").write_text("\n".join([
        "#include <stdio.h>", '#include "tocsin_plan.h"', "#define WRITE_LOG puts",
        f"#define BUTTON (match == 2 && now >= {PRESSED.start} && now < {PRESSED.stop})",
        "#define SHAKE_PAD(role, strong, weak) shaken[role] += (strong) > 0 && (weak) > 0",
        "int main(void) { int32_t now, began = 0; int match, shaken[2] = {0, 0};", memory,
        "for (match = 1; match <= 2; match++) {", begins, remark,
        f"for (now = 0; now < {POLLS.stop}; now += {POLLS.step}) {{", *loop, "} }",
        'printf("%d\\n%d\\n", shaken[0], shaken[1]); return 0; }', "",
    ]))  # fmt: skip
    checked([GCC, *C_FLAGS, str(tmp_path / "robot.c"), "-o", str(tmp_path / "robot")])
    *log, driver, operator = checked([str(tmp_path / "robot")]).splitlines()
    check_wired(log, [int(driver), int(operator)])


@needs_java
def test_the_lines_that_wire_java_in_work(tmp_path):
    """The nanoseconds are the test's, near where an int of milliseconds turns over."""
    made = java_source(bundled("full"), "TocsinPlan")
    (tmp_path / "TocsinPlan.java").write_text(made, encoding="ascii")
    made, begins, *loop = wiring(made)
    turns = "2147483647L * 1000000 - 60000000000L"
    (tmp_path / "Main.java").write_text("\n".join([
        "final class Main { static int match, ms; static final int[] shaken = new int[2];",
        f"static final class System {{ static long nanoTime() {{ return {turns} + ms * 1000000L; }} }}",
        "static void WRITE_LOG(String line) { java.lang.System.out.println(line); }",
        "static void SHAKE_PAD(int role, int strong, int weak) { shaken[role] += strong > 0 && weak > 0 ? 1 : 0; }",
        f"public static void main(String[] arguments) {{ int began = (int) (({turns}) / 1000000);", made,
        "for (match = 1; match <= 2; match++) {", begins,
        f"for (ms = 0; ms < {POLLS.stop}; ms += {POLLS.step}) {{",
        f"final boolean BUTTON = match == 2 && ms >= {PRESSED.start} && ms < {PRESSED.stop};", *loop, "} }",
        'java.lang.System.out.printf("%d%n%d%n", shaken[0], shaken[1]); } }', "",
    ]))  # fmt: skip
    checked([JAVAC, "-J-XX:TieredStopAtLevel=1", "-d", str(tmp_path), *map(str, tmp_path.glob("*.java"))])
    *log, driver, operator = checked([JAVA, "-XX:TieredStopAtLevel=1", "-cp", str(tmp_path), "Main"]).splitlines()
    check_wired(log, [int(driver), int(operator)])


def test_the_top_says_what_a_next_match_and_a_robot_that_was_disabled_need():
    """Both of them in the code itself: without restart() it stays still; noted anew, the call comes late."""
    for source_of, restart in ((c_source, "tocsin_restart()"), (python_source, "restart()")):
        told = source_of(bundled("full")).split("THE NEXT MATCH, AND A ROBOT THAT WAS DISABLED")[1]
        assert f"comes again only after {restart}." in told
    module = python_module(bundled("full"))
    robot = module.TocsinPlan()
    assert sum(robot.poll(module.PERIOD_DRIVER, ms) for ms in POLLS) == FIRINGS
    assert sum(robot.poll(module.PERIOD_DRIVER, ms) for ms in POLLS) == 0
    assert robot.status == module.OK
    robot.restart()
    assert sum(robot.poll(module.PERIOD_DRIVER, ms) for ms in POLLS) == FIRINGS
    robot.restart()
    disabled_ms = 10_000
    for ms in POLLS:
        robot.poll(module.PERIOD_DRIVER, ms if ms < disabled_ms else ms - disabled_ms)
        if robot.count and module.cue_id(robot.fired[0]) == "home":
            assert ms == 96_000 + disabled_ms
            break
    else:
        raise AssertionError("home never came")


def test_the_top_says_up_to_when_a_missed_cue_still_comes_and_the_code_keeps_it():
    made = python_source(bundled("full"))
    table = made.split("WHAT COMES WHEN")[1].split("What each is for")[0]
    # Rows with a second figure: "#   driver   96       100  0:24   home ..."
    rows = [line.split() for line in table.splitlines() if line.startswith("#   driver ")]
    held = {row[5]: int(row[3]) for row in rows if ":" not in row[3]}
    assert held == {"home": 100, "keep_off": 120}
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
