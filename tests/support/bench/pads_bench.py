"""The bench file (``TOCSIN_BENCH``) that plugs virtual pads into a rumble worker, and logs what their motors do.

``TOCSIN_BENCH_SCENARIO``: a JSON file, a list of ``{"at_ms": 0, "do": "attach", "pad": "a", "usb": "1209:0001", "name":
"Pad A"}``; ``do`` is attach, detach, press or release (with ``button``); ``at_ms`` counts from the worker's opening. A
worker that was started again begins the scenario anew, as real pads would still be plugged in.
``TOCSIN_BENCH_CONTROL``: a file to which a test appends the same entries as JSON lines; they are done at once, but a
button that went down and up within one look comes up a turn later: SDL would see neither, where a driver queues both.
``TOCSIN_BENCH_LOG``: a file that gets a JSON line for each call of a pad's motors: pad, low, high, at_ns.
"""

import json
import os
import sys
import time
from pathlib import Path

here = os.environ["TOCSIN_BENCH"]
sys.path.insert(0, str(Path(here).resolve().parents[3]))
# The folder is known only now.
from tests.support.bench.virtual_pad import VirtualPads  # noqa: E402

scenario_path = os.environ.get("TOCSIN_BENCH_SCENARIO")
control_path = os.environ.get("TOCSIN_BENCH_CONTROL")
log_path = os.environ.get("TOCSIN_BENCH_LOG")
CONTROL_NS = 20_000_000                # how often the control file is looked at: each look costs a system call
state: dict = {"pads": None, "opened_ns": 0, "todo": [], "read": 0, "look_ns": 0}
# Opened once and written whole lines at a time: the motors' calls are timed, and this runs inside them.
log_file = os.open(log_path, os.O_WRONLY | os.O_APPEND | os.O_CREAT, 0o644) if log_path else None


def opened(channel, now_ns):
    """Plug in what the scenario has at the begin."""
    if channel.name != "rumble":
        return
    state["pads"] = VirtualPads()
    state["opened_ns"] = now_ns
    if scenario_path:
        state["todo"] = sorted(json.loads(Path(scenario_path).read_text("utf-8")), key=lambda entry: entry["at_ms"])
    if control_path and Path(control_path).exists():
        state["read"] = Path(control_path).stat().st_size          # what an earlier worker has done
    tick(channel, now_ns)


def tick(channel, now_ns):
    """Do what is due."""
    if state["pads"] is None:
        return
    while state["todo"] and now_ns - state["opened_ns"] >= state["todo"][0]["at_ms"] * 1_000_000:
        do(state["todo"].pop(0))
    if control_path is None or now_ns < state["look_ns"]:
        return
    state["look_ns"] = now_ns + CONTROL_NS
    control = Path(control_path)
    pressed = set()
    if control.exists() and control.stat().st_size > state["read"]:
        with control.open("rb") as file:
            file.seek(state["read"])
            for line in file:
                if not line.endswith(b"\n"):
                    break
                entry = json.loads(line)
                button = entry["pad"], entry.get("button")
                if entry["do"] == "release" and button in pressed:
                    state["look_ns"] = now_ns              # the rest in the next turn, after SDL's pump
                    break
                if entry["do"] == "press":
                    pressed.add(button)
                state["read"] += len(line)
                do(entry)


def do(entry):
    """Carry an entry out."""
    pads, pad = state["pads"], entry["pad"]
    match entry["do"]:
        case "attach":
            pads.attach(pad, entry["usb"], entry["name"], lambda low, high: log(pad, low, high))
        case "detach":
            pads.detach(pad)
        case "press" | "release":
            pads.press(pad, entry["button"], entry["do"] == "press")


def log(pad, low, high):
    """Write what the motors are told."""
    at_ns = time.perf_counter_ns()
    if log_file is not None:
        os.write(log_file, b'{"pad": "%s", "low": %d, "high": %d, "at_ns": %d}\n' % (pad.encode(), low, high, at_ns))
