"""Say what a rig's strip draws at most, beside what ports give."""

from tocsin.channels.light.protocol import BOARD_MA, most_ma
from tocsin.model.rig import BUS_POWERED_PORT_MA, USB_3_PORT_MA, USB_PORT_MA, Rig
from tocsin.translation import tr


def current_note(file: str, rig: Rig) -> str:
    """Return the currents of a rig's strip in words; nothing for a rig without one, or whose strip is a package's."""
    light = rig.light
    if light is None or light.device:
        return ""
    most = most_ma(light)
    return tr(
        "{file}: {leds} LEDs draw {most:.0f} mA at most (max_ma = {max_ma}), {dark:.0f} while dark, and {all_in:.0f} "
        "with their board. A USB 2 port gives {port}, one of USB 3 {port_3}, one of a hub without its own supply "
        "{hub}.",
        file=file, leds=light.leds, most=most, max_ma=light.max_ma, dark=light.dark_ma, all_in=most + BOARD_MA,
        port=USB_PORT_MA, port_3=USB_3_PORT_MA, hub=BUS_POWERED_PORT_MA,
    )  # fmt: skip
