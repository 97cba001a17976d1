"""Write a team's first plans from two answers, and editable copies of bundled files."""

import re
from collections.abc import Iterable
from pathlib import Path

from tocsin.config import bundle
from tocsin.config.file_cache import FileCache, Parsed, bundled_patterns, parse_document
from tocsin.config.load import (
    DiagnosticsError,
    LoadedPlan,
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
from tocsin.config.write.room import BREAK_OFF, HOME, RESERVE_NS, Room, room_in
from tocsin.config.writing import Written, write_files
from tocsin.errors import UsageError
from tocsin.model.game import Game
from tocsin.model.plan import Plan
from tocsin.units import format_clock, parse_clock

FIRST_PLAN = "first plan"              # what problems call it before it is a file
_FIRST = ("First plan", "A first plan")
_QUIET = ("Quiet", "The same calls, only felt and seen on the strip,")
_PATTERN_NOTE = (
    "# For copying from: Tocsin reads its own copy of this file. Paste a pattern into your plan and change it there.\n"
)
_WHY_AHEAD = {
    True: "break off now, so that nobody is in the way when the window begins",
    False: "be on the way when the window begins",
}
_HEAD = """\
format = "tocsin-plan/1"
name = "{name}"
game = {game}

# {what} for {title}.
# Change a time, ask `tocsin check` for mistakes, look at the timeline with `tocsin preview`.
#
# CAUTION. No cue stops a robot, and none is a permission to enter the field.

# Leads: how far ahead a call comes, by your answers. Measure both with your own robot.
[lead]
{leads}"""
_BREAK_OFF = 'break_off = "{early}"  # how early to break off a push\n'
_TRAVEL = 'home = "{home}"  # the way home of {travel}, and {reserve} to notice, to turn and in hand\n'
_ALIVE = """
[[cue]]
id = "alive"
at = "{period}.begin+2s"
rumble = "hello"
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
_BACK_OFF = """
[[cue]]
id = "back_off"
at = {at}
until = {until}
rumble = "short"
light = "prepare"
screen = "prepare"
sound = "steady"
say = "Back off"
late_limit = "1500ms"
priority = 8
why = "break off a push: a touch costs points from the window's begin on"
"""
_CONFIRM = """
[[cue]]
id = "no_touch"
at = "{window}.begin"
until = "{until}"
rumble = "long"
light = "no_touch"
screen = "no_touch"
sound = "drop"
say = "No touch"
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


def copy_bundled(
    folder: Path, kinds: Iterable[bundle.Kind] = bundle.KINDS, *, overwrite: bool = False
) -> Written:
    """Write copies of the bundled files of some kinds below ``folder``; return the written and the kept files.

    An existing file is kept, unless ``overwrite`` is set: then a copy of it stays beside it. The copied plans and
    drills name the copied games and plans. Raises UsageError if the folder cannot be written.
    """
    files = {
        f"{kind}/{name}.toml": _editable(kind, (bundle.root() / kind / f"{name}.toml").read_text(encoding="utf-8"))
        for kind in kinds
        for name in bundle.names(kind)
    }
    return write_files(folder, files, overwrite=overwrite)


def first_plan(travel_home: str | int, break_off: str | int, game: str, named: str | None = None) -> str:
    """Return a first plan as TOML from two answers: how long the way home takes, and how early to break off a push.

    Both are clock values or nanoseconds, and stand in the plan as its leads. ``game`` is a bundled name or a file,
    ``named`` the plan's name for it: a file is looked up from the plan's own folder. The plan calls home ahead of the
    window in which contact counts, or of the game's last one, where that lasts to the end and leaves enough time for
    the way; else by the way home, and then ahead of each window it calls to break off. Raises ClockValueError for an
    answer that is no time, UsageError for one that does not fit, DiagnosticsError for a broken game or plan.
    """
    home_ns, early_ns = (parse_clock(a) if isinstance(a, str) else a for a in (travel_home, break_off))
    return plans_for(game_at(game), named or game, home_ns, early_ns)[0]


def plans_for(game: Parsed, named: str, home_ns: int, early_ns: int) -> tuple[str, str, LoadedPlan]:
    """Return the texts of first and quiet plan in a game that has no mistakes, and the first one compiled.

    The quiet plan is for places without screen and sound: the same calls, felt and seen on a strip. ``named`` is the
    game's name in both. Raises UsageError for an answer that does not fit.
    """
    found = built(game)
    room = room_in(found)
    for answer_ns, against in ((home_ns, room.against_home(home_ns)), (early_ns, room.against_off(early_ns))):
        if against:
            raise UsageError(f"{format_clock(answer_ns)} {against}")
    first = _plan_text(found, room, named, home_ns, early_ns, _FIRST)
    quiet = _without_screen(_plan_text(found, room, named, home_ns, early_ns, _QUIET))
    shelf = FileCache()
    pairs = tuple(Pair(game, parse_document(Document(FIRST_PLAN, text), PLAN)) for text in (first, quiet))
    plans = compiled(Sources(pairs, (), bundled_patterns(shelf)))
    if problems := all_problems([game.document, *(pair.plan.document for pair in pairs)]):
        raise DiagnosticsError(problems)
    assert plans[0] is not None                            # else there would be problems
    return first, quiet, plans[0]


def answered_in(plan: Plan) -> tuple[int | None, int | None]:
    """Return the way home and the time to break off a push that a plan's leads hold, None for one that it lacks."""
    home_ns, off_ns = plan.leads.get(HOME), plan.leads.get(BREAK_OFF)
    return None if home_ns is None else max(0, home_ns - RESERVE_NS), off_ns


def game_at(argument: str) -> Parsed:
    """Return a game without mistakes, from a file or by its bundled name. Raises UsageError, and DiagnosticsError for
    a broken one."""
    return _sound(FileCache().parsed(GAME, bundle.find("games", argument)))


def game_in(text: str, name: str = "the game") -> Parsed:
    """Return the game that a text holds. Raises DiagnosticsError for a broken one."""
    return _sound(parse_document(Document(name, text), GAME))


def _sound(parsed: Parsed) -> Parsed:
    if isinstance(parsed.table, GameFile) and parsed.document.is_sound:
        report_game(parsed.document, parsed.table.build())
    if not parsed.document.is_sound:
        raise DiagnosticsError(parsed.document.sorted_problems())
    return parsed


def built(game: Parsed) -> Game:
    """Return a parsed game without mistakes as the model's."""
    assert isinstance(game.table, GameFile)
    return game.table.build()


def _plan_text(game: Game, room: Room, named: str, home_ns: int, early_ns: int, title: tuple[str, str]) -> str:
    times = {"home": home_ns + RESERVE_NS, "travel": home_ns, "reserve": RESERVE_NS}
    leads = _BREAK_OFF.format(early=format_clock(early_ns)) if room.window else ""
    leads += _TRAVEL.format(**{name: format_clock(ns) for name, ns in times.items()})
    drives = next((period.id for period in game.periods if period.kind == "driver"), "")
    name, what = title
    return "".join([
        _HEAD.format(name=name, what=what, game=quoted(named), title=game.name, leads=leads),
        _ALIVE.format(period=drives) if drives else "",
        _back_off(room, home_ns, early_ns),
        _home(room, home_ns, early_ns),
        _no_touch(room),
        _OVER,
    ])  # fmt: skip


def _home(room: Room, home_ns: int, early_ns: int) -> str:
    begin = f"{room.window}.begin"
    if room.calls_ahead(home_ns, early_ns):
        return _HOME.format(at=f"{begin}-break_off", until=begin, why=_WHY_AHEAD[room.keeps_off])
    behind = room.after_home(home_ns, early_ns)
    until = f"{behind.name}.begin" if behind else "match.end"
    return _HOME.format(at="match.end-home", until=until, why=_why_home(room))


def _why_home(room: Room) -> str:
    if room.is_endgame:
        return "the way home takes longer than the window lasts"
    return "from here on there is just time enough for the way home"


def _back_off(room: Room, home_ns: int, early_ns: int) -> str:
    spans = room.called_off(home_ns, early_ns)
    if not spans:
        return ""
    at = [quoted(f"{span.name}.begin-break_off") for span in spans]
    until = [quoted(f"{span.name}.begin") for span in spans]
    return _BACK_OFF.format(at=_one_or_list(at), until=_one_or_list(until))


def _no_touch(room: Room) -> str:
    if not room.keeps_off:
        return ""
    window = room.spans[0].name.split(".")[0]
    lasts_on = len(room.spans) == 1 and not room.ends_early
    return _CONFIRM.format(window=window, until="match.end" if lasts_on else f"{window}.end")


def _one_or_list(moments: list[str]) -> str:
    return moments[0] if len(moments) == 1 else f"[{', '.join(moments)}]"


def _without_screen(text: str) -> str:
    """Return a plan without the sign of life, and without what screen and loudspeaker give."""
    head, *cues = text.split("\n[[cue]]\n")
    kept = [re.sub(r"^(screen|sound) = .*\n", "", cue, flags=re.MULTILINE) for cue in cues]
    return "\n[[cue]]\n".join([head, *(cue for cue in kept if not cue.startswith('id = "alive"'))])


def _editable(kind: bundle.Kind, text: str) -> str:
    """Return a bundled file's text as a copy of one's own: plans name the copy of their game beside them."""
    if kind == "plans":
        return re.sub(r'^game = "(\w+)"', r'game = "../games/\1.toml"', text, flags=re.MULTILINE)
    if kind == "drills":
        return re.sub(r'^plan = "(\w+)"', r'plan = "../plans/\1.toml"', text, flags=re.MULTILINE)
    return _PATTERN_NOTE + text if kind == "patterns" else text
