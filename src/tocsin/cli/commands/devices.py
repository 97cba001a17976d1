"""``tocsin devices``: show the plugged-in devices, the roles they would get, and the fix for what is missing."""

import argparse
from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import msgspec

from tocsin import monotime
from tocsin.cli.arguments import channels, count
from tocsin.cli.asking import agreed, is_terminal
from tocsin.cli.lines import say_to, tell, tell_json
from tocsin.cli.own_files import demand_suffix
from tocsin.cli.parser import Parser
from tocsin.cli.project import meant_here
from tocsin.config.load import load_rig
from tocsin.config.toml.phrases import quoted
from tocsin.config.write.new_rig import rig_text
from tocsin.config.write.rig_edit import own_rig, write_values
from tocsin.config.writing import write_new
from tocsin.errors import OVER, DeviceError, UsageError
from tocsin.features.devices.controller_settings import (
    BAUDS,
    LEAST_MA,
    MOST_MA,
    ORDERS,
    Changes,
    ControllerReport,
    light_of,
)
from tocsin.features.devices.inventory import (
    Confirmation,
    DisplayRow,
    Inventory,
    NamedRow,
    PadRow,
    PortRow,
    take_inventory,
)
from tocsin.features.devices.plugged_rig import beyond_roles, rig_of
from tocsin.features.devices.probed import KINDS
from tocsin.features.devices.probing import ask_probes
from tocsin.features.devices.tryout.walk import TryoutRequest, absent_of, told_at_the_end, try_devices
from tocsin.features.devices.usb_words import power_lines
from tocsin.model.plan import CHANNELS
from tocsin.model.rig import Rig
from tocsin.readable import typed
from tocsin.runner.power import battery_text
from tocsin.runner.pygames import demand_one_pygame, installed_pygames
from tocsin.speech.voices import voices_of_system
from tocsin.translation import tr

MOST_LEDS = 2000                       # as in a rig; a board says itself how many it takes
_SETTINGS = ("leds", "order", "max_ma", "baud")
_EXAMPLES = tr("""\
examples:
  tocsin devices                        what there is, with the ids to write into a rig
  tocsin devices --rig practice_bench   whose pad is whose, and which port is the strip's
  tocsin devices --try --rig my.toml    try each device with people, and write down what they confirmed
  tocsin devices --try --only rumble    only the pads
  tocsin devices --write my.toml        a rig of what is plugged in; with --try whose pad is whose too
  tocsin devices --drivers --json       for a report of a fault
  tocsin devices --controller           a strip's board with Tocsin's firmware: who it is, how it is set
  tocsin devices --controller --leds 60 --order GRB --max-ma 390 --baud 250000
                                        let it keep this; then the rig can be written to fit
  tocsin devices --controller PORT --calibrate
                                        for a box without a laptop: its clock beside this laptop's, for a minute

Without --try pads are opened for less than a second to read their ids, none is shaken, no port is
opened, no sound is made. So a program that drives a robot keeps its pads, unless your rig sets hidapi = true for one:
then do not look while a robot runs.

With --try pads shake, the strip shines, a window opens, sound comes. Opening a port restarts many boards. Pads are left
alone while another program has one open, and where the rig drives a robot until you say that no robot is enabled.
Answer by single keys, or by lines from a pipe.

--controller opens the strip's port, which restarts the board, and asks it at each baud it may have. What it is told to
keep is read back. The port is PORT, or the rig's, or the only one on USB.

exit codes: 0 also when something is missing or not confirmed, 2 usage, 20 a mistake in the rig, 21 a device that --only
asks for is not there, no board answers or another Tocsin is running, 22 its lock cannot be written, 130 Ctrl-C (then no
file is written)
""")


def parser() -> Parser:
    """Return the parser of ``tocsin devices``."""
    purpose = tr("Show pads, serial ports, displays and sound, and what is missing; try each with people.")
    result = Parser("tocsin devices", purpose, _EXAMPLES)
    add = result.add_argument
    add("--rig", metavar="NAME|FILE", help=tr("show whose each pad is and which port is the strip's (the project's)"))
    add(
        "--try", dest="tries", action="store_true",
        help=tr("play a known signal on each device; people say which it was"),
    )
    add("--only", type=channels, metavar="CHANNEL,...", help=tr("with --try: only these, and they must be there"))
    add("--write", type=Path, metavar="FILE", help=tr("write a new rig of what is plugged in; no file is overwritten"))
    add(
        "--controller", nargs="?", const="", metavar="PORT",
        help=tr("ask a strip's board with Tocsin's firmware who it is; set it with the four below"),
    )
    add("--leds", type=count(1, MOST_LEDS), metavar="N", help=tr("with --controller: how many LEDs it feeds"))
    add(
        "--order", type=str.upper, choices=ORDERS,
        help=tr("with --controller: the order in which the strip wants its bytes, GRB for most"),
    )
    add(
        "--max-ma", type=count(LEAST_MA, MOST_MA), metavar="MA",
        help=tr("with --controller: the current that it never passes"),
    )
    add(
        "--baud", type=int, choices=BAUDS,
        help=tr("with --controller: the speed of its line (250000, once anything is set)"),
    )
    add(
        "--calibrate", action="store_true",
        help=tr("with --controller: compare its clock with this laptop's for a minute, and write that into it"),
    )
    add("--drivers", action="store_true", help=tr("show the libraries and drivers below them too"))
    add("--json", action="store_true", help=tr("print all of it as JSON, alone on stdout"))
    return result


def main(arguments: Sequence[str]) -> int:
    """Look for all devices and print or try them; return the exit code. Raises the errors of loading a rig."""
    given = parser().parse_args(arguments)
    _demand_sense(given)
    meant = meant_here()
    if given.write is None:                    # a new rig is made without another one
        given.rig = meant.rig_or_none(given.rig)
    meant.tell()
    say = say_to(given.json)
    if given.tries:
        return _try(given, say)
    if given.controller is not None:
        return _controller(given, say)
    rig = load_rig(given.rig) if given.rig else None
    packages = tuple(installed_pygames())
    with ThreadPoolExecutor(1) as pool:        # beside the probes, so that nobody waits for it
        asked = pool.submit(voices_of_system)
        found = ask_probes(rig or Rig(name=""), kinds=(*KINDS, "packages", "usb"))
        voices = asked.result()
    inventory = take_inventory(
        found, rig, power=battery_text(), packages=packages, today=monotime.today(), pygame_why=_pygame_why(),
        voices=voices,
    )
    if given.write is not None:
        if beyond := beyond_roles(found):
            say(beyond)
        rig = rig_of(found)
        _write(given.write, rig, say)
        if rig.light is not None:
            say(tr(
                "If the strip's board has Tocsin's firmware: {typed} asks it for the rest.",
                typed=typed("tocsin", "devices", "--controller", "--rig", str(given.write)),
            ))
    if given.json:
        tell_json(inventory)
    elif given.write is None:
        tell("\n".join(_lines(inventory, given.rig or "", drivers=given.drivers)))
    return OVER


def _demand_sense(given: argparse.Namespace) -> None:
    """Raise UsageError for options that do not go together, and for a file that may not be written."""
    if given.only and not given.tries:
        raise UsageError(tr("--only says what --try tries"), hint=tr("add --try, or leave --only out"))
    if given.drivers and given.tries:
        raise UsageError(tr("--drivers goes with the list of devices"), hint=tr("leave --try out"))
    if given.controller is None and (one := next((name for name in _SETTINGS if getattr(given, name) is not None), "")):
        option = f"--{one.replace('_', '-')}"
        hint = tr("add --controller, or leave {option} out", option=option)
        raise UsageError(tr("{option} sets a strip's board", option=option), hint=hint)
    if given.controller is not None and (given.tries or given.drivers):
        raise UsageError(
            tr("--controller asks one board and nothing else"), hint=tr("leave --try and --drivers out"),
        )
    if given.calibrate:
        _demand_calibration(given)
    if given.write is None:
        return
    if given.rig:
        raise UsageError(
            tr("--write makes a new rig of what is plugged in: it takes no --rig"),
            hint=tr("leave --rig out; --try --rig {rig} writes what is confirmed into that one", rig=given.rig),
        )
    demand_suffix(given.write, "rig", (".toml",), "my_rig")
    if given.write.exists():
        raise UsageError(
            tr("{write} is there already", write=given.write), hint=tr("choose another name: no rig is overwritten"),
        )


def _demand_calibration(given: argparse.Namespace) -> None:
    if given.controller is None:
        raise UsageError(
            tr("--calibrate is for a strip's board"), hint=tr("add --controller, or leave --calibrate out"),
        )
    if given.write is not None or any(getattr(given, name) is not None for name in _SETTINGS):
        raise UsageError(
            tr("--calibrate sets a board's clock and nothing else"), hint=tr("set the rest by a call of its own"),
        )


def _try(given: argparse.Namespace, say: Callable[[str], None]) -> int:
    demand_one_pygame()
    result, rig = try_devices(TryoutRequest(rig=given.rig, only=given.only or CHANNELS), say)
    for line in told_at_the_end(result):
        say(line)
    if given.write is not None and not result.exit:
        _write(given.write, rig, say)
        result = msgspec.structs.replace(result, written=str(given.write))
    if given.json:
        tell_json(result)
    if not result.exit and (absent := absent_of(result, given.only or ())):
        raise DeviceError(
            tr("{absent}: asked for, but there is no device", absent=", ".join(absent)),
            hint=tr("`tocsin devices` lists what is there and what fixes it"),
        )
    return result.exit


def _controller(given: argparse.Namespace, say: Callable[[str], None]) -> int:
    from tocsin.features.devices import calibrating, controller

    light = load_rig(given.rig).light if given.rig else None
    port, guessed = controller.port_of(given.controller, light)
    if guessed and not _agreed(tr("Ask the device on {port}, the only one on USB?", port=port), given.json):
        raise UsageError(
            tr("{port} was not opened: it may be another device", port=port),
            hint=tr("name the port: `tocsin devices --controller {port}`", port=port),
        )
    if given.calibrate:
        report = calibrating.calibrate(port, light, say)
        if given.json:
            tell_json(report)
        return OVER
    changes = Changes(**{name: getattr(given, name) for name in _SETTINGS})
    report = controller.ask_controller(port, light, changes, say)
    if given.write is not None:
        found = ask_probes(Rig(name=""))
        rig = rig_of(found)
        _write(given.write, msgspec.structs.replace(rig, light=light_of(report) if report.rig else rig.light), say)
        report = msgspec.structs.replace(report, written=str(given.write))
    elif report.rig:
        report = _into_rig(given, report, say)
    if given.json:
        tell_json(report)
    return OVER


def _into_rig(
    given: argparse.Namespace, report: ControllerReport, say: Callable[[str], None]
) -> ControllerReport:
    """Say what the rig should say of a board, and write it if people want that; return the report."""
    say(tr("A rig for this board says, under [light]:"))
    for name, value in report.rig.items():
        say(f"    {name} = {value if isinstance(value, int) else quoted(value)}")
    if "order" in report.rig:
        say(tr("  (the order is plain there: the board itself brings the colours into the strip's)"))
    if not given.rig:
        say(tr(
            "Write it into a rig of your own; a new one comes by {typed}",
            typed=typed("tocsin", "devices", "--controller", report.port, "--write", "my_rig.toml"),
        ))
        return report
    try:
        path = own_rig(given.rig)
    except UsageError as error:
        say(error.line)
        return report
    if not _agreed(tr("Write it into {file}?", file=path), given.json):
        say(tr("{file} stays as it is: until it says so, the strip may stay dark.", file=path))
        return report
    write_values(path, {("light", name): value for name, value in report.rig.items()})
    say(tr("wrote {file}", file=path))
    return msgspec.structs.replace(report, written=str(path))


def _agreed(question: str, json_output: bool) -> bool:
    """Return whether a person says yes; where nobody can be asked it is a no."""
    if json_output or not is_terminal():
        return False
    try:
        return agreed(question, usual=False)
    except EOFError:
        return False


def _write(path: Path, rig: Rig, say: Callable[[str], None]) -> None:
    """Write a new rig. Raises UsageError if a file has come to be there meanwhile."""
    if not write_new(path, rig_text(rig)):
        raise UsageError(
            tr("{path} is there already", path=path), hint=tr("choose another name: no rig is overwritten"),
        )
    say(tr(
        "wrote {path}; {typed} finds mistakes once you have changed it", path=path,
        typed=typed("tocsin", "check", str(path)),
    ))


def _pygame_why() -> str:
    try:
        demand_one_pygame()
    except DeviceError as error:
        return f"{error}: {error.hint}"
    return ""


def _lines(inventory: Inventory, rig: str, *, drivers: bool) -> Iterator[str]:
    yield from _block(tr("Pads"), [_pad(row) for row in inventory.pads])
    yield from (f"    {row.ask}" for row in inventory.pads if row.ask)
    yield from _block(tr("Serial ports"), [_port(row) for row in inventory.ports])
    yield from (f"    {row.why}" for row in inventory.ports if row.why)
    if inventory.devices:
        yield from _block(tr("Devices of packages"), [_named(row) for row in inventory.devices])
    yield tr("Current from USB, at most, as the devices say themselves")
    yield from (f"  {line}" for line in power_lines(inventory.usb_power))
    yield from _block(tr("Displays"), [_display(row) for row in inventory.displays])
    sound = inventory.sound
    names = [[name] for name in sound.outputs] or [[tr("the system's output")]]
    yield from _block(tr("Sound"), names if sound.opens else [])
    yield from _block(tr("Voices"), [[line] for line in inventory.voices.lines()])
    yield from _block(tr("Power"), [[inventory.power or tr("the system does not say")]])
    if inventory.confirmed:
        yield from _block(tr("Last confirmed by a person"), [_confirmed(one) for one in inventory.confirmed])
        if any(one.advice for one in inventory.confirmed):
            yield tr("  try them: {typed}", typed=typed("tocsin", "devices", "--try", "--rig", rig))
    if drivers:
        yield from _block(tr("Drivers"), [[line] for line in _drivers(inventory)])
    if inventory.missing:
        yield tr("Missing")
        for missing in inventory.missing:
            yield f"  {missing.device}:"
            yield f"    {missing.fix}"
    elif inventory.rig is not None:
        yield tr("Nothing of the rig '{rig}' is missing.", rig=inventory.rig)


def _block(title: str, rows: list[list[str]]) -> Iterator[str]:
    """Yield a title and its rows, their columns aligned."""
    yield title
    widths = [max(map(len, column)) for column in zip(*rows, strict=True)]
    for row in rows:
        cells = (cell.ljust(width) for cell, width in zip(row, widths, strict=True) if width)
        yield f"  {'  '.join(cells)}".rstrip()
    if not rows:
        yield "  none"


def _pad(row: PadRow) -> list[str]:
    return [
        f"{row.number}:", row.name, row.usb or tr("no USB ids"), tr("guid {guid}", guid=row.guid), ", ".join(row.roles),
    ]


def _port(row: PortRow) -> list[str]:
    return [row.name, row.usb or tr("no USB ids"), row.about, "strip" if row.strip else ""]


def _named(row: NamedRow) -> list[str]:
    return [row.name, f"{row.package} {row.version}", ", ".join(row.used)]


def _display(row: DisplayRow) -> list[str]:
    return [f"{row.number}:", f"{row.width} × {row.height}", "window" if row.screen else ""]


def _confirmed(one: Confirmation) -> list[str]:
    return [f"{one.device}:", one.on, one.advice]


def _drivers(inventory: Inventory) -> Iterator[str]:
    yield tr("installed: {packages}", packages=", ".join(inventory.packages) or tr("no pygame"))
    for use, sdl in inventory.sdl.items():
        if sdl.sdl:
            hints = " ".join(f"{name}={value}" for name, value in sdl.hints.items())
            driver = tr(", driver {name}", name=sdl.driver) if sdl.driver else ""
            yield f"{use}: pygame {sdl.pygame}, SDL {sdl.sdl}{driver}; {hints}"
