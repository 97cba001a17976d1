"""Write all files of a team from its answers: game, plans, drills and the project file that points to them."""

from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import NamedTuple

import tomlkit

from tocsin.config.file_cache import Parsed
from tocsin.config.toml.phrases import quoted
from tocsin.config.write.own_drills import ON_BENCH, chosen, own_drills
from tocsin.config.write.starter import plans_for

OWN_GAME_FILE = "games/ours.toml"
FIRST_PLAN_FILE, QUIET_PLAN_FILE = "plans/first.toml", "plans/quiet.toml"
ON_BENCH_FILE = f"drills/{ON_BENCH}.toml"
USUAL_RIG = "rigs/practice_bench.toml"
Crews = Mapping[str, Mapping[str, str]]
"""Keys of people by role, by crew."""

_PROJECT = """\
# The project of this folder, written by `tocsin init`: every command that is typed in here, or below, means what stands
# here. Paths are from this file on. `tocsin check` finds mistakes in all of it.

format = "tocsin-project/1"
name = {name}
game = {game}
# One to three plans, chosen by the keys 1, 2, 3 before a match; the first is the usual one.
plan = [{plan}]
# The devices of this laptop; `tocsin devices` shows what is plugged in.
rig = {rig}
# The drills of an evening, in order; more lie in drills/.
drills = [{drills}]
# Where runs are recorded, with the names of people.
runs = "runs"
# language = "en"                       # for plans that name none
# second = [0.5, 1.0]                   # points that one second of playing is worth, from and to

# At events: a plan for where screen and sound have no place, and the days.
[event]
{event_plan}# dates = [2031-03-14]

# The question of the month: what a drill deals by lot is compared by it.
# [question]
# asks = "coach"
# since = 2031-03-01
"""
_EVENT_PLAN = "plan = {plan}\n"
_CREW = """
# Who plays, by a key each: their names stand in runs/people.json alone, and `tocsin runs --forget NAME` takes them out.
"""
_NOBODY = """
# Who plays: `tocsin init . --who driver=Ann --who operator=Ben` writes it here, by a key each and never by name.
"""


class Times(NamedTuple):
    """The way home, and how early a push is broken off, in nanoseconds."""

    home_ns: int
    off_ns: int


def team_files(game: Parsed, named: str, times: Times) -> dict[str, str]:
    """Return the texts of plans and drills by their path in the project; the same answers give the same texts.

    ``named`` is the game as a plan calls it. Raises UsageError for times that do not fit.
    """
    first, quiet, loaded = plans_for(game, named, *times)
    drills = own_drills(loaded, f"../{FIRST_PLAN_FILE}", f"../{QUIET_PLAN_FILE}")
    files = {FIRST_PLAN_FILE: first, QUIET_PLAN_FILE: quiet}
    return files | {f"drills/{name}.toml": text for name, text in drills.items()}


def project_text(name: str, game: str, files: Sequence[str], crews: Crews, *, plan: str, event_plan: str) -> str:
    """Return a project file's text. ``files`` are the project's own, by their paths; ``event_plan`` may be empty."""
    drills = chosen(Path(path).stem for path in files if path.startswith("drills/"))
    text = _PROJECT.format(
        name=quoted(name), game=quoted(game), plan=quoted(plan), rig=quoted(USUAL_RIG),
        drills=", ".join(map(quoted, drills)),
        event_plan=_EVENT_PLAN.format(plan=quoted(event_plan)) if event_plan else "",
    )  # fmt: skip
    return text + crews_text(crews)


def crews_text(crews: Crews) -> str:
    """Return the tables of a project's crews, or how to write them."""
    if not crews:
        return _NOBODY
    tables = []
    for crew, people in crews.items():
        lines = [f"[crew.{crew}]", *(f"{role} = {quoted(key)}" for role, key in people.items())]
        tables.append("\n".join(lines))
    return _CREW + "\n\n".join(tables) + "\n"


def with_crews(text: str, crews: Crews) -> str:
    """Return a project file's text with these people in its crews, all else as people wrote it."""
    line_end = "\r\n" if "\r\n" in text else "\n"
    if "[crew" not in text:
        lines = text.replace("\r\n", "\n").replace(_NOBODY, "").rstrip("\n")
        return f"{lines}\n{crews_text(crews)}".replace("\n", line_end)
    document = tomlkit.parse(text.replace("\r\n", "\n"))
    for crew, people in crews.items():
        table = document.setdefault("crew", tomlkit.table(is_super_table=True)).setdefault(crew, tomlkit.table())
        table.update(people)
    return tomlkit.dumps(document).replace("\n", line_end)


def with_name(text: str, name: str) -> str:
    """Return a project file's text with another name, all else as people wrote it."""
    line_end = "\r\n" if "\r\n" in text else "\n"
    document = tomlkit.parse(text.replace("\r\n", "\n"))
    document["name"] = name
    return tomlkit.dumps(document).replace("\n", line_end)


def with_game(text: str, game: str) -> str:
    """Return a project file's text with another game, and the first plan among its own; all else as people wrote it."""
    line_end = "\r\n" if "\r\n" in text else "\n"
    document = tomlkit.parse(text.replace("\r\n", "\n"))
    document["game"] = game
    stated = document.get("plan", [])
    if FIRST_PLAN_FILE not in ([stated] if isinstance(stated, str) else stated):
        document["plan"] = [FIRST_PLAN_FILE]
    return tomlkit.dumps(document).replace("\n", line_end)
