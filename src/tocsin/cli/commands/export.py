"""``tocsin export``: write the plan for use without this laptop, as a card, robot code, a box, a page or JSON."""

import argparse
import re
import sys
from collections.abc import Sequence
from pathlib import Path
from typing import Literal, get_args

from tocsin.cli.lines import tell, tell_data
from tocsin.cli.own_files import demand_suffix, write_own
from tocsin.cli.parser import Parser
from tocsin.cli.project import Meant, meant_here
from tocsin.cli.source import meant_source
from tocsin.config.load import load_rig
from tocsin.errors import OVER, UsageError
from tocsin.export.box.box import BoxExport, box_export
from tocsin.export.card.card import Layout, card_layout, card_pdf, card_svg
from tocsin.export.json_document import json_text
from tocsin.export.page import page_html
from tocsin.export.robot.c import c_source
from tocsin.export.robot.java import java_source
from tocsin.export.robot.python import python_source
from tocsin.export.source import Source
from tocsin.runner.options import EVENT, PRACTICE, At
from tocsin.translation import tr, trn

_EXAMPLES = tr("""\
examples:
  tocsin export --to card -o card.pdf                  A4, for the pit's wall
  tocsin export --to card --at event -o card.pdf       of your plan for events
  tocsin export --to card --size a6 -o wrist.svg       for a wrist
  tocsin export --plan my.toml --to java -o Cues.java  for the robot's program; also: python, c
  tocsin export --plan my.toml --to page -o cues.html  for a browser, without network
  tocsin export --plan my.toml --to json               everything, for other programs
  tocsin export --to box --at event -o box.hex         for a box that plays it without a laptop: hardware_notes/box.md

Each file says at its top what it is and how to use it. A file that Tocsin did not make is never overwritten. The
event's rules come first: ask before you use any of them there.

exit codes: 0, 2 usage, 20 a mistake in a file
""")
_SUFFIXES = {
    "card": (".pdf", ".svg"),
    "java": (".java",),
    "python": (".py",),
    "c": (".c", ".h"),
    "json": (".json",),
    "page": (".html", ".htm"),
    "box": (".hex",),
}
_FOR_EVENTS = ("card", "box")          # what people take there
_SIZES: tuple[Literal["a4", "a6"], ...] = ("a4", "a6")
_CLASS = "TocsinCues"
_JAVA_NAME = re.compile(r"[A-Za-z_][A-Za-z0-9_]*")


def parser() -> Parser:
    """Return the parser of ``tocsin export``."""
    purpose = tr("Save a plan for places where this laptop may not be: paper, the robot's own program, a browser.")
    result = Parser("tocsin export", purpose, _EXAMPLES)
    add = result.add_argument
    add("--to", required=True, choices=list(_SUFFIXES), help=tr("what to write"))
    add("--plan", metavar="NAME|FILE", help=tr("the plan (the project's usual one)"))
    at = tr("an event: the project's plan for events, a page's sound off (practice)")
    add("--at", choices=get_args(At), default=PRACTICE, help=at)
    add("--game", metavar="NAME|FILE", help=tr("instead of the game that the plan names"))
    add("--size", choices=_SIZES, help=tr("of a card: a4 for a wall, a6 for a wrist (a4)"))
    add("--rig", metavar="NAME|FILE", help=tr("of a box: whose strip it has (the project's)"))
    add("-o", dest="out", type=Path, metavar="FILE", help=tr("where to write it (printed, a card as SVG)"))
    return result


def main(arguments: Sequence[str]) -> int:
    """Write or print the export; return 0."""
    given = parser().parse_args(arguments)
    _check(given)
    meant = meant_here()
    plan = given.plan
    if given.at == EVENT and plan is None:
        (plan,) = meant.event_plans(None)[:1]
    source = meant_source(meant, plan, given.game)
    layout = card_layout(source, _size(given)) if given.to == "card" else None
    box = _box(source, meant, given) if given.to == "box" else None
    if box is not None:
        data = box.text.encode()
    else:
        data = _text(source, given).encode() if layout is None else _card(source, layout, given.out)
    if given.out is None:
        tell_data(data)
    else:
        write_own(given.out, data)
        tell(tr("wrote {out}", out=given.out))
    if box is not None and given.out is not None:
        _tell_box(box, given.out)
    if layout is not None:
        _tell_left_out(layout, _size(given))
    if given.to in _FOR_EVENTS and given.plan is None and given.at != EVENT:
        _tell_event_plan(meant, given.to)
    return OVER


def _check(given: argparse.Namespace) -> None:
    if given.size and given.to != "card":
        raise UsageError(tr("--size is for a card"), hint=tr("leave it out, or write --to card"))
    if given.rig and given.to != "box":
        raise UsageError(tr("--rig is for a box"), hint=tr("leave it out, or write --to box"))
    if given.out is None:
        if given.to == "box":
            raise UsageError(
                tr("a box's file is for another program, not to be read"), hint=tr("say where: --to box -o box.hex")
            )
        return
    demand_suffix(given.out, given.to, _SUFFIXES[given.to], "cues")
    if given.to == "java" and not _JAVA_NAME.fullmatch(given.out.stem):
        raise UsageError(
            tr("'{stem}' is not a Java class name", stem=given.out.stem),
            hint=tr("did you mean {name}?", name=_CLASS + ".java"),
        )


def _box(source: Source, meant: Meant, given: argparse.Namespace) -> BoxExport:
    rig = meant.rig_or_none(given.rig)
    return box_export(source, load_rig(rig).light if rig is not None else None)


def _tell_box(box: BoxExport, out: Path) -> None:
    """Say what the file holds, the dangers, and what to type next, with the port's place marked."""
    for line in (*box.told, *box.next_steps(str(out))):
        tell(line, sys.stderr)


def _card(source: Source, layout: Layout, out: Path | None) -> bytes:
    if out is not None and out.suffix.lower() == ".pdf":
        return card_pdf(source, layout)
    return card_svg(source, layout).encode()


def _size(given: argparse.Namespace) -> Literal["a4", "a6"]:
    return given.size or _SIZES[0]


def _tell_event_plan(meant: Meant, to: str) -> None:
    """Say that events have a plan of their own: this one would be taken there, and call another plan's moments."""
    if meant.found is not None and (name := meant.found.event_plan) is not None:
        tell(
            tr("for an event: --at event makes the {to} of your plan for events, {stem}", to=to, stem=Path(name).stem),
            sys.stderr,
        )


def _tell_left_out(layout: Layout, size: Literal["a4", "a6"]) -> None:
    """Say at once what the card says at its foot: somebody prints it and does not look again."""
    left_out = layout.left_out
    if left_out:
        more = "" if size == "a4" else tr(" --size a4 has more.")
        told = trn(
            "tocsin: no room on this card for {count} row of the lowest priority; its bottom names it.{more}",
            "tocsin: no room on this card for {count} rows of the lowest priority; its bottom names what it can.{more}",
            len(left_out), more=more,
        )
        tell(told, sys.stderr)


def _text(source: Source, given: argparse.Namespace) -> str:
    match given.to:
        case "java":
            return java_source(source, given.out.stem if given.out else _CLASS)
        case "python":
            return python_source(source)
        case "c":
            return c_source(source)
        case "page":
            return page_html(source, quiet=given.at == EVENT)
        case _:
            return json_text(source)
