"""Everything that breaks Tocsin on purpose and takes too long for the suite, one after another.

    python tests/attacks/long_runs.py [--only soak,signals] [--quick] [--folder DIR]

Runs each script of this folder and the suite's random lives made long; prints a row for each as it ends, and exits 1 if
one of them failed. What each printed lies in ``--folder``. ``--quick`` is a look at
whether they run at all. Needs what the suite needs, and hours.
"""

import argparse
import os
import subprocess
import sys
import tempfile
import time
from pathlib import Path
from typing import NamedTuple

HERE = Path(__file__).resolve().parent
SCRIPTS = {                            # what each is given, and what makes it a look at whether it runs at all
    "busy": ((), ("--matches", "1", "--busy", "0")),
    "busy --kill": (("--kill",), ("--kill", "--matches", "1", "--busy", "0")),
    "kills": ((), ("people",)),
    "lives": (("10000",), ("100",)),
    "mutate": ((), ("100",)),
    "mutate_journals": ((), ("100",)),
    "signals": ((), ("1",)),
    "soak": ((), ("--minutes", "2", "--busy", "1")),
}
PYTEST = (sys.executable, "-m", "pytest", "-q", "-n", "2")


class Job(NamedTuple):
    """A command, by a name, and what it finds in its environment."""

    name: str
    command: tuple[str, ...]
    env: dict[str, str]


def jobs(quick: bool) -> list[Job]:
    """Return what there is to run: the scripts, and the suite's random lives made long."""
    found = []
    for name, forms in SCRIPTS.items():
        path = HERE / f"{name.split()[0]}.py"
        if path.exists():
            found.append(Job(name, (sys.executable, str(path), *forms[quick]), {}))
    lives, plans = ("10", "20") if quick else ("2000", "1000")
    found.append(Job("random lives", (*PYTEST, "-m", "not devices", "tests/model", "tests/rehearsal", "tests/config"),
                     {"TOCSIN_EXAMPLES": lives}))  # fmt: skip
    found.append(Job("robot lives", (*PYTEST, "--timeout", "0", "tests/export/test_robot_same.py"),
                     {"TOCSIN_ROBOT_PLANS": plans}))  # fmt: skip
    return found


def run(job: Job, folder: Path) -> tuple[int, float]:
    """Run a job; return its exit code and its seconds. Its output goes to a file of its name."""
    began_s = time.monotonic()
    with (folder / f"{job.name.replace(' ', '_')}.txt").open("w", encoding="utf-8") as output:
        code = subprocess.run(
            job.command, env={**os.environ, **job.env}, cwd=HERE.parents[1], stdout=output, stderr=subprocess.STDOUT,
            check=False,
        ).returncode  # fmt: skip
    return code, time.monotonic() - began_s


def main() -> int:
    """Run, print, return the exit code."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--only", default="", help="names, with commas between them")
    parser.add_argument("--quick", action="store_true")
    parser.add_argument("--folder", type=Path, help="where outputs are kept")
    given = parser.parse_args()
    folder = given.folder or Path(tempfile.mkdtemp(prefix="tocsin-long-runs-"))
    folder.mkdir(parents=True, exist_ok=True)
    wanted = [name.strip() for name in given.only.split(",") if name.strip()]
    todo = [job for job in jobs(given.quick) if not wanted or job.name in wanted]
    if unknown := set(wanted) - {job.name for job in todo}:
        parser.error(f"no such job: {', '.join(sorted(unknown))}; there are {', '.join(j.name for j in jobs(True))}")
    print(f"{len(todo)} jobs; what they print lies in {folder}", flush=True)
    failed = 0
    for job in todo:
        code, took_s = run(job, folder)
        failed += bool(code)
        print(f"{job.name:<20}{'ok' if not code else f'FAILED ({code})':<14}{took_s:8.0f} s", flush=True)
    print("All passed." if not failed else f"{failed} of {len(todo)} failed.")
    return 1 if failed else 0


if __name__ == "__main__":
    sys.exit(main())
