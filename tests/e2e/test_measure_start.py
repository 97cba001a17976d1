"""A person of known lateness starts the clock, at a virtual pad and at a terminal, and is measured.

Presses are held against the person's own log, not against what was meant: on a busy machine hands of this kind are
late, and that is no error of the measurement.
"""

import contextlib
import itertools
import json
import os
import random
import signal
import socket
import statistics
import struct
import subprocess
import sys
import threading

import pytest

from tests.support import PROJECT
from tests.support.stands.busy import allowed
from tests.support.stands.camera import MISSING, Server
from tests.support.stands.stand import TOCSIN, Strip, wait_for
from tocsin.config.load import load_rig
from tocsin.units import NS_PER_MS

pytestmark = pytest.mark.devices

PEOPLE = PROJECT / "tests/support/people"
BIAS_MS, SPREAD_MS = 5.0, 10.0             # what a vigilance test may be off by
RIG = """
format = "tocsin-rig/1"
name = "Start stand"
drives_robot = false
[start]                                    # how we do it
by = "{by}"
[[pad]]
role = "driver"
order = 1
buttons = {{ 0 = "start" }}
[light]
port = "{port}"
max_ma = 5000
latency_ms = 30
"""
STARTS = 11
RNG = random.Random(4)


def tell_of_light(strip, port_file, stop):
    """Tell the person, as datagrams, when the strip lights up; its device takes the 30 ms that the rig knows of."""
    port = int(wait_for(lambda: port_file.exists() and port_file.read_text("ascii")))
    heard, dark = 0, True
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as voice:
        while not stop.wait(0.002):
            for at_ns, colours in strip.frames[heard:]:
                heard += 1
                lit = any(any(colour) for colour in colours)
                if lit and dark:
                    voice.sendto(struct.pack("<q", at_ns + 30 * NS_PER_MS), ("127.0.0.1", port))
                dark = not lit


def measure(folder, by, habits, times_ms):
    """Let a person of these habits be measured and the rig be told; return exit code, result, their log, its path."""
    strip = Strip(folder)
    rig = folder / "rig.toml"
    rig.write_text(RIG.format(by=by, port=strip.link), "utf-8")
    env = {**os.environ, "SDL_AUDIODRIVER": "disk", "SDL_DISKAUDIOFILE": str(folder / "sound.pcm")} | {
        "XDG_STATE_HOME": str(folder / "state"), "TOCSIN_BENCH": str(PEOPLE / "person_bench.py"),
        "TOCSIN_BENCH_PERSON": json.dumps(habits), "TOCSIN_BENCH_PORT": str(folder / "port"),
        "TOCSIN_BENCH_LOG": str(folder / "person.jsonl"),
    }  # fmt: skip
    env.pop("DISPLAY", None)
    process = subprocess.Popen(
        [sys.executable, "-m", "tests.support.stands.start_child", str(rig), "write", json.dumps(times_ms)],
        cwd=PROJECT, env=env, stdin=subprocess.DEVNULL, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True,
    )  # fmt: skip
    stop = threading.Event()
    teller = threading.Thread(target=tell_of_light, args=(strip, folder / "port", stop))
    teller.start()
    try:
        out, err = process.communicate(timeout=90)
    finally:
        stop.set()
        teller.join()
        if process.poll() is None:
            process.kill()
    assert out, err
    log = [json.loads(line) for line in (folder / "person.jsonl").read_text("utf-8").splitlines()]
    return process.returncode, json.loads(out), log, rig


def check_figures(result, true_ms):
    """Hold the good presses against the person's own.

    By the middle and the middle deviation: on a busy machine the person's eyes, a thread of the test, may sleep through
    a signal once, and that is in the person's own log alone. Of two presses the middle is half of that: the nearer one
    is taken.
    """
    errors_ms = [found - true for found, true in zip(result["late_ms"], true_ms, strict=True)]
    middle_ms = statistics.median(errors_ms) if len(errors_ms) > 2 else min(errors_ms, key=abs)
    assert abs(middle_ms) < allowed(BIAS_MS)
    if len(errors_ms) > 2:
        assert 1.4826 * statistics.median(abs(ms - middle_ms) for ms in errors_ms) < SPREAD_MS
    reading = result["error"]["reading"]
    assert reading["median_ms"] == pytest.approx(statistics.median(result["late_ms"]), abs=0.01)
    pairs = [abs(one - other) for one, other in itertools.combinations(result["late_ms"], 2)]
    assert reading["spread_ms"] == pytest.approx(1.0483 * statistics.median(pairs), abs=0.01)
    assert (reading["low_ms"] is None) == (len(true_ms) < 6)


def test_a_person_who_sees_matches_start_is_measured_and_written_into_the_rig(tmp_path):
    """One start is guessed, one missed; what the strip's device takes is not the person's."""
    habits = [[RNG.gauss(310, 35)] for _ in range(STARTS)]
    habits[3] = []
    habits[6] = [40.0]
    # A wait of 0.3 s behind each answer window; people get 2 to 8 s.
    code, result, log, rig = measure(tmp_path, "press", habits, [1_800 * n for n in range(1, STARTS + 1)])
    assert code == 0
    answers = {entry["signal"]: (entry["pressed_ns"] - entry["seen_ns"]) / NS_PER_MS for entry in log}
    true_ms = [ms for signal, ms in sorted(answers.items()) if signal != 6]
    error = result["error"]
    assert (error["starts"], error["missed"], error["false_starts"]) == (STARTS, 1, 1)
    check_figures(result, true_ms)
    assert (result["rig_late_ms"], result["rig_spread_ms"]) == (250, 250)
    start = load_rig(str(rig)).start
    assert result["written"]
    assert start.by == "press"
    assert start.late_ms == round(error["reading"]["median_ms"])
    # Of nine: by tables Student's t of 8 degrees of freedom is 2.306, beside 1.960; and the root of 1 + 1/9.
    assert error["reading"]["n"] == 9
    next_ms = error["reading"]["spread_ms"] * 2.306 / 1.96 * (10 / 9) ** 0.5
    assert start.spread_ms == pytest.approx(max(10, next_ms), abs=0.6)
    assert "# how we do it" in rig.read_text("utf-8")
    assert f"late_ms = {start.late_ms}" in result["lines"][-1]


def test_a_person_who_is_counted_in_may_press_before_the_beat(tmp_path):
    """The person waits from the beat before: 40 ms short of a second. Too few to write."""
    habits = [habit for _ in range(2) for habit in ([], [], [RNG.gauss(960, 15)], [])]
    code, result, log, rig = measure(tmp_path, "count_in", habits, [4_000, 9_000])
    assert code == 0
    true_ms = [(entry["pressed_ns"] - entry["seen_ns"]) / NS_PER_MS - 1000 for entry in log]
    check_figures(result, true_ms)
    if max(true_ms) < 0:                                   # a busy machine may hold one of the two presses up
        assert result["error"]["reading"]["median_ms"] < 0
    assert result["error"]["false_starts"] == 0
    assert not result["written"]
    assert load_rig(str(rig)).start.late_ms is None
    assert "Too few to use" in result["lines"][-2]


def test_a_person_answers_the_cautions_at_a_terminal_and_presses_its_start_key(tmp_path, strip):
    rig = tmp_path / "rig.toml"
    rig.write_text(RIG.format(by="press", port=strip.link), "utf-8")
    keyboard, terminal = os.openpty()
    env = {**os.environ, "XDG_STATE_HOME": str(tmp_path / "state")}
    env.pop("DISPLAY", None)
    process = subprocess.Popen(
        [*TOCSIN, "measure", "start", "--rig", str(rig), "--times", "1", "--json"],
        env=env, stdin=terminal, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True,
    )  # fmt: skip
    said = []
    reader = threading.Thread(target=lambda: said.extend(process.stderr), daemon=True)
    reader.start()

    def lit():
        return [1 for _, colours in strip.frames if any(any(colour) for colour in colours)]

    try:
        wait_for(lambda: any("Is flashing light safe" in line for line in said))
        assert any("Press as soon as you see the start: page down or s" in line for line in said)
        os.write(keyboard, b"n")
        wait_for(lambda: any("fix it, then answer yes" in line for line in said))
        os.write(keyboard, b"y")
        wait_for(lambda: any("Press y: begin" in line for line in said))
        os.write(keyboard, b"y")
        wait_for(lit)
        os.write(keyboard, b"s")
        out = process.stdout.read()
        assert process.wait(30) == 0
    finally:
        if process.poll() is None:
            process.kill()
        reader.join(5)
        process.stdout.close()
        process.stderr.close()
    told = "".join(said)
    assert told.count("Press as soon as you see the start") >= 2       # before it begins, and while it goes on
    assert "match" not in told.lower()
    result = json.loads(out)
    # A press within 100 ms, as a program's is, counts as a guess.
    assert (result["error"]["starts"], result["error"]["missed"]) == (1, 0)


def test_where_nobody_can_press_it_says_so_and_ends(tmp_path):
    rig = tmp_path / "rig.toml"
    text = 'format = "tocsin-rig/1"\nname = "Bare"\ndrives_robot = false\n[light]\nport = "COM99"\n'
    rig.write_text(text, "utf-8")
    env = {**os.environ, "XDG_STATE_HOME": str(tmp_path / "state")}
    env.pop("DISPLAY", None)
    done = subprocess.run(
        [*TOCSIN, "measure", "start", "--rig", str(rig)],
        env=env, stdin=subprocess.DEVNULL, capture_output=True, text=True, timeout=60, check=False,
    )  # fmt: skip
    assert (done.returncode, "nobody can press a key here" in done.stderr) == (2, True)


@pytest.mark.skipif(bool(MISSING), reason=f"not installed: {', '.join(MISSING)}")
def test_where_a_window_asks_the_terminal_says_so_once(tmp_path):
    rig = tmp_path / "rig.toml"
    rig.write_text('format = "tocsin-rig/1"\nname = "Window"\ndrives_robot = false\n[screen]\n', "utf-8")
    with contextlib.closing(Server((640, 360))) as server:
        env = {**os.environ, "XDG_STATE_HOME": str(tmp_path / "state"), "DISPLAY": server.name}
        process = subprocess.Popen(
            [*TOCSIN, "measure", "start", "--rig", str(rig)],
            env=env, stdin=subprocess.DEVNULL, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True,
        )  # fmt: skip
        try:
            assert process.stdout.readline() == "The window asks.\n"
            process.send_signal(signal.SIGINT)
            out, _ = process.communicate(timeout=30)
        finally:
            process.kill()
            process.wait(10)
    assert process.returncode == 130
    assert "The window asks." not in out
