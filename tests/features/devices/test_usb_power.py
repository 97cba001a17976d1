"""What USB devices may draw: read from files as Linux shows them, and added up by hand.

The files' names and forms ("100mA", "e0", hub class "09") are those of Linux, from memory; the limits those of USB 2.0,
7.2.1 (read): 500 mA a port, 100 mA a port of a hub without its own supply; and 900 mA of USB 3 (from memory).
"""

from datetime import date
from pathlib import Path

import pytest

from tocsin.features.devices.inventory import take_inventory
from tocsin.features.devices.probed import Port, Ports, ProbeResults, Usb, UsbDevice
from tocsin.features.devices.usb_power import PortLoad, StripBoard, UsbPower, usb_power
from tocsin.features.devices.usb_tree import read_devices
from tocsin.features.devices.usb_words import power_lines
from tocsin.model.rig import Light, Rig

HUB, SELF, BUS = "09", "e0", "80"


def plug(root: Path, place: str, ma: object, **files: str) -> None:
    """Make the folder of a device; ``ma`` is what its file of the most current says."""
    folder = root / place
    folder.mkdir(parents=True)
    said = {
        "idVendor": "1209", "idProduct": "0001", "bMaxPower": f"{ma}mA" if isinstance(ma, int) else str(ma),
        "bmAttributes": BUS, "bDeviceClass": "00", "speed": "12", "removable": "removable", **files,
    }  # fmt: skip
    for name, text in said.items():
        (folder / name).write_text(f"{text}\n", encoding="utf-8")


def power(root: Path, strip: StripBoard | None = None) -> UsbPower:
    return usb_power(Usb(found=read_devices(root)), strip)


def only(told: UsbPower) -> PortLoad:
    (port,) = told.ports
    return port


def test_a_pad_in_the_laptop_is_its_own_sum(tmp_path: Path) -> None:
    plug(tmp_path, "usb1", 0, bDeviceClass=HUB, bmAttributes=SELF)      # the laptop's own root of a bus
    plug(tmp_path, "1-2", 500, product="Pad A")
    (tmp_path / "1-2:1.0").mkdir()                                       # an interface of it
    port = only(power(tmp_path))
    assert (port.place, port.sum_ma, port.gives_ma, port.why) == ("1-2", 500, 500, "")
    assert [(load.name, load.asks_ma, load.why) for load in port.devices] == [("Pad A", 500, "")]


def test_two_pads_on_a_hub_without_a_supply_are_too_much_each_and_together(tmp_path: Path) -> None:
    plug(tmp_path, "1-1", 100, bDeviceClass=HUB, product="Hub")
    plug(tmp_path, "1-1.10", 98)
    plug(tmp_path, "1-1.2", 500)
    port = only(power(tmp_path))
    assert (port.sum_ma, port.gives_ma) == (100 + 98 + 500, 500)
    assert "its own supply" in port.why
    assert [(load.place, load.gives_ma, bool(load.why)) for load in port.devices] == [
        ("1-1", 500, False), ("1-1.2", 100, True), ("1-1.10", 100, False),
    ]  # fmt: skip


def test_a_hub_with_a_supply_feeds_what_is_behind_it(tmp_path: Path) -> None:
    plug(tmp_path, "1-1", 2, bDeviceClass=HUB, bmAttributes=SELF)
    plug(tmp_path, "1-1.1", 500)
    plug(tmp_path, "1-1.2", 500)
    plug(tmp_path, "1-1.3", 100, bDeviceClass=HUB)
    plug(tmp_path, "1-1.3.1", 500)
    port = only(power(tmp_path))
    assert (port.sum_ma, port.why) == (2, "")
    assert [(load.place, load.gives_ma) for load in port.devices if load.why] == [("1-1.3.1", 100)]


@pytest.mark.parametrize(("speed", "gives", "wrong"), [("480", 500, True), ("5000", 900, False), ("10000", 900, False)])
def test_a_port_of_usb_3_gives_more(tmp_path: Path, speed: str, gives: int, wrong: bool) -> None:
    plug(tmp_path, "2-1", 896, speed=speed)
    port = only(power(tmp_path))
    assert (port.gives_ma, bool(port.why)) == (gives, wrong)


def test_a_port_of_a_hub_of_usb_3_without_a_supply_gives_half_as_much_again(tmp_path: Path) -> None:
    """USB 3: a unit load of 150 mA, not of 100 (from memory)."""
    plug(tmp_path, "2-1", 144, speed="5000", bDeviceClass=HUB)
    plug(tmp_path, "2-1.1", 144, speed="5000")
    plug(tmp_path, "2-1.2", 152, speed="5000")
    assert [load.gives_ma for load in only(power(tmp_path)).devices if load.why] == [150]


def test_what_is_built_in_and_an_empty_hub_are_left_out(tmp_path: Path) -> None:
    plug(tmp_path, "1-5", 500, removable="fixed", product="Camera")
    plug(tmp_path, "1-6", 100, bDeviceClass=HUB)
    assert power(tmp_path) == UsbPower()
    assert power(tmp_path / "nothing here") == UsbPower()


def test_a_device_that_says_nothing_counts_as_one_that_is_not_configured(tmp_path: Path) -> None:
    plug(tmp_path, "1-1", "", bmAttributes="")
    (tmp_path / "1-1" / "speed").unlink()
    assert only(power(tmp_path)).sum_ma == 100
    (tmp_path / "1-1" / "idVendor").unlink()           # unplugged meanwhile
    assert power(tmp_path).ports == ()


def test_a_strip_counts_with_what_its_rig_lets_it_draw(tmp_path: Path) -> None:
    plug(tmp_path, "1-1", 100, idProduct="0004", product="Board")
    light = Light(usb="1209:0004", leds=60, max_ma=390)
    # 60 LEDs by bytes of 23: 384.7 mA (by hand, as in the tests of the limit), and 50 for the board.
    port = only(power(tmp_path, StripBoard(light, "1209:0004")))
    assert (port.sum_ma, port.devices[0].strip_ma, port.why) == (435, 435, "")
    port = only(power(tmp_path, StripBoard(Light(leds=60, max_ma=600), "1209:0004")))
    # (600 - 60) / 3600 x 255 = 38.25: 38, so 60 x 38 x 60 / 255 + 60 + 50 = 646.5.
    assert (port.sum_ma, bool(port.why)) == (646, True)
    # More than any port gives: a supply of its own feeds it.
    port = only(power(tmp_path, StripBoard(Light(leds=60, max_ma=3700), "1209:0004")))
    assert (port.sum_ma, port.devices[0].strip_ma) == (100, None)
    assert only(power(tmp_path, StripBoard(light, "1209:0006"))).sum_ma == 100


def test_where_nothing_is_known_that_is_said() -> None:
    assert usb_power(Usb(why="not known here"), None) == UsbPower(why="not known here")


def test_people_read_port_by_port_what_is_too_much(tmp_path: Path) -> None:
    plug(tmp_path, "1-1", 100, bDeviceClass=HUB, product="Hub")
    plug(tmp_path, "1-1.2", 500, product="Pad A")
    plug(tmp_path, "1-2", 100, idProduct="0004")
    light = Light(usb="1209:0004", leds=60, max_ma=390)
    lines = list(power_lines(power(tmp_path, StripBoard(light, "1209:0004"))))
    assert lines[0] == "port 1-1: 600 mA, and it gives 500 mA"
    assert lines[1].startswith("  more than a port gives")
    assert lines[2] == "  1-1  Hub: 100 mA, a hub without its own supply"
    assert lines[3] == "  1-1.2  Pad A: 500 mA"
    assert lines[4].startswith("    a port of a hub without its own supply gives 100 mA")
    assert lines[5:] == [
        "port 1-2: 435 mA, and it gives 500 mA",
        "  1-2  1209:0004: 100 mA, 435 mA with the strip if USB feeds it",
    ]
    assert list(power_lines(UsbPower())) == ["none"]
    assert list(power_lines(UsbPower(why="not known here"))) == ["not known here"]


def test_the_port_that_would_be_the_strips_names_its_board() -> None:
    found = ProbeResults(
        ports=Ports(found=(Port(name="COM5", usb="1209:00AB"),), strip="COM5"),
        usb=Usb(found=(UsbDevice(place="1-1", usb="1209:00ab", asks_ma=100),)),
    )
    rig = Rig(name="r", light=Light(port="COM5", leds=30, max_ma=400))
    told = take_inventory(found, rig, power="", packages=(), today=date(2031, 4, 1))
    # 30 LEDs by bytes of 52: 397.06 mA (by hand), and 50 for the board.
    assert only(told.usb_power).devices[0].strip_ma == 447
