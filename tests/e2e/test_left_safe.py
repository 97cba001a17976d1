"""Whatever happens to workers and conductor, the strip is black and the motors stand at the end."""

import contextlib
import signal

import psutil
import pytest

from tests.support.stands.stand import Pads, Run, rig_file, wait_for, workers
from tocsin.config.load import load
from tocsin.runner.conductor import Conductor
from tocsin.runner.ending import signals_given_back
from tocsin.runner.options import RunOptions
from tocsin.runner.programme import Programme
from tocsin.runner.terminal.front_end import FrontEnd

pytestmark = pytest.mark.devices

GAME = """
format = "tocsin-game/1"
name = "Long"
[[period]]
id = "driver"
kind = "driver"
title = "Driver"
lasts = "5min"
"""
PLAN = """
format = "tocsin-plan/1"
name = "Held"
game = "long.toml"
[[cue]]
id = "home"
at = "match.begin+1s"
until = "match.end"
light = "home"
rumble = "long"
late_limit = "10s"
"""


def plan_file(tmp_path):
    """Write the plan and its game; return the plan's path."""
    (tmp_path / "long.toml").write_text(GAME, "utf-8")
    (tmp_path / "plan.toml").write_text(PLAN, "utf-8")
    return str(tmp_path / "plan.toml")


def driven(tmp_path, strip):
    """Return a run whose strip is lit and whose pads have been shaken, and its pads."""
    pads = Pads(tmp_path)
    run = Run(
        tmp_path, "--plan", plan_file(tmp_path), "--start", "now", rig=rig_file(tmp_path, strip, pads=True),
        env=pads.env,
    )  # fmt: skip
    wait_for(lambda: strip.frames and not strip.black, 60)
    wait_for(lambda: any(low or high for _, low, high in pads.motors("a")), 60)
    return run, pads


def give_up(run, channel):
    """Kill a channel's workers as they come, until it is given up for a while."""

    def given_up():
        for worker in workers(run.pid, channel):
            with contextlib.suppress(psutil.Error):
                worker.kill()
        wanted = {"kind": "device", "channel": channel, "state": "failed"}
        return any(all(r.get(k) == v for k, v in wanted.items()) for r in run.records())

    wait_for(given_up, 60)


def test_a_device_whose_workers_died_four_times_is_safe_after_the_end(tmp_path, strip):
    run, pads = driven(tmp_path, strip)
    give_up(run, "light")
    give_up(run, "rumble")
    assert not strip.black                              # nobody is there who could have made it so
    run.process.send_signal(signal.SIGTERM)
    code, summary, err = run.finish()
    assert code == 143
    assert summary["outcome"] == "scrapped"
    assert "Traceback" not in err
    assert strip.black
    assert pads.off("a")
    assert pads.off("b")


@pytest.mark.parametrize("number", [signal.SIGKILL, signal.SIGSTOP], ids=["killed", "stopped"])
def test_workers_that_die_or_hang_just_before_the_end_leave_nothing_driven(tmp_path, strip, number):
    run, pads = driven(tmp_path, strip)
    for worker in workers(run.pid):
        worker.send_signal(number)
    run.process.send_signal(signal.SIGINT)
    code, _, err = run.finish()
    assert code == 130
    assert "Traceback" not in err
    assert strip.black
    assert pads.off("a")


def test_workers_whose_conductor_was_killed_make_everything_safe(tmp_path, strip):
    run, pads = driven(tmp_path, strip)
    found = workers(run.pid)
    run.kill()
    wait_for(lambda: strip.black and pads.off("a"), 60)
    _, alive = psutil.wait_procs(found, timeout=60)
    assert not alive


def test_an_exception_of_the_conductor_leaves_nothing_driven(tmp_path, strip):
    class Broken(Programme):
        """A programme that fails once the strip is lit."""

        def turn(self, conductor, now_ns):
            if strip.frames and not strip.black:
                raise RuntimeError("the programme is broken")

    options = RunOptions(
        plans=(plan_file(tmp_path),), rig=rig_file(tmp_path, strip), runs=tmp_path / "runs", start="now",
        screen="none", only=("light",),
    )  # fmt: skip
    files = load(None, options.plans, options.rig)
    front_end = FrontEnd("none", json_output=True)
    conductor = Conductor(files, options, tmp_path / "runs", front_end, programme=Broken(files, options))
    with signals_given_back(), pytest.raises(RuntimeError, match="broken"):
        conductor.run(lambda *_: ())
    wait_for(lambda: strip.black)
    assert conductor.last_words == []


def test_a_strip_that_is_gone_at_the_end_is_looked_for_and_told(tmp_path, strip):
    run, _ = driven(tmp_path, strip)
    strip.pull_out()
    run.process.send_signal(signal.SIGTERM)
    code, _, err = run.finish()
    assert code == 143
    assert "light: its device could not be made safe" in err


def test_a_strip_that_comes_back_while_it_is_looked_for_is_made_black(tmp_path, strip):
    run, _ = driven(tmp_path, strip)
    strip.pull_out()
    run.process.send_signal(signal.SIGTERM)
    seen = len(strip.frames)
    strip.plug_in()
    code, _, err = run.finish()
    assert code == 143
    assert len(strip.frames) > seen
    assert strip.black
    assert "could not be made safe" not in err
