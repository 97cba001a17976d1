"""The lines at the top of exported code that wire it into a program: taken from there and run, for two matches."""

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
