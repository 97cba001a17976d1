"""A match on devices of packages: a strip and a shaker on the loopback, and a loudspeaker that must lose nothing."""

from tests.support.packages.installing import Board
from tests.support.stands.stand import Run, firings, wait_for

RIG = """
format = "tocsin-rig/1"
name = "Rope"
drives_robot = false
[[pad]]
role = "driver"
device = "belt"
strength = 0.5
[light]
device = "rope"
leds = 4
max_ma = 120
[sound]
"""
GAME = """
format = "tocsin-game/1"
name = "Last seconds"
[[period]]
id = "driver"
kind = "driver"
title = "Driver"
lasts = "16s"
"""
PLAN = """
format = "tocsin-plan/1"
name = "Last cues"
game = "last_seconds.toml"
[[cue]]
id = "home"
at = "match.begin+1s"
until = "match.end"
light = "white"
rumble = "long"
sound = "tick"
for = ["driver"]
priority = 5
late_limit = "10s"
[[cue]]
id = "count"
at = "match.begin+2s"
every = "1s"
until = "match.end"
sound = "tick"
priority = 8
[pattern.light.white]
form = "on_off"
colours = ["white"]
cycle = "100ms"
lasts = "3s"
[pattern.rumble.long]
steps = [{ strong = 1.0, weak = 0.5, lasts = "300ms" }, { strong = 0.0, weak = 0.0, lasts = "300ms" }]
times = 16
"""


class Match:
    """A match of sixteen seconds whose light blinks ten times a second, if somebody lets it."""

    def __init__(self, folder, env, naughty=None, rate="1"):
        self.strip, self.belt = Board(), Board()
        (folder / "last_seconds.toml").write_text(GAME, "utf-8")
        (folder / "last_cues.toml").write_text(PLAN, "utf-8")
        (folder / "rig.toml").write_text(RIG, "utf-8")
        self._naughty = folder / "naughty"
        self._naughty.mkdir()
        for hook, how in (naughty or {}).items():
            self.naughty(hook, how)
        env |= {"ROPE": self.strip.address, "BELT": self.belt.address, "NAUGHTY": str(self._naughty)}
        plan = str(folder / "last_cues.toml")
        self.run = Run(folder, "--plan", plan, "--start", "now", "--rate", rate, rig=str(folder / "rig.toml"), env=env)
        wait_for(lambda: self.run.records() or self.run.process.poll() is not None)

    def naughty(self, hook, *words):
        """Let the package do that in a hook from now on."""
        new = self._naughty / f"{hook}.new"
        new.write_text(" ".join(words), "utf-8")
        new.rename(self._naughty / hook)

    def ended(self):
        """Wait for the end; nothing of the other channels may be missing."""
        code, summary, err = self.run.finish()
        self.strip.close()
        self.belt.close()
        assert summary.get("outcome") == "over", err
        sound = summary["channels"]["sound"]
        assert (sound["failed"], sound["skipped"], sound["restarts"]) == (0, 0, 0)
        assert {r["cue"] for r in firings(self.run.records(), "sound", "played")} == {"home", "count"}
        return code, summary, err

    def faults(self, channel):
        """Return a channel's faults so far."""
        return [r for r in self.run.records() if r["kind"] == "fault" and r["channel"] == channel]
