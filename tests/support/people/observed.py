"""A whole run with all four channels on real parts, and everything that their devices saw of it."""

from collections.abc import Iterator
from pathlib import Path
from typing import Any, NamedTuple

import psutil

from tests.support.stands.camera import Camera, Picture, Server
from tests.support.stands.loudspeaker import Loudspeaker, Tone
from tests.support.stands.stand import LEDS, Pads, Run, Strip, gone
from tests.support.stands.strip_look import Frame
from tests.support.stands.timetable import Due, Span, Timetable
from tocsin.units import NS_PER_MS

SIZE = (1280, 720)
ROLES = {"driver": "a", "operator": "b", "coach": "c"}         # and the pads that they hold
# Larger than those of real devices, so that it is seen if one is not taken off.
LATENCY_MS = {"driver": 80, "operator": 80, "coach": 60, "light": 60, "sound": 70, "screen": 60}
# Small blocks for the sound: ticks that follow each other closely are then not cut by a block's length.
RIG = """
format = "tocsin-rig/1"
name = "Everything"
drives_robot = false
priority = "realtime"
{pads}
[light]
port = "{port}"
leds = {leds}
max_ma = 5000
latency_ms = {light}
[sound]
buffer = 256
latency_ms = {sound}
[screen]
fullscreen = true
latency_ms = {screen}
"""
PAD = """
[[pad]]
role = "{role}"
order = {order}
latency_ms = {latency_ms}
"""
FULL_NS = 1_500 * NS_PER_MS            # so long a cue takes the full field (design, "Look and sound")
_WITH_FIELD = ("prepare", "home", "no_touch", "choose")
_SHORTEST_NS = 900 * NS_PER_MS         # of what can surely be caught in a picture on a busy machine


class Phase(NamedTuple):
    """Between two times the screen shows a cue's full field or its frame, or with no cue the face alone."""

    due: Due | None
    full: bool
    begins_ns: int
    ends_ns: int

    @property
    def name(self) -> str:
        """What it is called in the name of a picture's file."""
        if self.due is None:
            return "face"
        return f"{self.due.cue}-{self.due.n}-{'field' if self.full else 'frame'}"


class Observed(NamedTuple):
    """What a run told, and what its devices saw. Times are of the shared clock in nanoseconds."""

    code: int
    summary: dict[str, Any]
    err: str
    records: list[dict[str, Any]]
    timetable: Timetable
    motors: dict[str, list[tuple[int, int, int]]]              # by role: time, low, high
    frames: list[tuple[int, Frame]]
    garbage: int
    tones: list[Tone]
    loudspeaker: Loudspeaker
    pictures: list[tuple[Phase, Picture]]
    left_over: list[psutil.Process]


def observe(folder: Path, name: str, *arguments: str) -> Observed:
    """Run a match on pads, strip, loudspeaker and screen, from beginning to end; ``name`` is for its pictures."""
    strip, pads = Strip(folder), Pads(folder, tuple(ROLES.values()))
    server = Server(SIZE)
    camera, loudspeaker = Camera(server, name), Loudspeaker(folder / "sound.pcm")
    env = {**pads.env, "DISPLAY": server.name}
    run = Run(folder, "--start", "now", *arguments, rig=_rig(folder, strip), env=env)
    try:
        run.await_record(kind="origin")
        timetable = Timetable(run.records())
        processes = psutil.Process(run.pid).children(recursive=True)
        phases = [phase for phase in screen_phases(timetable) if phase.ends_ns - phase.begins_ns >= _SHORTEST_NS]
        for phase in phases:
            # Nearly in its middle, with a little more time after it: a picture takes a while on a busy machine.
            camera.take(phase.name, phase.begins_ns + (phase.ends_ns - phase.begins_ns) * 45 // 100)
        code, summary, err = run.finish()
        camera.keep()
    finally:
        loudspeaker.stop()
        server.close()
        if run.process.poll() is None:
            run.kill()
    gone(processes)
    return Observed(
        code, summary, err, run.records(), timetable, {role: pads.motors(pad) for role, pad in ROLES.items()},
        strip.frames, strip.garbage, loudspeaker.tones(), loudspeaker,
        list(zip(phases, camera.pictures, strict=True)), [process for process in processes if process.is_running()],
    )  # fmt: skip


def screen_phases(timetable: Timetable) -> Iterator[Phase]:
    """Yield what the screen shows, in order, from the start until all has rung out."""
    for span in timetable.spans("screen"):
        yield from _phases(span)


def _phases(span: Span) -> Iterator[Phase]:
    due = span.due
    begins_ns = span.begins_ns
    if due is not None and due.pattern in _WITH_FIELD:
        full_until_ns = min(due.lands_ns + FULL_NS, span.ends_ns)
        if begins_ns < full_until_ns:
            yield Phase(due, True, begins_ns, full_until_ns)
            begins_ns = full_until_ns
    if begins_ns < span.ends_ns:
        yield Phase(due, False, begins_ns, span.ends_ns)


def _rig(folder: Path, strip: Strip) -> str:
    pads = [PAD.format(role=role, order=n, latency_ms=LATENCY_MS[role]) for n, role in enumerate(ROLES, 1)]
    text = RIG.format(pads="".join(pads), port=strip.link, leds=LEDS, **LATENCY_MS)
    path = folder / "rig.toml"
    path.write_text(text, "utf-8")
    return str(path)
