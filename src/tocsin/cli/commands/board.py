"""``tocsin board``: look at the board without a phone, and addresses for programs and other laptops."""

import argparse
import sys
from collections.abc import Sequence
from datetime import datetime, timedelta
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import cast

import msgspec

from tocsin import monotime
from tocsin.cli.lines import say_to, tell
from tocsin.cli.parser import Parser
from tocsin.cli.project import meant_here
from tocsin.config import bundle
from tocsin.errors import OVER, UsageError
from tocsin.features.drills.run import run_drill
from tocsin.journal.place import state_folder
from tocsin.runner.boards.addresses import HERE, TRY, host_of
from tocsin.runner.boards.opening import demand_extra
from tocsin.runner.boards.tokens import KEPT_S, forget_tokens, kept_tokens
from tocsin.runner.options import RunOptions
from tocsin.runner.pygames import demand_one_pygame
from tocsin.runner.run import alone, run_match
from tocsin.service.messages import RIGHTS, Right
from tocsin.translation import tr

_EXAMPLES = tr("""\
examples:
  tocsin board --try                   a match of the bundled example, its board in the browser of this laptop
  tocsin board --try break_off         a bundled drill instead: lead it and mark it on the board
  tocsin board --address watch         the address with which a program may see clock, cues and records
  tocsin board --address steer         with which a program, or `tocsin follow` on another laptop, may steer
  tocsin board --new-token             no earlier phone, address or program may come any more
  tocsin run --board lan               not this command: a match that phones in this network see

--try stays on this laptop: nobody in the network sees it, and nothing of it is kept. It ends as a match does.

bundled drills: {drills}

exit codes: those of `tocsin run` with --try, else 0, 2 usage or the boards' extra is not installed, 21 another Tocsin
is running
""")
_NOT_YET = tr(
    "No board was served yet: this is the address where `tocsin run --board` serves it on this laptop. If port {port} "
    "is taken then, the port differs: ask again once the run is up."
)
_WHO_MAY: dict[Right, str] = {
    "watch": tr("Whoever has this address may see the clock and the cues, and read records."),
    "mark": tr("Whoever has this address may add marks to your records: for a scribe's program, for nobody else."),
    "steer": tr(
        "Whoever has this address may start, hold and cancel: only for programs and laptops that you trust; never show "
        "it on a screen or in a chat.",
    ),
}


def parser() -> Parser:
    """Return the parser of ``tocsin board``."""
    purpose = tr("Look at the board, the page that phones show, without a phone; or get an address for a program.")
    drills = bundle.names("drills")
    result = Parser("tocsin board", purpose, _EXAMPLES.format(drills=", ".join(drills)))
    what = result.add_mutually_exclusive_group(required=True)
    what.add_argument(
        "--try", dest="tried", nargs="?", const="", metavar="DRILL",
        help=tr("play the bundled example, or a drill, and open its board in this laptop's browser"),
    )
    what.add_argument(
        "--address", choices=RIGHTS, help=tr("print the address for a program that may do this, or what stands before"),
    )
    what.add_argument("--new-token", action="store_true", help=tr("let nobody in who was let in before"))
    return result


def main(arguments: Sequence[str]) -> int:
    """Do what was asked for; return the exit code."""
    given = parser().parse_args(arguments)
    meant_here()                                   # a mistake in a project is told by every command
    if given.tried is not None:
        return _try(given)
    if given.address is not None:
        return _tell_address(cast(Right, given.address))
    with alone():                                  # a run that is on would keep its own
        forget_tokens(state_folder())
    tell(tr("Done: whoever was let in before scans the code again, or asks for a new address."))
    return OVER


def _try(given: argparse.Namespace) -> int:
    """Play a bundled match or drill with nothing plugged in; its records go with it. Raises UsageError for another
    drill."""
    if given.tried and given.tried not in bundle.names("drills"):
        raise UsageError(
            tr("there is no bundled drill '{drill}'", drill=given.tried),
            hint=tr("bundled drills: {names}", names=", ".join(bundle.names("drills"))),
        )
    demand_one_pygame()
    say = say_to(json_output=False)
    with TemporaryDirectory(prefix="tocsin-board-", ignore_cleanup_errors=True) as folder:
        options = RunOptions(runs=Path(folder), start="key", devices=False, board=TRY)
        if not given.tried:
            return run_match(options, say, json_output=False).exit
        options = msgspec.structs.replace(options, plans=())
        return run_drill(given.tried, options, None, say, json_output=False, recorded=False).exit


def _tell_address(right: Right) -> int:
    """Print the address alone on stdout, and who may have it on stderr."""
    demand_extra()
    kept = kept_tokens(state_folder(), monotime.wall_text())
    if not kept.address:
        tell(_NOT_YET.format(port=kept.port), sys.stderr)
    address = kept.address or f"http://{host_of(HERE)}:{kept.port}/"
    tell(f"{address}#t={getattr(kept.tokens, right)}", fit=False)
    tell(_WHO_MAY[right], sys.stderr)
    end = datetime.fromisoformat(kept.made).astimezone() + timedelta(seconds=KEPT_S)
    tell(tr("It holds until {end}, or until `tocsin board --new-token`.", end=f"{end:%H:%M}"), sys.stderr)
    return OVER
