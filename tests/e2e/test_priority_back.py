"""Real-time priority is for the match only: it is back before the result stands, and nothing asks for it again."""

import os

import pytest

from tests.support.stands.stand import Run, rig_file, wait_for, workers

pytestmark = [
    pytest.mark.devices,
    pytest.mark.skipif(not hasattr(os, "sched_getscheduler"), reason="this system has no scheduler to ask"),
]


def policies(run):
    """Return the scheduling policy of each worker."""
    return {os.sched_getscheduler(process.pid) & ~os.SCHED_RESET_ON_FORK for process in workers(run.pid)}


def test_priority_is_handed_back_while_the_result_stands(tmp_path, strip):
    rig = rig_file(tmp_path, strip)
    run = Run(tmp_path, "--from", "driver.end-2s", "--rate", "2", rig=rig, terminal=True)
    wait_for(lambda: strip.frames)
    run.worker("sound")
    wait_for(lambda: (run.press("s"), run.records())[1])
    run.await_record(kind="end")
    assert policies(run) == {os.SCHED_OTHER}
    run.press("q")
    code, _, err = run.finish()
    assert code == 0, err
    asked = [r["channel"] for r in run.records() if r["kind"] == "fault" and r["what"] == "priority"]
    assert len(asked) == len(set(asked)), "each channel asked once at the most"
