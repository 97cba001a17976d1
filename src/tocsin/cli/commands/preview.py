"""``tocsin preview``: show a plan's timeline as a table or a picture, or play its cues on the devices."""

import argparse
import shutil
import sys
from collections.abc import Sequence
from pathlib import Path

from tocsin.cli.arguments import channels
from tocsin.cli.commands.run import wanted
from tocsin.cli.lines import say_to, tell, tell_data, tell_json, tell_table
from tocsin.cli.own_files import demand_suffix, refuse_strange, write_own
from tocsin.cli.parser import Parser
from tocsin.cli.project import Meant, meant_here
from tocsin.cli.source import meant_source
from tocsin.errors import OVER, UsageError
from tocsin.export.occurrences import calls, display_in_words
from tocsin.export.picture.picture import FORMS, WALLS, Form, picture
from tocsin.export.source import Source
from tocsin.export.table import csv_text, rows
from tocsin.features.check.notes import notes_of
from tocsin.features.preview.poster.poster import DIGEST, PAPERS, poster
from tocsin.features.preview.run import PreviewRequest, run_preview
from tocsin.model.plan import CHANNELS
from tocsin.readable import readable_line
from tocsin.runner.pygames import demand_one_pygame
from tocsin.translation import marked, tr

_EXAMPLES = tr("""\
examples:
  tocsin preview                          the plan of your project, or the bundled one
  tocsin preview --plan my.toml           when each cue comes, what the official display shows then, for whom
  tocsin preview --plan my.toml --csv > my.csv
  tocsin preview --plan my.toml --json
  tocsin preview --plan my.toml -o plan.svg            a picture, one A4 page; also: .png, .pdf
  tocsin preview --plan my.toml --wall a3 -o wall.pdf  a page for the wall, with the words and the leads
  tocsin preview --plan my.toml --poster a3 -o poster.pdf  sheets for the pit: each cue as seen, felt and heard
  tocsin preview --plan my.toml --rig my_rig.toml --play home          this cue, now, on all its devices
  tocsin preview --plan my.toml --rig my_rig.toml --play home,no_touch --only light,screen
  tocsin preview --plan my.toml --rig my_rig.toml --step               one cue after another, by keys

A picture is grey, so that it prints as it is. What `tocsin check` finds in a plan stands on it as numbers, with a list
below; not on a wall. A poster has colours, and reads in grey too; as .svg or .png each sheet is a file of its own
(poster.png, poster-2.png, ...). A file that Tocsin did not make is never overwritten.

CAUTION. --play and --step light screen and strip up, shake pads and sound. Once an evening a person at the keys is
asked if flashing light harms anybody and if the sound is low; a script must know it. At most two flashes a second come
out, however fast you step.

exit codes: 0, 2 usage, 20 a mistake in a file; of --play and --step those of `tocsin run`
""")
_SUFFIXES: dict[str, Form] = {f".{form}": form for form in FORMS}
_NARROW = ("left", "cue", "for", *CHANNELS)
_WIDE = ("word", "match_s", "until_s", "why")              # the last stands below where it has no room
_BY_HAND = tr("by hand")
_WIDE_FROM = 120                       # columns of the terminal
_NUMBERS = ("left", "match_s", "until_s")
_HEADS = {"match_s": "match", "until_s": "until", "when": "only if"}
marked("left", "cue", "for", "rumble", "light", "screen", "sound", "word", "match", "until", "only if", "why")


def parser() -> Parser:
    """Return the parser of ``tocsin preview``."""
    purpose = tr("Show every cue of a plan in order, with its time on the official display, as a table or a picture.")
    result = Parser("tocsin preview", purpose, _EXAMPLES)
    add = result.add_argument
    add("--plan", metavar="NAME|FILE", help=tr("the plan (the project's usual one)"))
    add("--game", metavar="NAME|FILE", help=tr("instead of the game that the plan names"))
    form = result.add_mutually_exclusive_group()
    form.add_argument("--json", action="store_true", help=tr("print the rows as JSON, times in nanoseconds"))
    form.add_argument("--csv", action="store_true", help=tr("print the rows as CSV, times in seconds"))
    form.add_argument("-o", dest="out", type=Path, metavar="FILE", help=tr("draw a picture: .svg, .png or .pdf"))
    add("--wall", nargs="?", const=WALLS[0], choices=WALLS, help=tr("of a picture: a page for the wall, as PDF (a4)"))
    add("--poster", nargs="?", const=PAPERS[0], choices=PAPERS,
        help=tr("of a picture: each cue as seen, felt and heard, readable at 3 m (a3)"))  # fmt: skip
    hand = result.add_mutually_exclusive_group()
    hand.add_argument("--play", type=_names, metavar="CUE,...", help=tr("play these cues on the devices now"))
    hand.add_argument(
        "--step", action="store_true", help=tr("play one cue after another: a key says when, or by itself"),
    )
    add("--rig", metavar="NAME|FILE", help=tr("to play or step: the devices of this laptop (nothing)"))
    add("--only", type=channels, metavar="CHANNEL,...", help=tr("to play or step: only these, and they must be there"))
    add("--screen", choices=["window", "terminal", "none"], help=tr("to play or step: where to look"))
    return result


def main(arguments: Sequence[str]) -> int:
    """Print the timeline, draw it, or play cues; return the exit code."""
    given = parser().parse_args(arguments)
    _check(given)
    meant = meant_here()
    if given.play is not None or given.step:
        return _by_hand(given, meant)
    source = meant_source(meant, given.plan, given.game)
    if given.poster is not None:
        _poster(given, source)
        return OVER
    if given.out is not None:
        notes = [] if given.wall else notes_of(source)
        write_own(given.out, picture(source, _SUFFIXES[given.out.suffix.lower()], given.wall, notes))
        tell(tr("wrote {out}", out=given.out))
        return OVER
    found = calls(source)
    if given.json:
        facts = {"game": source.timeline.game, "plan": source.timeline.plan, "calls": found}
        tell_json(facts)
    elif given.csv:
        tell_data(csv_text(found).encode(sys.stdout.encoding, "replace"))
    else:
        _print(source)
    return OVER


def _poster(given: argparse.Namespace, source: Source) -> None:
    """Write the poster's files, the later sheets of a picture under names with a number."""
    form = _SUFFIXES[given.out.suffix.lower()]
    sheets = poster(source, form, given.poster)
    later = (given.out.with_stem(f"{given.out.stem}-{number}") for number in range(2, len(sheets) + 1))
    outs = (given.out, *later)
    for out in outs:
        refuse_strange(out, "poster")
    for out, data in zip(outs, sheets, strict=True):
        write_own(out, data)
        tell(tr("wrote {out}", out=out))
    tell(source.short_origin_lines(DIGEST)[-1])


def _names(text: str) -> tuple[str, ...]:
    names = tuple(name.strip() for name in text.split(",") if name.strip())
    if not names:
        raise argparse.ArgumentTypeError(tr("name at least one cue, e.g. home"))
    return names


def _by_hand(given: argparse.Namespace, meant: Meant) -> int:
    demand_one_pygame()
    plan = meant.plan(given.plan)
    game, rig = meant.game(given.game, [plan]), meant.rig(given.rig)
    meant.tell()
    only, asked = wanted(given.only, given.screen)
    wish = PreviewRequest(
        plan=plan, game=game, rig=rig, shared=meant.shared, cues=given.play, screen=given.screen, only=only,
        asked=asked, runs=meant.runs(None), script=not sys.stdin.isatty(),
    )  # fmt: skip
    result = run_preview(wish, say_to(given.json), json_output=given.json)
    if given.json:
        tell_json(result)
    return result.exit


def _check(given: argparse.Namespace) -> None:
    """Refuse what does not fit together, before anything is read or drawn."""
    if given.play is not None or given.step:
        if given.csv or any(value is not None for value in (given.out, given.wall, given.poster)):
            raise UsageError(tr("--play and --step write no file"), hint=tr("leave out --csv, -o, --wall and --poster"))
        return
    for option in ("rig", "only", "screen"):
        if getattr(given, option) is not None:
            raise UsageError(
                tr("--{option} is for --play and --step", option=option), hint=tr("add --step, or --play CUE"),
            )
    if given.wall is not None and given.poster is not None:
        raise UsageError(tr("use --wall or --poster, not both"), hint=tr("give one of them"))
    if given.out is None:
        if given.poster is not None:
            raise UsageError(
                tr("--poster is for a picture"),
                hint=tr("say where: --poster {poster} -o poster.pdf", poster=given.poster),
            )
        if given.wall is not None:
            raise UsageError(
                tr("--wall is for a picture"), hint=tr("say where: --wall {wall} -o wall.pdf", wall=given.wall),
            )
        return
    if given.wall is not None:
        demand_suffix(given.out, tr("page for the wall"), (".pdf",), "wall")
    demand_suffix(given.out, "picture", tuple(_SUFFIXES), "plan")


def _print(source: Source) -> None:
    # Piped, the table gets whatever width it needs: nobody wants its columns folded in a file.
    width = shutil.get_terminal_size().columns if sys.stdout.isatty() else 200
    timeline = source.timeline
    tell(tr(
        "{readable_line}, in the game {readable_line_2}", readable_line=readable_line(timeline.plan),
        readable_line_2=readable_line(timeline.game),
    ))
    tell(tr(
        "{display_in_words} The column `left` has what it shows then.", display_in_words=display_in_words(timeline),
    ))
    tell(tr("Times are seconds of the match."))
    found = calls(source)
    is_wide = width >= _WIDE_FROM
    columns = [*_NARROW, *(_WIDE if is_wide else ()), *(("when",) if timeline.variants else ())]
    told = rows(found)
    for call, row in zip(found, told, strict=True):
        row["left"] = row["left"] or (_BY_HAND if call.anchor.startswith("call.") else call.anchor)
    heads = {_head(column): column in _NUMBERS for column in columns}
    tell_table(heads, ([row[column] or "-" for column in columns] for row in told), width)
    if any(row["left"] == _BY_HAND for row in told):
        tell(tr(
            "{by_hand}: whenever somebody presses its key, which the rig names under [keys] call", by_hand=_BY_HAND,
        ))
    if not is_wide:
        for cue, why in {row["cue"]: row["why"] for row in told if row["why"]}.items():
            tell(f"{cue}: {why}")
        left_out = ", ".join(_head(column) for column in _WIDE[:-1])
        tell(tr("Too wide, left out: {left_out}. --csv has all.", left_out=left_out))


def _head(column: str) -> str:
    return tr(_HEADS.get(column, column))
