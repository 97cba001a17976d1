"""The drawing of a motor behind a transistor."""

from tests.support.wiring.kit import Sheet


def motor_sheet(title, *, board, pin, source, fused):
    """Return the drawing but for the lines at its foot: what the board, its pin and what feeds the motor are called,
    and whether the motor has a fuse of its own."""
    sheet = Sheet(title)
    top, bottom = 24.0, 102.0
    sheet.part(8, 50, 32, 48, board, name_at=0.2)
    sheet.terminal("board", pin, 40, 72, "right")
    sheet.terminal("board", "GND", 40, 90, "right")
    sheet.wire("data", (40, 72), (80, 72))
    sheet.arrow(79, 72)
    sheet.resistor(53, 72)
    sheet.text("1 kohm", 53, 68.4, at="middle")
    sheet.wire("data", (66, 72), (66, 86))
    sheet.dot(66, 72)
    sheet.resistor(66, 86, upright=True)
    sheet.text("10 kohm", 69.5, 92)
    sheet.wire("minus", (66, 86), (66, bottom))
    sheet.dot(66, bottom)
    sheet.part(80, 60, 46, 24)
    sheet.text("NPN transistor", 93, 73.3, bold=True)
    sheet.terminal("transistor", "base", 80, 72, "left")
    sheet.terminal("transistor", "collector", 106, 60, "top")
    sheet.terminal("transistor", "emitter", 106, 84, "bottom")
    sheet.wire("minus", (106, 84), (106, bottom))
    sheet.dot(106, bottom)
    sheet.wire("minus", (40, 90), (46, 90), (46, bottom), (168, bottom))
    sheet.part(94, 32, 24, 14, "Motor")
    sheet.terminal("motor", "plus", 106, 32, "top", named=False)
    sheet.terminal("motor", "minus", 106, 46, "bottom", named=False)
    sheet.wire("plus", (106, 32), (106, top), (168, top))
    sheet.part(168, 18, 34, 90, source)
    sheet.terminal("source", "plus", 168, top, "left")
    sheet.terminal("source", "minus", 168, bottom, "left")
    if fused:
        sheet.fuse(152, top)
        sheet.text("fuse", 152, top - 3.6, at="middle")
    sheet.wire("switched", (106, 46), (106, 60))
    sheet.wire("switched", (106, 53), (134, 53), (134, 40))
    sheet.dot(106, 53)
    sheet.wire("plus", (134, 40), (134, top))
    sheet.dot(134, top)
    sheet.diode(134, 40)
    sheet.text("diode:\nring to plus", 138, 39)
    sheet.key(118, "plus", "minus", "data", "switched", "dot", data="signal")
    return sheet
