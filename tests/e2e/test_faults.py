"""Faults in the middle of a match: the other channels lose nothing, the journal tells, the exit code is right."""

import signal

import pytest

from tests.support.stands.stand import Run, firings, rig_file, wait_for

pytestmark = pytest.mark.devices


# The bundled plan's last cues in an invented game: HOME is held long enough for a worker to be back on a busy machine,
# and how late a cue may come is not what these tests are about.
GAME = """
format = "tocsin-game/1"
name = "Last seconds"
[[period]]
id = "driver"
kind = "driver"
title = "Driver"
lasts = "23s"
"""
PLAN = """
format = "tocsin-plan/1"
name = "Last cues"
game = "last_seconds.toml"
[[cue]]
id = "home"
at = "match.begin+1s"
until = "match.begin+16s"
light = "home"
sound = "rising"
late_limit = "1500ms"
priority = 9
[[cue]]
id = "no_touch"
at = "match.begin+16s"
until = "match.end"
light = "no_touch"
sound = "drop"
late_limit = "1500ms"
priority = 7
[[cue]]
id = "choose"
at = "match.begin+17s"
light = "choose"
sound = "steady"
late_limit = "1500ms"
priority = 8
[[cue]]
id = "last_five"
at = "match.end-5s"
every = "1s"
until = "match.end"
light = "last_five"
sound = "tick"
late_limit = "1500ms"
priority = 8
[[cue]]
id = "over"
at = "match.end"
light = "over"
late_limit = "1500ms"
priority = 9
"""


def last_cues(folder):
    """Write the short plan and its game; return the arguments that play it."""
    (folder / "last_seconds.toml").write_text(GAME, "utf-8")
    (folder / "last_cues.toml").write_text(PLAN, "utf-8")
    return "--plan", str(folder / "last_cues.toml"), "--start", "now"


def last_seconds(folder):
    """Return the arguments that play the end of the bundled plan: time for a board that greets late."""
    return "--from", "driver.end-25s"


def started(tmp_path, strip, plan=last_cues):
    """Return a run, at twice the speed, whose HOME is on the strip."""
    run = Run(tmp_path, *plan(tmp_path), "--rate", "2", rig=rig_file(tmp_path, strip))
    run.await_record(kind="firing", channel="light", cue="home", outcome="played")
    return run


def outcomes(run, channel):
    """Return (cue, n) of a channel's firings that were played or resumed, after HOME."""
    return {(r["cue"], r["n"]) for r in firings(run.records(), channel) if r["outcome"] in ("played", "resumed")}


AFTER = {("no_touch", 0), ("choose", 0), *(("last_five", n) for n in range(5))}


@pytest.mark.parametrize("number", [signal.SIGKILL, signal.SIGSTOP], ids=["killed", "stopped"])
def test_a_light_worker_that_dies_or_hangs_is_replaced_inside_the_held_cue(tmp_path, strip, number):
    run = started(tmp_path, strip)
    run.worker("light").send_signal(number)
    run.await_record(kind="fault", channel="light", what="restarted")
    run.await_record(kind="firing", channel="light", cue="home", outcome="resumed")
    code, summary, err = run.finish()
    assert code == 0, err
    assert summary["channels"]["light"]["restarts"] == 1
    assert outcomes(run, "light") >= AFTER
    assert outcomes(run, "sound") >= AFTER
    assert summary["channels"]["sound"]["restarts"] == 0
    assert strip.black


@pytest.mark.parametrize("number", [signal.SIGKILL, signal.SIGSTOP], ids=["killed", "stopped"])
def test_a_sound_worker_that_dies_or_hangs_is_replaced(tmp_path, strip, number):
    run = started(tmp_path, strip)
    run.worker("sound").send_signal(number)
    run.await_record(kind="fault", channel="sound", what="restarted")
    code, summary, err = run.finish()
    assert code == 0, err
    assert summary["channels"]["sound"]["restarts"] == 1
    assert outcomes(run, "sound") >= AFTER
    assert outcomes(run, "light") >= AFTER


def test_a_strip_that_goes_away_and_comes_back_shows_what_is_left(tmp_path, strip):
    run = started(tmp_path, strip, last_seconds)
    strip.pull_out()
    run.await_record(kind="device", channel="light", state="lost")
    seen = len(strip.frames)
    strip.plug_in()
    wait_for(lambda: any(any(c) for _, frame in strip.frames[seen:] for c in frame), 10)
    code, _summary, err = run.finish()
    assert code in (0, 1), err                    # 1 only if a cue fell into the gap
    assert outcomes(run, "sound") >= AFTER
    assert strip.black
    states = [r["state"] for r in run.records() if r["kind"] == "device" and r["channel"] == "light"]
    assert "lost" in states
    assert states[-1] == "ready"


def test_a_strip_that_stops_reading_costs_no_other_channel_anything(tmp_path, strip):
    run = started(tmp_path, strip, last_seconds)
    strip.deaf = True
    run.await_record(kind="firing", channel="sound", cue="last_five", n=4)
    strip.deaf = False
    _code, summary, _err = run.finish()
    assert outcomes(run, "sound") >= AFTER
    assert summary["channels"]["sound"]["failed"] == 0


def test_a_full_disk_takes_no_match_along(tmp_path, strip):
    """/dev/full cannot be a folder: a limit on file sizes plays the full disk."""
    run = started(tmp_path, strip)
    import resource

    resource.prlimit(run.pid, resource.RLIMIT_FSIZE, (1000, 1000))
    code, summary, err = run.finish()
    assert code == 22
    assert summary["outcome"] == "over"
    assert summary["channels"]["light"]["failed"] == 0
    assert summary["channels"]["light"]["played"] == 9
    assert "journal" in err
    assert strip.black


def test_a_worker_that_has_much_to_make_ready_is_not_taken_for_dead(tmp_path, strip):
    """As many long sounds as a plan may have take seconds to be made; silence is counted in tenths."""
    count = 12
    cues = "".join(
        f'[[cue]]\nid = "c{n}"\nat = "driver.end-{20 + n}s"\nsound = "s{n}"\npriority = 3\n'
        f'[pattern.sound.s{n}]\nsteps = [{{ hz = {600 + n}, to_hz = {1600 - n}, lasts = "10s", level = 0.1 }}]\n'
        for n in range(count)
    )
    plan = tmp_path / "plan.toml"
    plan.write_text(f'format = "tocsin-plan/1"\nname = "Many"\ngame = "casting_day"\n{cues}', "utf-8")
    args = ("--plan", str(plan), "--only", "sound", "--from", "driver.end-21s", "--rate", "50")
    run = Run(tmp_path, *args, rig=rig_file(tmp_path, strip))
    code, summary, err = run.finish()
    assert code == 0, err
    assert summary["channels"]["sound"]["device"] == "ready"
    assert summary["channels"]["sound"]["restarts"] == 0
    assert not [r for r in run.records() if r["kind"] == "fault"]
