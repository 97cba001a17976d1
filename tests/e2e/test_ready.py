"""A channel that says that it is ready plays what falls due from then on, also after a crash in the midst of beats."""

import pytest

from tests.support.stands.stand import Run, firings, rig_file

pytestmark = pytest.mark.devices

GAME = """
format = "tocsin-game/1"
name = "Beats"
[[period]]
id = "driver"
kind = "driver"
title = "Driver"
lasts = "15s"
"""
PLAN = """
format = "tocsin-plan/1"
name = "Beats"
game = "beats.toml"
[[cue]]
id = "beat"
at = "match.begin"
every = "100ms"
until = "match.end"
sound = "tick"
late_limit = "200ms"
"""


def test_no_beat_is_skipped_once_the_sound_of_a_run_that_was_gone_on_with_is_ready(tmp_path):
    (tmp_path / "beats.toml").write_text(GAME, "utf-8")
    (tmp_path / "plan.toml").write_text(PLAN, "utf-8")
    run = Run(tmp_path, "--plan", str(tmp_path / "plan.toml"), "--start", "now", rig=rig_file(tmp_path))
    run.await_record(60, kind="firing", channel="sound", outcome="played")
    run.kill()
    again = Run(tmp_path, "--resume")
    again.finish()
    records = again.records()
    origin_ns = next(r["origin_ns"] for r in records if r["kind"] == "origin")
    ready = [r for r in records if r["kind"] == "device" and r["channel"] == "sound" and r["state"] == "ready"]
    assert len(ready) == 2                             # one in each life
    after = [r for r in firings(records, "sound") if origin_ns + r["due_ns"] > ready[-1]["at_ns"]]
    assert after
    assert {r["outcome"] for r in after} == {"played"}
