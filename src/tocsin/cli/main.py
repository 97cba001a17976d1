"""``tocsin``: finds the command, lets it work, turns errors into one line, a hint and an exit code.

Commands are imported when they are called: a library that one command needs must not slow down the others' start.
"""

import argparse
import contextlib
import importlib
import io
import os
import sys
import traceback
from collections.abc import Sequence

from tocsin import __version__
from tocsin.errors import INTERRUPTED, TocsinError

COMMANDS = {
    "run": "a match: count in, call, record",
    "check": "every mistake of plans, games and rigs",
}
_EXAMPLES = """\
examples:
  tocsin run                                  a match with the bundled plan and nothing plugged in
  tocsin run --from driver.end-35s            only its last 35 s
  tocsin run --plan my.toml --rig my_rig.toml your own plan on your own devices
  tocsin check my_team                        every mistake in them, with its line

exit codes: 0 over (or left, or scrapped by a person), 1 a firing failed, 2 usage, 20 a mistake in a file,
21 a device that was asked for is not there, 22 the journal cannot be written, 130 Ctrl-C, 143 told to end

Tocsin is not a stop for any robot and gives no permission to enter a field. Where laptops or wireless are not
allowed at the field, leave it in the pit: the event's rules come first."""


def parser() -> argparse.ArgumentParser:
    """Return the parser of the whole command line, with every command's own arguments only where it is called."""
    result = argparse.ArgumentParser(
        prog="tocsin",
        description="Calls the endgame to a drive team on rumble, light, screen and sound at the same instant.",
        epilog=_EXAMPLES,
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )
    result.add_argument("--version", action="version", version=f"tocsin {__version__}")
    commands = result.add_subparsers(dest="command", metavar="COMMAND", required=True)
    for name, purpose in COMMANDS.items():
        commands.add_parser(name, help=purpose, add_help=False)
    return result


def main(arguments: Sequence[str] | None = None) -> int:
    """Run the command line and return its exit code; no traceback reaches a user."""
    given = list(sys.argv[1:] if arguments is None else arguments)
    _make_printable()
    known, rest = parser().parse_known_args(given[:1])
    try:
        command = importlib.import_module(f"tocsin.cli.{known.command}")
        code: int = command.main([*rest, *given[1:]])
    except TocsinError as error:
        print(f"tocsin: {error}", file=sys.stderr)
        if error.hint:
            print(f"  {error.hint}", file=sys.stderr)
        return error.exit_code
    except KeyboardInterrupt:
        return INTERRUPTED
    except BrokenPipeError:
        # Whoever read our output has gone; python must not complain about it at exit.
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        return 0
    except Exception as error:
        _report_fault(error)
        return 1
    return code


def _report_fault(error: Exception) -> None:
    """Tell of a fault of the program in one line; the details only where they were asked for."""
    print(f"tocsin: this is a fault of Tocsin itself: {type(error).__name__}: {error}", file=sys.stderr)
    if os.environ.get("TOCSIN_TRACEBACK"):
        traceback.print_exception(error)
    else:
        print("  run it again with TOCSIN_TRACEBACK=1 in the environment and send us what it prints", file=sys.stderr)


def _make_printable() -> None:
    """Let no character that a console lacks end the program: Windows consoles are often cp1252 when piped."""
    for stream in (sys.stdout, sys.stderr):
        if isinstance(stream, io.TextIOWrapper):
            with contextlib.suppress(OSError, ValueError):
                stream.reconfigure(errors="replace")
