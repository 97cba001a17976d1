"""Keeping the laptop awake never holds up or breaks a match, whatever the system says."""

import os
import socket
import subprocess
import sys
import textwrap
import threading

import pytest

from tocsin.runner.power import battery_text, keep_awake

SCRIPT = """
from tocsin import monotime
from tocsin.runner.power import keep_awake
begun_ns = monotime.now_ns()
with keep_awake({patience}) as text:
    print(text)
    print((monotime.now_ns() - begun_ns) // 10**6)
print((monotime.now_ns() - begun_ns) // 10**6)
"""


def run_child(patience: str = "", **environment: str) -> tuple[str, int, int]:
    """Return what is said in a process of its own, and after how many milliseconds it was said and left."""
    done = subprocess.run(
        [sys.executable, "-W", "error", "-c", textwrap.dedent(SCRIPT).format(patience=patience)],
        capture_output=True, text=True, timeout=60, check=True, env={**os.environ, **environment},
    )  # fmt: skip
    assert done.stderr == ""
    text, entered_ms, left_ms = done.stdout.splitlines()
    return text, int(entered_ms), int(left_ms)


# wakepy's own switches for tests stand in for a system that grants or refuses.
@pytest.mark.devices
def test_a_system_that_keeps_awake_says_so():
    assert run_child("60", WAKEPY_FAKE_SUCCESS="yes")[0] == "kept awake"


@pytest.mark.devices
def test_a_system_that_refuses_leaves_the_fix():
    assert run_child("60", WAKEPY_FORCE_FAILURE="yes")[0] == "laptop may fall asleep: set its power plan yourself"


@pytest.mark.devices
@pytest.mark.skipif(sys.platform != "linux", reason="a message bus is Linux's way")
def test_a_message_bus_that_does_not_answer_is_not_waited_for(silent_bus):
    text, entered_ms, left_ms = run_child(DBUS_SESSION_BUS_ADDRESS=f"unix:path={silent_bus}")
    assert text == "laptop may fall asleep: the system does not answer"
    assert entered_ms < 5000
    assert left_ms < 10000


@pytest.mark.devices
@pytest.mark.skipif(sys.platform != "linux", reason="a message bus is Linux's way")
def test_a_message_bus_that_is_broken_is_no_fault(tmp_path):
    text, _, _ = run_child(DBUS_SESSION_BUS_ADDRESS=f"unix:path={tmp_path / 'none'}")
    assert text.startswith("laptop may fall asleep")


def test_an_error_inside_comes_out_as_it_is():
    with pytest.raises(ValueError, match="mine"), keep_awake():
        raise ValueError("mine")
    assert "keep awake" not in [thread.name for thread in threading.enumerate()]


@pytest.fixture
def silent_bus(tmp_path):
    """Listen on a socket that takes connections and never answers."""
    path = str(tmp_path / "bus")
    with socket.socket(socket.AF_UNIX) as listener:
        listener.bind(path)
        listener.listen()
        yield path


def test_the_battery_is_told_in_words_or_not_at_all():
    text = battery_text()
    assert text in ("", "mains") or text.startswith("battery ")
