"""``tocsin evening``: lead through a whole rehearsal evening."""

import argparse
import sys
from collections.abc import Sequence
from pathlib import Path

from tocsin.cli.arguments import add_board, board_of, rate
from tocsin.cli.commands.drill import options_of
from tocsin.cli.lines import ask, say_to, tell_json
from tocsin.cli.parser import Parser
from tocsin.cli.project import Meant, meant_here
from tocsin.config import bundle
from tocsin.errors import UsageError
from tocsin.features.evening.evening import EveningRequest, lead_evening
from tocsin.journal.place import runs_folder
from tocsin.runner.options import Roster, RunOptions
from tocsin.runner.pygames import demand_one_pygame
from tocsin.translation import tr

_EXAMPLES = tr("""\
examples:
  tocsin evening                       who is there, devices, drills with breaks, result: of the project here
  tocsin evening break_off turn        these drills instead of the project's
  tocsin evening --new                 begin another evening, though one is on

Leave it at any step with q or Ctrl-C: the next `tocsin evening` goes on there, with the same people and answers, as it
does after a power cut. An evening is over once four hours have passed in which nothing was played.

It asks by single keys in a terminal; a script plays `tocsin drill`. Drills run as in `tocsin drill`: no round
begins by a timer, and Tocsin does not stop any robot.

exit codes as for `tocsin run`; 2 also without a terminal
""")


def parser() -> Parser:
    """Return the parser of ``tocsin evening``."""
    purpose = tr("Guide you through a practice evening: who is there, devices, drills, breaks, the result.")
    result = Parser("tocsin evening", purpose, _EXAMPLES)
    add = result.add_argument
    add("drills", nargs="*", metavar="DRILL", help=tr("drills in their order, by name or file (the project's)"))
    add("--plan", metavar="NAME|FILE", help=tr("your plan instead of the drills'"))
    add("--game", metavar="NAME|FILE", help=tr("instead of the game that the plan or the drill names"))
    add("--rig", metavar="NAME|FILE", help=tr("the devices of this laptop (the project's, else nothing)"))
    add("--runs", type=Path, metavar="DIR", help=tr("where runs and the evening are recorded"))
    add("--label", default="", metavar="TEXT", help=tr("a name for this evening's rounds"))
    looks = tr("times real speed, to look at it: unless 1, no round counts")
    add("--rate", type=rate, default=1.0, metavar="X", help=looks)
    add(
        "--screen", choices=["window", "terminal", "none"],
        help=tr("where to look (a window where there is a display)"),
    )
    add_board(result)
    add("--new", action="store_true", help=tr("begin another evening"))
    add("--json", action="store_true", help=tr("print the result as JSON, alone on stdout"))
    return result


def main(arguments: Sequence[str]) -> int:
    """Lead through an evening; return the exit code."""
    given = parser().parse_args(arguments)
    given.devices = False
    if not sys.stdin.isatty():
        raise UsageError(
            tr("an evening asks by keys, and there is no terminal"), hint=tr("a script plays `tocsin drill NAME`"),
        )
    demand_one_pygame()
    given.board = board_of(given)
    meant = meant_here()
    wish = _request(given, meant)
    meant.tell()
    say = say_to(given.json)

    def asked_aside(question: str) -> str:
        say(question)
        return ask("")

    end = lead_evening(wish, say, asked_aside if given.json else ask)
    if given.json and end.result is not None:
        tell_json(end.result)
    return end.exit


def _request(given: argparse.Namespace, meant: Meant) -> EveningRequest:
    found = meant.found
    project = found.project if found else None
    own = tuple(found.drills) if found else ()
    if found is None:
        meant.plans(None)                  # so that it is said: the drills' own, of the bundled example

    def started(drill: str, roster: Roster) -> RunOptions:
        return options_of(given, meant, drill, roster)

    return EveningRequest(
        project=project.name if project else "",
        rig=meant.rig(given.rig),
        runs=runs_folder(meant.runs(given.runs)),
        drills=tuple(meant.drill(name) for name in given.drills) or own,
        others=tuple(dict.fromkeys((*own, *bundle.names("drills")))),
        crews={str(crew): {str(role): key for role, key in of.items()} for crew, of in project.crews.items()}
        if project
        else {},
        options_of=started,
        new=given.new,
        json_output=given.json,
    )
