"""Many exported plans in one program of each language: written, compiled, asked line by line.

A line in: the plan's number, then a deed (robot_games). A line out: what the plan answered. C and Java are each
compiled once for all plans; the generated sources stay as they are, each with a prefix or a class name of its own.
"""

import shutil
import subprocess
import types
from pathlib import Path

from tocsin.export.robot.c import c_source
from tocsin.export.robot.java import java_source
from tocsin.export.robot.python import python_source

GCC, JAVAC, JAVA = shutil.which("gcc"), shutil.which("javac"), shutil.which("java")
C_FLAGS = ("-std=c99", "-Wall", "-Wextra", "-Werror", "-Wconversion", "-Wsign-conversion", "-Wshadow", "-pedantic")
SANITIZED = ("-g", "-fsanitize=address,undefined", "-fno-sanitize-recover=all")

# `N` is the plan's number; a deed's firings are shown as their log lines.
# What a plan's memory holds before its first restart: rubbish, or with -DUNTOUCHED what malloc gives, for valgrind.
C_FILL = """
#ifdef UNTOUCHED
#define FILL(memory, size)
#else
#define FILL(memory, size) memset(memory, 0xA5, size)
#endif
"""
C_PLAN = """
static void run_N(char verb, int a, int b, int c)
{
    static tocsin_plan *plan;
    int i, got;
    char line[200], little[9];
    if (!plan) {
        plan = malloc(sizeof *plan);
        FILL(plan, sizeof *plan);
        tocsin_restart(plan, TOCSIN_DEFAULT_VARIANT);
    }
    switch (verb) {
    case 'p': case 'c': case 'R':
        got = verb == 'p' ? tocsin_poll(plan, a, b) : verb == 'c' ? tocsin_call(plan, a, b) : tocsin_roll(plan, a);
        printf("%d ", plan->status);
        for (i = 0; i < got; i++) {
            const int32_t length = tocsin_log(plan, i, line, (int32_t)sizeof line);
            if (length != (int32_t)strlen(line) || tocsin_log(plan, i, little, 9) != length || strlen(little) != 8
                || strncmp(line, little, 8) || got != plan->count)
                printf("LENGTH");
            printf("%s%s", i ? ";" : "", line);
        }
        break;
    case 'v': got = tocsin_choose(plan, a); printf("%d %d", got, plan->status); break;
    case 'r': tocsin_restart(plan, a); printf("%d", plan->status); break;
    case 'l': tocsin_clock_lost(plan); printf("%d", plan->status); break;
    case 'o': got = tocsin_official(plan, a, b, c); printf("%d %d", got, plan->status); break;
    case 'b': printf("%d", tocsin_busy(plan, a, b)); break;
    case 'L': got = tocsin_level(plan, a, b); printf("%d %d %d", plan->strong, plan->weak, got); break;
    case 'H':
        printf("%d", tocsin_light(plan, a, b) >= 0);
        for (i = -1; i <= b; i++)
            printf(" %06lx", (unsigned long)tocsin_led(plan, i));
        break;
    case 'T': got = tocsin_tone(plan, a); printf("%d %d", got, plan->loudness); break;
    case 'B': printf("%d", tocsin_begin(plan, a)); break;
    case 'S': got = tocsin_sync(plan, a, b); printf("%d %d", got, plan->status); break;
    case 'W': printf("%d %d %ld", tocsin_waits(plan, a), tocsin_over(plan, a), (long)tocsin_ms(plan, a)); break;
    case 'd':
        for (i = a; i <= b; i++) {
            printf("%s|%d|%s|%d|%s|%d|%d|", tocsin_cue_id(i), tocsin_n_of(i), tocsin_role_id(i), tocsin_priority_of(i),
                   tocsin_word(i), tocsin_cue_of(i), tocsin_role_of(i));
            for (int k = -1; k <= tocsin_step_count(i); k++)
                printf("%d/%d/%d,", tocsin_step_strong(i, k), tocsin_step_weak(i, k), (int)tocsin_step_ms(i, k));
            for (int k = -1; k <= tocsin_pulse_count(i); k++)
                printf(" %d", tocsin_pulse_ms(i, k));
            printf(";");
        }
        break;
    default: break;
    }
    printf("\\n");
}
"""
C_MAIN = """
int main(void)
{
    int n, a, b, c;
    char verb;
    while (scanf("%d %c %d %d %d", &n, &verb, &a, &b, &c) == 5)
        plans[n](verb, a, b, c);
    return 0;
}
"""
_JAVA_PLAN = """
final class Run_N implements Robot {
    private final Plan_N plan = new Plan_N();

    @Override
    public void run(char verb, int a, int b, int c, StringBuilder out) {
        switch (verb) {
            case 'p':
            case 'c':
            case 'R':
                int got = verb == 'p' ? plan.poll(a, b) : verb == 'c' ? plan.call(a, b) : plan.roll(a);
                out.append(plan.status()).append(' ');
                for (int i = 0; i < got; i++) {
                    out.append(i > 0 ? ";" : "").append(plan.logLine(i));
                }
                if (got != plan.count()) {
                    out.append("COUNT");
                }
                break;
            case 'v': out.append(plan.choose(a) ? 1 : 0).append(' ').append(plan.status()); break;
            case 'r': plan.restart(a); out.append(plan.status()); break;
            case 'l': plan.clockLost(); out.append(plan.status()); break;
            case 'o': out.append(plan.official(a, b, c) ? 1 : 0).append(' ').append(plan.status()); break;
            case 'b': out.append(plan.busy(a, b) ? 1 : 0); break;
            case 'L':
                int most = plan.level(a, b);
                out.append(plan.strong()).append(' ').append(plan.weak()).append(' ').append(most);
                break;
            case 'H':
                out.append(plan.light(a, b) ? 1 : 0);
                for (int i = -1; i <= b; i++) {
                    out.append(String.format(" %06x", plan.led(i)));
                }
                break;
            case 'T': int hz = plan.tone(a); out.append(hz).append(' ').append(plan.loudness()); break;
            case 'B': out.append(plan.begin(a) ? 1 : 0); break;
            case 'S': out.append(plan.sync(a, b) ? 1 : 0).append(' ').append(plan.status()); break;
            case 'W':
                out.append(plan.waits(a) ? 1 : 0).append(' ').append(plan.over(a) ? 1 : 0).append(' ');
                out.append(plan.ms(a));
                break;
            case 'd':
                for (int i = a; i <= b; i++) {
                    out.append(Plan_N.cueId(i)).append('|').append(Plan_N.nOf(i)).append('|').append(Plan_N.roleId(i))
                        .append('|').append(Plan_N.priorityOf(i)).append('|').append(Plan_N.word(i)).append('|')
                        .append(Plan_N.cueOf(i)).append('|').append(Plan_N.roleOf(i)).append('|');
                    for (int k = -1; k <= Plan_N.stepCount(i); k++) {
                        out.append(Plan_N.stepStrong(i, k)).append('/').append(Plan_N.stepWeak(i, k)).append('/')
                            .append(Plan_N.stepMs(i, k)).append(',');
                    }
                    for (int k = -1; k <= Plan_N.pulseCount(i); k++) {
                        out.append(' ').append(Plan_N.pulseMs(i, k));
                    }
                    out.append(';');
                }
                break;
            default: break;
        }
        out.append('\\n');
    }
}
"""
_JAVA_MAIN = """
import java.io.BufferedReader;
import java.io.InputStreamReader;
import java.io.PrintStream;
import java.nio.charset.StandardCharsets;

interface Robot {
    void run(char verb, int a, int b, int c, StringBuilder out);
}

final class Main {
    private Main() {
    }

    public static void main(String[] arguments) throws Exception {
        Robot[] plans = {PLANS};
        BufferedReader in = new BufferedReader(new InputStreamReader(System.in, StandardCharsets.UTF_8));
        StringBuilder out = new StringBuilder();
        for (String line = in.readLine(); line != null; line = in.readLine()) {
            String[] w = line.split(" ");
            plans[Integer.parseInt(w[0])].run(w[1].charAt(0), Integer.parseInt(w[2]), Integer.parseInt(w[3]),
                Integer.parseInt(w[4]), out);
        }
        new PrintStream(System.out, true, StandardCharsets.UTF_8).print(out);
    }
}
"""


def asked(deeds):
    """Return the lines that ask (plan, deed) one after the other."""
    return "".join(f"{plan} {' '.join(map(str, deed))}\n" for plan, deed in deeds)


def checked(command, asking=""):
    """Run a command that has to succeed in silence; return what it printed, letter for letter."""
    done = subprocess.run(command, input=asking.encode(), capture_output=True, check=False, timeout=600)
    said, faults = done.stdout.decode("utf-8"), done.stderr.decode("utf-8")
    assert (done.returncode, faults) == (0, ""), f"{faults[-4000:]}\n{said[-2000:]}"
    return said


def build_c(folder: Path, sources, flags=SANITIZED):
    """Compile all plans into one program; return its path."""
    parts = ["#include <stdio.h>", "#include <stdlib.h>", "#include <string.h>", C_FILL]
    for n, source in enumerate(sources):
        (folder / f"plan{n}.h").write_text(c_source(source, f"q{n}"), encoding="utf-8")
        run = C_PLAN.replace("tocsin_", f"q{n}_").replace("TOCSIN_", f"Q{n}_").replace("run_N", f"run_{n}")
        parts += [f'#include "plan{n}.h"', run]
    names = ", ".join(f"run_{n}" for n in range(len(sources)))
    parts += [f"static void (*const plans[])(char, int, int, int) = {{{names}}};", C_MAIN]
    (folder / "main.c").write_text("\n".join(parts), encoding="ascii")
    program = folder / "plans"
    checked([GCC, *C_FLAGS, *flags, str(folder / "main.c"), "-o", str(program)])
    return program


def build_java(folder: Path, sources):
    """Compile all plans into classes; return the command that runs them."""
    for n, source in enumerate(sources):
        (folder / f"Plan{n}.java").write_text(java_source(source, f"Plan{n}"), encoding="ascii")
    runs = [_JAVA_PLAN.replace("Plan_N", f"Plan{n}").replace("Run_N", f"Run{n}") for n in range(len(sources))]
    main = _JAVA_MAIN.replace("PLANS", ", ".join(f"new Run{n}()" for n in range(len(sources))))
    (folder / "Main.java").write_text(main + "".join(runs), encoding="ascii")
    files = sorted(str(path) for path in folder.glob("*.java"))
    # JDK 17 calls release 11 what it is; later ones may warn that it grows old, which is none of ours.
    checked([JAVAC, "-J-XX:TieredStopAtLevel=1", "-proc:none", "--release", "11", "-Xlint:all,-options", "-Werror",
             "-d", str(folder), *files])  # fmt: skip
    return [JAVA, "-XX:TieredStopAtLevel=1", "-cp", str(folder), "Main"]


def python_module(source, name="tocsin_plan"):
    """Return the exported module, executed."""
    module = types.ModuleType(name)
    exec(compile(python_source(source), name, "exec"), module.__dict__)
    return module


class PythonRobot:
    """The exported module behind the same deeds as the other languages' drivers."""

    def __init__(self, source):
        self.module = python_module(source)
        self.plan = self.module.TocsinPlan()

    def answer(self, deed):
        verb, a, b, c = deed
        plan = self.plan
        if verb in "pcR":
            got = plan.poll(a, b) if verb == "p" else plan.call(a, b) if verb == "c" else plan.roll(a)
            assert got == plan.count
            return f"{plan.status} {';'.join(plan.log_line(i) for i in range(got))}"
        if verb == "b":
            return f"{int(plan.busy(a, b))}"
        if verb == "L":
            strong, weak = plan.level(a, b)
            return f"{strong} {weak} {max(strong, weak)}"
        if verb == "H":
            lit = int(plan.light(a, b))
            return " ".join([f"{lit}", *(bytes(plan.led(i)).hex() for i in range(-1, b + 1))])
        if verb == "T":
            return f"{plan.tone(a)} {plan.loudness}"
        if verb == "B":
            return f"{int(plan.begin(a))}"
        if verb == "W":
            return f"{int(plan.waits(a))} {int(plan.over(a))} {plan.ms(a)}"
        if verb in "voS":
            done = plan.choose(a) if verb == "v" else plan.official(a, b, c) if verb == "o" else plan.sync(a, b)
            return f"{int(done)} {plan.status}"
        if verb == "d":
            return "".join(self._firing(i) for i in range(a, b + 1))
        if verb == "r":
            plan.restart(a)
        else:
            plan.clock_lost()
        return f"{plan.status}"

    def _firing(self, i):
        m = self.module
        numbers = range(-1, m.step_count(i) + 1)
        steps = "".join(f"{m.step_strong(i, k)}/{m.step_weak(i, k)}/{m.step_ms(i, k)}," for k in numbers)
        pulses = "".join(f" {m.pulse_ms(i, k)}" for k in range(-1, m.pulse_count(i) + 1))
        head = (m.cue_id(i), m.n_of(i), m.role_id(i), m.priority_of(i), m.word(i), m.cue_of(i), m.role_of(i))
        return f"{'|'.join(map(str, head))}|{steps}{pulses};"
