"""Real worker processes under supervision: nothing is left of those that ended, and those that hang are replaced."""

import sys
import threading
import time

import psutil
import pytest

from tocsin import monotime
from tocsin.model.rig import Rig
from tocsin.units import NS_PER_S
from tocsin.workers.protocol import Opened
from tocsin.workers.supervisor import Supervisor

pytestmark = [
    pytest.mark.devices,
    pytest.mark.skipif(sys.platform == "win32", reason="counts file descriptors and sends signals"),
]
LIMIT_S = 60


def wait_for(reached, turn=lambda: None):
    """Let turns pass until something is reached."""
    limit = time.monotonic() + LIMIT_S
    while not reached():
        assert time.monotonic() < limit, f"nothing within {LIMIT_S} s"
        turn()
        time.sleep(0.01)


def test_thirty_restarts_leave_no_thread_no_handle_and_no_process():
    supervisor = Supervisor(Rig(name="Bare"), ("light",), lambda: None)
    own = psutil.Process()
    clock = {"ns": monotime.now_ns()}

    def turn():
        supervisor.receive(clock["ns"])
        supervisor.check(clock["ns"], lambda channel: ())

    def killed_and_restarted():
        before = supervisor.restarts("light")
        psutil.Process(supervisor.processes()[0].pid).kill()
        clock["ns"] += 20 * NS_PER_S                   # restarts that lie apart never fail the channel
        wait_for(lambda: supervisor.restarts("light") > before, turn)

    supervisor.start(clock["ns"])
    try:
        killed_and_restarted()
        wait_for(lambda: threading.active_count() <= threads_of_one())
        handles = own.num_fds()
        for _ in range(30):
            killed_and_restarted()
        wait_for(lambda: threading.active_count() <= threads_of_one())
        wait_for(lambda: own.num_fds() <= handles)
        wait_for(lambda: len(own.children()) == 1)
    finally:
        supervisor.finish(monotime.now_ns())
    wait_for(lambda: not [thread for thread in threading.enumerate() if thread.name.startswith("light-")])


def threads_of_one():
    """Return how many threads there are while one worker runs: its three, and those that have nothing to do with it."""
    return 3 + len([thread for thread in threading.enumerate() if not thread.name.startswith("light-")])


BENCHES = {
    "a loop without end": "def tick(channel, now_ns):\n    while True:\n        pass\n",
    "a call that blocks": "import threading\nlock = threading.Lock()\n"
    "def tick(channel, now_ns):\n    lock.acquire()\n    lock.acquire()\n",
    "a call that polls": "import time\ndef tick(channel, now_ns):\n    while True:\n        time.sleep(0.005)\n",
}


@pytest.mark.parametrize("bench", [*BENCHES.values(), ""], ids=[*BENCHES, "a stopped process"])
def test_a_worker_that_hangs_is_replaced(tmp_path, monkeypatch, bench):
    """The bounds stand in ``suspicion``; how long they take in real time hangs on how busy this machine is."""
    file = tmp_path / "bench.py"
    file.write_text(bench, "utf-8")
    monkeypatch.setenv("TOCSIN_BENCH", str(file))
    supervisor = Supervisor(Rig(name="Bare"), ("light",), lambda: None)
    opened, notes = [], []

    def turn():
        now_ns = monotime.now_ns()
        opened.extend(m for _, m in supervisor.receive(now_ns) if isinstance(m, Opened))
        notes.extend(supervisor.check(now_ns, lambda channel: ()))

    supervisor.start(monotime.now_ns())
    first = supervisor.processes()[0]
    try:
        wait_for(lambda: opened, turn)
        if not bench:
            psutil.Process(first.pid).suspend()
        wait_for(lambda: len(notes) >= 2, turn)
        assert [kind for kind, _, _ in notes[:2]] == ["fault", "restart"]
        assert "killed" in notes[0][2]
        wait_for(first.gone, turn)             # a killed process ends when the system gets to it
    finally:
        for process in supervisor.processes():
            process.kill()
        supervisor.finish(monotime.now_ns())
