"""Make the box's file of a plan and a rig's strip, and say what it holds, the cautions and what to type next."""

from typing import Final

import msgspec

from tocsin.errors import MistakeError
from tocsin.export.box.block import plan_block
from tocsin.export.box.image import box_image
from tocsin.export.box.watch import watch_lines
from tocsin.export.robot.table import table_of
from tocsin.export.source import CAUTIONS, Source
from tocsin.model.rig import Light
from tocsin.translation import tr

MOST_LEDS = 50                         # as the box is compiled (src/firmware/Makefile): its memory holds no more
# What the guide's fuse of 1 A leaves to the strip (hardware_notes/box.md): three quarters of it are 750 mA (rule of
# thumb, from memory), of which motors may take 200 and board and lamp 40; the rest is margin.
LEAST_MA, MOST_MA = 50, 400
# A rig's order is how a strip's controller wants its bytes; RGB says that the board at the port turns them round. The
# box has no such board, and most strips want green first (WS2812B and SK6812 datasheets).
_TURNED = "RGB"
_OF_THE_STRIP: Final = "GRB"
_USUAL = Light(leds=30, order=_OF_THE_STRIP, max_ma=MOST_MA, brightness=0.5)


class BoxExport(msgspec.Struct, frozen=True, kw_only=True):
    """The file's text, and lines that say what it holds."""

    text: str
    told: tuple[str, ...]

    def next_steps(self, name: str) -> tuple[str, ...]:
        """Return the cautions and the next line to type for the file of this name."""
        return (
            *CAUTIONS,
            tr("Own battery, never the robot's. USB or cells, never both: cells and plug out before USB goes in."),
            tr("Ask everybody who will be near it whether flashing light harms them."),
            tr("next, with the board on USB (`tocsin devices` lists the port for PORT; older boards want -b 57600):"),
            f"  avrdude -p m328p -c arduino -P PORT -b 115200 -D -U flash:w:{_quoted(name)}:i",
            tr("It worked if it says \"verified\"; \"Thank you\" comes after failures too."),
            tr("then once for each board: tocsin devices --controller PORT --calibrate"),
            tr("how to build and test one: hardware_notes/box.md"),
        )


def box_export(source: Source, light: Light | None) -> BoxExport:
    """Return a plan's file for a box with a rig's strip, or the usual one. Raises MistakeError for what has no room."""
    strip = light or _USUAL
    if strip.leds > MOST_LEDS:
        raise MistakeError(
            tr("the box has memory for {most} LEDs, and this rig's strip has {leds}", most=MOST_LEDS, leds=strip.leds),
            hint=tr("cut the strip, or name a rig whose [light] has fewer: --rig"),
        )
    if strip.max_ma < LEAST_MA or strip.max_ma <= strip.leds:
        raise MistakeError(
            tr("max_ma = {max_ma} of this rig's strip is less than the box takes", max_ma=strip.max_ma),
            hint=tr("a strip of {leds} LEDs draws {leds} mA when it is dark; the box takes 50 mA and more",
                    leds=strip.leds),
        )  # fmt: skip
    if strip.max_ma > MOST_MA:
        raise MistakeError(
            tr("max_ma = {max_ma} of this rig's strip is more than the {most} mA that a box's fuse of 1 A leaves it",
               max_ma=strip.max_ma, most=MOST_MA),
            hint=tr("a rig for the box, with max_ma = {most} or less below [light]: --rig", most=MOST_MA),
        )  # fmt: skip
    order = _OF_THE_STRIP if strip.order == _TURNED else strip.order
    block = plan_block(source, leds=strip.leds, order=order, max_ma=strip.max_ma, brightness=strip.brightness)
    told = (
        tr("{title}: {size} bytes of plan", title=source.title, size=len(block)),
        tr("strip: {leds} LEDs, {order}, {max_ma} mA at most, brightness {brightness:.1f}",
           leds=strip.leds, order=order, max_ma=strip.max_ma, brightness=strip.brightness),
        *_order_lines(strip.order, order),
        tr("A board calibrated or set with `tocsin devices` keeps its own LEDs and order: those count; of two limits "
           "the lower one does."),
        *watch_lines(source, table_of(source)),
    )  # fmt: skip
    return BoxExport(text=box_image(block, "\n".join(source.origin_lines)), told=told)


def _order_lines(of_the_rig: str, written: str) -> tuple[str, ...]:
    """Say why the order is another one than the rig's."""
    if of_the_rig == written:
        return ()
    return (
        tr("order: the rig's {rig} means that a board turns the colours round; here none does, and most strips want "
           "{written}", rig=of_the_rig, written=written),
    )  # fmt: skip


def _quoted(name: str) -> str:
    return f'"{name}"' if " " in name else name
