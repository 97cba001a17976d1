"""What a strip's controller can be set to, in words. Pure."""

from collections.abc import Iterator

import msgspec

from tocsin.channels.light.blocks import BAUDS, LEAST_MA, MOST_MA, ORDERS, Firmware, Identity, Settings, reset_words
from tocsin.channels.light.protocol import BOARD_MA
from tocsin.model.rig import IDLE_LED_MA, USB_PORT_MA, ColourOrder, Light
from tocsin.readable import typed
from tocsin.translation import tr

__all__ = [
    "BAUDS", "LEAST_MA", "MOST_MA", "ORDERS", "Changes", "ControllerReport", "cautions", "changed", "described",
    "differences", "light_of",
]  # fmt: skip

# 250,000 is exact for a chip of 16 MHz, 115,200 is 2.1 % off (its datasheet); 115,200 is what a new board has.
DEFAULT_BAUD, BEST_BAUD = 115_200, 250_000
_USB_MA = USB_PORT_MA - round(BOARD_MA)


class Changes(msgspec.Struct, frozen=True, kw_only=True):
    """The settings that somebody wants changed; None leaves one as it is."""

    leds: int | None = None
    order: ColourOrder | None = None
    max_ma: int | None = None
    baud: int | None = None

    @property
    def wanted(self) -> bool:
        """Whether anything is to be changed."""
        return self != Changes()


class ControllerReport(msgspec.Struct, frozen=True, kw_only=True):
    """Who answered on which port, with the settings that it has now; ``before`` are those that it had, None if nothing
    was written. ``rig`` is what the rig's ``[light]`` should say and does not, ``written`` the rig file that says it
    now. ``restarted_by`` is in words, empty if the board does not say."""

    port: str
    firmware: Firmware
    version: int
    most_leds: int
    settings: Settings
    before: Settings | None = None
    restarted_by: str = ""
    rig: dict[str, int | str] = {}
    written: str = ""


def described(port: str, found: Identity) -> Iterator[str]:
    """Yield who a controller is and what it is set to, in words."""
    what = tr("a strip's controller") if found.firmware == "strip" else tr("a box that plays a plan without a laptop")
    yield tr("{port}: {what}, Tocsin's firmware, version {version}", port=port, what=what, version=found.version)
    kept = found.settings
    yield tr("  LEDs      {leds}, of {most} at most", leds=kept.leds, most=found.most_leds)
    yield tr("  order     {order}, as the strip wants its bytes", order=kept.order)
    yield tr("  limit     {max_ma} mA", max_ma=kept.max_ma)
    yield tr("  line      {baud} baud", baud=kept.baud)
    if kept.clock_ppm:
        yield tr("  clock     {ppm:+} millionths", ppm=kept.clock_ppm)
    if by := reset_words(found.reset):
        yield tr("  restarted by {by}", by=by)


def cautions(kept: Settings) -> Iterator[str]:
    """Yield what speaks against settings, in words."""
    if kept.baud == DEFAULT_BAUD:
        yield tr(
            "{baud} baud works, 2.1 % off for its clock; {best} is exact: {typed}", baud=DEFAULT_BAUD, best=BEST_BAUD,
            typed=typed("tocsin", "devices", "--controller", "--baud", str(BEST_BAUD)),
        )
    if kept.max_ma > _USB_MA:
        yield tr(
            "CAUTION. {max_ma} mA is more than a USB port has for a strip ({usb} mA): only with a supply of its own and"
            " a fuse, see hardware_notes/light.md.", max_ma=kept.max_ma, usb=_USB_MA,
        )  # fmt: skip
    dark = round(kept.leds * IDLE_LED_MA)
    if kept.max_ma <= 2 * dark:
        yield tr(
            "{max_ma} mA leave little light: {leds} LEDs take about {dark} mA of it while they are dark.",
            max_ma=kept.max_ma, leds=kept.leds, dark=dark,
        )


def changed(kept: Settings, changes: Changes) -> Settings:
    """Return settings with the changes in them; whoever changes any of a board that has the default baud gets the
    better one too, unless a baud is given."""
    given = {name: value for name, value in msgspec.structs.asdict(changes).items() if value is not None}
    if given and changes.baud is None and kept.baud == DEFAULT_BAUD:
        given["baud"] = BEST_BAUD
    return msgspec.structs.replace(kept, **given)


def differences(before: Settings, now: Settings) -> Iterator[str]:
    """Yield in words what has changed."""
    words = {
        "leds": tr("LEDs"), "order": tr("order"), "max_ma": tr("limit in mA"), "baud": tr("baud"),
        "clock_ppm": tr("clock in ppm"),
    }  # fmt: skip
    old, new = msgspec.structs.asdict(before), msgspec.structs.asdict(now)
    for name, word in words.items():
        if old[name] != new[name]:
            yield tr("{word} {old} -> {new}", word=word, old=old[name], new=new[name])


def light_of(report: ControllerReport) -> Light:
    """Return the strip of a new rig as the board of a report wants it: one that was asked without a rig."""
    return Light(**report.rig)  # type: ignore[arg-type]
