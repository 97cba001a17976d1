"""The rumble channel in a process of its own, on SDL's virtual pads: what SDL tells the pads' drivers, and what people
are told. Strengths 0 to 65535 and low = strong are SDL's (SDL_joystick.h, read)."""

import json
import subprocess
import sys

import pytest

from tests.support import PROJECT
from tocsin.channels.rumble.channel import RumbleChannel
from tocsin.model.rig import Pad, Rig
from tocsin.units import NS_PER_MS

pytestmark = [
    pytest.mark.devices,
    pytest.mark.skipif(not sys.platform.startswith("linux"), reason="SDL's virtual pad was tried on Linux only"),
]
CHILD = "tests.support.channels.rumble_child"
FULL = 65535
ON, OFF = [FULL, FULL], [0, 0]
DRIVER = {"role": "driver", "usb": "1209:0001"}
OPERATOR = {"role": "operator", "usb": "1209:0002"}
OTHER = ["1209:0002", "Other"]


def play(pads, *deeds):
    """Return what the child answered: events as (kind, what, state, name, why), shown, motors."""
    asked = json.dumps({"pads": pads, "deeds": deeds})
    done = subprocess.run(
        [sys.executable, "-m", CHILD], input=asked, cwd=PROJECT, capture_output=True, text=True, timeout=30, check=False
    )
    assert done.returncode == 0, done.stderr
    return json.loads(done.stdout.splitlines()[-1])


def fire(role, pattern, no=0, **facts):
    return ["fire", role, pattern, no, facts]


def devices(answers, what):
    """Return (state, why) of the channel (what is empty) or of a role, in order."""
    return [(state, why) for kind, part, state, _, why in answers["events"] if kind == "device" and part == what]


def faults(answers):
    return [what for kind, what, *_ in answers["events"] if kind == "fault"]


def test_a_triple_is_three_pulses_as_written():
    answers = play([DRIVER], ["open"], ["attach", "a"], fire("driver", "triple"), ["run", 3000])
    assert answers["motors"]["a"] == [
        [0, *ON], [250, *OFF], [450, *ON], [700, *OFF], [900, *ON], [1150, *OFF],
    ]  # fmt: skip
    assert answers["shown"] == [["played", "", ["Grip"]]]


def test_steps_follow_each_other_without_a_gap():
    answers = play([DRIVER], ["open"], ["attach", "a"], fire("driver", "ramp"), ["run", 3000])
    told = answers["motors"]["a"]
    assert [at_ms for at_ms, _, _ in told] == [0, 250, 500, 800]
    assert [low / FULL for _, low, _ in told] == pytest.approx([0.5, 0.75, 1, 0], abs=0.001)


def test_strength_scales_the_pads_motors():
    pads = [{**DRIVER, "strength": 0.5}]
    answers = play(pads, ["open"], ["attach", "a"], fire("driver", "long"), ["run", 1000])
    assert answers["motors"]["a"][0][1] / FULL == pytest.approx(0.5, abs=0.001)


def test_a_cue_goes_to_every_pad_of_its_role_and_to_no_other():
    pads = [DRIVER, {"role": "driver", "name": "Pager"}, OPERATOR]
    answers = play(
        pads, ["open"], ["attach", "a"], ["attach", "p", "1209:0001", "Pager"], ["attach", "o", *OTHER],
        fire("driver", "short"), ["run", 1000],
    )  # fmt: skip
    assert [told[1:2] for told in answers["motors"]["a"]] == [told[1:2] for told in answers["motors"]["p"]] != []
    assert answers["motors"]["o"] == []
    assert answers["shown"] == [["played", "", ["Grip", "Pager"]]]


def test_the_higher_priority_wins_and_the_lower_is_outranked():
    answers = play(
        [DRIVER], ["open"], ["attach", "a"], fire("driver", "long", 0, priority=9), ["run", 100],
        fire("driver", "triple", 1, priority=5), ["run", 2000],
    )  # fmt: skip
    assert answers["shown"][1][:2] == ["skipped", "outranked"]
    assert answers["motors"]["a"] == [[0, *ON], [800, *OFF]]


def test_a_withdrawn_cue_stops_at_once():
    answers = play([DRIVER], ["open"], ["attach", "a"], fire("driver", "long"), ["run", 100], ["end", 0], ["run", 900])
    assert answers["motors"]["a"] == [[0, *ON], [100, *OFF]]


def test_a_cue_that_comes_late_is_played_whole():
    deeds = (["open"], ["attach", "a"], fire("driver", "long", late_ms=100), ["run", 2000])
    assert play([DRIVER], *deeds)["motors"]["a"] == [[0, *ON], [800, *OFF]]


@pytest.mark.parametrize("way", ["safe", "close"])
def test_motors_are_off_after(way):
    answers = play([DRIVER], ["open"], ["attach", "a"], fire("driver", "long"), ["run", 100], [way])
    assert answers["motors"]["a"] == [[0, *ON], [100, *OFF]]


def test_nothing_plays_on_after_making_safe():
    deeds = (["open"], ["attach", "a"], fire("driver", "triple"), ["run", 100], ["safe"], ["run", 3000])
    assert play([DRIVER], *deeds)["motors"]["a"] == [[0, *ON], [100, *OFF]]


@pytest.mark.parametrize("late", [False, True], ids=["plugged in", "found later"])
def test_a_fresh_process_stops_what_a_killed_one_left_turning(late):
    """SDL swallows a stop where it believes the motors off (measured), so they must be told something first."""
    deeds = (["safe"], ["attach", "a"]) if late else (["attach", "a"], ["safe"])
    told = play([DRIVER], ["open"], *deeds)["motors"]["a"]
    assert told[-1][1:] == OFF
    assert 0 < max(told[0][1:]) < 0.02 * FULL


# -- pads that come and go --------------------------------------------------------------------------------------------


def test_a_rig_without_pads_is_absent_and_needs_no_sdl():
    answers = play([], ["open"], fire("driver", "long"), ["run", 10], ["safe"], ["close"], ["close"])
    assert [state for state, _ in devices(answers, "")] == ["absent"]
    assert answers["shown"] == [["skipped", "absent", []]]


def test_what_is_missing_and_what_is_there_is_told():
    answers = play([DRIVER], ["open"], ["attach", "o", *OTHER])
    assert devices(answers, "driver")[0] == ("absent", "plug in usb 1209:0001 (no pad is plugged in)")
    assert devices(answers, "driver")[-1] == ("absent", "plug in usb 1209:0001 (there is 1: Other (1209:0002))")
    assert [state for state, _ in devices(answers, "")] == ["absent"]


def test_an_absent_pad_skips_and_one_that_is_plugged_in_later_plays():
    answers = play(
        [DRIVER], ["open"], fire("driver", "short", 0), ["run", 500], ["attach", "a"], fire("driver", "short", 1),
        ["run", 500],
    )  # fmt: skip
    assert [outcome for outcome, *_ in answers["shown"]] == ["skipped", "played"]
    assert [state for state, _ in devices(answers, "")] == ["absent", "ready"]
    assert len(answers["motors"]["a"]) == 2


def test_a_pad_pulled_in_mid_pattern_is_lost_and_comes_back_to_its_role():
    answers = play(
        [DRIVER, OPERATOR], ["open"], ["attach", "a"], ["attach", "o", *OTHER], fire("driver", "triple"), ["run", 300],
        ["detach", "a"], ["run", 2000], ["attach", "a"], fire("driver", "short", 1), ["run", 1000],
    )  # fmt: skip
    assert [state for state, _ in devices(answers, "driver")] == ["absent", "ready", "lost", "ready"]
    assert [state for state, _ in devices(answers, "")] == ["absent", "ready"]      # the operator's stayed
    assert answers["shown"][1] == ["played", "", ["Grip"]]


def test_the_channel_is_lost_with_its_last_pad():
    answers = play([DRIVER], ["open"], ["attach", "a"], ["detach", "a"], ["run", 10])
    assert [state for state, _ in devices(answers, "")] == ["absent", "ready", "lost"]


def test_a_cue_to_a_pad_whose_plug_was_just_pulled_has_failed():
    answers = play([DRIVER], ["open"], ["attach", "a"], ["detach", "a"], fire("driver", "long"), ["run", 10])
    assert answers["shown"][0][0] == "failed"
    assert "unplugged" in answers["shown"][0][1]
    assert devices(answers, "driver")[-1][0] == "lost"


def test_a_pad_without_motors_fails_its_cue_and_is_told_once():
    answers = play(
        [DRIVER], ["open"], ["attach", "a", "1209:0001", "Grip", False], fire("driver", "short", 0), ["run", 500],
        fire("driver", "short", 1), ["run", 500],
    )  # fmt: skip
    assert [outcome for outcome, *_ in answers["shown"]] == ["failed", "failed"]
    assert len(faults(answers)) == 1


@pytest.mark.parametrize("end_ms", [4000, None], ids=["known end", "unknown end"])
def test_a_pad_that_comes_back_inside_an_interval_catches_up_once(end_ms):
    answers = play(
        [DRIVER], ["open"], ["attach", "a"], fire("driver", "triple", sustained=True, end_ms=end_ms), ["run", 2000],
        ["detach", "a"], ["run", 100], ["attach", "b"], ["run", 1500],
    )  # fmt: skip
    assert [at_ms for at_ms, low, _ in answers["motors"]["b"] if low] == [2100, 2550, 3000]
    assert devices(answers, "driver")[-1] == ("ready", "caught up with triple")


def test_a_pad_that_comes_back_after_the_interval_stays_silent():
    answers = play(
        [DRIVER], ["open"], ["attach", "a"], fire("driver", "triple", sustained=True, end_ms=2000), ["run", 1500],
        ["detach", "a"], ["run", 600], ["attach", "b"], ["run", 1500],
    )  # fmt: skip
    assert answers["motors"]["b"] == []


def test_the_highest_of_several_cues_is_caught_up_with():
    answers = play(
        [DRIVER], ["open"], fire("driver", "triple", 0, sustained=True, end_ms=4000, priority=9),
        fire("driver", "long", 1, sustained=True, end_ms=4000), ["attach", "a"], ["run", 3000],
    )  # fmt: skip
    assert len([low for _, low, _ in answers["motors"]["a"] if low]) == 3


def test_an_end_that_moves_is_no_second_pulse():
    answers = play(
        [DRIVER], ["open"], ["attach", "a"], fire("driver", "long", sustained=True, end_ms=4000), ["run", 1000],
        fire("driver", "long", sustained=True, end_ms=3000, late_ms=1000, resumed=True), ["run", 1000],
    )  # fmt: skip
    assert answers["motors"]["a"] == [[0, *ON], [800, *OFF]]


def test_two_equal_pads_are_asked_about():
    pads = [DRIVER, {**OPERATOR, "usb": "1209:0001"}]
    answers = play(pads, ["open"], ["attach", "a"], ["attach", "b"])
    assert "2 equal pads" in devices(answers, "driver")[-1][1]
    assert "2 equal pads" in devices(answers, "operator")[-1][1]


def test_the_preflight_shakes_one_pad_after_another_half_a_second():
    answers = play(
        [OPERATOR, DRIVER], ["open"], ["attach", "a"], ["attach", "o", *OTHER], ["command", "preflight"], ["run", 2000]
    )
    assert answers["motors"] == {"o": [[0, *ON], [500, *OFF]], "a": [[750, *ON], [1250, *OFF]]}


def test_a_cue_takes_the_pad_from_the_preflight():
    answers = play(
        [DRIVER], ["open"], ["attach", "a"], ["command", "preflight"], ["run", 100],
        fire("driver", "long", priority=0), ["run", 1000],
    )  # fmt: skip
    assert answers["shown"] == [["played", "", ["Grip"]]]
    assert answers["motors"]["a"] == [[0, *ON], [900, *OFF]]


def test_a_slow_driver_is_told_once():
    answers = play(
        [DRIVER], ["open"], ["attach", "a", "1209:0001", "Grip", True, 60], fire("driver", "triple"), ["run", 2000]
    )
    assert len(faults(answers)) == 1
    assert "Grip" in faults(answers)[0]


# -- buttons ----------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(("buttons", "longest_ms"), [({"3": "mark.contact"}, 4), ({}, 50)])
def test_pads_are_asked_as_often_as_what_their_buttons_mean_demands(buttons, longest_ms):
    """A press reads half of that late on average; nobody is late for a pad without buttons, whose motors wake us."""
    channel = RumbleChannel(Rig(name="Test", pads=(Pad(role="driver", order=1, buttons=buttons),)))
    assert channel.tick_ns <= longest_ms * NS_PER_MS


def test_only_the_buttons_that_the_rig_names_are_reported():
    pads = [{**DRIVER, "buttons": {"3": "mark.contact"}}, OPERATOR]
    answers = play(
        pads, ["open"], ["attach", "a"], ["attach", "o", *OTHER], ["press", "a", 3], ["release", "a", 3],
        ["press", "a", 4], ["press", "o", 3], ["tilt", "a", 1],
    )  # fmt: skip
    buttons = [(kind, what) for kind, what, *_ in answers["events"] if kind != "device"]
    assert buttons == [("press", "pad.driver.3"), ("release", "pad.driver.3")]


def test_a_button_counts_while_a_window_has_no_focus():
    pads = [{**DRIVER, "buttons": {"3": "mark.contact"}}]
    answers = play(pads, ["open"], ["window"], ["attach", "a"], ["press", "a", 3])
    assert ["press", "pad.driver.3"] in [event[:2] for event in answers["events"]]
