"""Each script for a long run says how it is used, and `long_runs.py` runs all of them."""

import subprocess
import sys
from pathlib import Path

import pytest

from tests.attacks.long_runs import SCRIPTS, Job, jobs, run_all
from tests.support import PROJECT

HERE = Path(__file__).parent
QUICK = [job for job in jobs(quick=True) if job.name in SCRIPTS]


def test_no_script_is_left_out():
    """What others import only, the tests, the command for all of them and the probe that they start are none."""
    found = {path.stem for path in HERE.glob("[!t]*.py") if '__name__ == "__main__"' in path.read_text("utf-8")}
    assert {name.split()[0] for name in SCRIPTS} == found - {"long_runs", "stalls"}


@pytest.mark.devices
@pytest.mark.parametrize("job", QUICK, ids=lambda job: job.name)
def test_a_script_says_how_it_is_used(job):
    if job.lacking:
        pytest.skip(job.lacking)
    asked = [*job.command, "--help"]
    done = subprocess.run(asked, cwd=PROJECT, capture_output=True, text=True, timeout=120, check=False)
    assert (done.returncode, done.stderr) == (0, "")
    assert "Ends with 1 if" in done.stdout
    assert all(word in done.stdout for word in job.command if word.startswith("--")), "it knows what it is given"


@pytest.mark.devices
def test_each_job_is_judged_and_none_is_passed_over(tmp_path, capsys):
    ends = {name: (sys.executable, "-c", f"print({name!r}); raise SystemExit({code})") for name, code in
            (("good", 0), ("finds much", 1), ("breaks", 3))}  # fmt: skip
    todo = [*(Job(name, command, {}) for name, command in ends.items()), Job("elsewhere", (), {}, "Linux only")]
    rows, is_interrupted = run_all(todo, tmp_path)
    assert not is_interrupted
    assert {row.name: row.verdict for row in rows} == {
        "good": "ok",
        "finds much": "FAILED: exit code 1, see finds_much.txt",
        "breaks": "FAILED: exit code 3, see breaks.txt",
        "elsewhere": "NOT RUN: Linux only",
    }
    assert capsys.readouterr().out.splitlines() == [str(row) for row in rows]
    assert (tmp_path / "finds_much.txt").read_text("utf-8") == "finds much\n"
