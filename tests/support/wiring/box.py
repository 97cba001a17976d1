"""The drawings of the box that plays a plan without a laptop: ``python -m tests.support.wiring.pictures
hardware_notes`` writes them too."""

from tests.support.wiring.kit import Sheet

OWN = (
    "Join nothing with the battery in. Its own battery, never the robot's. USB or battery, never both at once.\n"
    "Event rules, local codes and licensed people come first. Ask everybody whether flashing light harms them."
)
KEY = ("plus", "minus", "data", "dot")


def power():
    """Return the drawing of battery, fuse, switch, board and strip."""
    sheet = Sheet("The box, first part: battery, board, strip")
    top, bottom = 30.0, 104.0
    sheet.part(8, 44, 32, 42, "Holder,\n4 x NiMH,\nsize AA")
    sheet.terminal("+", 24, 44, "top")
    sheet.terminal("-", 24, 86, "bottom")
    plus, data, minus = sheet.strip(156, 46, 46, right=False)
    sheet.wire("plus", (24, 44), (24, top), (146, top), (146, plus), (156, plus))
    sheet.fuse(38, top)
    sheet.text("fuse 1 A,\nat the holder", 30, top - 9.0)
    _switch(sheet, 70, top)
    sheet.text("switch", 70, top - 4.6, at="middle")
    sheet.wire("minus", (24, 86), (24, bottom), (146, bottom), (146, minus), (156, minus))
    sheet.part(76, 44, 32, 44, "Board", name_at=0.36)
    sheet.terminal("5V", 92, 44, "top")
    sheet.terminal("GND", 92, 88, "bottom")
    sheet.terminal("D8", 108, data, "right")
    sheet.text("USB: leave\nit empty", 78.5, 71)
    sheet.wire("plus", (92, top), (92, 44))
    sheet.dot(92, top)
    sheet.wire("minus", (92, 88), (92, bottom))
    sheet.dot(92, bottom)
    sheet.wire("data", (108, data), (156, data))
    sheet.arrow(155, data)
    sheet.resistor(118, data)
    sheet.text("330 ohm", 118, data - 3.4, at="middle")
    sheet.wire("data", (137, data), (137, bottom))
    sheet.resistor(137, 88, upright=True)
    sheet.text("10 kohm", 133.5, 89.3, at="right")
    sheet.dot(137, data)
    sheet.dot(137, bottom)
    sheet.wire("plus", (128, top), (128, 44))
    sheet.wire("minus", (128, 44), (128, 52), (133, 52), (133, 58))
    sheet.key(116, *KEY)
    sheet.text(OWN, 8, 130)
    return sheet


def _switch(sheet, x_mm, y_mm):
    """Draw a switch in a level wire, its middle there, open (IEC 60617)."""
    sheet.part(x_mm - 7, y_mm - 3.0, 14, 6.0)
    for side in (-1, 1):
        sheet.dot(x_mm + side * 5.0, y_mm, 0.9)
    sheet.wire("data", (x_mm - 5.0, y_mm), (x_mm + 4.0, y_mm - 2.4))
