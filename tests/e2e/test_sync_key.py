"""A start that was late, and a person who taps at official moments: a whole process, a strip, the test's own clock.

The officials are this test: their match begins at a time that it chooses, and only it knows. The shared clock that
Tocsin goes by is this process's own too (``time.perf_counter_ns``), so both can be compared.
"""

import contextlib
import time
from itertools import pairwise

import pytest

from tests.support.stands.stand import LEDS, Run, firings, wait_for
from tocsin.model.clock.sync import EARLY_TAP_MS, Sync
from tocsin.model.rig import Start
from tocsin.units import NS_PER_MS, NS_PER_S

pytestmark = pytest.mark.devices

GAME = """
format = "tocsin-game/1"
name = "Short match"                      # invented
[[period]]
id = "auto"
kind = "autonomous"
lasts = "2s"
[[period]]
id = "pause"
kind = "pause"
lasts = "3s"
[[period]]
id = "driver"
kind = "driver"
lasts = "8s"
"""
PLAN = """
format = "tocsin-plan/1"
name = "Blinks"
game = "game.toml"
[[cue]]
id = "on_off"
at = ["auto.begin+1s", "pause.begin+2s", "driver.begin+2s", "driver.begin+4s", "driver.end-2s"]
light = "last_five"
sound = "tick"
"""
RIG = """
format = "tocsin-rig/1"
name = "Ours"
drives_robot = false
priority = "realtime"
[start]
by = "press"
[light]
port = "{port}"
leds = {leds}
max_ma = 5000
[sound]
"""
LATE_NS = 650 * NS_PER_MS                 # of which those who press have 250 behind them as a rule: the table's mean
OFF_NS = 400 * NS_PER_MS                  # what is left, and less than the ± of such a start, so one tap suffices
BLINKS_S = (1, 4, 7, 9, 11)
AUTO_END_S, DRIVER_S, NOWHERE_S = 2, 5, 9


def press_at(run, key, at_ns):
    """Press a key at a time of the shared clock."""
    time.sleep(max(0, at_ns - time.perf_counter_ns() - 2 * NS_PER_MS) / NS_PER_S)
    while time.perf_counter_ns() < at_ns:
        pass
    run.press(key)


def lit_ns(strip):
    """Return when the strip went from black, as it is at first, to light."""
    frames = list(strip.frames)
    shown = [(0, False), *((at_ns, any(map(any, colours))) for at_ns, colours in frames)]
    return [at_ns for (_, before), (at_ns, lit) in pairwise(shown) if lit and not before]


def at_the_field(tmp_path, strip):
    """Return a run in standby that takes keys: it has tried its devices when asked to, so the strip has been lit."""
    for name, text in (("game", GAME), ("plan", PLAN), ("rig", RIG.format(port=strip.link, leds=LEDS))):
        (tmp_path / f"{name}.toml").write_text(text, "utf-8")
    files = ("--game", str(tmp_path / "game.toml"), "--plan", str(tmp_path / "plan.toml"))
    run = Run(tmp_path, *files, rig=str(tmp_path / "rig.toml"), terminal=True)
    for _ in range(20):
        run.press("t")
        with contextlib.suppress(AssertionError):
            wait_for(lambda: lit_ns(strip), 1)
            break
    wait_for(lambda: strip.black, 3)
    strip.frames.clear()
    return run


def test_taps_put_a_late_start_right_and_later_cues_land_on_time(tmp_path, strip):
    run = at_the_field(tmp_path, strip)
    begin_ns = time.perf_counter_ns() + 100 * NS_PER_MS
    press_at(run, "s", begin_ns + LATE_NS)
    for seconds in (AUTO_END_S, DRIVER_S, NOWHERE_S):
        press_at(run, "g", begin_ns + seconds * NS_PER_S)
    run.await_record(kind="end")
    run.process.terminate()
    code, summary, err = run.finish()
    assert (code, summary["outcome"]) == (143, "over"), err      # told to end while the result stands

    records = run.records()
    started = next(r for r in records if r["kind"] == "origin" and r["cause"] == "start")
    assert started["error_ms"] == Sync.started(Start(by="press")).error_ms
    assert abs(started["origin_ns"] - begin_ns - OFF_NS) < 100 * NS_PER_MS
    taps = [r for r in records if r["kind"] == "note" and r["what"] == "tap"]
    assert [r["text"].split(":")[0] for r in taps] == ["Auto ends", "Driver begins"]
    # What a busy machine takes between key and stamp is a late tap, which nobody can tell from an early clock.
    slow_ns = max(tap["at_ns"] - begin_ns - s * NS_PER_S for tap, s in zip(taps, (AUTO_END_S, DRIVER_S), strict=True))
    assert slow_ns >= 0

    synced = [r for r in records if r["kind"] == "origin" and r["cause"] == "sync"]
    assert {r["anchor"] for r in synced} == {"match"}
    assert synced[0]["origin_ns"] == started["origin_ns"]
    assert abs(synced[-1]["origin_ns"] - begin_ns) < 60 * NS_PER_MS + slow_ns
    assert synced[-1]["error_ms"] < EARLY_TAP_MS + 60
    # One step for the 0.4 s; the second tap then moves it by little, in parts of at most 10 ms.
    moves = [after["origin_ns"] - before["origin_ns"] for before, after in pairwise(synced)]
    assert [abs(move) > 10 * NS_PER_MS for move in moves].count(True) == 1

    for channel in ("light", "sound"):
        played = [r for r in firings(records, channel) if r["cue"] == "on_off"]
        assert [(r["n"], r["outcome"]) for r in played] == [(n, "played") for n in range(5)]
    off_ns = [at_ns - begin_ns - s * NS_PER_S for at_ns, s in zip(lit_ns(strip), BLINKS_S, strict=True)]
    assert off_ns[0] > OFF_NS - 60 * NS_PER_MS                  # before anybody tapped
    assert max(abs(ns) for ns in off_ns[1:]) < 60 * NS_PER_MS + slow_ns

    refused = [r["refused"] for r in records if r["kind"] == "state" and r["event"] == "sync" and r["refused"]]
    assert len(refused) == 1
    assert refused[0].startswith("cannot use the tap: no official moment within 3 s; next: Driver ends in ")
    assert refused[0] in err
    assert "Driver begins: " in err
    assert strip.black
