"""The lines at the top of exported code that wire it into a program: taken from there and run, for two matches."""

import itertools

from tests.export.robot.test_same import needs_gcc, needs_java
from tests.support.export.exported_plans import bundled
from tests.support.export.robot_drivers import C_FLAGS, GCC, JAVA, JAVAC, checked, python_module
from tocsin.export.robot.c import c_source
from tocsin.export.robot.java import java_source
from tocsin.export.robot.python import python_source


def wiring(text):
    """Return the lines of code that the top of a file shows, without their comment marks."""
    block = text.split("HOW TO ADD IT")[1].split("THE NEXT MATCH")[0]
    return [line[6:] for line in block.splitlines() if line.startswith((" *     ", "#     "))]


# Two matches, each a driver period at 20 ms: 14 firings on all pads (alive 2, last_load 2, coach_call 1, home 2,
# no_touch 2, choose 2, over 3), and some seconds of shaking. In the second the button is held from 77 s on for a
# second: home then is called, and not scheduled.
FIRINGS, POLLS, PRESSED = 14, range(0, 98_000, 20), range(69_000, 70_000)
PLAYED_HOME = "TOCSIN1 period=driver ms=75000 cue=home n=0 role={} outcome=played"
CALLED_HOME = "TOCSIN1 period=driver ms=69000 cue=home n=1 role={} outcome=called"
ROLES = ("driver", "operator")


def check_wired(log, shaken):
    """Check the log lines of both matches, and how many polls each pad shook for."""
    assert [len(log), len(set(log))] == [2 * FIRINGS, FIRINGS + len(ROLES)]
    assert [log[:FIRINGS].count(PLAYED_HOME.format(role)) for role in ROLES] == [1, 1]
    assert [log[FIRINGS:].count(CALLED_HOME.format(role)) for role in ROLES] == [1, 1]
    assert [line for line in log if "outcome=called" in line] == [CALLED_HOME.format(role) for role in ROLES]
    # By hand from the patterns: polls in hello's 200 ms, triple's three times 250, long's 800 and close's 500; the
    # operator has short's 300 twice besides.
    both = 10 + (13 + 12 + 13) + 40 + 25
    assert shaken == [2 * both, 2 * (both + 2 * 15)]


def test_the_lines_that_wire_python_in_work():
    first, made, begins, *loop = wiring(python_source(bundled("full")))
    assert first.strip() == "import tocsin_plan"
    log, shaken, told = [], [0, 0], []

    def shake_pad(role, strong, weak):
        shaken[role] += strong > 0 and weak > 0

    module = python_module(bundled("full"))
    names = {"tocsin_plan": module, "WRITE_LOG": log.append, "SHAKE_PAD": shake_pad, "SHOW_STATUS": told.append,
             "began": 0}  # fmt: skip
    exec(made.strip(), names)
    code = compile("\n".join(loop), "loop", "exec")
    for match in (1, 2):
        exec(begins.strip(), names)
        for names["now"] in POLLS:
            names["BUTTON"] = match == 2 and names["now"] in PRESSED
            exec(code, names)
    check_wired(log, shaken)
    assert told == []
    # A third one, for which nobody thought of the line that begins a match.
    for names["now"] in POLLS:
        exec(code, names)
    assert len(log) == 2 * FIRINGS
    assert told == [module.FELL_BACK] * (len(POLLS) - 5000 // POLLS.step - 1)


@needs_gcc
def test_the_lines_that_wire_c_in_work(tmp_path):
    made = c_source(bundled("full"))
    (tmp_path / "tocsin_plan.h").write_text(made, encoding="ascii")
    memory, begins, remark, *loop = wiring(made)
    (tmp_path / "robot.c").write_text("\n".join([
        "#include <stdio.h>", '#include "tocsin_plan.h"', "#define WRITE_LOG puts",
        f"#define BUTTON (match == 2 && now >= {PRESSED.start} && now < {PRESSED.stop})",
        "#define SHAKE_PAD(role, strong, weak) shaken[role] += (strong) > 0 && (weak) > 0",
        "#define SHOW_STATUS(status) told = status",
        "int main(void) { int32_t now, began = 0; int match, told = 0, shaken[2] = {0, 0};", memory,
        "for (match = 1; match <= 2; match++) {", begins, remark,
        f"for (now = 0; now < {POLLS.stop}; now += {POLLS.step}) {{", *loop, "} }",
        'printf("%d\\n%d\\n%d\\n", told, shaken[0], shaken[1]); return 0; }', "",
    ]))  # fmt: skip
    checked([GCC, *C_FLAGS, str(tmp_path / "robot.c"), "-o", str(tmp_path / "robot")])
    *log, told, driver, operator = checked([str(tmp_path / "robot")]).splitlines()
    check_wired(log, [int(driver), int(operator)])
    assert told == "0"


@needs_java
def test_the_lines_that_wire_java_in_work(tmp_path):
    """The nanoseconds are the test's, near where an int of milliseconds turns over."""
    made = java_source(bundled("full"), "TocsinPlan")
    (tmp_path / "TocsinPlan.java").write_text(made, encoding="ascii")
    made, begins, *loop = wiring(made)
    turns = "2147483647L * 1000000 - 60000000000L"
    (tmp_path / "Main.java").write_text("\n".join([
        "final class Main { static int match, ms, told; static final int[] shaken = new int[2];",
        "static void SHOW_STATUS(int status) { told = status; }",
        f"static final class System {{ static long nanoTime() {{ return {turns} + ms * 1000000L; }} }}",
        "static void WRITE_LOG(String line) { java.lang.System.out.println(line); }",
        "static void SHAKE_PAD(int role, int strong, int weak) { shaken[role] += strong > 0 && weak > 0 ? 1 : 0; }",
        f"public static void main(String[] arguments) {{ int began = (int) (({turns}) / 1000000);", made,
        "for (match = 1; match <= 2; match++) {", begins,
        f"for (ms = 0; ms < {POLLS.stop}; ms += {POLLS.step}) {{",
        f"final boolean BUTTON = match == 2 && ms >= {PRESSED.start} && ms < {PRESSED.stop};", *loop, "} }",
        'java.lang.System.out.printf("%d%n%d%n%d%n", told, shaken[0], shaken[1]); } }', "",
    ]))  # fmt: skip
    checked([JAVAC, "-J-XX:TieredStopAtLevel=1", "-d", str(tmp_path), *map(str, tmp_path.glob("*.java"))])
    said = checked([JAVA, "-XX:TieredStopAtLevel=1", "-cp", str(tmp_path), "Main"])
    *log, told, driver, operator = said.splitlines()
    check_wired(log, [int(driver), int(operator)])
    assert told == "0"


# -- what a program may have beside pads -------------------------------------------------------------------------------

SECTIONS = ("A STRIP OF LIGHT", "TONES, FOR PRACTICE", "ONE BUTTON AND NO PERIODS", "FOR A PROGRAM MADE OF BLOCKS")


def more_wiring(text):
    """Return the lines of code of the parts about strip, tones and one clock."""
    parts = [text.split(begin)[1].split(end)[0] for begin, end in itertools.pairwise(SECTIONS)]
    return [[line[6:] for line in part.splitlines() if line.startswith((" *     ", "#     "))] for part in parts]


# One match by one button that goes down at 250 ms, which counts as 0, and on at 10 ms.
WHOLE = range(250, 142_000, 10)


def check_more(lit, hz):
    """Check the milliseconds at which LED 0 was on, and the pitch at each.

    By hand from the plan: `pads` shrinks around the middle, so both ends are dark soon after 28 s; last_load swells for
    3 s from 102 s on, home shows from 114 to 118, no_touch from there to the end, but for 3 s of choose at 126 (a block
    that begins at LED 0 and leaves it), and five times 300 ms; `over` is the middle alone.
    """
    seconds = {ms // 1000 for ms in lit}
    assert seconds >= {102, 103, 104, *range(114, 126), 129, 130, 131, 135}
    assert not seconds & {*range(0, 28), *range(30, 102), *range(105, 114), *range(136, 143)}
    # soft at 28 s; steady at 102; rising at 114; drop at 118; steady at 126; five ticks.
    assert [hz[ms] for ms in (28_000, 102_000, 114_000, 118_000, 118_200, 126_000, 131_000, 135_000, 136_000)] == [
        523, 750, 659, 1047, 659, 750, 1568, 1568, 0
    ]  # fmt: skip
    assert sum(pitch > 0 for pitch in hz.values()) == 30 + 25 + 2 * 18 + 40 + 25 + 5 * 5


def told(said):
    """Check what a program printed: L and the time at which LED 0 was on, T and the time with its pitch."""
    words = [line.split() for line in said.splitlines()]
    lit = [int(word[1]) for word in words if word[0] == "L"]
    check_more(lit, {int(word[1]): int(word[2]) for word in words if word[0] == "T"})


def test_the_lines_for_strip_tones_and_one_clock_work_in_python():
    light, tone, clock = more_wiring(python_source(bundled("full")))
    lit, hz = [], {}
    names = {
        "cues": python_module(bundled("full")).TocsinPlan(), "SYNC": False,
        "SET_LED": lambda led, colour: lit.append(names["now"]) if led == 0 and any(colour) else None,
        "SOUND": lambda pitch: hz.__setitem__(names["now"], pitch),
    }  # fmt: skip
    code = compile("\n".join(line.strip() for line in (*clock, *light, *tone)), "loop", "exec")
    for names["now"] in WHOLE:
        names["START"] = names["now"] == WHOLE.start
        exec(code, names)
    check_more(lit, hz)


@needs_gcc
def test_the_lines_for_strip_tones_and_one_clock_work_in_c(tmp_path):
    made = c_source(bundled("full"))
    (tmp_path / "tocsin_plan.h").write_text(made, encoding="ascii")
    light, tone, clock = more_wiring(made)
    (tmp_path / "robot.c").write_text("\n".join([
        "#include <stdio.h>", '#include "tocsin_plan.h"', f"#define START (now == {WHOLE.start})", "#define SYNC 0",
        '#define SET_LED(i, rgb) do { if ((i) == 0 && (rgb)) printf("L %d\\n", (int)now); } while (0)',
        '#define SOUND(hz) printf("T %d %d\\n", (int)now, hz)',
        "static tocsin_plan cues;", "int main(void) { int32_t now;",
        "tocsin_restart(&cues, TOCSIN_DEFAULT_VARIANT);",
        f"for (now = {WHOLE.start}; now < {WHOLE.stop}; now += {WHOLE.step}) {{", *clock, *light, *tone,
        "} return 0; }", "",
    ]))  # fmt: skip
    checked([GCC, *C_FLAGS, str(tmp_path / "robot.c"), "-o", str(tmp_path / "robot")])
    told(checked([str(tmp_path / "robot")]))


@needs_java
def test_the_lines_for_strip_tones_and_one_clock_work_in_java(tmp_path):
    made = java_source(bundled("full"), "TocsinPlan")
    (tmp_path / "TocsinPlan.java").write_text(made, encoding="ascii")
    light, tone, clock = more_wiring(made)
    (tmp_path / "Main.java").write_text("\n".join([
        "final class Main { static int now;",
        'static void SET_LED(int i, int rgb) { if (i == 0 && rgb != 0) System.out.println("L " + now); }',
        'static void SOUND(int hz) { System.out.println("T " + now + " " + hz); }',
        "public static void main(String[] arguments) { final TocsinPlan cues = new TocsinPlan();",
        f"for (now = {WHOLE.start}; now < {WHOLE.stop}; now += {WHOLE.step}) {{",
        f"final boolean START = now == {WHOLE.start}, SYNC = false;", *clock, *light, *tone, "} } }", "",
    ]))  # fmt: skip
    checked([JAVAC, "-J-XX:TieredStopAtLevel=1", "-d", str(tmp_path), *map(str, tmp_path.glob("*.java"))])
    told(checked([JAVA, "-XX:TieredStopAtLevel=1", "-cp", str(tmp_path), "Main"]))
