"""Rumble on SDL's virtual pads in whole runs: every step of the last seconds, pads that go and come, motors off."""

import signal

import pytest

from tests.support.stands.stand import Pads, Run, firings, rig_file, wait_for
from tocsin.units import NS_PER_MS

pytestmark = pytest.mark.devices


def test_every_step_of_the_last_seconds_is_felt_as_written(tmp_path, strip):
    """Rate 1: home is a triple of 250/200 ms, no touch 800 ms, over 500 ms, each begun within its moment."""
    pads = Pads(tmp_path)
    run = Run(tmp_path, "--from", "driver.end-23s", rig=rig_file(tmp_path, strip, pads=True), env=pads.env)
    code, summary, err = run.finish()
    assert code == 0, err
    assert summary["channels"]["rumble"]["device"] == "ready"
    told = pads.motors("a")
    on = [(at, low) for at, low, _ in told if low]
    off = [at for at, low, _ in told if not low]
    assert [low for _, low in on] == [65535, 65535, 65535, 65535, round(0.8 * 65535)]
    lengths_ms = [(end - begin) / NS_PER_MS for (begin, _), end in zip(on, off, strict=True)]
    # Steps are timed by this laptop's clock; a loaded machine stretches them, so the bound below is what counts.
    for length_ms, wanted_ms in zip(lengths_ms, [250, 250, 250, 800, 500], strict=True):
        assert wanted_ms - 60 <= length_ms <= wanted_ms + 250
    origin = next(r for r in run.records() if r["kind"] == "origin")["origin_ns"]
    due_ns = origin + (114 + 0) * 1_000_000_000
    assert 0 <= on[0][0] - due_ns < 500 * NS_PER_MS
    by = next(r for r in firings(run.records(), "rumble") if r["cue"] == "home" and r["role"] == "operator")["by"]
    assert by == ["Pad B"]


def test_a_pad_that_comes_back_inside_home_is_told_once_more(tmp_path, strip):
    pads = Pads(tmp_path)
    run = Run(tmp_path, "--from", "driver.end-23s", rig=rig_file(tmp_path, strip, pads=True), env=pads.env)
    run.await_record(kind="firing", channel="rumble", cue="home", role="driver", outcome="played")
    pads.do("detach", "a")
    run.await_record(kind="device", channel="rumble", role="driver", state="lost")
    before = len(pads.motors("a"))
    pads.do("attach", "a")
    back = run.await_record(kind="device", channel="rumble", role="driver", state="ready", why="caught up with home")
    assert back["name"] == "Pad A"
    wait_for(lambda: any(low for _, low, _ in pads.motors("a")[before:]))
    run.await_record(kind="firing", channel="rumble", cue="no_touch", role="driver", outcome="played")
    run.process.terminate()
    code, summary, _ = run.finish()
    assert code == 143
    assert summary["channels"]["rumble"]["restarts"] == 0
    wait_for(lambda: pads.off("a") and pads.off("b"), 3)


@pytest.mark.parametrize("number", [signal.SIGKILL, signal.SIGSTOP], ids=["killed", "stopped"])
def test_a_rumble_worker_that_dies_or_hangs_is_replaced(tmp_path, strip, number):
    pads = Pads(tmp_path)
    arguments = ("--from", "driver.end-23s", "--rate", "2")
    run = Run(tmp_path, *arguments, rig=rig_file(tmp_path, strip, pads=True), env=pads.env)
    run.await_record(kind="firing", channel="rumble", cue="home", role="operator", outcome="played")
    run.worker("rumble").send_signal(number)
    run.await_record(kind="fault", channel="rumble", what="restarted")
    run.await_record(kind="firing", channel="rumble", cue="over", role="driver", outcome="played")
    _code, summary, err = run.finish()
    assert summary["outcome"] == "over", err
    assert summary["channels"]["rumble"]["restarts"] == 1
    assert summary["channels"]["light"]["failed"] == 0
    assert pads.off("a")
    assert pads.off("b")


def test_a_killed_conductor_leaves_the_motors_off(tmp_path, strip):
    pads = Pads(tmp_path)
    run = Run(tmp_path, "--from", "driver.end-23s", rig=rig_file(tmp_path, strip, pads=True), env=pads.env)
    run.await_record(kind="firing", channel="rumble", cue="home", role="operator", outcome="played")
    wait_for(lambda: pads.motors("a"))
    run.kill()
    wait_for(lambda: pads.off("a") and pads.off("b"), 2)
