"""What a poll of the exported robot code costs with 500 firings, beside a plain scan of all of them, in one run.

    python -m tests.benchmarks.robot_poll [--rounds 20]

Needs gcc and a JDK for their lines; a language that is missing is left out and said so. Every way polls a driver period
of 120 s each 20 ms, the firings spread over it; code and scan alternate round by round. Aims: below 20 us in C and
Java, below 100 us in Python, also for the dearest poll: the first one of a program that begins beyond the period's end,
and has to decide about all 500. Compare ratios within one run: the machine has bad moments.
"""

import argparse
import statistics
import subprocess
import sys
import tempfile
import time
from pathlib import Path

from tests.support.export.exported_plans import source
from tests.support.export.robot_drivers import GCC, JAVA, JAVAC, python_module
from tests.support.model.compiled_games import PATTERNS, cue, match_of, period, plan_of
from tocsin.export.robot.c import c_source
from tocsin.export.robot.java import java_source
from tocsin.export.robot.table import table_of
from tocsin.units import NS_PER_MS, NS_PER_S

FIRINGS = 500
LAST_MS, EVERY_MS = 120_000, 20
POLLS = LAST_MS // EVERY_MS
AIMS_US = {"C": 20.0, "Java": 20.0, "Python": 100.0}

# Each program prints, a line a round: nanoseconds a poll of the code, of the scan, and of the dearest poll.
C = """
#define _POSIX_C_SOURCE 199309L
#include <stdio.h>
#include <stdlib.h>
#include <time.h>
#include "tocsin_plan.h"

static tocsin_plan plan;
static unsigned char given[TOCSIN_FIRINGS];
static int found[TOCSIN_FIRINGS];

static int scan(int32_t ms)
{
    int i, count = 0;
    for (i = 0; i < TOCSIN_FIRST_LOST; i++)
        if (!given[i] && tocsin_firings[i].due_ms <= ms && ms <= tocsin_firings[i].last_ms) {
            given[i] = 1;
            found[count++] = i;
        }
    return count;
}

static double now_ns(void)
{
    struct timespec now;
    clock_gettime(CLOCK_MONOTONIC, &now);
    return 1e9 * (double)now.tv_sec + (double)now.tv_nsec;
}

int main(int argc, char **argv)
{
    int round, rounds = argc > 1 ? atoi(argv[1]) : 1;
    for (round = 0; round < rounds; round++) {
        int32_t ms;
        int i, total = 0;
        double begin, code, plain, dearest;
        tocsin_restart(&plan, TOCSIN_DEFAULT_VARIANT);
        begin = now_ns();
        for (ms = 0; ms < LAST; ms += EVERY)
            total += tocsin_poll(&plan, 0, ms);
        code = now_ns() - begin;
        for (i = 0; i < TOCSIN_FIRINGS; i++)
            given[i] = 0;
        begin = now_ns();
        for (ms = 0; ms < LAST; ms += EVERY)
            total += scan(ms);
        plain = now_ns() - begin;
        tocsin_restart(&plan, TOCSIN_DEFAULT_VARIANT);
        begin = now_ns();
        total += tocsin_poll(&plan, 0, LAST + 60000);
        dearest = now_ns() - begin;
        if (total != 2 * TOCSIN_FIRST_LOST)
            return 1;
        printf("%f %f %f\\n", code / (LAST / EVERY), plain / (LAST / EVERY), dearest);
    }
    return 0;
}
"""
JAVA_MAIN = """
final class Main {
    private static final int[] DUE = {DUE_MS};
    private static final int[] LATEST = {LATEST_MS};
    private static final boolean[] given = new boolean[DUE.length];
    private static final int[] found = new int[DUE.length];

    private Main() {
    }

    static int scan(int ms) {
        int count = 0;
        for (int i = 0; i < DUE.length; i++) {
            if (!given[i] && DUE[i] <= ms && ms <= LATEST[i]) {
                given[i] = true;
                found[count++] = i;
            }
        }
        return count;
    }

    public static void main(String[] arguments) {
        TocsinPlan plan = new TocsinPlan();
        for (int round = 0; round < Integer.parseInt(arguments[0]); round++) {
            int total = 0;
            plan.restart(TocsinPlan.DEFAULT_VARIANT);
            long begin = System.nanoTime();
            for (int ms = 0; ms < LAST; ms += EVERY) {
                total += plan.poll(0, ms);
            }
            double code = System.nanoTime() - begin;
            java.util.Arrays.fill(given, false);
            begin = System.nanoTime();
            for (int ms = 0; ms < LAST; ms += EVERY) {
                total += scan(ms);
            }
            double plain = System.nanoTime() - begin;
            plan.restart(TocsinPlan.DEFAULT_VARIANT);
            begin = System.nanoTime();
            total += plan.poll(0, LAST + 60000);
            double dearest = System.nanoTime() - begin;
            if (total != 2 * DUE.length) {
                throw new IllegalStateException();
            }
            System.out.println(code / (LAST / EVERY) + " " + plain / (LAST / EVERY) + " " + dearest);
        }
    }
}
"""

Round = tuple[float, float, float]


def plan_of_500():
    """Return the source of a plan with 500 firings in a driver period, 240 ms apart."""
    beats = cue(
        "beat", "drive.begin", f"drive.begin+{FIRINGS * 240 - 1}ms", every_ns=240 * NS_PER_MS, roles=("driver",),
        patterns={"rumble": "short"},
    )  # fmt: skip
    made = source(match_of(period("drive", LAST_MS * NS_PER_MS / NS_PER_S)), plan_of(beats, patterns=PATTERNS))
    assert table_of(made).lost == FIRINGS
    return made


def rounds_of(command: list[str], rounds: int) -> list[Round]:
    """Return what a compiled program printed."""
    said = subprocess.run([*command, str(rounds)], capture_output=True, text=True, check=True).stdout
    return [tuple(map(float, line.split())) for line in said.splitlines()]


def in_c(made, folder: Path, rounds: int) -> list[Round]:
    """Measure C, compiled as programs on robots are: -O2."""
    (folder / "tocsin_plan.h").write_text(c_source(made))
    (folder / "main.c").write_text(_timed(C))
    subprocess.run([GCC, "-std=c99", "-O2", str(folder / "main.c"), "-o", str(folder / "polls")], check=True)
    return rounds_of([str(folder / "polls")], rounds)


def in_java(made, folder: Path, rounds: int) -> list[Round]:
    """Measure Java. Its first rounds are what a robot has just after its start, before anything is compiled."""
    rows = table_of(made).firings[:FIRINGS]
    main = _timed(JAVA_MAIN)
    main = main.replace("DUE_MS", ", ".join(str(row.due_ms) for row in rows))
    main = main.replace("LATEST_MS", ", ".join(str(row.last_ms) for row in rows))
    (folder / "Main.java").write_text(main)
    (folder / "TocsinPlan.java").write_text(java_source(made, "TocsinPlan"))
    subprocess.run([JAVAC, "-d", str(folder), *map(str, folder.glob("*.java"))], check=True)
    return rounds_of([JAVA, "-cp", str(folder), "Main"], rounds)


def in_python(made, folder: Path, rounds: int) -> list[Round]:
    """Measure Python, this one."""
    module = python_module(made)
    plan = module.TocsinPlan()
    rows = table_of(made).firings[:FIRINGS]
    due_ms, last_ms = tuple(row.due_ms for row in rows), tuple(row.last_ms for row in rows)
    found = []
    for _ in range(rounds):
        plan.restart()
        begin = time.perf_counter_ns()
        for ms in range(0, LAST_MS, EVERY_MS):
            plan.poll(0, ms)
        code = time.perf_counter_ns() - begin
        given = [False] * FIRINGS
        begin = time.perf_counter_ns()
        for ms in range(0, LAST_MS, EVERY_MS):
            for i in range(FIRINGS):
                if not given[i] and due_ms[i] <= ms <= last_ms[i]:
                    given[i] = True
        plain = time.perf_counter_ns() - begin
        plan.restart()
        begin = time.perf_counter_ns()
        plan.poll(0, LAST_MS + 60_000)
        found.append((code / POLLS, plain / POLLS, float(time.perf_counter_ns() - begin)))
    return found


def _timed(text: str) -> str:
    text = text.replace("LAST / EVERY", str(POLLS)).replace("EVERY", str(EVERY_MS))
    return text.replace("LAST +", f"{LAST_MS} +").replace("< LAST;", f"< {LAST_MS};")


def main() -> None:
    """Measure and print."""
    arguments = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    arguments.add_argument("--rounds", type=int, default=20)
    rounds = arguments.parse_args().rounds
    made = plan_of_500()
    ways = {"C": (in_c, GCC), "Java": (in_java, JAVAC and JAVA), "Python": (in_python, sys.executable)}
    print(f"{FIRINGS} firings, {POLLS} polls a round, {rounds} rounds; microseconds a poll, median (worst) of rounds")
    print(f"{'':8}{'robot code':>20}{'plain scan':>20}{'ratio':>9}{'dearest poll':>20}{'first round':>13}{'aim':>8}")
    for language, (way, tool) in ways.items():
        if not tool:
            print(f"{language:8}not installed: left out")
            continue
        try:
            with tempfile.TemporaryDirectory() as folder:
                measured = way(made, Path(folder), rounds)
        except (subprocess.CalledProcessError, OSError, ValueError) as error:
            print(f"{language:8}not measured: {error}", flush=True)
            continue
        code, plain, dearest = ([one[k] / 1000 for one in measured] for k in range(3))
        ratio = statistics.median(plain) / statistics.median(code)
        print(f"{language:8}{_spread(code):>20}{_spread(plain):>20}{ratio:>8.1f}x{_spread(dearest):>20}"
              f"{code[0]:>13.3f}{AIMS_US[language]:>8.0f}", flush=True)  # fmt: skip


def _spread(values: list[float]) -> str:
    return f"{statistics.median(values):.3f} ({max(values):.3f})"


if __name__ == "__main__":
    main()
