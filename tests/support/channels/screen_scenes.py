"""Scenes of the window for tests: every phase of the bundled full plan, and every cue of it."""

from collections import Counter
from functools import cache

import msgspec

from tocsin.channels.screen.composer import Composer
from tocsin.config.load import load
from tocsin.model.clock.origins import Origin
from tocsin.model.clock.schedule import Schedule
from tocsin.model.display.status import DeviceFact, KeyHelp, Status
from tocsin.model.display.view_model import foremost
from tocsin.model.safety import FlashGuard
from tocsin.runner.display_entry import DisplayEntry
from tocsin.runner.keymap import Keymap
from tocsin.units import NS_PER_S

LOADED = load(None, ["full"], "practice_bench")
TIMELINE, PATTERNS = LOADED.plans[0].timeline, LOADED.plans[0].plan.patterns.screen
FIRINGS = [firing for firing in TIMELINE.firings if firing.channel == "screen"]
COUNTS = Counter(firing.cue for firing in FIRINGS)
MATCH_NS = 1000 * NS_PER_S
ORIGIN = Origin(anchor="match", origin_ns=MATCH_NS)
DEVICES = (
    DeviceFact(what="driver", state="ready", text="Pad 1209:0001"),
    DeviceFact(what="operator", state="absent", text="no second pad; plug it in, or take it out of the rig"),
    DeviceFact(what="light", state="ready", text="/dev/ttyUSB0, 30 LEDs"),
    DeviceFact(what="screen", state="ready", text="1280 × 720 on display 0"),
    DeviceFact(what="sound", state="ready", text="48 kHz"),
)
LOST = tuple(
    msgspec.structs.replace(fact, state="lost", text="the port is gone; plug the controller in again")
    if fact.what in ("light", "driver")
    else fact
    for fact in DEVICES
)
RESULT = ("31 cues played, 1 skipped, none failed", "Journal: a-rather-long-folder-name/2026-01-01_10-00-00")


def status(phase, *, begun=True, **facts):
    keymap = Keymap(LOADED.rig)
    keys = keymap.keyed(
        keymap.offers(phase, waits=True, variants=True, callable_cues=["home"], besides=[("undo", "undo mark")])
    )
    given = {
        "origins": (ORIGIN,) if begun else (), "keys": keys, "devices": DEVICES, "label": "Practice 12, second field",
        "plans": ("Full", "Quiet", "Coach only"), "battery": "battery 81 %, power saver on", "awake": "kept awake",
        "error_ms": 60 if begun else None, "start": LOADED.rig.start,
        "scribe": () if phase == "over" else keymap.scribe(),
    }  # fmt: skip
    return Status(phase=phase, **{**given, **facts})


# As long as people may name what they mark, on keys with the longest names.
LONG_MARKS = tuple(
    KeyHelp(key=key, does=does, action=f"mark.{does.replace(' ', '_')}")
    for key, does in (
        ("page down or button 12 of the operator", "first contact at the far wall"), ("8", "turned and drives home"),
        ("button 6 of the scribe", "at home in full"),
    )
)  # fmt: skip
HELD_NS = MATCH_NS + 100 * NS_PER_S
TYPED = {
    "typed": "0:1_", "scribe": (),
    "keys": DisplayEntry().keys("page down or s", "a", "x"),
}  # fmt: skip
# Name, view, match seconds.
SCENES = {
    "standby": (status("standby", begun=False), 0.0),
    "standby, lost": (status("standby", begun=False, devices=LOST), 0.0),
    "standby, told": (
        status(
            "standby", begun=False, notice="sound: worker started again (1)",
            earlier=("reloaded: Full (home 1 s later)", "the laptop slept for 3.2 s: the clock was put right"),
        ),
        0.0,
    ),
    "count-in": (status("waiting"), -3.5),
    "autonomous": (status("running"), 12.3),
    "pause, full": (status("running"), 28.5),
    "pause": (status("running"), 33.2),
    "driver": (status("running"), 70.2),
    "driver, refusal": (status("running", notice="begin: refused, no period waits for a person"), 70.2),
    "driver, all keys": (status("running", all_keys=True), 70.2),
    "driver, no scribe": (status("running", scribe=()), 70.2),
    "driver, long marks": (status("running", scribe=LONG_MARKS), 70.2),
    "no touch, long marks": (status("running", scribe=LONG_MARKS), 122.5),
    "no touch, no scribe": (status("running", scribe=()), 122.5),
    "last one, full": (status("running"), 102.5),
    "last one": (status("running"), 104.5),
    "coach": (status("running"), 113.5),
    "home, full": (status("running"), 114.5),
    "home": (status("running"), 116.5),
    "no touch, full": (status("running"), 118.5),
    "no touch": (status("running"), 122.5),
    "home, full, muted": (status("running", notice="sound: muted"), 114.5),
    "no touch, marked": (status("running", notice="contact noted"), 122.5),
    "choose, full": (status("running"), 126.5),
    "last five": (status("running"), 133.3),
    "driver, typed": (status("running", **TYPED), 70.2),
    "driver, typed, refused": (
        status(
            "running", **TYPED,
            notice="0:38 of Hands on is 28 s off this clock (limit 10 s): "
            "type another one; two that agree are used",
        ),
        70.2,
    ),
    "home, full, typed": (status("running", **TYPED), 114.5),
    "no touch, typed": (status("running", **TYPED), 122.5),
    "over": (status("running"), 136.5),
    "settle": (status("running"), 138.5),
    "lost": (status("running", devices=LOST, notice="light lost"), 75.0),
    "no touch, lost": (status("running", devices=LOST), 122.5),
    "held": (status("held", held_ns=HELD_NS), 100.0),
    "outside": (status("over", result=RESULT, keeps_out=True, outside_until_ns=MATCH_NS + 152 * NS_PER_S), 150.0),
    "result": (status("over", result=RESULT, keeps_out=True), 150.0),
    "scrapped": (status("scrapped", begun=False), 0.0),
}
SIZES = [(640, 360), (1280, 720), (3840, 2160), (720, 1280), (2160, 3840)]


@cache
def showing(seconds):
    """Return the cue that shows at a match time, as a schedule fires it."""
    schedule = Schedule(FIRINGS, [segment.anchor for segment in TIMELINE.segments])
    schedule.set_origin(ORIGIN)
    live = {}
    for tick in range(round(seconds * 20) + 1):
        for order in schedule.due(MATCH_NS + tick * NS_PER_S // 20):
            if order.verb in ("begin", "resume", "change"):
                live[order.shot.key] = order.shot
            elif order.verb == "end":
                live.pop(order.shot.key, None)
    now_ns = MATCH_NS + round(seconds * NS_PER_S)
    return foremost(shot for shot in live.values() if shot.end_ns is None or shot.end_ns > now_ns)


def composer(measure, patterns=PATTERNS):
    made = Composer(measure)
    made.load(TIMELINE, patterns, COUNTS)
    return made


@cache
def look_at(scene, size, measure, *, focused=True):
    """Return the look of a scene, as it would stand alone: no flash before it."""
    shown, seconds = SCENES[scene]
    shot = showing(seconds) if shown.phase == "running" else None
    now_ns = MATCH_NS + round(seconds * NS_PER_S)
    return composer(measure).look(shown, shot, FlashGuard(8), size, now_ns, 0, focused=focused)
