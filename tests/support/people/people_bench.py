"""The bench file (``TOCSIN_BENCH``) with one pad in people's hands: a test says when which button goes down or up.

``TOCSIN_BENCH_CONTROL``: a file to which a test appends ``{"button": 0, "down": true, "at_ns": 0}`` as JSON lines;
``at_ns`` is a time on the shared clock, and what has passed is done at once.
``TOCSIN_BENCH_LOG``: a file that gets each of them once SDL has told of it, with ``at_ns`` as the time of the worker's
turn that heard it. That is when these people pressed, as far as anything outside of them can know.
"""

import json
import os
import sys
from pathlib import Path

sys.path.insert(0, str(Path(os.environ["TOCSIN_BENCH"]).resolve().parents[3]))
# Known only now.
from tests.support.bench.virtual_pad import VirtualPads

PAD = "people"
LOOK_NS = 10_000_000                   # how often the control file is looked at: each look costs a system call
state = {"pads": None, "todo": [], "pressed": [], "read": 0, "look_ns": 0}


def opened(channel, now_ns):
    """Plug the pad in."""
    if channel.name != "rumble":
        return
    state["pads"] = VirtualPads()
    state["pads"].attach(PAD, "1209:0001", "Pad of the scribe", lambda low, high: None)
    control = Path(os.environ["TOCSIN_BENCH_CONTROL"])
    state["read"] = control.stat().st_size if control.exists() else 0          # what an earlier worker has done


def tick(channel, now_ns):
    """Press what is due. The channel has polled SDL in this turn already: it heard what was pressed in the last one."""
    if state["pads"] is None:
        return
    heard, state["pressed"] = state["pressed"], []
    if heard:
        with Path(os.environ["TOCSIN_BENCH_LOG"]).open("a", encoding="utf-8") as log:
            log.writelines(json.dumps({**entry, "at_ns": now_ns}) + "\n" for entry in heard)
    if now_ns >= state["look_ns"]:
        state["look_ns"] = now_ns + LOOK_NS
        _read(Path(os.environ["TOCSIN_BENCH_CONTROL"]))
    for entry in [entry for entry in state["todo"] if entry["at_ns"] <= now_ns]:
        if entry["button"] not in [other["button"] for other in state["pressed"]]:      # SDL keeps one state a turn
            state["todo"].remove(entry)
            state["pads"].press(PAD, entry["button"], entry["down"])
            state["pressed"].append(entry)


def _read(control):
    if control.exists() and control.stat().st_size > state["read"]:
        with control.open("rb") as file:
            file.seek(state["read"])
            for line in file:
                if line.endswith(b"\n"):
                    state["read"] += len(line)
                    state["todo"].append(json.loads(line))
        state["todo"].sort(key=lambda entry: entry["at_ns"])
