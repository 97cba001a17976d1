"""A rig made of what is plugged in, what trying it adds, and its text, which is read back as the same rig."""

from datetime import date

import msgspec
import pytest
from hypothesis import given
from hypothesis import strategies as st

from tocsin.channels.holders import pad_devices
from tocsin.channels.rumble.pads import FoundPad, bind
from tocsin.config.load import load_rig
from tocsin.config.write.new_rig import rig_text
from tocsin.features.devices.plugged_rig import beyond_roles, rig_of
from tocsin.features.devices.probed import Displays, Loudspeaker, Pads, Port, Ports, ProbeResults
from tocsin.features.devices.tryout.forms import FORMS
from tocsin.features.devices.tryout.remedies import strip_fixes
from tocsin.features.devices.tryout.result import Tried, TryoutResult, confirmed_rig, places_of
from tocsin.features.devices.tryout.strip import strip_ports
from tocsin.features.devices.tryout.verdict import Attempt
from tocsin.model.plan import ROLES
from tocsin.model.rig import Light, Rig

# 1209:0001 and 1209:0003 in SDL's GUIDs, and one without USB ids (layout from memory).
GUIDS = ("03000000091200000100000014010000", "03000000091200000300000011010000", "05000000" + "61" * 12)
TODAY = "2031-03-01"

pads = st.lists(st.sampled_from(GUIDS), max_size=7).map(
    lambda guids: tuple(FoundPad(instance_id=n, guid=g, name=f"Pad {g[:2]}", number=n + 1) for n, g in enumerate(guids))
)
ports = st.lists(st.sampled_from(["1209:0004", "1209:0005", ""]), max_size=4).map(
    lambda ids: Ports(found=tuple(Port(name=f"/dev/port {n}", usb=usb) for n, usb in enumerate(ids)))
)
everything = st.builds(
    lambda pads, ports, loud, sizes: ProbeResults(
        pads=Pads(found=pads), ports=ports, sound=Loudspeaker(opens=loud), displays=Displays(sizes=sizes)
    ),
    pads, ports, st.booleans(), st.sampled_from([(), ((1280, 720),)]),
)  # fmt: skip


@given(everything, st.permutations(ROLES), st.data())
def test_the_text_of_a_new_rig_is_that_rig(tmp_path_factory, found, order, data):
    rig = rig_of(found)
    held = dict(zip(data.draw(st.permutations(range(len(rig.pads)))), order, strict=False))
    felt = data.draw(st.sets(st.sampled_from(range(len(rig.pads))))) if rig.pads else set()
    tried = [
        Tried(device="pad", channel="rumble", verdict="confirmed" if slot in felt else "left_out", number=slot)
        for slot in range(len(rig.pads))
    ]
    tried += [Tried(device="loudspeaker", channel="sound", verdict="confirmed")] if rig.sound else []
    after = confirmed_rig(rig, found.ports, TryoutResult(rig="", tried=tuple(tried), held=held), TODAY)
    path = tmp_path_factory.mktemp("rigs") / "new.toml"
    path.write_text(rig_text(after), encoding="utf-8")
    read = load_rig(str(path))
    # Delays are estimates that stand in the file alone.
    assert [msgspec.structs.replace(pad, latency_ns=0) for pad in read.pads] == list(after.pads)
    assert read.light == after.light
    assert (read.screen is None, read.sound is None) == (after.screen is None, after.sound is None)
    assert read.sound is None or read.sound.confirmed == TODAY
    assert read.drives_robot
    assert len({pad.role for pad in read.pads}) == len(read.pads), "each role has one pad"
    bound = bind(read.pads, found.pads.found, {}).pads
    assert len(bound) == len(read.pads), "every entry finds its pad again"
    for number, role in held.items():
        (slot,) = [slot for slot, pad in enumerate(read.pads) if pad.role == role]
        assert bound[slot] == bind(rig.pads, found.pads.found, {}).pads[number], "whoever pressed has that pad"


@given(everything)
def test_pads_that_a_new_rig_leaves_out_are_named(found):
    told = beyond_roles(found)
    named = {pad.number for pad in found.pads.found if f"{pad.number}: {pad.name}" in told}
    assert named == {pad.number for pad in found.pads.found[len(rig_of(found).pads) :]}
    assert bool(told) == (len(found.pads.found) > len(ROLES))


def test_the_strip_is_written_where_it_was_seen():
    listed = Ports(
        found=(Port(name="a", usb="1209:0005"), Port(name="b", usb="1209:0004"), Port(name="c", usb="1209:0004"))
    )
    rig = rig_of(ProbeResults(ports=listed))
    assert rig.light is not None
    assert rig.light.usb == "1209:0005"
    for port, written in (("a", ("auto", "1209:0005")), ("b", ("b", "1209:0004"))):
        seen = Tried(device="strip", channel="light", verdict="confirmed", port=port)
        light = confirmed_rig(rig, listed, TryoutResult(rig="", tried=(seen,)), TODAY).light
        assert light is not None
        assert ((light.port, light.usb), light.confirmed) == (written, TODAY)


def test_only_what_was_confirmed_is_written_down():
    tried = [
        Tried(device="", channel="rumble", verdict="swapped", number=0),
        Tried(device="", channel="rumble", verdict="confirmed", number=1),
        Tried(device="", channel="light", verdict="not_confirmed"),
        Tried(device="", channel="screen", verdict="confirmed"),
    ]
    day = date(2031, 3, 1)
    strip = Rig(name="r", light=Light(protocol="adalight"))
    assert places_of(tried, day, strip) == {("pad", 1, "confirmed"): day, ("screen", "confirmed"): day}
    seen = Tried(device="", channel="light", verdict="confirmed")
    # By which protocol it was seen stands beside the day: a day without one is of a rig from before.
    assert places_of([seen], day, strip) == {("light", "confirmed"): day, ("light", "protocol"): "adalight"}


def test_the_strip_is_looked_for_on_the_ports_that_it_may_be_on():
    listed = Ports(found=(Port(name="a", usb="1209:000a"), Port(name="b"), Port(name="c", usb="1209:0005")))
    assert strip_ports(Light(port="b", usb="1209:000a"), listed, new=False) == ("b",)
    assert strip_ports(Light(usb="1209:000A"), listed, new=False) == ("a",)
    assert strip_ports(Light(usb="1209:000a"), listed, new=True) == ("a", "c")
    assert strip_ports(Light(usb="dead:beef"), listed, new=False) == ()


@given(st.sampled_from(["RGB", "RBG", "GRB", "GBR", "BRG", "BGR"]), st.permutations("RGB"), st.data())
def test_the_order_that_is_proposed_is_the_one_that_the_board_takes(written, real, data):
    """A board takes three bytes as ``real``; the bytes are sent as ``written``, and two or three colours were tried."""
    real = "".join(real)
    by_letter = {form.title[0].upper(): form for form in FORMS["light"]}
    tried = data.draw(st.lists(st.sampled_from("RGB"), min_size=2, max_size=5).filter(lambda sent: len(set(sent)) > 1))
    answers = [Attempt(by_letter[letter], by_letter[real[written.index(letter)]]) for letter in tried]
    fix = strip_fixes(Light(order=written), answers, "")[0]
    assert ("write order" in fix) == (written != real)
    assert written == real or f'write order = "{real}"' in fix


@pytest.mark.parametrize(("sent", "came", "order"), [("red", "green", "GRB"), ("green", "blue", "RBG")])
def test_one_wrong_colour_speaks_for_a_plain_exchange(sent, came, order):
    forms = {form.title: form for form in FORMS["light"]}
    assert f'write order = "{order}"' in strip_fixes(Light(), [Attempt(forms[sent], forms[came])], "")[0]


def test_pads_are_told_from_keyboards(tmp_path):
    # The layout of /dev/input and /sys/class/input (Linux, input.rst and joystick-api.rst, from memory).
    devices, known = tmp_path / "input", tmp_path / "class"
    devices.mkdir()
    for name in ("event0", "event5", "js0", "mice"):
        (devices / name).touch()
    (known / "js0" / "device" / "event5").mkdir(parents=True)
    (known / "event0" / "device").mkdir(parents=True)
    assert pad_devices(devices, known) == (str(devices / "js0"), str(devices / "event5"))
    assert pad_devices(tmp_path / "none", known) == ()


def test_an_empty_rig_is_no_confirmed_one():
    assert confirmed_rig(Rig(name="r"), Ports(), TryoutResult(rig="", tried=()), TODAY) == Rig(name="r")
