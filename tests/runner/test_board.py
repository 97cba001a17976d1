"""What people read about each device: what is off by wish, what is missing and why."""

import pytest

from tocsin.channels.device import Event
from tocsin.model.plan import CHANNELS
from tocsin.model.rig import Light, Pad, Rig, Screen, Sound
from tocsin.runner.board import DeviceBoard

WHOLE = Rig(name="Whole", pads=(Pad(role="driver", order=1),), light=Light(), screen=Screen(), sound=Sound())


def told(board, channel, state, *, part="", name="", why=""):
    board.take(channel, Event(kind="device", at_ns=0, what=part, state=state, name=name, why=why))


def facts(board):
    return {fact.what: (fact.state, fact.text) for fact in board.facts()}


def test_what_the_rig_does_not_have_is_off_and_no_warning():
    board = DeviceBoard(CHANNELS, Rig(name="Bare"))
    for channel in CHANNELS:
        told(board, channel, "absent", why=f"the rig has no [{channel}]")
    assert facts(board) == dict.fromkeys(CHANNELS, ("off", "not in the rig"))
    assert all(board.off(channel) for channel in CHANNELS)
    assert board.why("light") == "not in the rig"


def test_the_terminal_stands_in_for_a_screen_that_the_rig_does_not_have():
    board = DeviceBoard(CHANNELS, Rig(name="Bare"))
    told(board, "screen", "ready", name="terminal")
    assert facts(board)["screen"] == ("ready", "terminal")
    assert not board.off("screen")


def test_what_is_left_out_says_why_where_there_is_a_reason():
    board = DeviceBoard(("rumble",), WHOLE, {"sound": "off at an event"})
    assert facts(board)["sound"] == ("off", "off at an event")
    assert facts(board)["light"] == ("off", "left out")


def test_what_the_rig_has_is_absent_with_its_reason():
    board = DeviceBoard(CHANNELS, WHOLE)
    told(board, "light", "absent", why="plug it in")
    told(board, "rumble", "absent", why="plug in the first pad")
    told(board, "rumble", "absent", part="driver", why="plug in the first pad (no pad is plugged in)")
    assert facts(board)["light"] == ("absent", "plug it in")
    assert facts(board)["driver"] == ("absent", "plug in the first pad (no pad is plugged in)")
    assert not board.off("light")


@pytest.mark.parametrize(("why", "text"), [("", "/dev/x, 30 LEDs"), ("no answer", "/dev/x, 30 LEDs; no answer")])
def test_a_device_that_is_ready_says_what_is_doubtful_about_it(why, text):
    board = DeviceBoard(CHANNELS, WHOLE)
    told(board, "light", "ready", name="/dev/x, 30 LEDs", why=why)
    assert facts(board)["light"] == ("ready", text)


def test_a_device_that_is_ready_says_when_it_was_last_confirmed():
    pads = (
        Pad(role="driver", confirmed="2031-03-02"), Pad(role="driver", confirmed="2031-03-01"),
        Pad(role="operator", confirmed="2031-03-02"), Pad(role="operator"),
    )  # fmt: skip
    rig = Rig(
        name="r", pads=pads, light=Light(confirmed="2031-01-31"), screen=Screen(confirmed="2031-01-30"), sound=Sound()
    )
    board = DeviceBoard(CHANNELS, rig)
    for role in ("driver", "operator"):
        told(board, "rumble", "ready", part=role, name="Pad")
    told(board, "light", "ready", name="/dev/x", why="no answer")
    told(board, "screen", "ready", name="terminal")
    told(board, "sound", "ready", name="loudspeaker")
    assert {what: text for what, (_, text) in facts(board).items()} == {
        "driver": "Pad; confirmed 2031-03-01",            # of two pads the one that waits longer
        "operator": "Pad",                                # one of two never was
        "light": "/dev/x; no answer; confirmed 2031-01-31",
        "screen": "terminal",
        "sound": "loudspeaker",
    }
    told(board, "light", "lost", why="unplugged")
    assert facts(board)["light"] == ("lost", "unplugged")
