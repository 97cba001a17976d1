"""One Tocsin at a time, and a crash lets the next one in."""

import os
import subprocess
import sys

import pytest

from tocsin.errors import DeviceError, JournalError
from tocsin.journal import lock

HOLDS = """
import sys
from pathlib import Path
from tocsin.journal import lock
with lock.held(Path(sys.argv[1])):
    print("held", flush=True)
    sys.stdin.read()
"""

LEAVES_A_WORKER = """
import os, subprocess, sys
from pathlib import Path
from tocsin.journal import lock
with lock.held(Path(sys.argv[1])):
    child = subprocess.Popen([sys.executable, "-c", "import sys; sys.stdin.read()"], stdout=subprocess.DEVNULL)
    print(child.pid, flush=True)
    os._exit(9)
"""


@pytest.fixture
def holder(tmp_path):
    """Start another process that holds the lock of tmp_path."""
    process = subprocess.Popen(
        [sys.executable, "-c", HOLDS, tmp_path], stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True
    )
    assert process.stdout.readline() == "held\n"
    yield process
    process.kill()
    process.communicate(timeout=10)


def test_the_lock_can_be_held_again_and_again(tmp_path):
    for _ in range(3):
        with lock.held(tmp_path / "new"):
            pass


@pytest.mark.devices
def test_a_second_tocsin_is_refused_and_told_which_process_is_the_first(tmp_path, holder):
    with pytest.raises(DeviceError, match="another Tocsin is running") as caught, lock.held(tmp_path):
        pass
    assert str(holder.pid) in str(caught.value)
    assert caught.value.exit_code == 21
    assert caught.value.hint


@pytest.mark.devices
def test_the_lock_is_free_once_the_first_has_left(tmp_path, holder):
    holder.communicate(input="", timeout=10)
    with lock.held(tmp_path):
        pass


@pytest.mark.devices
def test_a_crash_lets_the_next_one_in(tmp_path, holder):
    holder.kill()
    holder.wait(10)
    with lock.held(tmp_path):
        pass


@pytest.mark.devices
@pytest.mark.skipif(sys.platform == "win32", reason="a worker of its own on Windows inherits nothing")
def test_a_worker_that_outlives_its_tocsin_does_not_hold_the_lock(tmp_path):
    first = subprocess.Popen(
        [sys.executable, "-c", LEAVES_A_WORKER, tmp_path], stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True
    )
    worker = int(first.stdout.readline())
    assert first.wait(10) == 9
    os.kill(worker, 0)                              # it lives
    with lock.held(tmp_path):
        pass
    first.communicate(timeout=10)                   # the end of its stdin ends it


def test_a_folder_that_cannot_be_written_is_told(tmp_path):
    (tmp_path / "state").write_text("mine")
    with pytest.raises(JournalError, match="the lock cannot be written"), lock.held(tmp_path / "state"):
        pass


def test_a_folder_that_cannot_be_written_gives_way_to_the_next_and_that_is_told(tmp_path):
    (tmp_path / "state").write_text("mine")
    with lock.held_somewhere([tmp_path / "state", tmp_path / "other"]) as note:
        assert "the lock cannot be written" in note
        assert f"it is in {tmp_path / 'other'}" in note
        with pytest.raises(DeviceError, match="another Tocsin"), lock.held_somewhere([tmp_path / "other"]):
            pass
    with lock.held_somewhere([tmp_path / "other", tmp_path / "state"]) as note:
        assert note == ""
    with pytest.raises(JournalError, match="state: the lock"), lock.held_somewhere([tmp_path / "state"]):
        pass


@pytest.mark.skipif(os.name != "posix", reason="links and owners as POSIX has them")
def test_a_folder_that_somebody_else_may_have_put_there_is_not_taken(tmp_path):
    (tmp_path / "theirs").mkdir()
    (tmp_path / "link").symlink_to(tmp_path / "theirs")
    with pytest.raises(JournalError, match="somebody else's"), lock.held_somewhere([tmp_path / "link"]):
        pass
    assert list((tmp_path / "theirs").iterdir()) == []


def test_an_error_inside_comes_out_and_frees_the_lock(tmp_path):
    with pytest.raises(ValueError, match="mine"), lock.held(tmp_path):
        raise ValueError("mine")
    with lock.held(tmp_path):
        pass
