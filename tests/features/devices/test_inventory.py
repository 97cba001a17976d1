"""What is plugged in beside what a rig asks for."""

from datetime import date

import pytest

from tocsin.channels.rumble.pads import FoundPad
from tocsin.features.devices.inventory import Inventory, take_inventory
from tocsin.features.devices.probed import Displays, Loudspeaker, Pads, Port, Ports, ProbeResults
from tocsin.model.rig import Light, Pad, Rig, Screen, Sound

# 1209:0001 and 1209:0003 in SDL's GUIDs, little endian (layout from memory).
GUIDS = {"1209:0001": "03000000091200000100000014010000", "1209:0003": "03000000091200000300000011010000"}

TODAY = date(2031, 4, 1)


def plugged(*usb: str) -> Pads:
    pads = [FoundPad(instance_id=n, guid=GUIDS[ids], name=f"Pad {ids}", number=n + 1) for n, ids in enumerate(usb)]
    return Pads(found=tuple(pads), why="" if pads else "plug one in")


def inventory(found: ProbeResults, rig: Rig | None) -> Inventory:
    return take_inventory(found, rig, power="mains", packages=("pygame",), today=TODAY)


def test_each_pad_shows_the_roles_that_the_rig_gives_it() -> None:
    rig = Rig(name="r", pads=(Pad(role="driver", usb="1209:0003"), Pad(role="operator")))
    told = inventory(ProbeResults(pads=plugged("1209:0001", "1209:0003")), rig)
    assert [(pad.usb, pad.roles, pad.ask) for pad in told.pads] == [
        ("1209:0001", ("operator",), ""),
        ("1209:0003", ("driver",), ""),
    ]
    assert told.missing == ()


def test_of_two_equal_pads_it_is_asked_which_is_which() -> None:
    rig = Rig(name="r", pads=(Pad(role="driver", order=1), Pad(role="operator", order=2)))
    told = inventory(ProbeResults(pads=plugged("1209:0001", "1209:0001")), rig)
    assert [pad.roles for pad in told.pads] == [("driver",), ("operator",)]
    assert all("equal pads" in pad.ask for pad in told.pads)


def test_a_pad_that_is_named_and_not_there_is_missing_beside_what_is_there() -> None:
    rig = Rig(name="r", pads=(Pad(role="driver", usb="1209:0003"),))
    told = inventory(ProbeResults(pads=plugged("1209:0001")), rig)
    assert [pad.roles for pad in told.pads] == [()]
    (missing,) = told.missing
    assert "driver" in missing.device
    assert "1209:0003" in missing.device
    assert "1209:0001" in missing.fix


def test_the_strips_port_is_marked() -> None:
    ports = Ports(found=(Port(name="a", usb="1209:0004"), Port(name="b", usb="1209:0006")), strip="b")
    told = inventory(ProbeResults(ports=ports), Rig(name="r", light=Light(usb="1209:0006")))
    assert [(port.name, port.strip) for port in told.ports] == [("a", False), ("b", True)]
    assert told.missing == ()


def test_a_strip_that_is_not_there_is_missing_beside_the_ports_that_are() -> None:
    ports = Ports(found=(Port(name="a", usb="1209:0006"), Port(name="b")), why="no port has the USB ids 1209:0004")
    told = inventory(ProbeResults(ports=ports), Rig(name="r", light=Light(usb="1209:0004")))
    assert [(m.device, m.fix) for m in told.missing] == [
        ("strip", "no port has the USB ids 1209:0004; plugged in are a (1209:0006)")
    ]


@pytest.mark.parametrize(("display", "shown"), [(0, [True, False]), (1, [False, True]), (2, [True, False])])
def test_the_windows_display_is_marked_and_the_first_one_stands_in(display: int, shown: list[bool]) -> None:
    found = ProbeResults(displays=Displays(sizes=((1920, 1080), (1280, 720))))
    told = inventory(found, Rig(name="r", screen=Screen(display=display)))
    assert [row.screen for row in told.displays] == shown
    assert [missing.device for missing in told.missing] == (["display 2"] if display == 2 else [])


def test_without_a_rig_all_that_a_match_could_use_is_missed() -> None:
    nothing = ProbeResults(pads=plugged(), displays=Displays(why="none"), sound=Loudspeaker(why="none"))
    assert {m.device for m in inventory(nothing, None).missing} == {"pads", "strip", "display", "loudspeaker"}


def test_what_a_rig_does_not_have_is_not_missed() -> None:
    nothing = ProbeResults(pads=plugged(), displays=Displays(why="none"), sound=Loudspeaker(why="none"))
    assert inventory(nothing, Rig(name="r")).missing == ()
    assert [m.device for m in inventory(nothing, Rig(name="r", sound=Sound())).missing] == ["loudspeaker"]


def test_a_pygame_that_is_amiss_comes_first() -> None:
    told = take_inventory(
        ProbeResults(),
        None,
        power="",
        packages=("pygame", "pygame-ce"),
        today=TODAY,
        pygame_why="both: pip uninstall pygame",
    )
    assert (told.missing[0].device, told.missing[0].fix) == ("pygame", "both: pip uninstall pygame")


def test_what_nobody_confirmed_for_long_is_to_be_tried_again() -> None:
    # 30 days before is still fresh, 31 is not: our own limit, no source.
    rig = Rig(
        name="r",
        pads=(Pad(role="driver", confirmed="2031-03-02"), Pad(role="driver", confirmed="2031-03-01")),
        light=Light(), sound=Sound(confirmed="2031-04-01"),
    )  # fmt: skip
    told = inventory(ProbeResults(pads=plugged()), rig).confirmed
    assert [(one.device, one.on, one.advice) for one in told] == [
        ("driver's pad 1", "2031-03-02", ""),
        ("driver's pad 2", "2031-03-01", "31 days ago"),
        ("strip", "", "never confirmed"),
        ("loudspeaker", "2031-04-01", ""),
    ]
