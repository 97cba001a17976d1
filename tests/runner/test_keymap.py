"""What each key does, and how the line of keys says so."""

import pytest

from tocsin.model.rig import Keys, Pad, Rig
from tocsin.runner.keymap import Keymap


def help_of(rig, phase):
    entries = Keymap(rig).help(phase, waits=True, variants=True, callable_cues=["home"])
    return {entry.action: f"{entry.key}: {entry.does}" for entry in entries}


def test_every_key_that_starts_is_named():
    assert help_of(Rig(name="Own"), "standby")["start"] == "page down or s: start"
    one = Rig(name="Own", keys=Keys(start=("page_down",)))
    assert help_of(one, "standby")["start"] == "page down: start"


def test_keys_that_move_the_clock_say_by_how_much():
    running = help_of(Rig(name="Own"), "running")
    assert (running["earlier"], running["later"]) == ("left: clock 0.2 s on", "right: clock 0.2 s back")


@pytest.mark.parametrize(("keys", "named"), [(("h", "j", "l"), "h or j"), ((), "button 6 of the driver")])
def test_a_button_is_named_where_no_key_does_the_same(keys, named):
    rig = Rig(name="Own", keys=Keys(call={"home": keys}), pads=(Pad(role="driver", buttons={"6": "call.home"}),))
    assert help_of(rig, "running")["call.home"] == f"{named}: call home"
    assert Keymap(rig).action("pad.driver.6") == "call.home"
