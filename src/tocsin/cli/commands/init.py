"""``tocsin init``: write files to begin with, and a first plan from two questions."""

import argparse
import os
import re
import sys
from collections.abc import Callable, Sequence
from functools import partial
from pathlib import Path
from typing import NamedTuple

from tocsin.cli.lines import ask, tell
from tocsin.cli.parser import Parser, typed
from tocsin.config import bundle
from tocsin.config.schema.references import objection
from tocsin.config.write.starter import copy_bundled, first_plan, room_of
from tocsin.config.writing import Written, fill_folder, write_new
from tocsin.errors import INTERRUPTED, OVER, UsageError
from tocsin.units import ClockValueError, parse_clock

_EXAMPLES = """\
examples:
  tocsin init my_team                     asks two questions, then writes
  tocsin init my_team --home 9s --off 4s  asks nothing
  tocsin init my_team --game tide_lifts   a first plan for another of the invented games

Files that are there already are kept; --overwrite writes them anew. Measure both times with your own robot: the
examples are estimates from practice. No cue stops a robot, and none is a permission to enter the field.
"""
FIRST_PLAN_FILE = Path("plans", "first.toml")
_LEFT = "Nothing was written."
_SECONDS = re.compile(r"([0-9]+(?:[.,][0-9]+)?)(?: *| +s)")


class _Prompt(NamedTuple):
    option: str
    asks: str
    example: str


class _WrittenTime(NamedTuple):
    """A time as the person wrote it, and in nanoseconds."""

    text: str
    ns: int


_HOME = _Prompt("--home", "How long does the robot need home?", "7s")
_OFF = _Prompt("--off", "How early must a call come so that a push is broken off?", "4s")
_Against = Callable[[int], str]


def _clock(text: str) -> _WrittenTime:
    try:
        return _WrittenTime(text, parse_clock(text))
    except ClockValueError as error:
        raise argparse.ArgumentTypeError(f"{error}; {_fix(error, '7s')}") from None


def _fix(error: ClockValueError, example: str) -> str:
    return f"did you mean {error.likely}?" if error.likely else f"write a time with its unit, e.g. {example}"


def parser() -> Parser:
    """Return the parser of ``tocsin init``."""
    purpose = "Write copies of all bundled games, plans, patterns and rigs to change, and a first plan of your own."
    result = Parser("tocsin init", purpose, _EXAMPLES)
    add = result.add_argument
    add("folder", metavar="DIR", help="where to write; it is made if it is not there")
    add("--home", type=_clock, metavar="TIME", help="how long the robot needs home, e.g. 7s (asks)")
    add("--off", type=_clock, metavar="TIME", help="how early a call must come to break off a push, e.g. 4s (asks)")
    add("--game", default="harbour_haul", metavar="NAME|FILE", help="what the first plan is for (harbour_haul)")
    add("--overwrite", action="store_true", help="write files anew that are there already")
    return result


def main(arguments: Sequence[str]) -> int:
    """Write the files; return 0, or 130 without writing if a person leaves at a question."""
    given = parser().parse_args(arguments)
    folder = Path(given.folder)
    if not given.folder.strip() or (folder.exists() and not folder.is_dir()):
        raise UsageError(f"'{given.folder}' is no folder", hint="name one to be made: `tocsin init my_team`")
    plan = folder / FIRST_PLAN_FILE
    text = follows = ""
    if given.overwrite or not plan.exists():
        try:
            text, follows = _answered(given, folder)
        except (EOFError, KeyboardInterrupt):
            tell(f"\n{_LEFT}")
            return INTERRUPTED
    found = fill_folder(folder, partial(_write, given, text))
    tell(_report(folder, plan, found, follows))
    return OVER


def _write(given: argparse.Namespace, text: str, folder: Path) -> Written:
    """Write all files, the first plan last; return what was written and kept. Raises UsageError."""
    plan = folder / FIRST_PLAN_FILE
    own = _write_own_game(given, folder) if text else ()
    found = copy_bundled(folder, overwrite=given.overwrite)
    found = Written((*own, *found.written), tuple(path for path in found.kept if path not in own))
    if text and write_new(plan, text, overwrite=given.overwrite):
        return Written((*found.written, plan), found.kept)
    return Written(found.written, (*found.kept, plan))


def _answered(given: argparse.Namespace, folder: Path) -> tuple[str, str]:
    """Return the first plan's text from options and answers, and what followed from them. Raises EOFError if a person
    leaves at a question."""
    game, named = _game(given.game, folder, overwrite=given.overwrite)
    room = room_of(game)
    home_ns = _fitting(_HOME, given.home, room.against_home)
    off_ns = _fitting(_OFF, given.off, room.against_off)
    return first_plan(home_ns, off_ns, game, named), room.followed(home_ns, off_ns)


def _fitting(question: _Prompt, given: _WrittenTime | None, against: _Against) -> int:
    """Return an option's or answer's nanoseconds. One that does not fit is asked again where a person sits at a
    terminal, else it is a UsageError."""
    if given is None and sys.stdin is not None and sys.stdin.isatty():
        return _asked(question, against)
    if given is None:
        given = _piped(question)
    if why := against(given.ns):
        raise UsageError(f"{question.option} {given.text} {why}", hint="measure it with your own robot")
    return given.ns


def _piped(question: _Prompt) -> _WrittenTime:
    """Return the answer in the next line that is piped in; at the end of the input the example, and that is said.
    Raises UsageError for a line that is no time."""
    try:
        line = sys.stdin.readline() if sys.stdin is not None else ""
    except UnicodeDecodeError:
        raise UsageError(f"{question.asks} The input is no text", hint=_fix_piped(question)) from None
    if not line:
        tell(f"{question.asks} {question.example} is taken; {question.option} TIME sets it.")
        return _clock(question.example)
    text = line.strip()
    try:
        answer = _WrittenTime(text, parse_clock(_in_seconds(text)))
    except ClockValueError as error:
        what = str(error) if text else "The line is empty"
        hint = f"did you mean {error.likely}?" if error.likely else _fix_piped(question)
        raise UsageError(f"{question.asks} {what}", hint=hint) from None
    tell(f"{question.asks} {text}")
    return answer


def _fix_piped(question: _Prompt) -> str:
    return f"write a time a line, e.g. {question.example}, or use {question.option} TIME"


def _asked(question: _Prompt, against: _Against) -> int:
    while True:
        text = ask(f"{question.asks} (e.g. {question.example}) ")
        try:
            answer_ns = parse_clock(_in_seconds(text))
        except ClockValueError as error:
            tell(f"  {error}: {_fix(error, question.example)}" if text else f"  e.g. {question.example}")
            continue
        if not (why := against(answer_ns)):
            return answer_ns
        tell(f"  {text} {why}")


def _in_seconds(text: str) -> str:
    """Return an answer without a unit, or with a blank before it, as the seconds that it means; others as they are."""
    found = _SECONDS.fullmatch(text)
    if not found:
        return text
    meant = f"{found[1].replace(',', '.')}s"
    tell(f"  {text} is taken as {meant}")
    return meant


def _game(argument: str, folder: Path, *, overwrite: bool) -> tuple[str, str]:
    """Return the game to make the plan for, and what the plan calls it: the copy beside it, or a file of one's own."""
    path = bundle.find("games", argument)
    if bundle.is_file_argument(argument):
        copy = _copy_of(path, folder)
        return argument, f"../games/{copy.name}" if copy else _seen_from(folder / "plans", path)
    copy = folder / "games" / path.name
    return (str(copy) if copy.exists() and not overwrite else argument), f"../games/{path.name}"


def _copy_of(game: Path, folder: Path) -> Path | None:
    """Return where a game of one's own is copied to: a plan may name what is in its own folder or the one above."""
    return folder / "games" / f"{game.stem}.toml" if objection(_seen_from(folder / "plans", game)) else None


def _write_own_game(given: argparse.Namespace, folder: Path) -> tuple[Path, ...]:
    """Copy a game of one's own to where the first plan names it, if it has to be; return what was written. Raises
    UsageError if another game has its name there."""
    game = bundle.find("games", given.game)
    copy = _copy_of(game, folder) if bundle.is_file_argument(given.game) else None
    if copy is None:
        return ()
    text = game.read_bytes()
    if write_new(copy, text, overwrite=given.overwrite):
        return (copy,)
    if copy.read_bytes() != text:
        raise UsageError(f"{copy} is another game", hint=f"rename one of the two, or name that one: --game {copy}")
    return ()


def _seen_from(folder: Path, path: Path) -> str:
    try:
        return Path(os.path.relpath(path.resolve(), folder.resolve())).as_posix()
    except ValueError:                             # another drive of a Windows system
        return path.resolve().as_posix()


def _report(folder: Path, plan: Path, found: Written, follows: str) -> str:
    lines = [f"wrote {path}" for path in found.written]
    lines += [f"kept {path}" for path in found.kept]
    if found.kept:
        lines.append("What was kept is as it was; --overwrite writes it anew.")
    if plan in found.kept:
        lines.append(f"So no times were written: {plan} has those that stood there before.")
    if plan in found.written:
        lines += ["", follows]
    lines += [
        "",
        "Look at the times in your plan, then type:" if plan in found.kept else "Your plan is written. Type:",
        f"  {typed('tocsin', 'check', str(folder))}",
        f"  {typed('tocsin', 'run', '--plan', str(plan))}",
    ]
    return "\n".join(lines)
