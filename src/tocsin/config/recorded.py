"""Read from the files that a run's header keeps only what judges it: the game of the plan that was played, its drill.

Its timeline stands in the header too. So a rig or a plan that this version refuses, or that was written for devices
that it does not know, hides no result; and a thousand runs are read in a fraction of the time that all files take.
"""

from collections.abc import Iterable
from typing import NamedTuple, TypeVar

from tocsin.config.file_cache import parse_document
from tocsin.config.load import DiagnosticsError, Named, all_problems, no_such_text
from tocsin.config.reading import DRILL, GAME, PLAN, Format, likely_format
from tocsin.config.schema.drill import DrillFile
from tocsin.config.schema.game import GameFile
from tocsin.config.schema.table import Table
from tocsin.config.toml.document import Document
from tocsin.model.drill import Drill
from tocsin.model.game import Game

T = TypeVar("T", bound=Table)


class Rules(NamedTuple):
    """What a run is judged by: its game, and its drill if it was a round of one."""

    game: Game
    drill: Drill | None


def rules_of(files: Iterable[Named], plan_no: int, *, of_drill: bool) -> Rules:
    """Return the rules of a run that played the plan number ``plan_no`` of its files, from 0.

    Each plan is for the last game before it. Raises DiagnosticsError for a game or drill with mistakes, MistakeError if
    one is missing.
    """
    games: list[Named] = []
    played: Named | None = None
    plans = 0
    drill: Named | None = None
    for file in files:
        found = likely_format(file.text)
        if found is GAME:
            games.append(file)
        elif found is DRILL:
            drill = file
        elif found is PLAN:
            played = games[-1] if games and plans == plan_no else played
            plans += 1
    if played is None and len(games) == 1:
        played = games[0]
    if played is None:
        raise no_such_text("game")
    if of_drill and drill is None:
        raise no_such_text("drill")
    game = _table(played, GAME, GameFile).build()
    return Rules(game, _table(drill, DRILL, DrillFile).build() if of_drill and drill else None)


def _table(file: Named, wanted: Format, schema: type[T]) -> T:
    parsed = parse_document(Document(file.name, file.text), wanted)
    if not parsed.document.is_sound or not isinstance(parsed.table, schema):
        raise DiagnosticsError(all_problems((parsed.document,)))
    return parsed.table
