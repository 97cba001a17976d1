"""Devices that packages bring, in real matches: installed distributions, real workers, boards on the loopback."""

import re

import pytest

from tests.support.packages.installing import Board, install_example, install_naughty, most_flashes
from tests.support.stands.stand import Run, firings, wait_for

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
    """A match of sixteen seconds whose light blinks ten times a second, if somebody lets it."""

    def __init__(self, folder, env, board, naughty=None, rate="1"):
        self.strip, self.belt = board(), board()
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
        assert summary.get("outcome") == "over", err
        sound = summary["channels"]["sound"]
        assert (sound["failed"], sound["skipped"], sound["restarts"]) == (0, 0, 0)
        assert {r["cue"] for r in firings(self.run.records(), "sound", "played")} == {"home", "count"}
        return code, summary, err

    def faults(self, channel):
        return [r for r in self.run.records() if r["kind"] == "fault" and r["channel"] == channel]


def test_the_notes_example_is_seen_and_felt_in_a_match_below_guard_and_limit(tmp_path, board):
    match = Match(tmp_path, install_example(tmp_path), board, rate="3")
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



def restarted(match, channel, times):
    """Wait until a channel's worker was started again that often and plays on what holds."""
    wait_for(lambda: sum(r["what"] == "restarted" for r in match.faults(channel)) == times)
    wait_for(lambda: len(firings(match.run.records(), channel, "resumed")) == times)


def test_what_packages_break_is_their_own_worker_which_is_told_and_started_again(tmp_path, board):
    match = Match(tmp_path, install_naughty(tmp_path), board)
    match.run.await_record(kind="firing", channel="light", cue="home", outcome="played")
    match.run.await_record(kind="firing", channel="rumble", cue="home", outcome="played")
    for times, how in enumerate(["raise", "exit", "die"], 1):
        match.naughty("feel" if how == "exit" else "write", how)
        match.naughty("found" if how == "exit" else "shake", how)
        restarted(match, "light", times)
        restarted(match, "rumble", times)
    _, summary, _ = match.ended()
    assert [summary["channels"][channel]["restarts"] for channel in ("light", "rumble")] == [3, 3]
    for channel, title, hooks in (
        ("light", "rope (naughty 0.1)", ("write", "feel")), ("rumble", "belt (naughty 0.1)", ("shake", "found")),
    ):
        told = {(r["what"], r["why"]) for r in match.faults(channel)}
        assert (f"{title} failed in '{hooks[0]}'", "ZeroDivisionError: no end; tell whoever wrote it") in told
        assert (f"{title} failed in '{hooks[1]}'", "SystemExit: I am done; tell whoever wrote it") in told
        assert ("worker", "worker ended with exit code 7") in told
    assert most_flashes(match.strip.frames) <= 2
    assert match.strip.black
    assert match.belt.shakes[-1][1:] == (0, 0, 0)


@pytest.mark.parametrize("how", ["hang", "burn"])
def test_a_package_that_never_returns_is_ended_and_started_again(tmp_path, board, how):
    match = Match(tmp_path, install_naughty(tmp_path), board)
    match.run.await_record(kind="firing", channel="light", cue="home", outcome="played")
    match.run.await_record(kind="firing", channel="rumble", cue="home", outcome="played")
    match.naughty("write", how)
    match.naughty("found", how)
    restarted(match, "light", 1)
    restarted(match, "rumble", 1)
    match.ended()
    says = {"hang": "stands still: killed", "burn": "gives no answer: killed"}[how]
    for channel in ("light", "rumble"):
        assert any(r["why"].endswith(says) for r in match.faults(channel))
    assert most_flashes(match.strip.frames) <= 2
    assert match.strip.black
    assert match.belt.shakes[-1][1:] == (0, 0, 0)


@pytest.mark.parametrize("how", ["raise", "hang"])
def test_a_package_that_fails_at_the_end_leaves_nothing_on(tmp_path, board, how):
    match = Match(tmp_path, install_naughty(tmp_path), board, {"close": how}, rate="3")
    match.run.await_record(kind="firing", channel="rumble", cue="home", outcome="played")
    match.naughty("stop", how)
    match.ended()
    assert match.strip.black
    assert match.belt.shakes[-1][1:] == (0, 0, 0)


@pytest.mark.parametrize(
    ("hooks", "how", "says"),
    [
        (("import",), "raise", "failed in 'load': ZeroDivisionError: no end"),
        (("make",), "exit", "failed in 'load': SystemExit: I am done"),
        (("open", "found"), "raise", "failed in '{hook}'"),
        (("open", "found"), "lose", "(naughty 0.1): the rope is cut"),
        (("booting", "found"), "die", "worker ended with exit code 7"),
    ],
)
def test_a_match_begins_without_a_package_that_never_gets_that_far(tmp_path, board, hooks, how, says):
    match = Match(tmp_path, install_naughty(tmp_path), board, dict.fromkeys(hooks, f"{how} always"), rate="4")
    match.ended()
    for channel, hook in (("light", hooks[0]), ("rumble", hooks[-1])):
        told = [f"{r.get('what', '')} {r['why']}" for r in match.run.records() if r.get("channel") == channel
                and r["kind"] in ("device", "fault")]
        assert any(says.format(hook=hook) in one for one in told), told
        assert firings(match.run.records(), channel, "played") == []
    assert match.strip.frames == match.belt.shakes == []


def test_what_packages_print_is_no_message_and_loses_none(tmp_path, board):
    shouts = {"write": "shout always", "found": "shout always"}
    match = Match(tmp_path, install_naughty(tmp_path), board, shouts, rate="3")
    code, summary, err = match.ended()
    assert code == 0, err
    for channel in ("light", "rumble"):
        told = summary["channels"][channel]
        assert (told["played"], told["restarts"], told["failed"]) == (1, 0, 0)
        assert {r["what"] for r in match.faults(channel)} == {"stderr"}
        assert any("garbage" in r["why"] for r in match.faults(channel))


@pytest.mark.parametrize("how", ["raise", "lose", "die"])
def test_a_package_that_fails_whenever_it_is_lit_cannot_make_tocsin_flash(tmp_path, board, how):
    match = Match(tmp_path, install_naughty(tmp_path), board)
    match.naughty("lit", how, "always")
    match.ended()
    frames = match.strip.frames
    assert sum(max(map(max, colours)) > 0 for _, colours in frames) >= 3, "it was tried again"
    assert most_flashes(frames) <= 2


def test_a_package_that_prints_without_end_is_cut_short_and_holds_nobody_up(tmp_path, board):
    match = Match(tmp_path, install_naughty(tmp_path), board, {"make": "flood"}, rate="2")
    code, _, err = match.ended()
    assert code == 0, err
    said = [r for r in match.run.records() if r["kind"] == "fault" and r["what"] == "stderr"]
    assert any(r["why"].endswith("the others are left out") for r in said)
    lasted_s = (max(r["at_ns"] for r in said) - min(r["at_ns"] for r in said)) / 1e9
    assert len(said) <= 101 * (lasted_s + 2)


def test_a_package_that_takes_long_over_a_frame_is_told_once(tmp_path, board):
    match = Match(tmp_path, install_naughty(tmp_path), board, {"write": "slow always"}, rate="3")
    code, _, err = match.ended()
    assert code == 0, err
    (slow,) = match.faults("light")
    assert re.fullmatch(r"rope \(naughty 0.1\) takes \d{3} ms a frame", slow["what"])


def test_a_thread_that_a_package_leaves_behind_keeps_no_worker_alive(tmp_path, board):
    match = Match(tmp_path, install_naughty(tmp_path), board, {"make": "stay always"}, rate="3")
    code, _, err = match.ended()
    assert code == 0, err
    assert "did not end by itself" not in err, err
    assert match.strip.black
