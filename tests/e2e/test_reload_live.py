"""A programmer saves the plan while the team stands in standby: the match that follows is the new one."""

import shutil
from pathlib import Path

import pytest

from tests.support.stands.stand import Run, rig_file, wait_for
from tocsin.config import bundle
from tocsin.units import NS_PER_S

pytestmark = pytest.mark.devices


def lead_of_home_s(run):
    """Return how long before the window the call home is, by the timeline in the journal's header."""
    header = next(record for record in run.records() if record["kind"] == "header")
    due = {f["cue"]: f["match_ns"] for f in header["timeline"]["firings"] if f["match_ns"] is not None}
    return (due["no_touch"] - due["home"]) / NS_PER_S


def said(run, words):
    """Read what the run says until these words come; the test's own time limit ends the waiting."""
    assert any(words in line for line in run.process.stderr)


def test_a_plan_that_is_saved_in_standby_is_the_one_that_is_played(tmp_path, strip):
    plan = Path(shutil.copy(bundle.root() / "plans" / "full.toml", tmp_path))
    run = Run(
        tmp_path, "--plan", str(plan), "--from", "driver.end-2s", "--rate", "4",
        rig=rig_file(tmp_path, strip), terminal=True,
    )  # fmt: skip
    wait_for(lambda: strip.frames)
    good = plan.read_text("utf-8")
    plan.write_text(good.replace('break_off = "4s"', 'break_off = "6.5s"'), "utf-8")
    said(run, "reloaded: Full (coach_call 2.5 s earlier; home 2.5 s earlier)")
    plan.write_text("format = 5", "utf-8")
    said(run, "not loaded: the old plan stays")
    wait_for(lambda: (run.press("s"), run.records())[1])
    run.await_record(kind="end")
    run.press("q")
    code, _, err = run.finish()
    assert code == 0, err
    assert lead_of_home_s(run) == 6.5
