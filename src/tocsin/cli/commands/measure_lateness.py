"""``tocsin measure lateness``: how late each channel of this laptop begins what it has to do."""

import os
from collections.abc import Sequence
from pathlib import Path

from tocsin import __version__
from tocsin.cli.arguments import add_board, board_of, channels, count
from tocsin.cli.lines import say_to, tell_json
from tocsin.cli.own_files import demand_suffix, refuse_strange, write_own
from tocsin.cli.parser import Parser
from tocsin.cli.project import meant_here
from tocsin.config.writing import demand_writable
from tocsin.export.drawing.printing import Form
from tocsin.export.picture.lateness import lateness_picture
from tocsin.export.source import MADE_BY
from tocsin.features.measure.lateness.measurement import LatenessRequest, measure
from tocsin.features.measure.lateness.words import lines, page_of
from tocsin.runner.pygames import demand_one_pygame
from tocsin.translation import tr

_SUFFIXES: dict[str, Form] = {".svg": "svg", ".png": "png", ".pdf": "pdf"}
MOST_EVENTS = 2000                     # ten minutes
MOST_BUSY = 64
_EXAMPLES = tr("""\
examples:
  tocsin measure lateness --rig practice_bench          100 events on each channel, a minute
  tocsin measure lateness --rig my_rig.toml --busy      while all processors are kept busy
  tocsin measure lateness --beside                      and how late simple timers are
  tocsin measure lateness --only rumble --events 300    one channel, which must be there
  tocsin measure lateness --board lan                   while phones that scanned the code earlier follow

CAUTION. Pads shake weakly, the strip glows dimly, the loudspeaker ticks softly. Pads that drive a robot are left alone
while the rig says drives_robot = true. Where pads can move a robot, it is off or on blocks.

Late: how long after its time the device was called. What the device itself takes comes on top, and is not in it.

exit codes: 0 measured, 2 usage, or FILE cannot be written, 20 a mistake in the rig, 21 a device that was asked for is
not there or another Tocsin is running, 22 no room for what is kept meanwhile, 130 Ctrl-C, 143 told to end
""")


def parser() -> Parser:
    """Return the parser of ``tocsin measure lateness``."""
    purpose = tr("Measure how late this laptop begins to rumble, light, show and sound, with the workers of a match.")
    result = Parser("tocsin measure lateness", purpose, _EXAMPLES)
    add = result.add_argument
    add("--rig", metavar="NAME|FILE", help=tr("the devices of this laptop (the project's)"))
    add("--only", type=channels, metavar="CHANNEL,...", help=tr("only these, and they must be there"))
    add("--events", type=count(1, MOST_EVENTS), default=100, metavar="N", help=tr("events per channel (100)"))
    cores = max(2, os.cpu_count() or 1)
    add(
        "--busy", nargs="?", type=count(1, MOST_BUSY), const=cores, default=0, metavar="N",
        help=tr("while N processes keep the processor busy ({cores})", cores=cores),
    )  # fmt: skip
    add("--beside", action="store_true", help=tr("measure simple timers too: in a frame's loop, by timers, by sched"))
    add("--pads", action="store_true", help=tr("shake pads although the rig says that this laptop drives a robot"))
    add_board(result)
    add("--json", action="store_true", help=tr("print everything as JSON, alone on stdout"))
    add("-o", dest="out", type=Path, metavar="FILE", help=tr("draw the result there too: .svg, .png or .pdf"))
    return result


def main(arguments: Sequence[str]) -> int:
    """Measure; return the exit code."""
    given = parser().parse_args(arguments)
    meant = meant_here()
    rig = meant.rig(given.rig)
    meant.tell()
    board = board_of(given)
    demand_one_pygame()
    if given.out is not None:                  # before anybody has waited for it
        demand_suffix(given.out, "picture", tuple(_SUFFIXES), "lateness")
        refuse_strange(given.out, "lateness")
        demand_writable(given.out)
    say = say_to(given.json)
    wish = LatenessRequest(
        rig=rig, only=given.only, events=given.events, busy=given.busy, beside=given.beside, pads=given.pads,
        board=board,
    )  # fmt: skip
    measured = measure(wish, say)
    for line in lines(measured):
        say(line)
    if given.out is not None and measured.rows:
        page = page_of(measured, f"{MADE_BY} {__version__}.")
        write_own(given.out, lateness_picture(page, _SUFFIXES[given.out.suffix.lower()]))
        say(tr("wrote {out}", out=given.out))
    if given.json:
        tell_json(measured)
    return measured.exit
