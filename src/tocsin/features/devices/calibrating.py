"""Compare a controller's clock with this laptop's for a minute, and let it keep what that came to."""

import msgspec

from tocsin import monotime
from tocsin.channels.light.blocks import CLOCK, reset_words
from tocsin.channels.light.controller import TRIED_BAUDS, Controller, SilentError
from tocsin.features.devices.calibration import EVERY_NS, LASTS_NS, Latch, clock_rate
from tocsin.features.devices.controller import Say, met, stored
from tocsin.features.devices.controller_settings import ControllerReport
from tocsin.model.rig import Light
from tocsin.translation import tr
from tocsin.units import NS_PER_S

_CLOCK_BYTES = 5                       # the letter, and 32 bits


def calibrate(
    port: str, light: Light | None, say: Say, *, lasts_ns: int = LASTS_NS, every_ns: int = EVERY_NS
) -> ControllerReport:
    """Ask a board for its clock again and again, and write into it by how much it runs fast; ``light`` is the rig's.
    Says what it does. Raises DeviceError if nobody answers, or the clock cannot be told."""
    with met(port, light.baud if light is not None else TRIED_BAUDS[0], say) as (controller, found):
        say(
            tr("For {seconds} s its clock is compared with this laptop's. Leave it plugged in.",
               seconds=lasts_ns // NS_PER_S)
        )  # fmt: skip
        rate = clock_rate(_latches(controller, lasts_ns, every_ns))
        say(
            tr(
                "Its clock is {ppm:+} millionths off this laptop's, known to ±{error}: {ms} ms in a match of 160 s.",
                ppm=rate.ppm, error=rate.error_ppm, ms=round(rate.ppm * 0.16),
            )
        )  # fmt: skip
        before = found.settings
        found = stored(controller, msgspec.structs.replace(before, clock_ppm=rate.ppm))
        say(tr("Written into the board, and read back. In much colder or warmer air do it again."))
    return ControllerReport(
        port=port, firmware=found.firmware, version=found.version, most_leds=found.most_leds,
        settings=found.settings, before=before if found.settings != before else None,
        restarted_by=reset_words(found.reset),
    )  # fmt: skip


def _latches(controller: Controller, lasts_ns: int, every_ns: int) -> list[Latch]:
    """Return the board's answers; a question that got none is left out."""
    found: list[Latch] = []
    begin_ns = next_ns = monotime.now_ns()
    while next_ns <= begin_ns + lasts_ns:
        monotime.sleep_ns(max(0, next_ns - monotime.now_ns()))
        next_ns += every_ns
        try:
            reply = controller.ask(CLOCK)
        except SilentError:
            continue
        if len(reply.payload) == _CLOCK_BYTES:
            chip_us = int.from_bytes(reply.payload[1:], "big")
            found.append(Latch(sent_ns=reply.sent_ns, got_ns=reply.came_ns, chip_us=chip_us))
    return found
