"""``tocsin drill``: play rounds of a drill, with marks, results and a record of each."""

import argparse
from collections.abc import Callable, Sequence
from functools import partial
from pathlib import Path
from typing import cast

from tocsin.cli.arguments import add_board, board_of, rate
from tocsin.cli.asking import is_terminal
from tocsin.cli.commands.run import wanted
from tocsin.cli.lines import say_to, tell_json
from tocsin.cli.offered_lead import offer_lead
from tocsin.cli.parser import Parser
from tocsin.cli.people import roster_of
from tocsin.cli.project import Meant, meant_here
from tocsin.config import bundle
from tocsin.config.drills import deals_plans, plan_named_by
from tocsin.errors import INTERRUPTED, TERMINATED, JournalError, UsageError
from tocsin.features.drills.run import resume_drill, run_drill
from tocsin.features.review.closing import closing_of, sentence, why_no_sentence
from tocsin.journal.place import runs_folder
from tocsin.runner.ending import heard, signals_given_back
from tocsin.runner.options import Roster, RunOptions, ScreenMode
from tocsin.runner.pygames import demand_one_pygame
from tocsin.translation import tr

_EXAMPLES = tr("""\
examples:
  tocsin drill break_off --rig practice_bench      push, and break off in time
  tocsin drill words                               on the bench, robot off
  tocsin drill break_off --plan my_team/plan.toml  with your own plan, in its game
  tocsin drill my_team/drills/turn.toml --label "new driver"
  tocsin drill break_off --who A.driver=Ann --who A.operator=Ben --who B.driver=Cleo
                                                   two crews, each with all the rounds: one key swaps them
  tocsin drill break_off --board lan               lead and mark it from a phone
  tocsin drill --resume                            go on with a drill that was cut short

bundled drills: {drills}

No round begins by a timer: a person says that the field is clear, and a person presses start. Tocsin does not
stop any robot. At the end, where `tocsin advise` would change a lead of your plan, it offers to write it there:
only on a typed yes. exit codes as for `tocsin run`
""")


def parser() -> Parser:
    """Return the parser of ``tocsin drill``."""
    purpose = tr("Practise the endgame in short rounds: marks by three keys, results at once, all recorded.")
    result = Parser("tocsin drill", purpose, _EXAMPLES.format(drills=", ".join(bundle.names("drills"))))
    add = result.add_argument
    add("drill", nargs="?", metavar="NAME|FILE", help=tr("which drill"))
    add("--plan", metavar="NAME|FILE", help=tr("your plan instead of the drill's; its own game comes with it"))
    add("--game", metavar="NAME|FILE", help=tr("instead of the game that the plan or the drill names"))
    add("--rig", metavar="NAME|FILE", help=tr("the devices of this laptop (the project's)"))
    add("--runs", type=Path, metavar="DIR", help=tr("where runs are recorded"))
    add("--label", default="", metavar="TEXT", help=tr("a name for this evening's rounds"))
    who = tr("who plays, in which crew (A, B, C; A if none is said); journals hold a key, not the name")
    add("--who", action="append", default=[], metavar="[CREW.]ROLE=NAME", help=who)
    add("--seed", type=int, metavar="N", help=tr("the same rounds in the same order as another time"))
    add("--rate", type=rate, metavar="X", help=tr("times real speed, to look at it: unless 1, no round counts"))
    add(
        "--screen", choices=["window", "terminal", "none"],
        help=tr("where to look (a window where there is a display)"),
    )
    add_board(result)
    add("--resume", action="store_true", help=tr("go on with the newest drill that was cut short"))
    add("--devices", action="store_true", help=tr("tell at the end of each round how its devices did"))
    add("--json", action="store_true", help=tr("print the last round's summary as JSON, alone on stdout"))
    return result


def main(arguments: Sequence[str]) -> int:
    """Run a drill; return the exit code."""
    given = parser().parse_args(arguments)
    if given.resume == bool(given.drill):
        what = tr("a continued drill has its name already") if given.resume else tr("say which drill")
        raise UsageError(what, hint=tr("bundled drills: {names}", names=", ".join(bundle.names("drills"))))
    if given.resume and (given.plan, given.game) != (None, None):
        raise UsageError(tr(
            "--resume goes on with the plan and game that the drill began with: leave out --plan, --game",
        ))
    demand_one_pygame()
    given.board = board_of(given)
    say = say_to(given.json)
    meant = meant_here()
    runs = meant.runs(given.runs, told=given.resume)
    closing = partial(sentence, runs_folder(runs))
    with signals_given_back():
        if given.resume:
            roster = roster_of(given.who, runs_folder(runs), meant) if given.who else {}
            meant.tell()
            summary = resume_drill(
                runs, roster, say, devices=given.devices, json_output=given.json, closing=closing, board=given.board,
                rate=given.rate,
            )  # fmt: skip
        else:
            roster = roster_of(given.who, runs_folder(runs), meant)
            drill = meant.drill(given.drill)
            options = options_of(given, meant, drill, roster)
            meant.tell()
            summary = run_drill(drill, options, given.seed, say, json_output=given.json, closing=closing)
        ended = summary.outcome != "standby" and summary.exit not in (INTERRUPTED, TERMINATED)
        if ended:
            tell_closing(runs_folder(runs), say)
    # From here on Ctrl-C ends the command; whoever pressed it before wants no question.
    if ended and not heard() and not (given.resume or given.json) and given.rate in (None, 1) and is_terminal():
        plan = "" if deals_plans(drill) else options.plans[0] if options.plans else str(plan_named_by(drill) or "")
        if plan:
            offer_lead(plan, options.game, options.rig, meant, runs_folder(runs), say)
    if given.json:
        tell_json(summary)
    code: int = summary.exit
    return code


def tell_closing(runs: Path, say: Callable[[str], None]) -> None:
    """Say what the evening came to with this drill, and where its page lies, or why there is nothing to say."""
    try:
        closing = closing_of(runs, of_newest_drill=True)
        lines = closing.lines if closing else tuple(filter(None, [why_no_sentence(runs)]))
    except JournalError as error:                  # the rounds are recorded, whatever cannot be read beside them
        say(error.line)
        return
    for line in lines:
        say(line)


def options_of(given: argparse.Namespace, meant: Meant, drill: str, roster: Roster) -> RunOptions:
    """Return the options that a drill is played with."""
    only, asked = wanted(None, given.screen)
    plan = meant.plan_of_drill(given.plan, drill, deals=deals_plans(drill))
    names = () if bundle.is_file_argument(drill) or plan is not None else (drill,)
    return RunOptions(
        game=meant.game(given.game, names if plan is None else (plan,)), plans=() if plan is None else (plan,),
        rig=meant.rig(given.rig), runs=meant.runs(given.runs), label=given.label, rate=given.rate or 1.0, start="key",
        screen=cast(ScreenMode | None, given.screen), roster=roster, only=only,
        asked=asked, devices=given.devices, patterns=tuple(map(str, meant.shared.patterns)),
        language=meant.shared.language, board=given.board,
    )  # fmt: skip
