"""Ask a strip's controller who it is, let it keep other settings, and read them back."""

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from os.path import realpath

from serial.tools import list_ports

from tocsin.channels.light.blocks import BlockError, Identity, Settings, refusal, reset_words
from tocsin.channels.light.controller import TRIED_BAUDS, Controller, NotTakenError, SilentError, meet
from tocsin.channels.light.port import PortError, find, usb_ids
from tocsin.errors import DeviceError, UsageError
from tocsin.features.devices.controller_settings import (
    Changes,
    ControllerReport,
    cautions,
    changed,
    described,
    differences,
)
from tocsin.features.devices.plugged_rig import light_at
from tocsin.features.devices.probed import Port, Ports
from tocsin.model.rig import Light
from tocsin.model.serial_port import AUTO
from tocsin.runner.run import alone
from tocsin.translation import tr

Say = Callable[[str], None]
_CAUTION = tr("Opening a port restarts many boards: nothing on them may move now.")
_LIST = tr("`tocsin devices` lists the ports")
_PAGES = tr("a strip: hardware_notes/light.md; a box: hardware_notes/box.md")


def port_of(given: str, light: Light | None) -> tuple[str, bool]:
    """Return the port to open, and whether that is a guess: the given one, the rig's, or the only one on USB.

    Raises UsageError, and DeviceError if it is not there.
    """
    if not given and light is not None and light.device:
        raise UsageError(
            tr("the rig's strip is the device {name} of a package: it has no port", name=light.device),
            hint=tr("name the port of a board: `tocsin devices --controller PORT`; {list}", list=_LIST),
        )
    if given or light is not None:
        try:
            return find(Light(port=given) if given or light is None else light), False
        except PortError as error:
            hint = tr("name its port: `tocsin devices --controller PORT`; {list}", list=_LIST)
            raise DeviceError(str(error), hint=hint) from error
    names = [port.name for port in _ports().found if port.usb]
    if len(names) != 1:
        there = tr("there are {names}", names=", ".join(names)) if names else tr("there is no port on USB")
        raise UsageError(
            tr("which port is the board's? {there}", there=there),
            hint=tr("name it: `tocsin devices --controller PORT`"),
        )
    return names[0], True


@contextmanager
def met(port: str, first_baud: int, say: Say) -> Iterator[tuple[Controller, Identity]]:
    """Open a port and yield its controller with what it says of itself; close it afterwards. ``first_baud`` is tried
    first. No other Tocsin runs meanwhile.

    Raises DeviceError: nobody answers, the port cannot be opened, another Tocsin is running; also for what goes wrong
    with the port inside.
    """
    with alone() as note:
        if note:
            say(note)
        say(_CAUTION)
        try:
            with Controller(port, first_baud) as controller:
                yield controller, meet(controller)
        except PortError as error:
            raise DeviceError(str(error)) from error
        except SilentError as error:
            raise _nobody(port, error) from error
        except (BlockError, NotTakenError) as error:
            raise DeviceError(
                tr("{port}: {error}", port=port, error=error),
                hint=tr("flash the firmware that comes with this Tocsin: {pages}", pages=_PAGES),
            ) from error


def ask_controller(port: str, light: Light | None, changes: Changes, say: Say) -> ControllerReport:
    """Ask who the controller is and let it keep ``changes``, read back afterwards; ``light`` is the rig's. Says what
    it does. Raises UsageError for what the board does not take, DeviceError."""
    with met(port, light.baud if light is not None else TRIED_BAUDS[0], say) as (controller, found):
        before = found.settings
        settings = changed(before, changes)
        for line in described(port, found):
            say(line)
        if why := refusal(settings, found.most_leds):
            raise UsageError(why, hint=tr("nothing was written to the board"))
        if settings != before:
            found = stored(controller, settings)
            say(tr("Written into the board, and read back:"))
            for line in differences(before, found.settings):
                say(f"  {line}")
        elif changes.wanted:
            say(tr("The board has these settings already: nothing was written."))
    for line in cautions(found.settings):
        say(line)
    return ControllerReport(
        port=port, firmware=found.firmware, version=found.version, most_leds=found.most_leds,
        settings=found.settings, before=before if settings != before else None, restarted_by=reset_words(found.reset),
        rig=_missing_in(light, port, found, changes) if found.firmware == "strip" else {},
    )  # fmt: skip


def stored(controller: Controller, settings: Settings) -> Identity:
    """Let a board keep settings. Raises DeviceError if it cannot be said whether it has."""
    before = controller.baud
    try:
        return controller.store(settings)
    except SilentError as error:
        baud = settings.baud
        raise DeviceError(
            tr("{port}: the settings were sent, and the board does not answer any more", port=controller.name),
            hint=tr(
                "ask it again with `tocsin devices --controller`; if it stays silent, this laptop's USB adapter may not"
                " do {baud} baud: on another laptop `--baud {before}` sets it back", baud=baud, before=before,
            ),
        ) from error  # fmt: skip


def _missing_in(light: Light | None, port: str, found: Identity, changes: Changes) -> dict[str, int | str]:
    """Return what a rig's ``[light]`` should say for a board, as far as it does not: TPM2, since that is answered; the
    colours in plain order, since the board itself brings them into the strip's; a lower limit stays, if nobody has
    given another."""
    kept, rig = found.settings, light or Light()
    wanted: dict[str, int | str] = {
        **_place(light, port), "protocol": "tpm2", "leds": kept.leds, "baud": kept.baud, "order": "RGB",
        "max_ma": min(rig.max_ma, kept.max_ma) if light is not None and changes.max_ma is None else kept.max_ma,
    }  # fmt: skip
    if light is None:
        return wanted
    return {name: value for name, value in wanted.items() if getattr(rig, name) != value}


def _place(light: Light | None, port: str) -> dict[str, int | str]:
    """Return how a rig finds the port, if it does not yet."""
    if light is not None:
        try:
            if realpath(find(light)) == realpath(port):
                return {}
        except PortError:
            pass
    place = light_at(port, _ports())
    values: dict[str, int | str] = {"port": place.port}
    return {**values, "usb": place.usb} if place.usb or place.port == AUTO else values


def _ports() -> Ports:
    found = sorted(list_ports.comports(), key=lambda port: str(port.device))
    return Ports(found=tuple(Port(name=port.device, usb=usb_ids(port)) for port in found))


def _nobody(port: str, error: SilentError) -> DeviceError:
    """Return the error of a port on which nobody says who he is."""
    if error.greeted:
        return DeviceError(
            tr(
                "{port}: a board greets at {baud} baud and does not say who it is: its program is not Tocsin's",
                port=port, baud=error.baud,
            ),
            hint=tr("set it up in that program, or give it Tocsin's firmware: {pages}", pages=_PAGES),
        )  # fmt: skip
    return DeviceError(
        tr(
            "{port}: no board answers, tried at {bauds} baud", port=port,
            bauds=", ".join(map(str, TRIED_BAUDS)),
        ),
        hint=tr(
            "is it the board's port ({list})? Has it Tocsin's firmware ({pages})? Unplug it, plug it in and ask again",
            list=_LIST, pages=_PAGES,
        ),
    )  # fmt: skip
