"""The drawings of the box that plays a plan without a laptop."""

from tests.support.wiring.kit import Sheet
from tests.support.wiring.motor import motor_sheet

OWN = (
    "Join nothing with cells in the holder. Its own battery, never the robot's. USB or cells, never both at once.\n"
    "Event rules, local codes and licensed people come first. Ask everybody whether flashing light harms them."
)
BUTTONS = (("D2", "Start"), ("D4", "Resync"), ("D7", "Call"), ("D9", "Role"), ("A1", "Jumper: practice"))


def power():
    """Return the drawing of battery, fuse, switch, board and strip."""
    sheet = Sheet("The box, first part: battery, board, strip")
    top, bottom, plug, left_end, right_end = 30.0, 104.0, 136.0, 147.0, 180.0
    feed, far = plug - 5.0, right_end + 7.0
    sheet.part(8, 46, 32, 40, "Holder,\n4 NiMH\ncells, AA")
    sheet.terminal("holder", "plus", 24, 46, "top", named=False)
    sheet.terminal("holder", "minus", 24, 86, "bottom", named=False)
    sheet.text("plus", 27, 43)
    sheet.text("minus", 27, 91.5)
    plus, data, minus = sheet.strip(left_end, 46, right_end - left_end)
    sheet.part(plug, 46, 6, 36)
    sheet.text("plug", plug + 3, 42.5, at="middle")
    for name, y_mm, kind in (("5V", plus, "plus"), ("DIN", data, "data"), ("GND", minus, "minus")):
        sheet.terminal("plug", name, plug, y_mm, "left", named=False)
        sheet.terminal("plug's strip side", name, plug + 6, y_mm, "right", named=False)
        sheet.wire(kind, (plug + 6, y_mm), (left_end, y_mm))
    sheet.wire("plus", (24, 46), (24, top), (feed, top), (feed, plus), (plug, plus))
    sheet.fuse(36, top)
    sheet.text("fuse 1 A, at the holder", 16, top - 4.2)
    sheet.switch(68, top)
    sheet.text("switch", 68, top - 5.0, at="middle")
    sheet.wire("minus", (24, 86), (24, bottom), (feed, bottom), (feed, minus), (plug, minus))
    sheet.part(72, 44, 30, 44, "Board", name_at=0.3)
    sheet.text("USB: nothing", 74, 78)
    sheet.terminal("board", "5V", 87, 44, "top")
    sheet.terminal("board", "GND", 87, 88, "bottom")
    sheet.terminal("board", "D8", 102, data, "right")
    sheet.wire("plus", (87, top), (87, 44))
    sheet.dot(87, top)
    sheet.wire("minus", (87, 88), (87, bottom))
    sheet.dot(87, bottom)
    sheet.strip_data((102, plug), data, (125, 88), (feed, 88))
    sheet.dot(feed, 88)
    middle = (plus + minus) / 2
    sheet.wire("plus", (right_end, plus), (far, plus), (far, middle))
    sheet.wire("minus", (far, middle), (far, minus), (right_end, minus))
    sheet.capacitor(far, middle)
    sheet.text("1000 uF", 190.5, middle - 4.4)
    sheet.text("stripe to\nminus", 190.5, middle + 6.4)
    sheet.key(118, "plus", "minus", "data", "dot")
    sheet.text(OWN, 8, 131)
    return sheet


def buttons():
    """Return the drawing of what hangs on the board's pins: buttons, lamp, buzzer, motors."""
    sheet = Sheet("The box, second part: buttons, lamp, buzzer, motors")
    left, right, low = 18.0, 202.0, 112.0
    sheet.part(88, 20, 34, 86, "Board", name_at=0.06)
    sheet.terminal("board", "GND", 105, 106, "bottom")
    for place, (pin, name) in enumerate(BUTTONS):
        y_mm = 32.0 + 16.0 * place
        sheet.part(28, y_mm - 5.5, 42, 11, name)
        sheet.terminal(name, "one side", 70, y_mm, "right", named=False)
        sheet.terminal(name, "other side", 28, y_mm, "left", named=False)
        sheet.terminal("board", pin, 88, y_mm, "left")
        sheet.wire("data", (88, y_mm), (70, y_mm))
        if place:
            sheet.wire("minus", (28, y_mm), (left, y_mm))
            sheet.dot(left, y_mm)
        else:
            sheet.wire("minus", (28, y_mm), (left, y_mm), (left, low), (105, low), (105, 106))
    for y_mm, pin, name in ((32.0, "D6", "Strong motor"), (52.0, "D5", "Weak motor")):
        sheet.terminal("board", pin, 122, y_mm, "right")
        sheet.part(148, y_mm - 7.5, 46, 15, f"{name},\nby its transistor")
        sheet.terminal(name, "signal", 148, y_mm, "left", named=False)
        sheet.wire("data", (122, y_mm), (148, y_mm))
        sheet.arrow(147, y_mm)
    for y_mm, pin, name in ((74.0, "A0", "Lamp"), (92.0, "D3", "Buzzer")):
        sheet.terminal("board", pin, 122, y_mm, "right")
        sheet.part(160, y_mm - 5.5, 28, 11, name)
        sheet.terminal(name, "signal", 160, y_mm, "left", named=False)
        sheet.terminal(name, "minus", 188, y_mm, "right", named=False)
        sheet.wire("data", (122, y_mm), (160, y_mm))
        sheet.arrow(159, y_mm)
        sheet.resistor(138, y_mm)
        sheet.text("1 kohm", 138, y_mm - 3.4, at="middle")
    sheet.text("see the third part", 151, 64.2)
    sheet.wire("minus", (188, 74), (right, 74), (right, low), (105, low))
    sheet.wire("minus", (188, 92), (right, 92))
    sheet.dot(right, 92)
    sheet.dot(105, low)
    sheet.key(122, "minus", "data", "dot", data="signal")
    sheet.text(OWN, 8, 133)
    return sheet


def motor():
    """Return the drawing of one of the box's motors: the box's own fuse and switch are what feeds it."""
    sheet = motor_sheet(
        "The box, third part: each of its motors", board="Board", pin="D6 or D5",
        source="From the\nswitch,\nfirst part", fused=False,
    )  # fmt: skip
    sheet.text(
        "Join nothing with cells in the holder. D6: strong motor, D5: weak motor; each has all of this for itself.\n"
        "A transistor's legs differ from kind to kind: its sheet says which is which.\n"
        "Event rules, local codes and licensed people come first. After five minutes feel motor and wires.", 8, 129,
    )  # fmt: skip
    return sheet
