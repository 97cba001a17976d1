"""Draw the wiring of strips, motor and box: ``python -m tests.support.wiring.pictures hardware_notes``; look at each
before it is committed."""

import sys
from pathlib import Path

from tests.support.wiring.box import buttons, power
from tests.support.wiring.box import motor as box_motor
from tests.support.wiring.kit import Sheet, svg
from tests.support.wiring.motor import motor_sheet

FIRST = (
    "Join nothing with power on: supply off, USB out. Event rules, local codes and licensed people come first.\n"
    "Ask everybody near whether flashing light harms them. Somebody who knows the trade looks before it is lit."
)
KEY = ("plus", "minus", "data", "cable", "dot")


def usb():
    """Return the drawing of a strip that a USB port feeds."""
    sheet = Sheet("A strip from USB: 30 LEDs, max_ma = 400, no supply")
    sheet.part(8, 46, 36, 34, "Laptop")
    sheet.part(62, 36, 42, 54, "Board", name_at=0.12)
    sheet.cable((44, 63), (62, 63))
    sheet.text("Plug it into the laptop,\nnot into a hub without\nits own supply.", 8, 90)
    plus, data, minus = sheet.strip(150, 45, 52, right=False)
    for name, height in (("5V", plus), ("data pin", data), ("GND", minus)):
        sheet.terminal("board", name, 104, height, "right")
    sheet.wire("plus", (104, plus), (150, plus))
    sheet.text("No large capacitor here: a USB port bears 10 uF.", 92, 31)
    sheet.strip_data((104, 150), data, (142, minus))
    sheet.dot(142, minus)
    sheet.wire("minus", (104, minus), (150, minus))
    sheet.text("Strip: the arrow printed on it\npoints away from the board.", 146, 88)
    sheet.key(116, *KEY)
    sheet.text(FIRST, 8, 130)
    return sheet


def supply():
    """Return the drawing of a strip with a supply of its own, fed at both ends."""
    sheet = Sheet("A strip with its own supply: 5 V 5 A, max_ma = 3700")
    top, bottom, left_end, right_end = 24.0, 104.0, 136.0, 180.0
    feed, far = left_end - 5.0, right_end + 7.0
    sheet.part(8, 18, 26, 92, "Supply\n5 V 5 A")
    sheet.terminal("supply", "plus", 34, top, "right")
    sheet.terminal("supply", "minus", 34, bottom, "right")
    plus, data, minus = sheet.strip(left_end, 46, right_end - left_end)
    sheet.wire("plus", (34, top), (far, top), (far, plus), (right_end, plus))
    sheet.wire("plus", (feed, top), (feed, plus), (left_end, plus))
    sheet.dot(feed, top)
    sheet.fuse(46, top)
    sheet.text("fuse 5 A, at the supply", 42, top - 3.6)
    sheet.text("wire of 1.0 mm², 2 m at most", 60, top + 6.4)
    sheet.wire("minus", (34, bottom), (far, bottom), (far, minus), (right_end, minus))
    sheet.wire("minus", (feed, bottom), (feed, minus), (left_end, minus))
    sheet.dot(feed, bottom)
    sheet.part(40, 47, 22, 34, "Laptop", name_at=0.25)
    sheet.part(74, 40, 28, 44, "Board", name_at=0.12)
    sheet.cable((62, data), (74, data))
    sheet.text("5V: leave\nit empty", 77, 53.5)
    sheet.terminal("board", "data pin", 102, data, "right")
    sheet.terminal("board", "GND", 88, 84, "bottom")
    sheet.strip_data((102, left_end), data, (125, 88), (feed, 88))
    sheet.dot(feed, 88)
    sheet.wire("minus", (88, 84), (88, 92), (39, 92), (39, bottom))
    sheet.fuse(76, 92, resets=True)
    sheet.text("resettable\nfuse 0.1 A", 97, 91)
    sheet.dot(39, bottom)
    sheet.text("all minus wires meet here, at the supply", 42, bottom - 3.4)
    middle = (plus + minus) / 2
    sheet.wire("plus", (far, plus), (far, middle))
    sheet.wire("minus", (far, middle), (far, minus))
    sheet.capacitor(far, middle)
    sheet.dot(far, plus)
    sheet.dot(far, minus)
    sheet.text("1000 uF", 190.5, middle - 4.4)
    sheet.text("stripe to\nminus", 190.5, middle + 6.4)
    sheet.key(116, *KEY)
    sheet.text(FIRST, 8, 130)
    return sheet


def station():
    """Return the drawing of a driver station with pads and strip behind a hub."""
    sheet = Sheet("At the driver station: a hub with its own supply")
    sheet.part(8, 56, 34, 26, "Laptop")
    sheet.part(62, 42, 30, 54, "Hub")
    sheet.cable((42, 69), (62, 69))
    sheet.part(62, 20, 30, 14, "Its supply")
    sheet.wire("plus", (72, 34), (72, 42))
    sheet.wire("minus", (82, 34), (82, 42))
    for y_mm, name in ((49, "Pad: driver"), (69, "Pad: operator"), (89, "Board of the strip")):
        sheet.part(116, y_mm - 7, 44, 14, name)
        sheet.cable((92, y_mm), (116, y_mm))
    sheet.text("each port: 500 mA;\n100 mA if the hub's own\nsupply is unplugged", 97, 26)
    sheet.part(178, 60, 24, 24, "Strip")
    sheet.part(178, 94, 24, 14, "Supply")
    sheet.wire("minus", (152, 96), (152, 104), (178, 104))
    sheet.wire("data", (160, 89), (169, 89), (169, 72), (178, 72))
    sheet.arrow(177, 72)
    sheet.text("joined as in the\nstrip's own\ndrawing", 171, 46)
    sheet.wire("plus", (187, 94), (187, 84))
    sheet.wire("minus", (193, 94), (193, 84))
    sheet.text("A laptop that drives a robot keeps the robot's\npads on its own ports, never on this hub.", 8, 106)
    sheet.key(120, "plus", "minus", "data", "cable")
    sheet.text(FIRST, 8, 133)
    return sheet


def motor():
    """Return the drawing of a pager's motor behind a transistor."""
    sheet = motor_sheet(
        "A small motor: never at a pin, always behind a transistor", board="Board,\nfed by USB", pin="pin",
        source="Battery or\nsupply", fused=True,
    )  # fmt: skip
    sheet.text(
        "Join nothing with power on. Event rules, local codes and licensed people come first.\n"
        "A transistor's legs differ from kind to kind: its sheet says which is which.\n"
        "After five minutes feel motor, transistor and wires.", 8, 129,
    )  # fmt: skip
    return sheet


PICTURES = {
    "wiring_usb.svg": ("Strip from USB", usb),
    "wiring_supply.svg": ("Strip with its own supply", supply),
    "wiring_station.svg": ("Driver station with a hub", station),
    "wiring_motor.svg": ("Motor of a pager", motor),
    "wiring_box_power.svg": ("Box without a laptop: battery and strip", power),
    "wiring_box_buttons.svg": ("Box without a laptop: buttons, lamp, motors", buttons),
    "wiring_box_motor.svg": ("Box without a laptop: each motor", box_motor),
}


def main(folder):
    """Write all drawings."""
    for name, (title, draw) in PICTURES.items():
        (Path(folder) / name).write_bytes(svg(draw(), title))


if __name__ == "__main__":
    main(sys.argv[1])
