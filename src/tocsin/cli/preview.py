"""``tocsin preview``: the timeline of a plan as a table or a picture."""

import argparse
import shutil
import sys
from collections.abc import Sequence
from pathlib import Path

import msgspec
from rich.console import Console
from rich.table import Table
from rich.text import Text

from tocsin.cli.own_files import demand_suffix, write_own
from tocsin.cli.parser import Parser
from tocsin.cli.source import source_of
from tocsin.errors import OVER, UsageError
from tocsin.export.plot import FORMS, WALLS, Form, picture
from tocsin.export.sheet import calls
from tocsin.export.source import Source
from tocsin.export.table import csv_text, rows
from tocsin.model.plan import CHANNELS

_EXAMPLES = """\
examples:
  tocsin preview                          the bundled plan
  tocsin preview --plan my.toml           when each cue comes, what the official display shows then, for whom
  tocsin preview --plan my.toml --csv > my.csv
  tocsin preview --plan my.toml --json
  tocsin preview --plan my.toml -o plan.svg           a picture, one A4 page; also: .png, .pdf
  tocsin preview --plan my.toml --wall a3 -o wall.pdf a page for the wall, with the words and the leads

A picture is grey, so that it prints as it is. A file that Tocsin did not make is never overwritten.

exit codes: 0, 2 usage, 20 a mistake in a file
"""
_SUFFIXES: dict[str, Form] = {f".{form}": form for form in FORMS}
_NARROW = ("left", "cue", "for", *CHANNELS)
_WIDE = ("word", "match_s", "until_s", "why")
_WIDE_FROM = 120                       # columns of the terminal
_NUMBERS = ("left", "match_s", "until_s")
_HEADS = {"match_s": "match", "until_s": "until", "when": "only if"}


def parser() -> Parser:
    """Return the parser of ``tocsin preview``."""
    purpose = "Show every cue of a plan in order, with its time on the official display, as a table or a picture."
    result = Parser("tocsin preview", purpose, _EXAMPLES)
    add = result.add_argument
    add("--plan", default="full", metavar="NAME|FILE", help="the plan (full)")
    add("--game", metavar="NAME|FILE", help="instead of the game that the plan names")
    form = result.add_mutually_exclusive_group()
    form.add_argument("--json", action="store_true", help="print the rows as JSON, times in nanoseconds")
    form.add_argument("--csv", action="store_true", help="print the rows as CSV, times in seconds")
    form.add_argument("-o", dest="out", type=Path, metavar="FILE", help="draw a picture: .svg, .png or .pdf")
    add("--wall", nargs="?", const=WALLS[0], choices=WALLS, help="of a picture: a page for the wall, as PDF (a4)")
    return result


def main(arguments: Sequence[str]) -> int:
    """Print the timeline or draw it; return 0."""
    given = parser().parse_args(arguments)
    _check(given)
    source = source_of(given.plan, given.game)
    if given.out is not None:
        write_own(given.out, picture(source, _SUFFIXES[given.out.suffix.lower()], given.wall))
        print(f"wrote {given.out}")
        return OVER
    found = calls(source)
    if given.json:
        facts = {"game": source.timeline.game, "plan": source.timeline.plan, "calls": found}
        sys.stdout.write(msgspec.json.encode(facts).decode() + "\n")
    elif given.csv:
        sys.stdout.write(csv_text(found))
    else:
        _print(source)
    return OVER


def _check(given: argparse.Namespace) -> None:
    """Refuse what does not fit together, before anything is read or drawn."""
    if given.out is None:
        if given.wall is not None:
            raise UsageError("--wall is for a picture", hint=f"say where: --wall {given.wall} -o wall.pdf")
        return
    if given.wall is not None:
        demand_suffix(given.out, "page for the wall", (".pdf",), "wall")
    demand_suffix(given.out, "picture", tuple(_SUFFIXES), "plan")


def _print(source: Source) -> None:
    # Piped, the table gets whatever width it needs: nobody wants its columns folded in a file.
    width = shutil.get_terminal_size().columns if sys.stdout.isatty() else 200
    console = Console(width=width, highlight=False)
    timeline = source.timeline
    console.print(Text(f"{timeline.plan}, in the game {timeline.game}"))
    console.print(Text(f"{_display(source)} Times are seconds of the match."))
    found = calls(source)
    table = Table(box=None, pad_edge=False)
    columns = [*_NARROW, *(_WIDE if width >= _WIDE_FROM else ()), *(("when",) if timeline.variants else ())]
    for column in columns:
        table.add_column(_HEADS.get(column, column), justify="right" if column in _NUMBERS else "left", overflow="fold")
    for call, row in zip(found, rows(found), strict=True):
        row["left"] = row["left"] or ("by hand" if call.anchor.startswith("call.") else call.anchor)
        table.add_row(*(Text(row[column] or "-") for column in columns))
    console.print(table)


def _display(source: Source) -> str:
    counts = "each period" if source.timeline.counts == "period" else "the whole match"
    rounds = "20.0 to 19.0 s" if source.timeline.digits == "ceil" else "21.0 to 20.0 s"
    return f"left: what the official display reads, which counts {counts} down and shows 0:20 from {rounds}."
