"""Write a user's first files: editable copies of the bundled ones, and a first plan from two answers."""

import re
from pathlib import Path

from tocsin.config import bundle
from tocsin.config.file_cache import FileCache, Parsed, bundled_patterns, parse_document
from tocsin.config.load import (
    DiagnosticsError,
    Pair,
    Sources,
    all_problems,
    compiled,
)
from tocsin.config.reading import GAME, PLAN
from tocsin.config.schema.game import GameFile
from tocsin.config.semantics import report_game
from tocsin.config.toml.document import Document
from tocsin.config.toml.phrases import quoted
from tocsin.config.write.room import RESERVE_NS, Room, room_in
from tocsin.config.writing import Written, write_new
from tocsin.errors import UsageError
from tocsin.model.game import Game
from tocsin.units import format_clock, parse_clock

FIRST_PLAN = "first plan"              # what problems call it before it is a file
_PATTERN_NOTE = (
    "# For copying from: Tocsin reads its own copy of this file. Paste a pattern into your plan and change it there.\n"
)
_WHY_AHEAD = {
    True: "break off now, so that nobody is in the way when the window begins",
    False: "be on the way when the window begins",
}
_WHY_HOME = {
    True: "the way home takes longer than the window lasts",
    False: "nobody knows ahead when the window begins",
}
_HEAD = """\
format = "tocsin-plan/1"
name = "First plan"
game = {game}

# A first plan for {title}. Change a time, ask `tocsin check` for mistakes, look at the timeline with `tocsin preview`.
#
# CAUTION. No cue stops a robot, and none is a permission to enter the field.

[lead]
{lead}
"""
_BREAK_OFF = 'break_off = "{early}"  # how early to break off a push'
_TRAVEL = 'home = "{home}"  # the way home of {travel}, and {reserve} to notice, to turn and in hand'
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
until = "{until}"
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


def copy_bundled(folder: Path, *, overwrite: bool = False) -> Written:
    """Write copies of all bundled games, plans, patterns and rigs below ``folder``; return the written and the kept
    files.

    An existing file is kept, unless ``overwrite`` is set. The copied plans name the copied games. Raises UsageError if
    the folder cannot be written.
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

    Both are clock values or nanoseconds. ``game`` is a bundled name or a file, ``named`` the plan's name for it: a file
    is looked up from the plan's own folder. The plan calls home ahead of the window in which contact counts, or of the
    game's last one, and before it if the way is too long. Raises ClockValueError for an answer that is no time,
    UsageError for one that does not fit and like ``room_of``, DiagnosticsError for a broken game or plan.
    """
    home_ns, early_ns = (parse_clock(a) if isinstance(a, str) else a for a in (travel_home, break_off))
    shelf = FileCache()
    parsed, found = _game(shelf, game)
    room = _room(found)
    for answer_ns, against in ((home_ns, room.against_home(home_ns)), (early_ns, room.against_off(early_ns))):
        if against:
            raise UsageError(f"{format_clock(answer_ns)} {against}")
    text = _plan_text(found, room, named or game, home_ns, early_ns)
    pair = Pair(parsed, parse_document(Document(FIRST_PLAN, text), PLAN))
    compiled(Sources((pair,), (), bundled_patterns(shelf)))
    if problems := all_problems([parsed.document, pair.plan.document]):
        raise DiagnosticsError(problems)
    return text


def room_of(game: str) -> Room:
    """Return the time that a game (a bundled name or a file) leaves for the answers. Raises UsageError for a game
    without a window, DiagnosticsError for a broken game."""
    _, found = _game(FileCache(), game)
    return _room(found)


def _game(shelf: FileCache, game: str) -> tuple[Parsed, Game]:
    parsed = shelf.parsed(GAME, bundle.find("games", game))
    table = parsed.table
    if not isinstance(table, GameFile) or not parsed.document.is_sound:
        raise DiagnosticsError(parsed.document.sorted_problems())
    found = table.build()
    report_game(parsed.document, found)
    if not parsed.document.is_sound:
        raise DiagnosticsError(parsed.document.sorted_problems())
    return parsed, found


def _room(game: Game) -> Room:
    room = room_in(game)
    if room is None:
        raise UsageError(f"the game {game.name} has no window to call ahead of", hint="add a [[window]] to it")
    return room


def _plan_text(game: Game, room: Room, named: str, home_ns: int, early_ns: int) -> str:
    begin = f"{room.window}.begin"
    if room.calls_ahead(home_ns, early_ns):
        lead = _BREAK_OFF.format(early=format_clock(early_ns))
        home = _HOME.format(at=f"{begin}-break_off", until=begin, why=_WHY_AHEAD[room.keeps_off])
    else:
        times = {"home": home_ns + RESERVE_NS, "travel": home_ns, "reserve": RESERVE_NS}
        lead = _TRAVEL.format(**{name: format_clock(ns) for name, ns in times.items()})
        known = room.ahead_ns > 0
        home = _HOME.format(at="match.end-home", until=begin if known else "match.end", why=_WHY_HOME[known])
    drives = next((period.id for period in game.periods if period.kind == "driver"), "")
    return "".join([
        _HEAD.format(game=quoted(named), title=game.name, lead=lead),
        _ALIVE.format(period=drives) if drives else "",
        home,
        _CONFIRM.format(window=room.window) if room.keeps_off else "",
        _OVER,
    ])  # fmt: skip


def _editable(kind: bundle.Kind, text: str) -> str:
    """Return a bundled file's text as a copy of one's own: plans name the copy of their game beside them."""
    if kind == "plans":
        return re.sub(r'^game = "(\w+)"', r'game = "../games/\1.toml"', text, flags=re.MULTILINE)
    if kind == "drills":
        return re.sub(r'^plan = "(\w+)"', r'plan = "../plans/\1.toml"', text, flags=re.MULTILINE)
    return _PATTERN_NOTE + text if kind == "patterns" else text
