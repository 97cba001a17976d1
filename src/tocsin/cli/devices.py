"""``tocsin devices``: what is plugged in, whose it would be, and what mends what is missing."""

import sys
from collections.abc import Iterator, Sequence

import msgspec

from tocsin import monotime
from tocsin.app.battery import battery_text
from tocsin.app.confirmations import Confirmation
from tocsin.app.inventory import DisplayRow, Inventory, PadRow, PortRow, take_inventory
from tocsin.app.probing import ask_probes
from tocsin.app.pygames import demand_one_pygame, installed_pygames
from tocsin.cli.parser import Parser
from tocsin.config.load import load_rig
from tocsin.errors import OVER, DeviceError
from tocsin.model.rig import Rig

_EXAMPLES = """\
examples:
  tocsin devices                        what there is, with the ids to write into a rig
  tocsin devices --rig practice_bench   whose pad is whose, and which port is the strip's
  tocsin devices --drivers --json       for a report of a fault

Nothing is held: pads are opened for less than a second to read their ids, none is shaken, no port is opened, no sound
is made. So a program that drives a robot keeps its pads, unless your rig sets hidapi = true for one: then do not look
while a robot runs. To try each device for half a second, press t in the standby of `tocsin run`.

exit codes: 0 also when something is missing, 2 usage, 20 a mistake in the rig
"""


def parser() -> Parser:
    """Return the parser of ``tocsin devices``."""
    result = Parser("tocsin devices", "Show pads, serial ports, displays and sound, and what is missing.", _EXAMPLES)
    result.add_argument("--rig", metavar="NAME|FILE", help="show which role each pad gets and which port is the strip")
    result.add_argument("--drivers", action="store_true", help="show the libraries and drivers below them too")
    result.add_argument("--json", action="store_true", help="print all of it as JSON")
    return result


def main(arguments: Sequence[str]) -> int:
    """Look for all devices and print them; return 0. Raises the errors of loading a rig."""
    given = parser().parse_args(arguments)
    rig = load_rig(given.rig) if given.rig else None
    packages = tuple(installed_pygames())
    inventory = take_inventory(
        ask_probes(rig or Rig(name="")), rig, power=battery_text(), packages=packages, today=monotime.today(),
        pygame_why=_pygame_why(),
    )  # fmt: skip
    if given.json:
        sys.stdout.write(msgspec.json.encode(inventory).decode() + "\n")
    else:
        print("\n".join(_lines(inventory, drivers=given.drivers)))
    return OVER


def _pygame_why() -> str:
    try:
        demand_one_pygame()
    except DeviceError as error:
        return f"{error}: {error.hint}"
    return ""


def _lines(inventory: Inventory, *, drivers: bool) -> Iterator[str]:
    yield from _block("Pads", [_pad(row) for row in inventory.pads])
    yield from (f"    {row.ask}" for row in inventory.pads if row.ask)
    yield from _block("Serial ports", [_port(row) for row in inventory.ports])
    yield from (f"    {row.why}" for row in inventory.ports if row.why)
    yield from _block("Displays", [_display(row) for row in inventory.displays])
    sound = inventory.sound
    names = [[name] for name in sound.outputs] or [["the system's output"]]
    yield from _block("Sound", names if sound.opens else [])
    yield from _block("Power", [[inventory.power or "the system does not say"]])
    if inventory.confirmed:
        yield from _block("Last confirmed by a person", [_confirmed(one) for one in inventory.confirmed])
    if drivers:
        yield from _block("Drivers", [[line] for line in _drivers(inventory)])
    if inventory.missing:
        yield "Missing"
        for missing in inventory.missing:
            yield f"  {missing.device}:"
            yield f"    {missing.mend}"
    elif inventory.rig is not None:
        yield f"Nothing of the rig '{inventory.rig}' is missing."


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
    return [f"{row.number}:", row.name, row.usb or "no USB ids", f"guid {row.guid}", ", ".join(row.roles)]


def _port(row: PortRow) -> list[str]:
    return [row.name, row.usb or "no USB ids", row.about, "strip" if row.strip else ""]


def _display(row: DisplayRow) -> list[str]:
    return [f"{row.number}:", f"{row.width} × {row.height}", "window" if row.screen else ""]


def _confirmed(one: Confirmation) -> list[str]:
    advice = f"{one.advice}: `tocsin devices --try` tries it" if one.advice else ""
    return [f"{one.device}:", one.on, advice]


def _drivers(inventory: Inventory) -> Iterator[str]:
    yield f"installed: {', '.join(inventory.packages) or 'no pygame'}"
    for use, sdl in inventory.sdl.items():
        if sdl.sdl:
            hints = " ".join(f"{name}={value}" for name, value in sdl.hints.items())
            yield f"{use}: pygame {sdl.pygame}, SDL {sdl.sdl}{f', driver {sdl.driver}' if sdl.driver else ''}; {hints}"
