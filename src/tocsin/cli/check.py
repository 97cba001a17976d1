"""``tocsin check``: every mistake of plans, games, rigs and patterns."""

import json
import shutil
import sys
from collections.abc import Sequence
from pathlib import Path

from tocsin.cli.parser import Parser
from tocsin.config.checking import check, files_of, files_of_this_folder
from tocsin.config.problem import Problem, as_json, render_all
from tocsin.errors import MISTAKE, OVER, UsageError

_EXAMPLES = """\
examples:
  tocsin check                    all files of this folder
  tocsin check my_team            all files of another folder
  tocsin check my.toml my_rig.toml
  tocsin check full               a bundled plan
  tocsin check my.toml --game harbour_haul --json

exit codes: 0 no mistakes, 2 usage, 20 mistakes
"""
_WIDEST = 100
_USUAL = (79, 24)


def parser() -> Parser:
    """Return the parser of ``tocsin check``."""
    result = Parser("tocsin check", "Find every mistake of plans, games, rigs and patterns in one go.", _EXAMPLES)
    add = result.add_argument
    add("what", nargs="*", metavar="FILE|FOLDER|NAME", help="what to check (all files of this folder)")
    add("--game", metavar="NAME|FILE", help="check plans in this game instead of the one that they name")
    add("--json", action="store_true", help="print the mistakes as JSON")
    return result


def main(arguments: Sequence[str]) -> int:
    """Print all mistakes; return 20 if there are any, else 0."""
    given = parser().parse_args(arguments)
    what = given.what or files_of_this_folder()
    files = files_of(what)
    if not files:
        where = " ".join(given.what) or "this folder"
        raise UsageError(f"there is no file to check in {where}", hint="`tocsin init DIR` writes some to begin with")
    problems = check(what, given.game)
    if given.json:
        listed = [as_json(problem) for problem in problems]
        sys.stdout.write(json.dumps({"files": list(files), "problems": listed}) + "\n")
    else:
        if not given.what:
            print(_looked_at(files))
        print(_text(problems, len(files)))
    return MISTAKE if problems else OVER


def _looked_at(files: Sequence[str]) -> str:
    """Return what was found in this folder to be checked."""
    folders = dict.fromkeys(str(Path(file).parent) for file in files)
    where = ", ".join("this folder" if folder == "." else folder for folder in folders)
    return f"Looked at {len(files)} file{'' if len(files) == 1 else 's'} in {where}."


def _text(problems: tuple[Problem, ...], files: int) -> str:
    if not problems:
        return f"{files} file{'' if files == 1 else 's'}: no mistakes"
    return render_all(problems, min(shutil.get_terminal_size(_USUAL).columns, _WIDEST))
