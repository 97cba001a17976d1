"""The worker's own loop, with a device that only notes what it is told: what is read when, and how it ends."""

import json
import os
import threading
from collections import Counter

import pytest

from tests.support.runner.workers_made import firing, load, origins, timeline_of
from tocsin import monotime
from tocsin.channels.device import Channel, Event, ShotResult
from tocsin.model.display.status import Status
from tocsin.model.pattern import Patterns
from tocsin.model.rig import Rig
from tocsin.pipe import Inbox, LineWriter
from tocsin.units import NS_PER_MS, NS_PER_S
from tocsin.workers.bench import Bench
from tocsin.workers.main import WorkerLoop
from tocsin.workers.protocol import Load, NewOrigins, Safe, ShowStatus, encode, is_urgent


class Noted(Channel):
    """A device that is always there unless ``state`` says otherwise, and notes what it is told."""

    name = "light"
    tick_ns = 10 * NS_PER_MS

    def __init__(self, state="ready", safe_after=0):
        super().__init__(Rig(name="Noted"))
        self.state = state
        self.fired = []
        self.statuses = 0
        self.made_safe = 0
        self.closed = False
        self._safe_after = safe_after

    def open(self, now_ns):
        return [Event(kind="device", at_ns=now_ns, state=self.state)]

    def load(self, timeline, patterns):
        pass

    def make_safe(self, now_ns):
        self.made_safe += 1
        return self.made_safe > self._safe_after

    def fire(self, shot, now_ns):
        self.fired.append(shot)
        return ShotResult(outcome="played")

    def end(self, shot, now_ns):
        pass

    def show_status(self, status, now_ns):
        self.statuses += 1

    def tick(self, now_ns):
        return []

    def close(self):
        self.closed = True


class Lines:
    """What a worker reads and says, without pipes: what is said to it is there with its next turn."""

    def __init__(self):
        self.ended = self.broken = False
        self._to_read = []
        self.said = []

    def say(self, *messages):
        self._to_read += map(encode, messages)

    def end(self):
        self.ended = True

    def take(self):
        lines, self._to_read = self._to_read, []
        return lines

    def any(self, wanted):
        return any(map(wanted, self._to_read))

    def send(self, line, *, droppable=False):
        self.said.append(json.loads(line))


def served(channel, each, *, inherited=False):
    """Run a worker on the device; ``each(lines, tick)`` is called with every tick. Return whether it was left safe, and
    what it said."""
    lines = Lines()
    ticks = Counter()

    def tick(owner, now_ns):
        ticks["all"] += 1
        each(lines, ticks["all"])

    worker = WorkerLoop(channel, lines, lines, Bench(tick=tick), inherited=inherited)
    return worker.run(), lines.said


def closely():
    """Return what lets a cue begin every 4 ms for half a minute, from now on: it is never quiet."""
    firings = [firing(no, no * 0.004, late_ms=5000) for no in range(7500)]
    return load(*firings), origins(monotime.now_ns())


@pytest.mark.parametrize("message", [NewOrigins((), "", 1), Safe()], ids=["hold", "safe"])
def test_a_hold_reaches_a_worker_whose_cues_follow_closely_within_a_turn(message):
    """It used to be read once it was quiet, seconds later."""
    channel, at = Noted(), {}

    def each(lines, tick):
        if tick == 1:
            lines.say(*closely())
        if len(channel.fired) >= 20 and "told" not in at:
            at["told"] = tick
            lines.say(message)
        if "told" in at and tick == at["told"] + 1:
            at["fired"], at["safe"] = len(channel.fired), channel.made_safe
        if "told" in at and tick == at["told"] + 20:
            at["end"] = len(channel.fired)
            lines.end()

    served(channel, each)
    assert at["safe"] or at["end"] == at["fired"]


def test_what_takes_long_to_read_waits_for_a_quiet_moment_but_not_for_ever():
    channel, at = Noted(), {}

    def each(lines, tick):
        if tick == 1:
            lines.say(*closely())
        if len(channel.fired) >= 20 and "shown" not in at:
            at["shown"] = monotime.now_ns()
            lines.say(ShowStatus(Status(phase="running")))
        if channel.statuses and "end" not in at:
            at["end"] = monotime.now_ns()
            lines.end()

    served(channel, each)
    assert at["end"] - at["shown"] > 250 * NS_PER_MS


def test_only_what_must_not_wait_is_urgent():
    big = load(*(firing(no, no) for no in range(50)))
    assert [is_urgent(encode(message)) for message in (origins(0), Safe(), big)] == [True, True, False]


def test_reports_carry_the_run_that_they_are_of_and_origins_of_another_run_move_nothing():
    channel, at = Noted(), {}
    now_ns = monotime.now_ns()

    def each(lines, tick):
        if tick == 1:
            lines.say(Load(timeline_of([firing(0, 0, late_ms=60_000)]), Patterns(), 7), origins(now_ns, run=6))
        if tick == 30:
            assert not channel.fired
            lines.say(origins(now_ns, run=7))
        if channel.fired and "end" not in at:
            at["end"] = True
            lines.end()

    _, said = served(channel, each)
    assert [line["run"] for line in said if line["type"] == "fired"] == [7]


def test_a_timeline_is_ready_once_what_was_sent_behind_it_has_been_done():
    """What fell due before is recorded first: whoever hears of ready counts on the next firing."""
    channel = Noted()
    begin_ns = monotime.now_ns() - 10 * NS_PER_S

    def each(lines, tick):
        if tick == 1:
            lines.say(load(firing(0, 1)), origins(begin_ns))
        if tick == 10:
            lines.end()

    _, said = served(channel, each)
    assert [line["type"] for line in said if line["type"] in ("fired", "loaded")] == ["fired", "loaded"]


# -- the end

def at_once(lines, tick):
    if tick == 1:
        lines.end()


def test_a_worker_makes_its_device_safe_before_it_ends():
    channel = Noted()
    safe, _ = served(channel, at_once)
    assert safe
    assert channel.made_safe
    assert channel.closed


def test_a_device_that_cannot_be_reached_at_once_is_looked_for():
    channel = Noted("absent", safe_after=4)
    safe, _ = served(channel, at_once, inherited=True)
    assert safe
    assert channel.made_safe == 5


@pytest.mark.parametrize(("state", "inherited"), [("absent", True), ("lost", False)])
def test_a_driven_device_that_never_comes_back_is_told_after_two_seconds(state, inherited):
    began_ns = monotime.now_ns()
    safe, _ = served(Noted(state, safe_after=1 << 30), at_once, inherited=inherited)
    assert not safe
    assert monotime.now_ns() - began_ns >= 2 * NS_PER_S


def test_nobody_waits_for_a_device_that_was_never_there():
    channel = Noted("absent", safe_after=1 << 30)
    safe, _ = served(channel, at_once)
    assert safe
    assert channel.made_safe == 1


class Calm(Noted):
    """A device that by itself never wants another tick."""

    tick_ns = 3600 * NS_PER_S


@pytest.mark.parametrize("message", [ShowStatus(status=Status(phase="standby")), Safe()])
def test_a_message_wakes_a_worker_that_has_nothing_to_do(message):
    """It would wait for an hour otherwise, for the message as well as for its end."""
    to_worker, of_conductor = os.pipe()
    nowhere = os.open(os.devnull, os.O_WRONLY)
    channel, inbox, writer = Calm(), Inbox(to_worker, "in"), LineWriter(nowhere, "out")

    def say():
        os.write(of_conductor, encode(message))
        while not (channel.statuses or channel.made_safe):
            monotime.sleep_ns(NS_PER_MS)
        os.close(of_conductor)

    threading.Thread(target=say, daemon=True).start()
    try:
        assert WorkerLoop(channel, inbox, writer, Bench()).run()
        assert (channel.statuses, channel.made_safe) == ((1, 1) if isinstance(message, ShowStatus) else (0, 2))
    finally:
        writer.finish(timeout_s=1)
        os.close(nowhere)
        os.close(to_worker)
