"""Devices that packages bring, in real matches: installed distributions, real workers, boards on the loopback."""

import re

import pytest

from tests.support.packages.installing import install_example, install_naughty, most_flashes
from tests.support.packages.match import Match
from tests.support.stands.stand import firings, wait_for

pytestmark = pytest.mark.devices


def test_the_notes_example_is_seen_and_felt_in_a_match_below_guard_and_limit(tmp_path):
    match = Match(tmp_path, install_example(tmp_path), rate="3")
    code, summary, err = match.ended()
    assert code == 0, err
    assert summary["channels"]["light"]["played"] == summary["channels"]["rumble"]["played"] == 1
    frames = match.strip.frames
    assert {len(colours) for _, colours in frames} == {4}
    # 4 LEDs at full white take 240 mA (20 mA a colour, WS2812B's datasheet) and 4 while dark; 120 are allowed:
    # 116 / 240 x 255 = 123.25.
    assert {max(map(max, colours)) for _, colours in frames} == {0, 123}
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


def test_what_packages_break_is_their_own_worker_which_is_told_and_started_again(tmp_path):
    match = Match(tmp_path, install_naughty(tmp_path))
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
        told = {(r["what"], re.sub(r" \(\w+\.py:\d+\)", "", r["why"])) for r in match.faults(channel)}
        assert (f"{title} failed in '{hooks[0]}'", "ZeroDivisionError: no end; tell whoever wrote it") in told
        assert (f"{title} failed in '{hooks[1]}'", "SystemExit: I am done; tell whoever wrote it") in told
        assert ("worker", "worker ended with exit code 7") in told
    assert most_flashes(match.strip.frames) <= 2
    assert match.strip.black
    assert match.belt.shakes[-1][1:] == (0, 0, 0)


@pytest.mark.parametrize("how", ["hang", "burn"])
def test_a_package_that_never_returns_is_ended_and_started_again(tmp_path, how):
    match = Match(tmp_path, install_naughty(tmp_path))
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
def test_a_package_that_fails_at_the_end_leaves_nothing_on(tmp_path, how):
    match = Match(tmp_path, install_naughty(tmp_path), {"close": how}, rate="3")
    match.run.await_record(kind="firing", channel="rumble", cue="home", outcome="played")
    match.naughty("stop", how)
    match.ended()
    assert match.strip.black
    assert match.belt.shakes[-1][1:] == (0, 0, 0)


def test_a_package_that_takes_long_over_a_frame_is_told_once(tmp_path):
    match = Match(tmp_path, install_naughty(tmp_path), {"write": "slow always"}, rate="3")
    code, _, err = match.ended()
    assert code == 0, err
    (slow,) = match.faults("light")
    assert re.fullmatch(r"rope \(naughty 0.1\) takes \d{3} ms a frame", slow["what"])


def test_a_thread_that_a_package_leaves_behind_keeps_no_worker_alive(tmp_path):
    match = Match(tmp_path, install_naughty(tmp_path), {"make": "stay always"}, rate="3")
    code, _, err = match.ended()
    assert code == 0, err
    assert "did not end by itself" not in err, err
    assert match.strip.black
