"""Devices that packages bring, in real matches: installed distributions, real workers, boards on the loopback."""

import pytest

from tests.support.packages.installing import Board, install_example, install_naughty, most_flashes
from tests.support.stands.stand import Run, firings

pytestmark = pytest.mark.devices

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
lasts = "12s"
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
times = 8
"""


@pytest.fixture
def board():
    boards = []

    def make():
        boards.append(Board())
        return boards[-1]

    yield make
    for one in boards:
        one.close()


class Match:
    """A match of twelve seconds whose light blinks ten times a second, if somebody lets it."""

    def __init__(self, folder, env, board):
        self.strip, self.belt = board(), board()
        (folder / "last_seconds.toml").write_text(GAME, "utf-8")
        (folder / "last_cues.toml").write_text(PLAN, "utf-8")
        (folder / "rig.toml").write_text(RIG, "utf-8")
        self.said = folder / "naughty.txt"
        self.said.write_text("", "utf-8")
        env |= {"ROPE": self.strip.address, "BELT": self.belt.address, "NAUGHTY": str(self.said)}
        plan = str(folder / "last_cues.toml")
        self.run = Run(folder, "--plan", plan, "--start", "now", rig=str(folder / "rig.toml"), env=env)

    def naughty(self, *words):
        """Let the package do that from now on."""
        self.said.write_text(" ".join(words), "utf-8")

    def ended(self):
        """Wait for the end; nothing of the other channels may be missing."""
        code, summary, err = self.run.finish()
        assert summary.get("outcome") == "over", err
        sound = summary["channels"]["sound"]
        assert (sound["failed"], sound["skipped"], sound["restarts"]) == (0, 0, 0)
        assert {r["cue"] for r in firings(self.run.records(), "sound", "played")} == {"home", "count"}
        return code, summary, err

    def faults(self, channel):
        return [r for r in self.run.records() if r["kind"] == "fault" and r["channel"] == channel]


def test_the_notes_example_is_seen_and_felt_in_a_match_below_guard_and_limit(tmp_path, board):
    match = Match(tmp_path, install_example(tmp_path), board)
    code, summary, err = match.ended()
    assert code == 0, err
    assert summary["channels"]["light"]["played"] == summary["channels"]["rumble"]["played"] == 1
    frames = match.strip.frames
    assert {len(colours) for _, colours in frames} == {4}
    # 4 LEDs at full white take 240 mA (20 mA a colour, WS2812B's datasheet); 120 are allowed.
    assert {max(map(max, colours)) for _, colours in frames} == {0, 127}
    assert match.strip.black
    assert {(strong, weak) for _, strong, weak, _ in match.belt.shakes} == {(0.5, 0.25), (0, 0)}
    assert all(300 <= ms <= 400 for _, strong, _, ms in match.belt.shakes if strong)
    assert match.belt.shakes[-1][1:] == (0, 0, 0)
    header = match.run.records()[0]
    assert header["packages"] == {"rope": "rope-light 1.0", "belt": "rope-light 1.0"}
    names = {r["channel"]: r["name"] for r in match.run.records() if r["kind"] == "device" and r["state"] == "ready"}
    assert names["light"] == "rope (rope-light 1.0), 4 LEDs"
    assert names["rumble"] == "belt (rope-light 1.0)"


SAID = {
    "raise": "ZeroDivisionError: the rope has no end",
    "exit": "SystemExit: I am done",
    "die": "worker ended with exit code 7",
    "hang": "stands still: killed",
    "burn": "uses the processor",
}


@pytest.mark.parametrize("how", SAID)
@pytest.mark.parametrize("hook", ["write", "feel", "lit"])
def test_what_a_strips_package_breaks_is_its_worker_alone(tmp_path, board, hook, how):
    match = Match(tmp_path, install_naughty(tmp_path), board)
    match.run.await_record(kind="firing", channel="light", cue="home", outcome="played")
    match.naughty(hook, how)
    match.run.await_record(kind="fault", channel="light", what="restarted")
    match.run.await_record(kind="firing", channel="light", cue="home", outcome="resumed")
    _, summary, _ = match.ended()
    assert summary["channels"]["light"]["restarts"] == 1
    assert any(SAID[how] in f"{r['what']} {r['why']}" for r in match.faults("light"))
    if how in ("raise", "exit"):
        hook = "write" if hook == "lit" else hook
        assert any(f"rope (naughty 0.1) failed in '{hook}'" in r["what"] for r in match.faults("light"))
    assert most_flashes(match.strip.frames) <= 2
    assert match.strip.black


def test_a_package_that_crashes_whenever_it_is_lit_cannot_make_tocsin_flash(tmp_path, board):
    match = Match(tmp_path, install_naughty(tmp_path), board)
    match.naughty("lit", "raise", "always")
    match.ended()
    frames = match.strip.frames
    assert sum(max(map(max, colours)) > 0 for _, colours in frames) >= 3, "it was tried again"
    assert most_flashes(frames) <= 2
