"""Priorities are granted, refused and handed back by a real kernel, in processes of their own.

Root is refused nothing, so what ordinary users meet is tried as another user through setpriv.
"""

import json
import os
import shutil
import subprocess
import sys
import textwrap

import pytest

pytestmark = [
    pytest.mark.devices,
    pytest.mark.skipif(sys.platform != "linux", reason="the scheduler's calls here are Linux's"),
]
AS_ROOT = pytest.mark.skipif(not hasattr(os, "geteuid") or os.geteuid() != 0, reason="only root is granted it here")
AS_ANOTHER = pytest.mark.skipif(
    not hasattr(os, "geteuid") or os.geteuid() != 0 or shutil.which("setpriv") is None,
    reason="root starts the other user with setpriv",
)
PRELUDE = """
import json, os, resource, sys
from tocsin import monotime
from tocsin.workers import priority
found = {}
def standing():
    return [os.sched_getscheduler(0) & ~os.SCHED_RESET_ON_FORK, os.sched_getparam(0).sched_priority, os.nice(0)]
"""


def run_child(script: str, *before: str) -> tuple[dict, str]:
    """Run a script that fills ``found`` in a process of its own; return that and its stderr."""
    text = PRELUDE + textwrap.dedent(script) + "\nprint(json.dumps(found))"
    done = subprocess.run(
        [*before, sys.executable, "-c", text], capture_output=True, text=True, timeout=60, check=True
    )
    return json.loads(done.stdout), done.stderr


ANOTHER = ("setpriv", "--reuid=65534", "--regid=65534", "--clear-groups", "--")


@AS_ROOT
@pytest.mark.parametrize("channel", ["rumble", "light", "sound"])
def test_real_time_is_granted_low_and_is_handed_back(channel):
    found, stderr = run_child(
        f"""
        found["before"] = standing()
        found["granted"] = priority.raise_self("realtime", "{channel}")
        found["during"] = standing()
        found["reset_on_fork"] = bool(os.sched_getscheduler(0) & os.SCHED_RESET_ON_FORK)
        child = os.fork()
        if not child:
            os._exit(0 if standing()[0] == os.SCHED_OTHER else 1)
        found["child_is_ordinary"] = os.waitstatus_to_exitcode(os.waitpid(child, 0)[1]) == 0
        priority.hand_back()
        found["after"] = standing()
        """
    )
    assert found["granted"] == ["realtime", ""]
    assert found["during"][0] == os.SCHED_FIFO
    # Interrupt threads of Linux run at 50 (from memory): a worker must stay below them.
    assert 1 <= found["during"][1] < 50
    assert found["reset_on_fork"]
    assert found["child_is_ordinary"]
    assert found["after"] == found["before"]
    assert stderr == ""


@AS_ROOT
def test_the_screen_is_never_real_time():
    found, _ = run_child('found["granted"] = priority.raise_self("realtime", "screen"); found["is"] = standing()')
    assert found["granted"][0] == "raised"
    assert found["is"][0] == os.SCHED_OTHER


@AS_ROOT
def test_a_raised_process_is_nicer_to_itself_until_it_hands_that_back():
    found, _ = run_child(
        """
        os.nice(3)
        found["granted"] = priority.raise_self("raised", "light")
        found["during"] = standing()[2]
        priority.hand_back()
        found["after"] = standing()[2]
        """
    )
    assert found == {"granted": ["raised", ""], "during": -5, "after": 3}


@AS_ROOT
def test_nothing_is_changed_where_nothing_was_asked_for():
    found, _ = run_child(
        """
        os.nice(3)
        found["granted"] = priority.raise_self("ordinary", "light")
        priority.hand_back()
        found["is"] = standing()
        """
    )
    assert found == {"granted": ["ordinary", ""], "is": [os.SCHED_OTHER, 0, 3]}


@AS_ROOT
def test_a_real_time_process_that_does_not_sleep_loses_it_and_says_so():
    found, stderr = run_child(
        """
        priority.raise_self("realtime", "light")
        begun_ns = monotime.now_ns()
        while standing()[0] != os.SCHED_OTHER and monotime.now_ns() - begun_ns < 10 * 10**9:
            pass
        found["is"] = standing()[0]
        """
    )
    assert found["is"] == os.SCHED_OTHER
    assert "real-time priority handed back: 200 ms without a sleep" in stderr


@AS_ROOT
def test_a_real_time_process_that_sleeps_in_between_keeps_it():
    found, stderr = run_child(
        """
        priority.raise_self("realtime", "light")
        until_ns = monotime.now_ns() + 5 * 10**8
        while monotime.now_ns() < until_ns:
            monotime.wait_until(monotime.now_ns() + 4 * 10**6)
        found["is"] = standing()[0]
        """
    )
    assert found["is"] == os.SCHED_FIFO
    assert stderr == ""


@AS_ANOTHER
@pytest.mark.parametrize("asked", ["realtime", "raised"])
def test_a_user_who_may_not_gets_the_ordinary_priority_and_the_reason(asked):
    found, stderr = run_child(
        f"""
        resource.setrlimit(resource.RLIMIT_NICE, (0, 0))
        resource.setrlimit(resource.RLIMIT_RTPRIO, (0, 0))
        before = standing()
        found["granted"] = priority.raise_self("{asked}", "light")
        found["unchanged"] = standing() == before
        priority.hand_back()
        found["still"] = standing() == before
        """,
        *ANOTHER,
    )
    assert found == {
        "granted": ["ordinary", "no raised priority: permission denied"], "unchanged": True, "still": True
    }  # fmt: skip
    assert stderr == ""


@AS_ROOT
@pytest.mark.parametrize("asked", ["realtime", "raised"])
def test_what_was_granted_can_be_handed_back_without_privileges(asked):
    found, _ = run_child(
        f"""
        found["before"] = standing()
        found["granted"] = priority.raise_self("{asked}", "light")[0]
        os.setresuid(65534, 65534, 65534)
        priority.hand_back()
        found["after"] = standing()
        """
    )
    assert found["granted"] == asked
    assert found["after"] == found["before"]
