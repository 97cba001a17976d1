"""Processes beside a measurement: they work, and they end with whoever started them, however that ends."""

import os
import signal
import subprocess
import sys

import msgspec
import psutil
import pytest

from tests.support.stands.stand import gone, wait_for
from tocsin.channels.light.port import StripPort
from tocsin.features.measure import helper as companion
from tocsin.features.measure.lateness import null_device as stand_in
from tocsin.features.measure.lateness.baselines import WAYS, BaselineTimes
from tocsin.model.rig import Light

pytestmark = pytest.mark.devices
OWNER = """
import time
from tocsin.features.measure import helper as companion
with companion.busy(2):
    print("on", flush=True)
    time.sleep(60)
"""


def companions(pid):
    try:
        return [child for child in psutil.Process(pid).children() if "tocsin.companion" in child.cmdline()]
    except psutil.Error:
        return []


def test_busy_processes_use_a_processor_each_and_end_with_the_context():
    with companion.busy(2):
        found = wait_for(lambda: (two := companions(os.getpid())) and len(two) == 2 and two)
        for process in found:
            # Two of them share what the machine has left: how much says nothing, that they work does.
            wait_for(lambda process=process: process.cpu_times().user > 0.2)
    assert gone(found)


@pytest.mark.skipif(sys.platform == "win32", reason="Windows has no such signals")
@pytest.mark.parametrize("number", [signal.SIGKILL, signal.SIGINT])
def test_they_end_with_their_owner(number):
    owner = subprocess.Popen([sys.executable, "-c", OWNER], stdout=subprocess.PIPE, stderr=subprocess.DEVNULL)
    assert owner.stdout is not None
    owner.stdout.readline()
    found = companions(owner.pid)
    assert len(found) == 2
    owner.send_signal(number)
    owner.communicate(timeout=20)
    assert gone(found)


def test_ctrl_c_at_a_terminal_does_not_reach_them():
    process = companion.start("busy")
    try:
        if sys.platform != "win32":
            assert os.getpgid(process.pid) == process.pid != os.getpgid(0)
    finally:
        companion.end(process)
    assert process.poll() is not None


def test_a_wrong_call_is_told():
    done = subprocess.run([sys.executable, "-m", "tocsin.companion"], capture_output=True, text=True, check=False)
    assert (done.returncode, done.stdout) == (2, "")
    assert "usage" in done.stderr


def test_one_that_does_not_answer_is_ended():
    process = companion.start("busy")
    try:
        assert companion.answer(process, 0.3) == b""
        assert process.wait(10) != 0
    finally:
        companion.end(process)


def test_each_usual_way_plays_its_events_and_none_too_early():
    process = companion.start("ways", msgspec.json.encode([100 + 40 * n for n in range(10)]).decode())
    try:
        played = msgspec.json.decode(companion.answer(process, 30), type=BaselineTimes)
    finally:
        companion.end(process)
    assert {way: len(late_ms) for way, late_ms in played.late_ms.items()} == {
        "frame loop": 4, "threading.Timer": 3, "sched": 3,
    }  # fmt: skip
    assert list(played.late_ms) == list(WAYS)
    # A clock of its own that was read wrongly would put events into the past, or seconds ahead.
    assert all(-1 < ms < 5000 for late_ms in played.late_ms.values() for ms in late_ms)


def test_the_stand_in_swallows_whatever_a_strip_is_sent():
    with stand_in.strip() as light:
        assert isinstance(light, Light)
        for _ in range(2):                     # a worker may open it again
            port = StripPort(light, 0)
            for _ in range(200):
                port.write(b"\0" * 4096)       # more than any buffer holds: it is read
            port.close()
