"""Run everything that breaks Tocsin on purpose and takes too long for the suite, one after another.

Runs each script of this folder and the suite's random lives made long, and judges each by its exit code. Prints a line
for each as it ends, and at the end a table of all: script, seconds, verdict, also of those that did not run and why.
What each printed lies in ``--folder``. ``--quick`` is a look at whether they run at all.

Ends with 1 if one of them failed, with 130 if it was interrupted, else with 0. Needs what the suite needs; what is for
Linux only does not run elsewhere. Takes three to four hours on two quiet cores for the scripts (the sum of what each
says), and the random lives, which were not timed whole.
"""

import argparse
import os
import subprocess
import sys
import tempfile
import time
from collections.abc import Sequence
from pathlib import Path
from typing import NamedTuple

from tests.support import PROJECT

LINUX = sys.platform == "linux"
POSIX = sys.platform != "win32"


class Script(NamedTuple):
    """What a script of this folder is given, then for a look at whether it runs at all, and why it cannot run here."""

    whole: str
    quick: str
    lacking: str = ""


SCRIPTS = {
    "busy": Script("", "--matches 1 --busy 0", "" if LINUX else "Linux only"),
    "busy --kill": Script("--kill", "--kill --matches 1 --busy 0", "" if LINUX else "Linux only"),
    "evenings": Script("--jobs 6", "--drill words --rate 40 --rounds 1", "" if LINUX else "Linux only"),
    "foreign_runs": Script("", "--only link", "" if POSIX else "POSIX only"),
    "kills": Script("", "--writer people", "" if LINUX else "Linux only"),
    "large_files": Script("", "--only comments", "" if POSIX else "POSIX only"),
    "lives": Script("--count 10000", "--count 40"),
    "mutate": Script("--count 20000", "--count 20"),
    "mutate_journals": Script("--count 2500", "--count 20"),
    "signals": Script("--count 20", "--count 1 --kind react", "" if POSIX else "POSIX only"),
    "soak": Script("--minutes 45", "--minutes 1 --busy 0", "" if LINUX else "Linux only"),
}
PYTEST = (sys.executable, "-m", "pytest", "-q", "-n", "2")


class Job(NamedTuple):
    """A command, by a name, what it finds in its environment, and why it cannot run here, if so."""

    name: str
    command: tuple[str, ...]
    env: dict[str, str]
    lacking: str = ""

    @property
    def output(self) -> str:
        """The name of the file that takes what it prints."""
        return f"{self.name.replace(' ', '_')}.txt"


class Row(NamedTuple):
    """What became of a job."""

    name: str
    took_s: float
    verdict: str

    def __str__(self) -> str:
        return f"{self.name:<20}{self.took_s:8.0f} s  {self.verdict}"


def jobs(quick: bool) -> list[Job]:
    """Return what there is to run: the scripts, and the suite's random lives made long."""
    found = []
    for name, script in SCRIPTS.items():
        given = script.quick if quick else script.whole
        module = f"tests.attacks.{name.split()[0]}"
        found.append(Job(name, (sys.executable, "-m", module, *given.split()), {}, script.lacking))
    lives, plans = ("10", "20") if quick else ("2000", "1000")
    found.append(Job("random lives", (*PYTEST, "-m", "not devices", "tests/model", "tests/analysis", "tests/config",
                      "--timeout", "0"),
                     {"TOCSIN_EXAMPLES": lives}))  # fmt: skip
    found.append(Job("robot lives", (*PYTEST, "--timeout", "0", "tests/export/robot/test_same.py"),
                     {"TOCSIN_ROBOT_PLANS": plans}))  # fmt: skip
    return found


def run(job: Job, folder: Path) -> Row:
    """Run a job and judge it by its exit code. Its output goes to a file of its name."""
    if job.lacking:
        return Row(job.name, 0, f"NOT RUN: {job.lacking}")
    began_s = time.monotonic()
    with (folder / job.output).open("w", encoding="utf-8") as output:
        code = subprocess.run(
            job.command, env={**os.environ, **job.env}, cwd=PROJECT, stdout=output, stderr=subprocess.STDOUT,
            check=False,
        ).returncode  # fmt: skip
    return Row(job.name, time.monotonic() - began_s, f"FAILED: exit code {code}, see {job.output}" if code else "ok")


def run_all(todo: Sequence[Job], folder: Path) -> tuple[list[Row], bool]:
    """Run jobs and print a line for each as it ends; return the rows of all, and whether it was interrupted."""
    rows: list[Row] = []
    try:
        for job in todo:
            rows.append(run(job, folder))
            print(rows[-1], flush=True)
    except KeyboardInterrupt:
        return [*rows, *(Row(job.name, 0, "NOT RUN: interrupted") for job in todo[len(rows) :])], True
    return rows, False


def main() -> int:
    """Run, print, return the exit code."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--only", default="", help="names, with commas between them")
    parser.add_argument("--quick", action="store_true", help="a look at whether they run at all")
    parser.add_argument("--folder", type=Path, help="where outputs are kept (a new temporary one)")
    given = parser.parse_args()
    wanted = [name.strip() for name in given.only.split(",") if name.strip()]
    todo = [job for job in jobs(given.quick) if not wanted or job.name in wanted]
    if unknown := set(wanted) - {job.name for job in todo}:
        parser.error(f"no such job: {', '.join(sorted(unknown))}; there are {', '.join(j.name for j in jobs(True))}")
    folder = given.folder or Path(tempfile.mkdtemp(prefix="tocsin-long-runs-"))
    folder.mkdir(parents=True, exist_ok=True)
    print(f"{len(todo)} jobs; what they print lies in {folder}", flush=True)
    rows, is_interrupted = run_all(todo, folder)
    counts = {word: sum(row.verdict.startswith(word) for row in rows) for word in ("ok", "FAILED", "NOT RUN")}
    print("", f"{'script':<20}{'seconds':>10}  verdict", *rows, sep="\n")
    print(", ".join(f"{count} {word.lower()}" for word, count in counts.items()), flush=True)
    return 130 if is_interrupted else int(counts["FAILED"] > 0)


if __name__ == "__main__":
    sys.exit(main())
