"""``tocsin react``: how fast a person notices each channel, and the pairs of them that a plan uses."""

import sys
from collections.abc import Sequence
from pathlib import Path

from tocsin.cli.arguments import channels, rate
from tocsin.cli.lines import say_to, tell, tell_json
from tocsin.cli.parser import Parser
from tocsin.cli.people import offered
from tocsin.cli.project import meant_here
from tocsin.config.writing import write_new
from tocsin.journal.place import runs_folder
from tocsin.runner.pygames import demand_one_pygame
from tocsin.translation import tr

_EXAMPLES = tr("""\
examples:
  tocsin react --rig practice_bench                      practice and two blocks of five minutes
  tocsin react --rig practice_bench --plan quiet --who Ann
  tocsin react --rig my_team/rig.toml --channels rumble,light --who operator=Ben --picture ben.svg
  tocsin react --rig practice_bench --full               each channel and pair 20 times, up to half an hour

CAUTION. The robot is off: the pads are pressed. Screen and strip light up without warning, at most twice a second, and
sounds come suddenly: nobody who is harmed by flashing light takes part or looks on, and the sound is low.

Nothing begins by a timer, and a break may be as long as you like. Answers on the bench are no forecast for the field.
exit codes as for `tocsin run`
""")


def parser() -> Parser:
    """Return the parser of ``tocsin react``."""
    purpose = tr("Measure how fast somebody notices each channel of a plan, and the pairs of channels that it uses.")
    result = Parser("tocsin react", purpose, _EXAMPLES)
    add = result.add_argument
    add("--plan", metavar="NAME|FILE", help=tr("the plan whose cue `home` is used (the project's usual one)"))
    add("--rig", metavar="NAME|FILE", help=tr("the devices of this laptop (the project's)"))
    add(
        "--who", default="", metavar="[ROLE=]NAME",
        help=tr("who is tested (driver); journals hold a key, not the name"),
    )
    add("--channels", type=channels, metavar="CHANNEL,...", help=tr("only these, and they must be there"))
    add("--full", action="store_true", help=tr("each channel and pair 20 times, not two blocks only"))
    add("--seed", type=int, metavar="N", help=tr("the same order as another time"))
    add(
        "--rate", type=rate, default=1.0, metavar="X",
        help=tr("to try it out: shorter waits, answers that do not count"),
    )
    add("--runs", type=Path, metavar="DIR", help=tr("where the blocks are recorded"))
    add("--picture", type=Path, metavar="FILE", help=tr("draw the answers there, as .svg or .png"))
    add("--json", action="store_true", help=tr("print the result as JSON, alone on stdout"))
    return result


def main(arguments: Sequence[str]) -> int:
    """Test a person; return the exit code."""
    given = parser().parse_args(arguments)
    demand_one_pygame()
    # Loaded here, and before the first block: the statistics take a second, and a result must stand at once.
    from tocsin.features.reactions.picture import demand_drawable, picture
    from tocsin.features.reactions.run import ReactionRequest, run_react

    if given.picture is not None:
        demand_drawable(given.picture)
    meant = meant_here()
    wish = ReactionRequest(
        plan=meant.plan(given.plan), rig=meant.rig(given.rig), who=given.who, channels=given.channels,
        full=given.full, seed=given.seed,
        rate=given.rate, runs=meant.runs(given.runs), shared=meant.shared,
    )  # fmt: skip
    meant.tell()
    if not given.who and (offer := offered(meant.found, runs_folder(wish.runs))):
        tell(offer, sys.stderr)
    say = say_to(given.json)
    result = run_react(wish, say, json_output=given.json)
    for line in result.lines:
        say(line)
    if given.picture is not None and result.scores is not None:
        write_new(given.picture, picture(result, given.picture.suffix), overwrite=True)
        say(tr("wrote {picture}", picture=given.picture))
    if given.json:
        tell_json(result)
    return result.exit
