"""Whole runs on a machine that falls asleep, and on one whose wall clock is set (Linux, with gcc)."""

import pytest

from tests.support.preload import skew
from tests.support.stands.stand import Run, firings, rig_file
from tocsin.units import NS_PER_S

pytestmark = pytest.mark.devices


@pytest.fixture
def env(tmp_path):
    if why := skew.lacking():
        pytest.skip(why)
    return skew.build(tmp_path)


@pytest.fixture
def clocks(env):
    return skew.Skew(env)


def origins(run):
    """Return (cause, time of the origin) of the match's origins so far."""
    return [(r["cause"], r["origin_ns"]) for r in run.records() if r["kind"] == "origin" and r["anchor"] == "match"]


def test_after_sleep_the_clock_is_put_right_and_nothing_bursts_out(tmp_path, strip, env, clocks):
    """The match goes on while the laptop sleeps, and its monotonic clock stands."""
    run = Run(tmp_path, "--from", "driver.end-25s", "--only", "light", rig=rig_file(tmp_path, strip), env=env)
    run.await_record(kind="firing", channel="light", cue="home", outcome="played")
    clocks.sleep_ns = 2 * NS_PER_S
    run.await_record(kind="origin", cause="sleep")
    (start, began_ns), (_, put_right_ns) = origins(run)
    assert start == "start"
    assert began_ns - put_right_ns == pytest.approx(2 * NS_PER_S, abs=NS_PER_S // 10)
    # From some 20 s before the end past no_touch (18 s) and choose (10 s).
    clocks.sleep_ns = 16 * NS_PER_S
    code, summary, err = run.finish()
    assert code == 0, err
    assert summary["outcome"] == "over"
    assert summary["disturbed"]
    assert [cause for cause, _ in origins(run)] == ["start", "sleep", "sleep"]
    assert began_ns - origins(run)[-1][1] == pytest.approx(16 * NS_PER_S, abs=NS_PER_S // 10)
    assert [r["why"] for r in run.records() if r["kind"] == "fault" and r["what"] == "slept"]
    outcomes = {r["cue"]: (r["outcome"], r["why"]) for r in firings(run.records(), "light")}
    assert outcomes["no_touch"][0] == "resumed"            # a state: what is left of it shows
    assert outcomes["choose"] == ("skipped", "crossed")    # an instant that was slept through
    assert outcomes["over"][0] == "played"
    assert strip.black


def test_a_step_of_the_wall_clock_changes_nothing(tmp_path, strip, env, clocks):
    run = Run(
        tmp_path, "--from", "driver.end-25s", "--rate", "8", "--only", "light", rig=rig_file(tmp_path, strip), env=env
    )
    run.await_record(kind="firing", channel="light", cue="home", outcome="played")
    clocks.step_wall_ns = -3600 * NS_PER_S
    run.await_record(kind="firing", channel="light", cue="no_touch", outcome="played")
    clocks.step_wall_ns = 7 * 24 * 3600 * NS_PER_S
    code, summary, err = run.finish()
    assert code == 0, err
    assert summary["outcome"] == "over"
    assert not summary["disturbed"]
    assert [cause for cause, _ in origins(run)] == ["start"]
    assert summary["channels"]["light"]["restarts"] == 0
    assert summary["channels"]["light"]["failed"] == 0
    assert [r["outcome"] for r in firings(run.records(), "light") if r["cue"] in ("no_touch", "over")] == ["played"] * 2
    assert strip.black
