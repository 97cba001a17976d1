"""Bring a folder up to date that has plans and no project file: made by an earlier ``tocsin init``, or by hand."""

import hashlib
import tomllib
from collections.abc import Mapping
from pathlib import Path, PurePosixPath
from typing import NamedTuple

import msgspec
import tomlkit

from tocsin.config import bundle
from tocsin.config.file_cache import FileCache, Parsed
from tocsin.config.load import LoadedPlan, load
from tocsin.config.project import shared_in
from tocsin.config.write.own_drills import ON_BENCH, own_drills
from tocsin.config.write.room import BREAK_OFF, HOME, RESERVE_NS, Room, room_in
from tocsin.config.write.starter import answered_in, game_at, plans_for
from tocsin.config.write.team import FIRST_PLAN_FILE, QUIET_PLAN_FILE, Times
from tocsin.errors import TocsinError, UsageError
from tocsin.translation import tr
from tocsin.units import format_clock

# What the first `tocsin init` wrote and nobody changed: SHA-256 of the copies that name other plans than the team's.
_UNCHANGED = frozenset({
    "8527115fd5aec266f256824803cf8a09ba2e284a95b9d8d477811ac8fa71b449",    # drills/break_off.toml
    "994dac8162ceb09f90ca41f23c755132067968cd86ed7f2d145ade4baf7a0936",    # drills/missing_signal.toml
    "19cae8497786354c26f8a5e9981b19daaa38f14c69f3557b85c677331082800d",    # drills/fork.toml
    "e63fa5b98e97033d2005a3c238926be2b12b4df485c5f80408fb6fda988bc8dc",    # drills/three_in_a_row.toml
    "0ec00b93d0081e159a36ba5998673a61908b1a03c53483929d6a6b11cce32460",    # drills/turn.toml
    "52d4d1e1532080f4a5672984f75866d4239d2be626514648e8c5d9cb318763d3",    # plans/quiet.toml
})  # fmt: skip


class Earlier(NamedTuple):
    """A folder without a project file: its plan by its path in the folder, loaded; the plan's game as the project file
    would name it; and the times that its leads hold, None for one that stands nowhere."""

    folder: Path
    plan: str
    loaded: LoadedPlan
    game: str
    home_ns: int | None
    off_ns: int | None

    @property
    def room(self) -> Room:
        """The time that the game leaves for both."""
        return room_in(self.loaded.game)


class Rewrite(NamedTuple):
    """The files to write, by their paths, without the project file; the plan for events (or an empty text), and the
    drills and plans that stay since people changed them."""

    files: dict[str, str]
    event_plan: str
    changed: tuple[str, ...]


def earlier_plan(folder: Path) -> str:
    """Return the path in a folder of the one plan that a team wrote in it, empty if there is none or several."""
    if (folder / FIRST_PLAN_FILE).is_file():
        return FIRST_PLAN_FILE
    own = [path.name for path in sorted((folder / "plans").glob("*.toml")) if not bundle.file_of("plans", path.stem)]
    return f"plans/{own[0]}" if len(own) == 1 else ""


def read_earlier(folder: Path, plan: str) -> Earlier:
    """Return what a folder holds. Raises DiagnosticsError for a plan or game with mistakes."""
    path = folder / plan
    loaded = load(None, [str(path)], "nothing", FileCache(shared_in(folder))).plans[0]
    return Earlier(folder, plan, loaded, _game_of(path), *answered_in(loaded.plan))


def rewritten(earlier: Earlier, times: Times) -> Rewrite:
    """Return what brings a folder up to date: the missing leads in its plan, a quiet plan, and drills on both.

    A file that people changed stays. Raises UsageError for times that do not fit the game.
    """
    files: dict[str, str] = {}
    plan, loaded = earlier.folder / earlier.plan, earlier.loaded
    with_leads = leads_set(text_of(plan), missing_leads(earlier, times))
    if with_leads != text_of(plan):
        files[earlier.plan] = with_leads
    named = named_game(plan)
    quiet = plans_for(game_beside(plan), named, *times)[1]
    event_plan = QUIET_PLAN_FILE if _may_write(earlier.folder / QUIET_PLAN_FILE, quiet) else ""
    if event_plan:
        files[QUIET_PLAN_FILE] = quiet
    elif _is_of_game(earlier.folder / QUIET_PLAN_FILE, loaded):
        event_plan = QUIET_PLAN_FILE
    changed = [] if QUIET_PLAN_FILE in files else [QUIET_PLAN_FILE]
    leads = {**loaded.plan.leads, **missing_leads(earlier, times)}
    whole = loaded._replace(plan=msgspec.structs.replace(loaded.plan, leads=leads))
    for name, text in own_drills(whole, f"../{earlier.plan}", f"../{event_plan or earlier.plan}").items():
        drill = f"drills/{name}.toml"
        if _may_write(earlier.folder / drill, text):
            files[drill] = text
        elif name != ON_BENCH:
            changed.append(drill)
    return Rewrite(files, event_plan, tuple(changed))


def missing_leads(earlier: Earlier, times: Times) -> dict[str, int]:
    """Return the leads that the plan lacks, in nanoseconds."""
    leads = {HOME: times.home_ns + RESERVE_NS} if earlier.home_ns is None else {}
    return leads | ({BREAK_OFF: times.off_ns} if earlier.off_ns is None and earlier.room.window else {})


def leads_set(text: str, leads_ns: Mapping[str, int]) -> str:
    """Return a plan's text with these leads, all else as people wrote it."""
    if not leads_ns:
        return text
    line_end = "\r\n" if "\r\n" in text else "\n"
    document = tomlkit.parse(text.replace("\r\n", "\n"))
    if "lead" not in document:
        document["lead"] = tomlkit.table()
    table = document["lead"]
    for name, ns in leads_ns.items():
        value = tomlkit.string(format_clock(ns))
        if name == HOME:
            value.comment(_home_note(ns))
        table[name] = value
    return tomlkit.dumps(document).replace("\n", line_end)


def _home_note(lead_ns: int) -> str:
    travel, reserve = format_clock(lead_ns - RESERVE_NS), format_clock(RESERVE_NS)
    return f"the way home of {travel}, and {reserve} to notice, to turn and in hand"


def _may_write(path: Path, text: str) -> bool:
    """Return whether there is nothing at a path, or what nobody has changed: that text, or what an earlier version
    wrote."""
    if not path.exists() or path.read_bytes() == text.encode():
        return True
    return hashlib.sha256(path.read_bytes()).hexdigest() in _UNCHANGED


def _is_of_game(path: Path, loaded: LoadedPlan) -> bool:
    try:
        return load(None, [str(path)], "nothing").game == loaded.game
    except TocsinError:
        return False


def text_of(path: Path) -> str:
    """Return a file's text as it is, line ends too."""
    return path.read_bytes().decode("utf-8-sig")


def named_game(plan: Path) -> str:
    """Return a plan's game as the plan names it."""
    return str(tomllib.loads(text_of(plan).replace("\r\n", "\n"))["game"])


def game_beside(plan: Path) -> Parsed:
    """Return the game that a plan names. Raises DiagnosticsError for a broken one."""
    named = named_game(plan)
    return game_at(str(plan.parent / named) if bundle.is_file_argument(named) else named)


def _game_of(plan: Path) -> str:
    """Return a plan's game as a project file above the plan's folder names it. Raises UsageError for one that is not
    in that folder."""
    named = named_game(plan)
    if not bundle.is_file_argument(named):
        return named
    parts = PurePosixPath(plan.parent.name, named.replace("\\", "/")).parts
    if len(parts) > 1 and parts[1] == "..":
        parts = parts[2:]
    if not parts or ".." in parts:
        hint = tr("move it into the folder, and name it so in the plan")
        raise UsageError(tr("the game {named} is outside the folder", named=named), hint=hint)
    return "/".join(parts)

