"""A process of its own with the rumble channel and SDL's virtual pads. Runs a list of deeds from stdin.

The time that the channel is told is counted, not measured: "run" lets it pass in ticks, so what the motors are told is
exact on any machine. Deeds: ["attach", pad, usb, name, motors, ms that its driver takes], ["detach", pad],
["press"/"release", pad, button], ["tilt", pad, axis], ["open"], ["fire", role, pattern, no, {facts of the shot}],
["end", no], ["run", ms], ["command", verb], ["safe"], ["close"], ["window"] opens one that has no focus.
Stdin: {"pads": the rig's, "deeds": [...]}. Stdout: {"events", "shown", "motors": {pad: [[ms, low, high], ...]}}.
"""

import json
import sys

import msgspec

from tests.support.bench.virtual_pad import VirtualPads
from tests.support.channels.channel_shots import loaded, shot
from tocsin import monotime
from tocsin.channels.rumble.channel import RumbleChannel
from tocsin.config.load import load
from tocsin.model.pattern import lasts_ns
from tocsin.model.rig import Pad, Rig
from tocsin.units import NS_PER_MS, NS_PER_S

START_NS = 1000 * NS_PER_S


class Child:
    """The channel, its pads and the counted time."""

    def __init__(self, pads):
        self.patterns = load(None, ["full"], "nothing").plans[0].plan.patterns
        self.channel = RumbleChannel(Rig(name="Test", pads=pads))
        self.now_ns = START_NS
        self.plugs, self.shots = None, {}
        self.answers = {"events": [], "shown": [], "motors": {}}

    def do(self, verb, *facts):
        getattr(self, f"do_{verb}")(*facts)

    def do_open(self):
        self.note(self.channel.open(self.now_ns))
        loaded(self.channel, self.patterns)
        if self.channel.rig.pads:
            self.plugs = VirtualPads()

    def do_attach(self, pad, usb="1209:0001", name="Grip", motors=True, driver_ms=0):
        told = self.answers["motors"].setdefault(pad, [])

        def on_rumble(low, high):
            monotime.sleep_ns(driver_ms * NS_PER_MS)
            told.append([(self.now_ns - START_NS) // NS_PER_MS, low, high])

        self.plugs.attach(pad, usb, name, on_rumble if motors else None)
        self.do_run(0)

    def do_detach(self, pad):
        self.plugs.detach(pad)

    def do_press(self, pad, button):
        self.plugs.press(pad, button, True)
        self.do_run(0)

    def do_release(self, pad, button):
        self.plugs.press(pad, button, False)
        self.do_run(0)

    def do_tilt(self, pad, axis):
        self.plugs.tilt(pad, axis, 30_000)
        self.do_run(0)

    def do_window(self):
        pygame = sys.modules["pygame"]
        pygame.display.set_mode((200, 100))

    def do_fire(self, role, pattern, no, facts):
        begin_ns = self.now_ns - facts.get("late_ms", 0) * NS_PER_MS
        end_ms = facts.get("end_ms", lasts_ns(self.patterns.rumble[pattern]) // NS_PER_MS)
        self.shots[no] = shot(
            pattern, begin_ns, None if end_ms is None else begin_ns + end_ms * NS_PER_MS, no=no, channel="rumble",
            role=role, priority=facts.get("priority", 5), sustained=facts.get("sustained", False),
            resumed=facts.get("resumed", False),
        )  # fmt: skip
        shown = self.channel.fire(self.shots[no], self.now_ns)
        self.answers["shown"].append([shown.outcome, shown.why, list(shown.by)])

    def do_end(self, no):
        self.channel.end(self.shots[no], self.now_ns)

    def do_run(self, ms):
        until_ns = self.now_ns + ms * NS_PER_MS
        self.note(self.channel.tick(self.now_ns))
        while self.now_ns < until_ns:
            wake_ns = self.channel.next_ns(self.now_ns)
            wake_ns = max(wake_ns or 0, self.now_ns + NS_PER_MS) if wake_ns is not None else until_ns
            self.now_ns = min(wake_ns, self.now_ns + self.channel.tick_ns, until_ns)
            self.note(self.channel.tick(self.now_ns))

    def do_command(self, verb):
        self.note(self.channel.command(verb, self.now_ns))

    def do_safe(self):
        self.channel.make_safe(self.now_ns)

    def do_close(self):
        self.channel.close()

    def note(self, events):
        self.answers["events"] += [[e.kind, e.what, e.state, e.name, e.why] for e in events]


def main():
    asked = json.loads(sys.stdin.read())
    child = Child(msgspec.convert(asked["pads"], tuple[Pad, ...]))
    for deed in asked["deeds"]:
        child.do(*deed)
    print(json.dumps(child.answers))


main()
