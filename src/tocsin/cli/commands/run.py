"""``tocsin run``: play a match."""

import argparse
from collections.abc import Sequence
from functools import partial
from pathlib import Path
from typing import cast, get_args

from tocsin import monotime
from tocsin.cli.arguments import add_board, board_of, channels, count, rate
from tocsin.cli.lines import say_to, tell_json
from tocsin.cli.parser import Parser
from tocsin.cli.people import people_of
from tocsin.cli.project import Meant, meant_here
from tocsin.errors import UsageError
from tocsin.features.event.run import QUIET, at_event, programme_of
from tocsin.journal.place import runs_folder
from tocsin.model.drill import CREWS
from tocsin.model.plan import CHANNELS, ChannelName
from tocsin.runner.options import EVENT, MOST_MATCHES, PRACTICE, At, RunOptions, ScreenMode, StartMode
from tocsin.runner.pygames import demand_one_pygame
from tocsin.runner.run import Say, resume_match, run_match
from tocsin.translation import tr

_EXAMPLES = tr("""\
examples:
  tocsin run --plan full --rig practice_bench
  tocsin run --plan full --plan quiet            choose with 1 and 2 in standby
  tocsin run --from driver.end-35s --label "late pushes"
  tocsin run --from 0:35                         the same, by what the official display shows in the last period
  tocsin run --rate 20 --start now --json        a whole match in eight seconds
  tocsin run --at event --match 14               an event: no sound, the match's number, a preflight
  tocsin run --board lan                         phones see and steer it; the code stands in standby
  tocsin run --board mqtt://10.0.0.9/blue_field  a club's broker carries it to laptops that follow
  tocsin run --resume                            go on with a run that was cut short
""")


def wanted(
    named: tuple[ChannelName, ...] | None, screen: ScreenMode | None
) -> tuple[tuple[ChannelName, ...], tuple[ChannelName, ...]]:
    """Return the channels that get a worker, and those that must be present since the command line names them."""
    only, asked = named or CHANNELS, set(named or ())
    if screen == "window":
        asked.add("screen")
    elif screen in ("terminal", "none"):
        only = tuple(channel for channel in only if channel != "screen")
        asked.discard("screen")
    return only, tuple(channel for channel in CHANNELS if channel in asked)


def parser() -> Parser:
    """Return the parser of ``tocsin run``."""
    purpose = tr("Run a match: standby, count-in, calls on every channel at the same instant, a record of it.")
    result = Parser("tocsin run", purpose, _EXAMPLES)
    add = result.add_argument
    add(
        "--plan", action="append", metavar="NAME|FILE",
        help=tr("up to three; 1, 2, 3 choose in standby (the project's)"),
    )
    add("--game", metavar="NAME|FILE", help=tr("instead of the game that the plan names"))
    add("--rig", metavar="NAME|FILE", help=tr("the devices of this laptop (the project's)"))
    add("--runs", type=Path, metavar="DIR", help=tr("where runs are recorded"))
    add("--label", default="", metavar="TEXT", help=tr("a name for this run"))
    add(
        "--who", action="append", default=[], metavar="ROLE=NAME",
        help=tr("who plays; journals hold a key, not the name"),
    )
    add("--crew", choices=CREWS, help=tr("whose match: a crew of the project (the only one)"))
    add(
        "--from", dest="from_moment", metavar="MOMENT",
        help=tr("begin there, e.g. driver.end-35s, or 0:35 by the display"),
    )
    add("--start", choices=["key", "now"], help=tr("by a key (where there is a window or terminal), or by itself"))
    add("--rate", type=rate, default=1.0, metavar="X", help=tr("times real speed, 0.1 to 100"))
    add(
        "--screen", choices=["window", "terminal", "none"],
        help=tr("where to look (a window where there is a display)"),
    )
    add("--only", type=channels, metavar="CHANNEL,...", help=tr("only these, and they must be there"))
    add("--at", choices=get_args(At), default=PRACTICE, help=tr("an event: no sound, numbered matches (practice)"))
    add(
        "--match", type=count(1, MOST_MATCHES), metavar="N",
        help=tr("at an event: the next match's number (counted on)"),
    )
    add_board(result)
    add("--resume", action="store_true", help=tr("go on with the newest run that was cut short"))
    add("--json", action="store_true", help=tr("print the summary as JSON, alone on stdout"))
    return result


def main(arguments: Sequence[str]) -> int:
    """Run matches; return the exit code."""
    given = parser().parse_args(arguments)
    demand_one_pygame()
    say = say_to(given.json)
    board = board_of(given)
    meant = meant_here()
    maker = partial(programme_of, project=meant.found and meant.found.path, runs=meant.runs(given.runs))
    if given.resume:
        _demand_nothing_else(arguments, given)
        runs = meant.runs(given.runs, told=True)
        meant.tell()
        summary = resume_match(runs, say, json_output=given.json, programme_of=maker, board=board)
    else:
        options = _options(given, meant, board)
        meant.tell()
        _tell_of_event(options, meant, say)
        summary = run_match(options, say, json_output=given.json, programme_of=maker)
    if given.json:
        tell_json(summary)
    code: int = summary.exit
    return code


_WITH_RESUME = ("resume", "runs", "json", "board", "new_token")


def _demand_nothing_else(arguments: Sequence[str], given: argparse.Namespace) -> None:
    """Raise UsageError for options beside --resume that would have no effect: the run has its own."""
    bare = parser()
    bare.set_defaults(**dict.fromkeys(vars(given)))
    found = vars(bare.parse_args(arguments)).items()
    also = [dest for dest, value in found if value is not None and dest not in _WITH_RESUME]
    if also:
        options = ", ".join("--" + dest.removesuffix("_moment") for dest in also)
        raise UsageError(
            tr(
                "--resume goes on with the files and options of the run that was cut short: leave out {options}",
                options=options,
            ),
            hint=tr("only --runs, --board and --json go with it"),
        )


def _tell_of_event(options: RunOptions, meant: Meant, say: Say) -> None:
    """Say what an event day is; on such a day of the project, say to practice that it is one: nothing is switched."""
    if options.at == EVENT:
        say(tr("An event day: the sound is off, whatever plan and rig say."))
    elif plan := meant.event_today(monotime.today()):
        say(
            tr(
                "Today is an event day, but this run is practice. `tocsin run --at event` turns the sound off, plays "
                "plan {plan}, numbers the matches, asks about the event's rules.", plan=plan,
            )
        )


def _moment(given: str | None) -> str:
    if given is not None and not given.strip():
        raise UsageError(
            tr("--from names no moment"), hint=tr("e.g. --from driver.end-35s or --from 0:35, or leave it out"),
        )
    return given or ""


def _options(given: argparse.Namespace, meant: Meant, board: str) -> RunOptions:
    plans = meant.event_plans(given.plan) if given.at == EVENT else meant.plans(given.plan)
    runs = meant.runs(given.runs)
    if len(plans) > 3:
        raise UsageError(tr("three plans at the most"), hint=tr("keys 1, 2 and 3 choose among them"))
    only, asked = wanted(given.only, given.screen)
    if given.at != EVENT and given.match is not None:
        hint = tr("add --at event, or name the run with --label")
        raise UsageError(tr("--match is the number of an event's match"), hint=hint)
    if given.at == EVENT and QUIET in asked:
        raise UsageError(tr("--only sound: at an event the sound is off"), hint=tr("leave sound out of --only"))
    if given.at == EVENT and board:
        raise UsageError(
            tr("--board is for practice: at an event other people share the network, and the event's rules come first"),
            hint=tr("leave --board out"),
        )
    options = RunOptions(
        game=meant.game(given.game, plans),
        plans=plans,
        rig=meant.rig(given.rig),
        runs=runs,
        label=given.label,
        people=people_of(given.who, given.crew, runs_folder(runs), meant),
        from_moment=_moment(given.from_moment),
        start=cast(StartMode | None, given.start),
        rate=given.rate,
        screen=cast(ScreenMode | None, given.screen),
        only=only,
        asked=asked,
        match=given.match,
        board=board,
        patterns=tuple(map(str, meant.shared.patterns)),
        language=meant.shared.language,
    )
    return at_event(options) if given.at == EVENT else options
