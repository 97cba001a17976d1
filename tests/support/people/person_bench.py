"""The bench file (``TOCSIN_BENCH``) with a pad in the hands of one person who answers signals after known times.

The person feels the pad's motors here, and is told of what lights up by datagrams to the port that stands in
``TOCSIN_BENCH_PORT``: 8 bytes, the time in ns at which it was seen, little endian. What comes within 0.9 s of a sight
belongs to the same signal. ``TOCSIN_BENCH_PERSON``: a JSON list with an entry a signal, a list of milliseconds after
the sight at which button 0 goes down; it comes up 60 ms later.
``TOCSIN_BENCH_LOG``: a file that gets ``{"signal": 0, "ms": 250.0, "seen_ns": 0, "pressed_ns": 0}`` for each press, the
latter the time just before SDL is told. A thread presses, for hands know nothing of a worker's turns.
"""

import json
import os
import socket
import struct
import sys
import threading
import time
from pathlib import Path

sys.path.insert(0, str(Path(os.environ["TOCSIN_BENCH"]).resolve().parents[3]))
# Known only now.
from tests.support.bench.virtual_pad import VirtualPads

PAD = "person"
SAME_NS = 900_000_000
HELD_NS = 60_000_000
MS = 1_000_000


class Person:
    """Sees, waits, presses. ``see`` may be called on any thread."""

    def __init__(self, pads, habits, log):
        self._pads = pads
        self._habits = habits
        self._log = log
        self._seen_ns = -SAME_NS
        self._signal = -1
        self._todo = []
        self._bell = threading.Condition()
        threading.Thread(target=self._work, daemon=True).start()

    def see(self, at_ns):
        """Notice a signal, or nothing new."""
        with self._bell:
            if at_ns - self._seen_ns < SAME_NS:
                return
            self._seen_ns = at_ns
            self._signal += 1
            habit = self._habits[self._signal] if self._signal < len(self._habits) else []
            self._todo += [(at_ns + round(ms * MS), True, self._signal, ms, at_ns) for ms in habit]
            self._todo += [(at_ns + round(ms * MS) + HELD_NS, False, self._signal, ms, at_ns) for ms in habit]
            self._todo.sort()
            self._bell.notify()

    def _work(self):
        while True:
            with self._bell:
                while not self._todo:
                    self._bell.wait()
                due_ns = self._todo[0][0]
            if (left_ns := due_ns - time.perf_counter_ns()) > 0:
                time.sleep(min(left_ns / 1e9, 0.02))
                continue
            with self._bell:
                _, down, signal, ms, seen_ns = self._todo.pop(0)
            pressed_ns = time.perf_counter_ns()
            self._pads.press(PAD, 0, down)
            if down:
                entry = {"signal": signal, "ms": ms, "seen_ns": seen_ns, "pressed_ns": pressed_ns}
                with self._log.open("a", encoding="utf-8") as log:
                    log.write(json.dumps(entry) + "\n")


def opened(channel, now_ns):
    """Plug the pad in, and listen."""
    if channel.name != "rumble":
        return
    pads = VirtualPads()
    habits = json.loads(os.environ["TOCSIN_BENCH_PERSON"])
    person = Person(pads, habits, Path(os.environ["TOCSIN_BENCH_LOG"]))
    pads.attach(PAD, "1209:0001", "Pad of the person", lambda low, high: low and person.see(time.perf_counter_ns()))
    ear = socket.socket(socket.AF_INET, socket.SOCK_DGRAM)
    ear.bind(("127.0.0.1", 0))
    Path(os.environ["TOCSIN_BENCH_PORT"]).write_text(str(ear.getsockname()[1]), "ascii")

    def listen():
        while True:
            person.see(struct.unpack("<q", ear.recv(8))[0])

    threading.Thread(target=listen, daemon=True).start()


def tick(channel, now_ns):
    """Nothing is due on the worker's own thread."""
