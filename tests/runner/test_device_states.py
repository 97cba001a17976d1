"""What people read about each device: what is off by wish, what is missing and why."""

import pytest

from tocsin.channels.device import Event
from tocsin.model.plan import CHANNELS
from tocsin.model.rig import Light, Pad, Rig, Screen, Sound
from tocsin.runner.device_states import DeviceStates

WHOLE = Rig(name="Whole", pads=(Pad(role="driver", order=1),), light=Light(), screen=Screen(), sound=Sound())


def told(states, channel, state, *, part="", name="", why=""):
    states.take(channel, Event(kind="device", at_ns=0, what=part, state=state, name=name, why=why))


def facts(states):
    return {fact.what: (fact.state, fact.text) for fact in states.facts()}


def test_what_the_rig_does_not_have_is_off_and_no_warning():
    states = DeviceStates(CHANNELS, Rig(name="Bare"))
    for channel in CHANNELS:
        told(states, channel, "absent", why=f"the rig has no [{channel}]")
    assert facts(states) == dict.fromkeys(CHANNELS, ("off", "not in the rig"))
    assert all(states.off(channel) for channel in CHANNELS)
    assert states.why("light") == "not in the rig"


def test_the_terminal_stands_in_for_a_screen_that_the_rig_does_not_have():
    states = DeviceStates(CHANNELS, Rig(name="Bare"))
    told(states, "screen", "ready", name="terminal")
    assert facts(states)["screen"] == ("ready", "terminal")
    assert not states.off("screen")


def test_what_is_left_out_says_why_where_there_is_a_reason():
    states = DeviceStates(("rumble",), WHOLE, {"sound": "off at an event"})
    assert facts(states)["sound"] == ("off", "off at an event")
    assert facts(states)["light"] == ("off", "left out")


def test_what_the_rig_has_is_absent_with_its_reason():
    states = DeviceStates(CHANNELS, WHOLE)
    told(states, "light", "absent", why="plug it in")
    told(states, "rumble", "absent", why="plug in the first pad")
    told(states, "rumble", "absent", part="driver", why="plug in the first pad (no pad is plugged in)")
    assert facts(states)["light"] == ("absent", "plug it in")
    assert facts(states)["driver"] == ("absent", "plug in the first pad (no pad is plugged in)")
    assert not states.off("light")


@pytest.mark.parametrize(("why", "text"), [("", "/dev/x, 30 LEDs"), ("no answer", "/dev/x, 30 LEDs; no answer")])
def test_a_device_that_is_ready_says_what_is_doubtful_about_it(why, text):
    states = DeviceStates(CHANNELS, WHOLE)
    told(states, "light", "ready", name="/dev/x, 30 LEDs", why=why)
    assert facts(states)["light"] == ("ready", text)


def test_a_device_that_is_ready_says_when_it_was_last_confirmed():
    pads = (
        Pad(role="driver", confirmed="2031-03-02"), Pad(role="driver", confirmed="2031-03-01"),
        Pad(role="operator", confirmed="2031-03-02"), Pad(role="operator"),
    )  # fmt: skip
    rig = Rig(
        name="r", pads=pads, light=Light(confirmed="2031-01-31"), screen=Screen(confirmed="2031-01-30"), sound=Sound()
    )
    states = DeviceStates(CHANNELS, rig)
    for role in ("driver", "operator"):
        told(states, "rumble", "ready", part=role, name="Pad")
    told(states, "light", "ready", name="/dev/x", why="no answer")
    told(states, "screen", "ready", name="terminal")
    told(states, "sound", "ready", name="loudspeaker")
    assert {what: text for what, (_, text) in facts(states).items()} == {
        "driver": "Pad; confirmed 2031-03-01",            # of two pads the one that waits longer
        "operator": "Pad",                                # one of two never was
        "light": "/dev/x; no answer; confirmed 2031-01-31",
        "screen": "terminal",
        "sound": "loudspeaker",
    }
    told(states, "light", "lost", why="unplugged")
    assert facts(states)["light"] == ("lost", "unplugged")
