"""Packages that never do what they should, in real matches: what people read, and that nothing flashes for it."""

import pytest

from tests.support.packages.installing import install_naughty, most_flashes
from tests.support.packages.match import Match
from tests.support.stands.stand import firings

pytestmark = pytest.mark.devices


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
def test_a_match_begins_without_a_package_that_never_gets_that_far(tmp_path, hooks, how, says):
    match = Match(tmp_path, install_naughty(tmp_path), dict.fromkeys(hooks, f"{how} always"), rate="4")
    match.ended()
    for channel, hook in (("light", hooks[0]), ("rumble", hooks[-1])):
        told = [f"{r.get('what', '')} {r['why']}" for r in match.run.records() if r.get("channel") == channel
                and r["kind"] in ("device", "fault")]
        assert any(says.format(hook=hook) in one for one in told), told
        assert firings(match.run.records(), channel, "played") == []
    assert match.strip.frames == match.belt.shakes == []


def test_what_packages_print_is_no_message_and_loses_none(tmp_path):
    shouts = {"write": "shout always", "found": "shout always"}
    match = Match(tmp_path, install_naughty(tmp_path), shouts, rate="3")
    code, summary, err = match.ended()
    assert code == 0, err
    for channel in ("light", "rumble"):
        told = summary["channels"][channel]
        assert (told["played"], told["restarts"], told["failed"]) == (1, 0, 0)
        assert {r["what"] for r in match.faults(channel)} == {"stderr"}
        assert any("garbage" in r["why"] for r in match.faults(channel))


@pytest.mark.parametrize("how", ["raise", "lose", "die"])
def test_a_package_that_fails_whenever_it_is_lit_cannot_make_tocsin_flash(tmp_path, how):
    match = Match(tmp_path, install_naughty(tmp_path))
    match.naughty("lit", how, "always")
    match.ended()
    frames = match.strip.frames
    assert sum(max(map(max, colours)) > 0 for _, colours in frames) >= 3, "it was tried again"
    assert most_flashes(frames) <= 2


def test_a_package_that_prints_without_end_is_cut_short_and_holds_nobody_up(tmp_path):
    match = Match(tmp_path, install_naughty(tmp_path), {"make": "flood"}, rate="2")
    code, _, err = match.ended()
    assert code == 0, err
    said = [r for r in match.run.records() if r["kind"] == "fault" and r["what"] == "stderr"]
    assert any(r["why"].endswith("the others are left out") for r in said)
    lasted_s = (max(r["at_ns"] for r in said) - min(r["at_ns"] for r in said)) / 1e9
    assert len(said) <= 101 * (lasted_s + 2)
