"""Whatever becomes of the streams and the terminal: a match fires, ends, and says by its exit code how."""

import contextlib
import json
import os
import signal
import subprocess
import sys

import pytest

from tests.support.stands.stand import TOCSIN, wait_for

pytestmark = [pytest.mark.devices, pytest.mark.skipif(sys.platform == "win32", reason="pseudo-terminals are POSIX")]
SHORT = ("--from", "driver.end-10s", "--rate", "20", "--start", "now")


def records_in(folder):
    lines = [line for file in (folder / "runs").glob("*/journal.jsonl") for line in file.read_bytes().splitlines(True)]
    return [json.loads(line) for line in lines if line.endswith(b"\n")]


def demand_ended(folder, outcome="over"):
    """Make sure that one run was played and its journal has its end."""
    found = records_in(folder)
    assert [r["outcome"] for r in found if r["kind"] == "end"] == [outcome]
    assert [r for r in found if r["kind"] == "firing"]


def environment(folder):
    kept = {name: value for name, value in os.environ.items() if name not in ("DISPLAY", "WAYLAND_DISPLAY")}
    return kept | {"SDL_AUDIODRIVER": "dummy", "XDG_STATE_HOME": str(folder / "state")}


def command(folder, *more, name="run"):
    return [*TOCSIN, name, "--runs", str(folder / "runs"), *(more or SHORT)]


@pytest.mark.parametrize("output", [(), ("--json",)], ids=["lines", "json"])
def test_a_pipe_that_nobody_reads_holds_up_nothing(tmp_path, output):
    ours, theirs = os.pipe()
    os.set_blocking(theirs, False)
    with contextlib.suppress(BlockingIOError):
        while os.write(theirs, b"x" * 4096):           # full before it begins
            pass
    os.set_blocking(theirs, True)
    done = subprocess.Popen(
        command(tmp_path, *SHORT, *output), stdin=subprocess.DEVNULL, stdout=theirs, stderr=theirs,
        env=environment(tmp_path),
    )  # fmt: skip
    os.close(theirs)
    assert done.wait(60) == 0
    os.close(ours)
    demand_ended(tmp_path)


def test_a_reader_that_takes_one_line_and_goes_disturbs_nothing(tmp_path):
    run = subprocess.Popen(
        command(tmp_path), stdin=subprocess.DEVNULL, stdout=subprocess.PIPE, stderr=subprocess.PIPE,
        env=environment(tmp_path),
    )  # fmt: skip
    assert run.stdout.readline()
    run.stdout.close()
    assert run.stderr.read() == b""
    run.stderr.close()
    assert run.wait(60) == 0
    demand_ended(tmp_path)


@pytest.mark.parametrize("closed", [">&-", "2>&-", "<&-", "<&- >&- 2>&-"])
def test_streams_that_are_closed_are_nobodys(tmp_path, closed):
    words = ["/bin/sh", "-c", f'exec "$@" {closed}', "sh"]
    run = subprocess.run([*words, *command(tmp_path)], capture_output=True, env=environment(tmp_path), timeout=60)
    assert (run.returncode, run.stderr) == (0, b"")
    demand_ended(tmp_path)
    runs = ["runs", "--runs", str(tmp_path / "runs")]
    listed = subprocess.run([*words, *TOCSIN, *runs], capture_output=True, timeout=60)
    assert (listed.returncode, listed.stderr) == (0, b"")
    journal = next((tmp_path / "runs").glob("*/journal.jsonl")).read_bytes()
    assert all(json.loads(line) for line in journal.splitlines()), "nothing was printed into it"


@pytest.mark.parametrize("when", ["standby", "running", "result"])
def test_a_terminal_that_closes_ends_it_as_being_told_to(tmp_path, when):
    from tests.support.stands.terminal import Terminal  # pseudo-terminals are POSIX only

    seat = Terminal(tmp_path, "run", "--runs", str(tmp_path / "runs"), *SHORT[:3], "4" if when == "running" else "50")
    try:
        wait_for(lambda: "Standby" in seat.shown, 60)

        def begun():
            seat.type("s")
            return "Match begins in" in seat.shown or records_in(tmp_path)

        if when != "standby":
            wait_for(begun, 30)
            kind = "firing" if when == "running" else "end"
            wait_for(lambda: [r for r in records_in(tmp_path) if r["kind"] == kind], 40)
        seat.close()
        assert seat.end() == 143
        if when == "standby":
            assert not records_in(tmp_path)
        else:
            demand_ended(tmp_path, "scrapped" if when == "running" else "over")
    finally:
        seat.kill()


@pytest.mark.parametrize(("number", "code"), [(signal.SIGTERM, 143), (signal.SIGINT, 130)])
def test_a_signal_behind_a_result_is_told_by_the_exit_code_and_changes_nothing_of_the_match(tmp_path, number, code):
    from tests.support.stands.terminal import Terminal

    seat = Terminal(tmp_path, "run", "--runs", str(tmp_path / "runs"), *SHORT[:3], "50", "--start", "key")
    try:
        wait_for(lambda: "Standby" in seat.shown, 60)

        def over():
            seat.type("s" if not records_in(tmp_path) else "")
            return [r for r in records_in(tmp_path) if r["kind"] == "end"]

        wait_for(over, 60)
        os.kill(seat.pid, number)
        os.kill(seat.pid, number)
        assert seat.end() == code
        demand_ended(tmp_path)
    finally:
        seat.kill()


def test_behind_nohup_a_closed_terminal_ends_nothing(tmp_path):
    slow = command(tmp_path, "--from", "driver.end-20s", "--rate", "4", "--start", "now")
    words = ["/bin/sh", "-c", 'trap "" HUP; exec "$@"', "sh", *slow]
    run = subprocess.Popen(words, stdin=subprocess.DEVNULL, stdout=subprocess.DEVNULL, env=environment(tmp_path))
    wait_for(lambda: [r for r in records_in(tmp_path) if r["kind"] == "firing"], 60)
    run.send_signal(signal.SIGHUP)
    assert run.wait(60) == 0
    demand_ended(tmp_path)


def test_twenty_columns_are_enough(tmp_path):
    from tests.support.stands.terminal import Terminal

    seat = Terminal(tmp_path, "run", "--runs", str(tmp_path / "runs"), *SHORT, columns=20)
    try:
        assert seat.end(60) == 0
        assert "Traceback" not in seat.shown
        demand_ended(tmp_path)
    finally:
        seat.kill()


def test_in_the_background_of_a_shell_it_goes_on_and_takes_no_keys(tmp_path):
    from tests.support.stands.terminal import Terminal

    shell = Terminal(tmp_path, shell=True)
    try:
        slow = ("--from", "driver.end-25s", "--rate", "4", "--start", "now", "--screen", "none")
        line = " ".join(command(tmp_path, *slow))
        shell.type(f"{line} >{tmp_path}/out.txt 2>&1; echo left\n")
        wait_for(lambda: [r for r in records_in(tmp_path) if r["kind"] == "origin"], 60)
        shell.type("\x1a")                              # Ctrl-Z
        wait_for(lambda: "Stopped" in shell.shown, 20)
        shell.type("bg\n")
        wait_for(lambda: "&\n" in shell.shown[shell.shown.index("Stopped") :], 20)
        shell.type("echo x\"\"y\n")                        # what is typed is the shell's
        wait_for(lambda: "\nxy\n" in shell.shown, 20)
        wait_for(lambda: [r for r in records_in(tmp_path) if r["kind"] == "end"], 60)
        shell.type("wait; echo wa\"\"ited\n")
        wait_for(lambda: "\nwaited\n" in shell.shown, 30)
        demand_ended(tmp_path)
        shell.type("exit\n")
    finally:
        shell.kill()
