"""What each key does, and how the line of keys says so."""

import pytest

from tocsin.model.rig import Keys, Pad, Rig
from tocsin.runner.keymap import Keymap


def help_of(rig, phase):
    entries = Keymap(rig).keyed(Keymap(rig).offers(phase, waits=True, variants=True, callable_cues=["home"]))
    return {entry.action: f"{entry.key}: {entry.does}" for entry in entries}


def test_every_key_that_starts_is_named():
    assert help_of(Rig(name="Own"), "standby")["start"] == "page down or s: start"
    one = Rig(name="Own", keys=Keys(start=("page_down",)))
    assert help_of(one, "standby")["start"] == "page down: start"


def test_keys_that_move_the_clock_say_by_how_much():
    running = help_of(Rig(name="Own"), "running")
    assert (running["earlier"], running["later"]) == ("left: clock 0.2 s forward", "right: clock 0.2 s back")


@pytest.mark.parametrize(("keys", "named"), [(("h", "j", "o"), "h or j"), ((), "button 6 of the driver")])
def test_a_button_is_named_where_no_key_does_the_same(keys, named):
    rig = Rig(name="Own", keys=Keys(call={"home": keys}), pads=(Pad(role="driver", buttons={"6": "call.home"}),))
    assert help_of(rig, "running")["call.home"] == f"{named}: call home"
    assert Keymap(rig).action("pad.driver.6") == "call.home"


_MARKS = {"contact": ("7",), "home_half": ("0",), "wrong_by_partner": ("6",)}
BENCH = Rig(name="Own", keys=Keys(call={"home": ("h",)}, marks=_MARKS))


@pytest.mark.parametrize(
    ("rig", "phase", "besides", "first"),
    [
        (Rig(name="Own"), "running", (), ["scrap", "hold", "begin", "sync", "display"]),
        (BENCH, "running", (), ["scrap", "hold", "begin", "call.home", "sync"]),
        (BENCH, "running", (("undo", "undo mark"),), ["undo", "scrap", "hold", "begin", "call.home"]),
        (BENCH, "waiting", (), ["scrap", "variant", "sync", "display", "mute"]),
        (BENCH, "held", (), ["hold", "scrap", "undo", "all_keys"]),
        (BENCH, "standby", (), ["start", "preflight", "variant", "leave", "louder"]),
        (
            BENCH, "standby", (("clear", "field clear"), ("crew", "next crew"), ("battery", "new battery")),
            ["start", "clear", "crew", "battery", "preflight"],
        ),
    ],
)  # fmt: skip
def test_what_is_needed_most_comes_first(rig, phase, besides, first):
    offers = Keymap(rig).offers(phase, waits=True, variants=True, callable_cues=["home"], besides=besides)
    entries = Keymap(rig).keyed(offers)
    actions = [entry.action for entry in entries]
    assert actions[:5] == first
    assert len(set(actions)) == len(actions)
    assert actions.count("all_keys") == 1


def test_what_cannot_be_pressed_is_not_named():
    keymap = Keymap(Rig(name="Own", keys=Keys(hold=(), all_keys=())))
    entries = keymap.keyed(keymap.offers("running", waits=False, variants=False, callable_cues=["home"]))
    assert not {"hold", "begin", "call.home", "all_keys"} & {entry.action for entry in entries}


def test_no_key_of_the_sound_is_named_where_there_is_none():
    keymap = Keymap(Rig(name="Own"))
    for phase in ("standby", "waiting", "running"):
        entries = keymap.keyed(keymap.offers(phase, waits=False, variants=False, callable_cues=(), sound=False))
        assert not {"mute", "louder", "softer"} & {entry.action for entry in entries}
    besides = (("louder", "number +1"),)               # a programme may give such a key another meaning
    offers = keymap.offers("standby", waits=False, variants=False, callable_cues=(), besides=besides, sound=False)
    entries = keymap.keyed(offers)
    assert [entry.does for entry in entries if entry.action == "louder"] == ["number +1"]


def test_a_scribes_keys_are_three_at_most_in_the_order_of_the_labels_and_of_our_own_robot():
    def large(labels=None, **marks):
        keys = Keys(marks={label: tuple(names) for label, names in marks.items()})
        return [(entry.key, entry.does) for entry in Keymap(Rig(name="Own", keys=keys)).scribe(labels)]

    assert large() == []
    assert large(contact_by_partner="6", contact="7", turned="8", home_half="0", home="9") == [
        ("7", "contact"), ("8", "turned"), ("9", "home (twice: half home)"),
    ]  # fmt: skip
    assert large(("home", "turned"), contact="7", turned="8", home="9") == [("8", "turned"), ("9", "home")]
    assert large(("wrong",), wrong="0", contact="7", turned="8", home="9") == [("0", "wrong")]
    assert large(contact="c", turned="", first_touch="kl", late="5", moved="4") == [
        ("c", "contact"), ("k or l", "first touch"), ("5", "late"),
    ]  # fmt: skip
