"""The bench file (``TOCSIN_BENCH``) that plugs virtual pads into a rumble worker, and logs what their motors do.

``TOCSIN_BENCH_SCENARIO``: a JSON file, a list of ``{"at_ms": 0, "do": "attach", "pad": "a", "usb": "045e:028e", "name":
"Pad A"}``; ``do`` is attach, detach, press or release (with ``button``); ``at_ms`` counts from the worker's opening. A
worker that was started again begins the scenario anew, as real pads would still be plugged in.
``TOCSIN_BENCH_CONTROL``: a file to which a test appends the same entries as JSON lines; they are done at once.
``TOCSIN_BENCH_LOG``: a file that gets a JSON line for each call of a pad's motors: pad, low, high, at_ns.
"""

import json
import os
import sys
import time
from pathlib import Path

here = os.environ["TOCSIN_BENCH"]
sys.path.insert(0, str(Path(here).resolve().parent))
# The folder is known only now.
from virtual_pad import VirtualPads  # noqa: E402

scenario_path = os.environ.get("TOCSIN_BENCH_SCENARIO")
control_path = os.environ.get("TOCSIN_BENCH_CONTROL")
log_path = os.environ.get("TOCSIN_BENCH_LOG")
state: dict = {"pads": None, "opened_ns": 0, "todo": [], "read": 0}


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
    if control_path and Path(control_path).exists() and Path(control_path).stat().st_size > state["read"]:
        with Path(control_path).open("rb") as file:
            file.seek(state["read"])
            for line in file:
                if line.endswith(b"\n"):
                    state["read"] += len(line)
                    do(json.loads(line))


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
    if log_path:
        with Path(log_path).open("a", encoding="utf-8") as file:
            file.write(json.dumps({"pad": pad, "low": low, "high": high, "at_ns": time.perf_counter_ns()}) + "\n")
