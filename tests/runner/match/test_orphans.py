"""Workers that a crash left behind are ended, and nothing else is: tried on real processes."""

import subprocess
import sys

import psutil
import pytest

from tocsin.journal.records import Worker
from tocsin.runner.match.resume import end_orphans

pytestmark = pytest.mark.devices
POSIX = pytest.mark.skipif(sys.platform == "win32", reason="Windows knows no request to end that could be ignored")

# As a worker does: a request to end is taken by a handler, which has time to make a device safe.
WAITS = (
    "import signal, sys; signal.signal(signal.SIGTERM, lambda *_: sys.exit(0)); print('up', flush=True); "
    "sys.stdin.read()"
)
DEAF = "import signal, sys; signal.signal(signal.SIGTERM, signal.SIG_IGN); print('up', flush=True); sys.stdin.read()"


@pytest.fixture
def start():
    """Start processes that wait on stdin; all are gone after the test."""
    running = []

    def start_one(script: str, *arguments: str) -> subprocess.Popen:
        process = subprocess.Popen(
            [sys.executable, "-c", script, *arguments], stdin=subprocess.PIPE, stdout=subprocess.PIPE
        )
        running.append(process)
        assert process.stdout.readline().strip() == b"up"
        return process

    yield start_one
    for process in running:
        process.kill()
        process.communicate(timeout=10)


def worker_of(process: subprocess.Popen, channel="light", later_s=0.0) -> Worker:
    return Worker(channel=channel, pid=process.pid, started_s=psutil.Process(process.pid).create_time() + later_s)


def test_workers_left_behind_are_ended_all_at_once(start):
    processes = [start(WAITS, "-m", "tocsin.worker", channel) for channel in ("light", "rumble")]
    said = end_orphans([worker_of(processes[0]), worker_of(processes[1], "rumble")])
    assert said == [f"light worker {processes[0].pid} ended", f"rumble worker {processes[1].pid} ended"]
    assert not any(psutil.pid_exists(process.pid) for process in processes)


@POSIX
def test_a_worker_that_does_not_listen_is_killed(start):
    process = start(DEAF, "-m", "tocsin.worker", "light")
    assert end_orphans([worker_of(process)]) == [f"light worker {process.pid} killed"]
    assert not psutil.pid_exists(process.pid)


@POSIX
def test_a_stopped_worker_is_killed(start):
    process = start(WAITS, "-m", "tocsin.worker", "light")
    psutil.Process(process.pid).suspend()
    assert end_orphans([worker_of(process)]) == [f"light worker {process.pid} killed"]
    assert not psutil.pid_exists(process.pid)


@pytest.mark.parametrize(
    ("arguments", "later_s"),
    [
        (("-m", "tocsin.worker", "light"), 120.0),      # the process id was used again
        (("-m", "another.worker", "light"), 0.0),
        (("my notes on tocsin.worker",), 0.0),
    ],
)
def test_any_other_process_is_left_alone(start, arguments, later_s):
    process = start(WAITS, *arguments)
    assert end_orphans([worker_of(process, later_s=later_s)]) == []
    assert process.poll() is None


def test_a_worker_that_is_gone_is_no_matter(start):
    process = start(WAITS, "-m", "tocsin.worker", "light")
    worker = worker_of(process)
    process.kill()
    assert end_orphans([worker]) == []          # not waited for yet: a zombie
    process.wait(10)
    assert end_orphans([worker]) == []
    assert end_orphans([]) == []


def test_a_worker_that_ends_by_itself_is_given_the_time(start):
    process = start(WAITS, "-m", "tocsin.worker", "light")
    worker = worker_of(process)
    process.stdin.close()                       # its conductor is gone
    assert end_orphans([worker]) == []
    assert not psutil.pid_exists(process.pid)
    process.stdin = None


def test_a_start_time_that_moved_with_the_wall_clock_is_still_that_worker(start):
    process = start(WAITS, "-m", "tocsin.worker", "light")
    assert end_orphans([worker_of(process, later_s=-20.0)]) == [f"light worker {process.pid} ended"]
