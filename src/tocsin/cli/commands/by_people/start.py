"""``tocsin measure start``: how late, and how surely, a person starts the clock."""

from collections.abc import Sequence

from tocsin.cli.arguments import count
from tocsin.cli.lines import say_to, tell_json
from tocsin.cli.parser import Parser
from tocsin.cli.project import meant_here
from tocsin.runner.pygames import demand_one_pygame
from tocsin.translation import tr

MOST_TIMES = 60
_EXAMPLES = tr("""\
examples:
  tocsin measure start --rig my_rig.toml             16 starts as the rig's [start] gives them, two minutes
  tocsin measure start --rig my_rig.toml --write     and the clock uses them from then on

Starts come as your rig says: counted in, counted down, sounded or seen without warning. Press the start key of a match
at each; let whoever starts the clock at matches do it, on the same key or button.

CAUTION. Screen and strip light up, sounds may come suddenly: nobody who is harmed by flashing light takes part or looks
on, and the sound is low.

exit codes: 0 measured, 2 usage, 20 a mistake in the rig, 21 no device can give a start or another Tocsin is running,
130 Ctrl-C, 143 told to end
""")


def parser() -> Parser:
    """Return the parser of ``tocsin measure start``."""
    result = Parser("tocsin measure start", tr("Measure how late, and how evenly, you start the clock."), _EXAMPLES)
    add = result.add_argument
    add(
        "--rig", metavar="NAME|FILE",
        help=tr("the devices of this laptop, and how its clock is started (the project's)"),
    )
    add("--times", type=count(1, MOST_TIMES), default=16, metavar="N", help=tr("starts to give (16)"))
    add("--seed", type=int, metavar="N", help=tr("the same waits as another time"))
    add("--now", action="store_true", help=tr("begin at once: the cautions have been asked"))
    add("--write", action="store_true", help=tr("put late_ms and spread_ms into the rig file"))
    add("--json", action="store_true", help=tr("print the result as JSON, alone on stdout"))
    return result


def main(arguments: Sequence[str]) -> int:
    """Measure; return the exit code."""
    given = parser().parse_args(arguments)
    meant = meant_here()
    rig = meant.needed_rig(given.rig)
    meant.tell()
    demand_one_pygame()
    # Loaded here: the statistics take a while, which the other ways have no use for.
    from tocsin.features.measure.start.measurement import StartRequest, measure_start

    wish = StartRequest(rig=rig, times=given.times, seed=given.seed, now=given.now, write=given.write)
    say = say_to(given.json)
    found = measure_start(wish, say, json_output=given.json)
    for line in found.lines:
        say(line)
    if given.json:
        tell_json(found)
    return found.exit
