"""``tocsin check``: every mistake of plans, games, rigs and patterns."""

import argparse
import json
import sys
from collections.abc import Sequence

from tocsin.config.checking import check
from tocsin.config.problem import as_json, render_all
from tocsin.errors import MISTAKE, OVER

_EXAMPLES = """\
examples:
  tocsin check my_team            all files of a folder
  tocsin check my.toml my_rig.toml
  tocsin check full               a bundled plan
"""


def main(arguments: Sequence[str]) -> int:
    """Print all mistakes; return 20 if there are any, else 0."""
    parser = argparse.ArgumentParser(
        prog="tocsin check",
        description="Find every mistake of plans, games, rigs and patterns in one go.",
        epilog=_EXAMPLES,
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )
    parser.add_argument("what", nargs="+", metavar="FILE|FOLDER|NAME")
    parser.add_argument("--json", action="store_true", help="print the mistakes as JSON")
    given = parser.parse_args(arguments)
    problems = check(given.what)
    if given.json:
        sys.stdout.write(json.dumps({"problems": [as_json(problem) for problem in problems]}) + "\n")
    else:
        print(render_all(problems) if problems else "No mistakes.")
    return MISTAKE if problems else OVER
