"""``tocsin follow``: play another laptop's match on this one's devices."""

import argparse
from collections.abc import Sequence
from pathlib import Path
from typing import cast

from tocsin.cli.arguments import channels
from tocsin.cli.commands.run import wanted
from tocsin.cli.lines import say_to, tell_json
from tocsin.cli.parser import Parser
from tocsin.cli.project import meant_here
from tocsin.features.follow.address import address_of
from tocsin.features.follow.run import follow
from tocsin.runner.options import RunOptions, ScreenMode
from tocsin.runner.pygames import demand_one_pygame
from tocsin.service.broker_address import broker_of, names_broker
from tocsin.translation import tr

_EXAMPLES = tr("""\
examples:
  tocsin follow http://10.0.0.5:8737/#t=...
  tocsin follow http://10.0.0.5:8737/#t=... --rig their_rig.toml
  tocsin follow mqtt://10.0.0.9/blue_field      by a club's broker: the keeper has --board mqtt://10.0.0.9/blue_field

The keeper is the laptop whose clock counts. There: `tocsin run --board lan` or `tocsin drill NAME --board lan`;
`tocsin board --address steer` prints its address with the token. Whoever has it can steer the match: keep it.
This laptop plays its match on its own rig, and says on its screen how well it knows the keeper's clock (± ms).
Start, hold, marks and all else that leads the match stay at the keeper. If the line is cut, this laptop plays on
alone and says so; a keeper that comes back is followed on. Both need the same version of Tocsin.
Each field with a match of its own has a keeper of its own.
This is for practice, never at an event: other people share the network there, and the event's rules come first. Beside
a robot it is refused, unless the rig says so: drives_robot = false, or [board] and below it beside_robot = true.

exit codes: as for `tocsin run`
""")


def parser() -> Parser:
    """Return the parser of ``tocsin follow``."""
    purpose = tr("Play another laptop's match on this laptop's own devices, in step with it.")
    result = Parser("tocsin follow", purpose, _EXAMPLES)
    add = result.add_argument
    add(
        "address", metavar="ADDRESS",
        help=tr(
            "the keeper's, with its token: http://10.0.0.5:8737/#t=... (what stands behind # goes with http only), or "
            "a broker's"
        ),
    )
    add("--rig", metavar="NAME|FILE", help=tr("the devices of this laptop (the project's)"))
    add("--runs", type=Path, metavar="DIR", help=tr("where this laptop records what its devices did"))
    add("--label", default="", metavar="TEXT", help=tr("a name for this run"))
    add(
        "--screen", choices=["window", "terminal", "none"],
        help=tr("where to look (a window where there is a display)"),
    )
    add("--only", type=channels, metavar="CHANNEL,...", help=tr("only these, and they must be there"))
    add("--devices", action="store_true", help=tr("tell at the end of each match how this laptop's devices did"))
    add("--json", action="store_true", help=tr("print the last match's summary as JSON, alone on stdout"))
    return result


def main(arguments: Sequence[str]) -> int:
    """Follow a keeper; return the exit code."""
    given = parser().parse_args(arguments)
    demand_one_pygame()
    meant = meant_here()
    address = broker_of(given.address) if names_broker(given.address) else address_of(given.address)
    options = _options(given, meant.rig(given.rig), meant.runs(given.runs))
    meant.tell()
    summary = follow(address, options, say_to(given.json), json_output=given.json)
    if given.json:
        tell_json(summary)
    code: int = summary.exit
    return code


def _options(given: argparse.Namespace, rig: str, runs: Path | None) -> RunOptions:
    only, asked = wanted(given.only, given.screen)
    return RunOptions(
        rig=rig, runs=runs, label=given.label, start="key", screen=cast(ScreenMode | None, given.screen), only=only,
        asked=asked, devices=given.devices,
    )  # fmt: skip
