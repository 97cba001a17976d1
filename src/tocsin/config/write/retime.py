"""Write other times into a team's plans and drills: anew where nobody changed a file, else its leads alone."""

from collections.abc import Mapping
from pathlib import Path

import msgspec

from tocsin.config.file_cache import FileCache, Parsed
from tocsin.config.load import LoadedPlan, load
from tocsin.config.project import shared_in
from tocsin.config.write.own_drills import own_drills
from tocsin.config.write.room import BREAK_OFF, HOME, RESERVE_NS
from tocsin.config.write.starter import answered_in, plans_for
from tocsin.config.write.team import Times
from tocsin.config.write.upgrade import game_beside, leads_set, named_game, text_of
from tocsin.errors import TocsinError
from tocsin.model.compiler.compiler import compile_plan
from tocsin.units import NS_PER_S

_SHORT_NS = NS_PER_S // 10


def retimed(folder: Path, plan: str, quiet: str, home_ns: int | None, off_ns: int | None) -> dict[str, str]:
    """Return the texts of the files in ``folder`` that another way home, or another time to break off, changes.

    ``plan`` and ``quiet`` are the paths of the usual plan and of that for events (or empty) in the folder; None leaves
    a time as it is. Raises UsageError for a time that does not fit, DiagnosticsError for files with mistakes.
    """
    shared = shared_in(folder)
    before = load(None, [str(folder / plan)], "nothing", FileCache(shared)).plans[0]
    files, after = _plan(folder / plan, before, home_ns, off_ns, 0)
    texts = {plan: files}
    if quiet and quiet != plan:
        found = load(None, [str(folder / quiet)], "nothing", FileCache(shared)).plans[0]
        texts[quiet], _ = _plan(folder / quiet, found, home_ns, off_ns, 1)
    names = (f"../{plan}", f"../{quiet or plan}")
    texts |= _drills(folder, own_drills(before, *names), own_drills(after, *names))
    return {name: text for name, text in texts.items() if not _holds(folder / name, text)}


def _plan(
    path: Path, before: LoadedPlan, home_ns: int | None, off_ns: int | None, place: int
) -> tuple[str, LoadedPlan]:
    """Return a plan's new text, and the plan with its new leads; ``place`` is that among the plans that `init` writes.
    """
    game, named, text = game_beside(path), named_game(path), text_of(path)
    old_home_ns, old_off_ns = answered_in(before.plan)
    times = _times(old_home_ns, old_off_ns)
    wanted = _times(old_home_ns if home_ns is None else home_ns, old_off_ns if off_ns is None else off_ns)
    first, quiet, after = plans_for(game, named, *wanted)              # refuses what does not fit
    if text == _written(game, named, times)[place]:
        return (first, quiet)[place], after
    leads = {} if home_ns is None else {HOME: home_ns + RESERVE_NS}
    leads |= {} if off_ns is None else {BREAK_OFF: off_ns}
    plan = msgspec.structs.replace(before.plan, leads={**before.plan.leads, **leads})
    timeline, _ = compile_plan(before.game, plan)
    return leads_set(text, leads), before._replace(plan=plan, timeline=timeline or before.timeline)


def _written(game: Parsed, named: str, times: Times) -> tuple[str, str]:
    """Return the texts of first and quiet plan as `init` wrote them, empty ones for times that it never took."""
    try:
        first, quiet, _ = plans_for(game, named, *times)
    except TocsinError:
        return "", ""
    return first, quiet


def _times(home_ns: int | None, off_ns: int | None) -> Times:
    """Return times of which one may be unknown: then one that fits nearly everywhere."""
    return Times(home_ns or _SHORT_NS, off_ns or _SHORT_NS)


def _drills(folder: Path, before: Mapping[str, str], after: Mapping[str, str]) -> dict[str, str]:
    texts = {}
    for name, text in after.items():
        path = folder / "drills" / f"{name}.toml"
        if _holds(path, before[name]) if name in before else not path.exists():
            texts[f"drills/{name}.toml"] = text
    return texts


def _holds(path: Path, text: str) -> bool:
    return path.exists() and path.read_bytes() == text.encode()
