"""``tocsin``: find the command and run it; turn errors into one line, a hint and an exit code.

Commands are imported when they are called, so that a library of one command does not slow down the others.
"""

import argparse
import contextlib
import difflib
import importlib
import logging
import os
import signal
import sys
import traceback
from collections.abc import Sequence
from pathlib import Path
from types import FrameType

from tocsin import __version__
from tocsin.cli.lines import output_is_taken, tell
from tocsin.cli.parser import Parser
from tocsin.cli.streams import fill_closed, let_go, make_printable
from tocsin.errors import (
    FIRING_FAILED,
    INTERRUPTED,
    OVER,
    USAGE,
    MistakeError,
    OutputError,
    TocsinError,
    UsageError,
    fix_of_writing,
    reason,
)
from tocsin.translation import TROUBLE, tr

COMMANDS = {
    "run": tr("a match: count in, call, record"),
    "follow": tr("play another laptop's match on this one's devices"),
    "drill": tr("rehearse in short rounds, with marks and results"),
    "evening": tr("a whole rehearsal evening: who is there, devices, drills, result"),
    "board": tr("the page that phones show, tried in this laptop's browser; its address for programs"),
    "react": tr("how fast somebody notices each channel, on the bench"),
    "mark": tr("add marks to a run later, or take one back"),
    "log": tr("record a match that was watched in a video, or logged by the robot"),
    "runs": tr("what was recorded; forget a name"),
    "review": tr("what an evening or a season came to, with limits, and what is not known yet"),
    "advise": tr("the one change of a plan's leads that wins points, or why there is none"),
    "init": tr("your team's project, from ten short questions: game, plans, drills, rig"),
    "check": tr("every mistake of plans, games, rigs and drills, and what may go wrong with a plan"),
    "preview": tr("the timeline of a plan, with what the official display shows"),
    "export": tr("the plan as a card, as robot code, as a page, as JSON"),
    "measure": tr("how late this laptop, its devices and its people are"),
    "devices": tr("what is plugged in, and what fixes what is missing"),
}
# What a bare `tocsin` at a terminal offers, by one key, and the commands that do it: what people look for comes last,
# where it stands above the next prompt.
_WISHES = {"m": ("run",), "e": ("evening",), "l": ("preview", "runs", "review"), "q": ()}
_WANTED = tr("Press a key: m: match, e: evening, l: look at plan and runs, q: quit.")
_LOADING = "<frozen importlib._bootstrap>"         # where python loads a module
_EXAMPLES = tr("""\
examples:
  tocsin                                       asks: a match, an evening, or a look at what was recorded
  tocsin evening                               leads through a rehearsal evening
  tocsin run                                   a match: your project's, or the bundled plan with nothing plugged in
  tocsin run --from driver.end-35s             only its last 35 s
  tocsin run --plan my.toml --rig my_rig.toml  your own plan on your own devices
  tocsin drill break_off --rig my_rig.toml     push, and break off in time
  tocsin init my_team                          your own game, plans and drills, from ten short questions
  tocsin check my_team                         every mistake in them, and what may go wrong, with its line
  tocsin preview --plan my.toml                when each cue comes
  tocsin export --to card -o card.pdf          the plan on paper (--at event: your plan for events)
  tocsin devices --rig my_rig.toml             which of its devices are there
  tocsin measure --rig my_rig.toml             is this laptop on time

In a folder with a tocsin.toml, and below it, all commands use what that file names, and say so; options win over
it. TOCSIN_PROJECT=FILE names another one, TOCSIN_PROJECT= none.

exit codes: 0 over (or left, or cancelled by a person), 1 a signal failed, 2 usage, 20 a mistake in a file,
21 a device that was asked for is not there, 22 the journal or the output cannot be written, 130 Ctrl-C,
143 told to end

Tocsin does not stop any robot and does not allow anybody onto a field. Where laptops or wireless are not
allowed at the field, leave it in the pit: the event's rules come first.""")


def parser() -> Parser:
    """Return the parser of the options before a command; each command parses its own."""
    purpose = tr("Calls the endgame to a drive team on rumble, light, screen and sound at the same instant.")
    result = Parser("tocsin", purpose, _EXAMPLES)
    told = tr("show program's version number and exit")
    result.add_argument("--version", action="version", version=f"tocsin {__version__}", help=told)
    commands = result.add_subparsers(metavar="COMMAND", parser_class=argparse.ArgumentParser)
    for name, about in COMMANDS.items():
        commands.add_parser(name, help=about, add_help=False)
    return result


def main(arguments: Sequence[str] | None = None) -> int:
    """Run the command line and return its exit code; no traceback reaches a user."""
    given = list(sys.argv[1:] if arguments is None else arguments)
    fill_closed()
    make_printable()
    _take_signals()
    logging.getLogger("matplotlib").setLevel(logging.ERROR)       # that it builds its font cache helps nobody here
    try:
        try:
            return _code(given)
        finally:                                   # also where help ends the program
            try:
                sys.stdout.flush()                 # here what becomes of it can still be told from a fault
            finally:
                let_go()                           # what is told of an error must not wait in a thread that ends
    except KeyboardInterrupt:
        return INTERRUPTED
    except BrokenPipeError:                        # whoever read our output has gone
        _let_go_of_output()
        return OVER
    except OSError as error:
        if output_is_taken():
            return _report_fault(error)
        _let_go_of_output()
        if told := _told_to_end():                 # whose terminal is closed reads no complaint
            return told
        hint = fix_of_writing(error, tr("send it to another place"))
        return _report(OutputError(tr("the output cannot be written: {reason}", reason=reason(error)), hint=hint))
    except Exception as error:
        return _report_fault(error)


def _code(given: list[str]) -> int:
    """Let the command work and return its exit code, also that of an error that a user reads."""
    if TROUBLE:
        _say(TROUBLE)
    try:
        if not given:
            return _bare()
        return _run(_command(given), given[1:])
    except TocsinError as error:
        return _report(error)


def _run(name: str, arguments: Sequence[str]) -> int:
    code: int = importlib.import_module(f"tocsin.cli.commands.{name}").main(arguments)
    return code


def _bare() -> int:
    """Ask at a terminal what is wanted, and do that; return the exit code. Elsewhere print help: nothing was asked."""
    if not (sys.stdin.isatty() and sys.stdout.isatty()):
        parser().print_help()
        return USAGE
    from tocsin.cli.one_key import one_key  # reading keys is loaded only where somebody is asked

    key = one_key(_WANTED, _WISHES, tr("that is none of these; `tocsin --help` shows all commands"))
    return max((_run(command, []) for command in _WISHES[key or "q"]), default=OVER)


def _let_go_of_output() -> None:
    """Throw away what could not be written: python must not complain about it at exit."""
    with Path(os.devnull).open("wb") as nothing:
        os.dup2(nothing.fileno(), sys.stdout.fileno())


def _report(error: TocsinError) -> int:
    """Tell of an error, with its hint; return its exit code."""
    if isinstance(error, MistakeError):            # its carets stand below what they mark
        _say(tr("tocsin: {error}", error=error), fit=False)
    else:
        _say(tr("tocsin: {error}", error=error))
    if error.hint:
        _say(f"  {error.hint}")
    return error.exit_code


def _command(given: list[str]) -> str:
    """Return the command that is asked for; help and version are given here, and end the program. Raises UsageError for
    a command that does not exist."""
    name = given[0] if given else ""
    if name.startswith("-"):
        parser().parse_args([name])
    if name in COMMANDS:
        return name
    likely = difflib.get_close_matches(name, COMMANDS, n=1)
    known = tr("commands: {commands}; `tocsin --help` shows examples", commands=", ".join(COMMANDS))
    what = tr("say what to do") if not name or name.startswith("-") else tr("there is no command '{name}'", name=name)
    raise UsageError(what, hint=tr("did you mean `tocsin {likely}`?", likely=likely[0]) if likely else known)


def _report_fault(error: Exception) -> int:
    """Tell of a fault of the program in one line, the details only where they were asked for; return its exit code."""
    _say(tr("tocsin: this is a fault of Tocsin itself: {name}: {error}", name=type(error).__name__, error=error))
    if os.environ.get("TOCSIN_TRACEBACK"):
        _say("".join(traceback.format_exception(error)), fit=False)
    else:
        _say(tr("  run it again with TOCSIN_TRACEBACK=1 in the environment and send us what it prints"))
    return FIRING_FAILED


def _say(line: str, *, fit: bool = True) -> None:
    with contextlib.suppress(OSError):             # where nothing takes it, the exit code still tells
        tell(line, sys.stderr, fit=fit)


def _told_to_end() -> int:
    """Return the exit code of the signal that has ended a run, 0 if there was none."""
    from tocsin.runner.ending import heard  # loaded already where something was played, and not needed elsewhere

    ending = heard()
    return ending.exit if ending else OVER


def _take_signals() -> None:
    """Let the first Ctrl-C end the command, and none after it disturb that end, until the process is gone; and let a
    closed terminal end it as being told to does, with one exit code for both.

    Where either is ignored, as behind ``nohup``, it stays so.
    """
    if signal.getsignal(signal.SIGINT) is signal.default_int_handler:
        signal.signal(signal.SIGINT, _interrupt)
    hang_up = getattr(signal, "SIGHUP", None)              # POSIX only
    if hang_up is not None and signal.getsignal(hang_up) is signal.SIG_DFL:
        signal.signal(hang_up, lambda number, frame: os.kill(os.getpid(), signal.SIGTERM))


def _interrupt(number: int, frame: FrameType | None) -> None:
    """End the command; while a library is loaded, at once: an exception in the midst of that crashed some of those that
    are written in C (msgspec 0.22, seen), and nothing is open yet that would have to be closed."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    while frame is not None:
        if frame.f_code.co_filename == _LOADING:
            os._exit(INTERRUPTED)
        frame = frame.f_back
    raise KeyboardInterrupt

