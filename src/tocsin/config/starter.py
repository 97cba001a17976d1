"""Files of one's own to begin with: editable copies of the bundled ones, and a first plan from two answers."""

import re
from pathlib import Path
from typing import NamedTuple

from tocsin.config import bundle
from tocsin.config.document import Document
from tocsin.config.fields import quoted
from tocsin.config.game_schema import GameFile
from tocsin.config.load import (
    Pair,
    ProblemsError,
    Shelf,
    Sources,
    all_problems,
    bundled_patterns,
    compiled,
    parse_document,
)
from tocsin.config.reading import GAME, PLAN
from tocsin.config.writing import write_new
from tocsin.errors import UsageError
from tocsin.model.compiler import compile_plan
from tocsin.model.game import Game
from tocsin.model.ground import lay_out
from tocsin.model.plan import Plan
from tocsin.units import NS_PER_S, format_clock, parse_clock

FIRST_PLAN = "first plan"              # what problems call it before it is a file
_PATTERN_NOTE = (
    "# For copying from: Tocsin reads its own copy of this file. Paste a pattern into your plan and change it there.\n"
)
_KEEP_OFF = ("no_contact", "keep_off")
# Hearing the call, turning, and something in hand (an estimate from practice, no source).
_RESERVE_NS = 4 * NS_PER_S
_WHY = {
    False: "break off now, so that nobody is in the way when the window begins",
    True: "the way home takes longer than the window lasts",
}
_HEAD = """\
format = "tocsin-plan/1"
name = "First plan"
game = {game}

# A first plan for {title}. Change a time, ask `tocsin check` for mistakes, look at the timeline with `tocsin preview`.
#
# CAUTION. No cue stops a robot, and none is a permission to enter the field.

[lead]
break_off = "{early}"  # how early to break off a push
home = "{home}"  # the way home of {travel}, and 4 s to notice, to turn and in hand
"""
_ALIVE = """
[[cue]]
id = "alive"
at = "{period}.begin+2s"
rumble = "blip"
priority = 3
why = "felt it? then pad and role are right"
"""
_HOME = """
[[cue]]
id = "home"
at = "{at}"
rumble = "triple"
light = "home"
screen = "home"
sound = "rising"
say = "Home"
late_limit = "1500ms"
priority = 9
callable = true
why = "{why}"
"""
_CONFIRM = """
[[cue]]
id = "keep_off"
at = "{window}.begin"
until = "match.end"
rumble = "long"
light = "keep_off"
screen = "keep_off"
sound = "drop"
say = "Keep off"
priority = 7
why = "from here on a touch costs points"
"""
_OVER = """
[[cue]]
id = "over"
at = "match.end"
rumble = "close"
light = "over"
screen = "over"
say = "Over"
priority = 9
why = "let go of the sticks: robots coast"
"""


class Written(NamedTuple):
    """What was written, and which files were there already and were left as they are."""

    written: tuple[Path, ...]
    kept: tuple[Path, ...]


def copy_bundled(folder: Path, *, overwrite: bool = False) -> Written:
    """Write copies of all bundled games, plans, patterns and rigs below ``folder``; return what was written and kept.

    A file that is there already is kept, unless ``overwrite`` is set. The copies of the plans name the copies of the
    games. Raises UsageError if the folder cannot be written.
    """
    written: list[Path] = []
    kept: list[Path] = []
    for kind in bundle.KINDS:
        for name in bundle.names(kind):
            target = folder / kind / f"{name}.toml"
            text = (bundle.root() / kind / f"{name}.toml").read_text(encoding="utf-8")
            (written if write_new(target, _editable(kind, text), overwrite=overwrite) else kept).append(target)
    return Written(tuple(written), tuple(kept))


def first_plan(travel_home: str | int, break_off: str | int, game: str, named: str | None = None) -> str:
    """Return a first plan as TOML from two answers: how long the way home takes, and how early to break off a push.

    Both are clock values or nanoseconds. ``game`` is a bundled name or a file, ``named`` what the plan calls it: a file
    is looked up from the plan's own folder. The plan calls home ahead of the window in which contact counts, or of the
    game's last one, and before it if the way is too long. Raises ClockValueError for an answer that is no time,
    UsageError for a game without a window, ProblemsError for a broken game or for times that leave no room in it.
    """
    home_ns, early_ns = (parse_clock(a) if isinstance(a, str) else a for a in (travel_home, break_off))
    shelf = Shelf()
    parsed = shelf.parsed(GAME, bundle.find("games", game))
    table = parsed.table
    if not isinstance(table, GameFile) or not parsed.document.is_sound:
        raise ProblemsError(parsed.document.sorted_problems())
    found = table.build()
    if not found.windows:
        raise UsageError(f"the game {found.name} has no window to call ahead of", hint="add a [[window]] to it")
    text = _plan_text(found, named or game, home_ns, early_ns)
    pair = Pair(parsed, parse_document(Document(FIRST_PLAN, text), PLAN))
    compiled(Sources((pair,), (), bundled_patterns(shelf)))
    if problems := all_problems([parsed.document, pair.plan.document]):
        raise ProblemsError(problems)
    return text


def _plan_text(game: Game, named: str, home_ns: int, early_ns: int) -> str:
    window = next((one for one in game.windows if one.id in _KEEP_OFF), game.windows[-1])
    name = f"{window.id}.{len(window.begins)}" if len(window.begins) > 1 else window.id
    late = _is_too_late(game, name, home_ns + _RESERVE_NS, early_ns)
    cues = [_HOME.format(at="match.end-home" if late else f"{name}.begin-break_off", why=_WHY[late])]
    if window.id in _KEEP_OFF:
        cues.append(_CONFIRM.format(window=name))
    drives = next((period.id for period in game.periods if period.kind == "driver"), "")
    alive = _ALIVE.format(period=drives) if drives else ""
    return _HEAD.format(
        game=quoted(named), title=game.name, early=format_clock(early_ns), home=format_clock(home_ns + _RESERVE_NS),
        travel=format_clock(home_ns),
    ) + alive + "".join(cues) + _OVER  # fmt: skip


def _is_too_late(game: Game, window: str, home_ns: int, early_ns: int) -> bool:
    """Return whether a call that comes ``early_ns`` before the window leaves less than ``home_ns`` to the end."""
    timeline, _ = compile_plan(game, Plan(name="", game=""))
    end = lay_out(game.periods).match_end()
    name, _, number = window.partition(".")
    spans = timeline.windows if timeline else ()
    begin = next((span.begin for span in spans if span.id == name and span.n == int(number or 1)), None)
    if begin is None or end is None or begin.anchor != end.anchor:
        return False
    return end.offset_ns - (begin.offset_ns - early_ns) < home_ns


def _editable(kind: bundle.Kind, text: str) -> str:
    """Return a bundled file's text as a copy of one's own: plans name the copy of their game beside them."""
    if kind == "plans":
        return re.sub(r'^game = "(\w+)"', r'game = "../games/\1.toml"', text, flags=re.MULTILINE)
    if kind == "drills":
        return re.sub(r'^plan = "(\w+)"', r'plan = "../plans/\1.toml"', text, flags=re.MULTILINE)
    return _PATTERN_NOTE + text if kind == "patterns" else text
