"""Check what must fit together within a drill, and between a drill, its plan and its game."""

from collections import defaultdict
from collections.abc import Callable, Iterable, Mapping
from typing import NamedTuple

from tocsin.config.toml.document import Document
from tocsin.config.toml.messages import MESSAGES
from tocsin.config.toml.phrases import listing, quoted
from tocsin.model.compiler.compiler import compile_plan
from tocsin.model.diagnostics import Diagnostic, Path
from tocsin.model.drill import Drill
from tocsin.model.game import Game
from tocsin.model.moment import Moment, MomentError, format
from tocsin.model.plan import Plan
from tocsin.model.spelling import only_reading
from tocsin.model.timeline.point import MATCH
from tocsin.model.timeline.timeline import Timeline

Compiled = tuple[Game, Plan, Timeline]


class Ground(NamedTuple):
    """A plan in its game that rounds of a drill are of, and the documents of both. ``own`` gives the drill's own where
    these were given in its place (None: it has none that is sound); it is None if these are its own."""

    found: Compiled
    plan: Document
    game: Document
    own: Callable[[], Compiled | None] | None


def check_drill(document: Document, drill: Drill, ground: Ground) -> None:
    """Report every mistake of a drill that no single value shows.

    What a given plan or game lacks though the drill's own has it is their mistake, everything else the drill's.
    """
    _, plan, _ = ground.found
    _check_alone(document, drill, plan)
    _check_windows(document, drill, ground)
    if drill.vary.shift_lead and _has_lead(document, drill, ground):
        _check_shifts(document, drill, ground)
    _check_begin(document, drill, ground)


def _check_alone(document: Document, drill: Drill, plan: Plan) -> None:
    vary = drill.vary
    if vary.shift_ns and not vary.shift_lead:
        _report(document, "drill_shift_without_lead", ("vary", "shift"), known=listing(plan.leads))
    if vary.shuffle and drill.place == "field":
        _report(document, "drill_false_cues", ("vary", "shuffle"))
    if drill.half_speed > drill.rounds:
        facts = {"count": str(drill.half_speed), "high": str(drill.rounds)}
        _report(document, "drill_half_speed", ("half_speed",), **facts)
    if drill.place == "field" and not drill.questions:
        _report(document, "drill_no_questions", ("place",))
    if drill.goal is not None and drill.goal.clean > drill.goal.of:
        _report(document, "drill_goal", ("goal", "clean"), high=str(drill.goal.of))


def _check_windows(document: Document, drill: Drill, ground: Ground) -> None:
    windows = _windows(ground.found)
    for index, name in enumerate(drill.clean.keep_off):
        own = _own(ground) if name not in windows else None
        if own is not None and name in _windows(own):
            place: Path = ("window", 0) if windows else ("period", 0)
            facts = {"name": name, "drill": document.name, "known": listing(windows) or "none"}
            _report(ground.game, "game_lacks_window", place, file="game", **facts)
        else:
            _known(document, "unknown_window", ("clean", "keep_off", index), name, windows)


def _windows(found: Compiled) -> list[str]:
    game, _, _ = found
    return [window.id for window in game.windows]


def _has_lead(document: Document, drill: Drill, ground: Ground) -> bool:
    """Return whether a plan has the lead that the drill moves; a missing one is reported."""
    name, leads = drill.vary.shift_lead, _leads(ground.found)
    if name in leads:
        return True
    own = _own(ground)
    if own is not None and name in _leads(own):
        place: Path = ("lead",) if ("lead",) in ground.plan.places.values else ("name",)
        facts = {"name": name, "drill": document.name, "known": listing(leads) or "none"}
        _report(ground.plan, "plan_lacks_lead", place, file="plan", **facts)
    else:
        _known(document, "drill_lead", ("vary", "lead"), name, leads, plan=ground.plan.name)
    return False


def _leads(found: Compiled) -> Mapping[str, int]:
    _, plan, _ = found
    return plan.leads


def _check_shifts(document: Document, drill: Drill, ground: Ground) -> None:
    """Report shifts with which a plan cannot be played, so that no evening ends in the middle."""
    game, plan, _ = ground.found
    for index, shift_ns in enumerate(drill.vary.shift_ns):
        timeline, mistakes = compile_plan(game, drill.vary.moved(plan, shift_ns))
        if timeline is None:
            why = MESSAGES[mistakes[0].code].wrong.format_map(defaultdict(str, mistakes[0].facts))
            facts = {"plan": ground.plan.name, "name": drill.vary.shift_lead, "why": why}
            _report(document, "drill_shift", ("vary", "shift", index), **facts)


def _check_begin(document: Document, drill: Drill, ground: Ground) -> None:
    if drill.begin is None:
        return
    _, _, timeline = ground.found
    try:
        point = timeline.locate(drill.begin)
    except MomentError as error:
        likely = quoted(error.likely) if error.likely else ""
        options = "" if likely else listing(map(quoted, error.readings))
        facts = {"text": format(drill.begin), "expected": error.expected, "likely": likely, "options": options}
        own = _own(ground)
        if own is not None and _holds(own, drill.begin):
            facts |= {"drill": document.name, "likely": "", "options": ""}
            _report(ground.game, "game_lacks_moment", ("period", 0), file="game", **facts)
            return
        document.report(Diagnostic(code="moment", file="drill", path=("from",), facts=facts, span=error.span))
        return
    spread_ns = drill.vary.from_spread_ns
    if spread_ns and (point.anchor != MATCH or point.offset_ns < spread_ns):
        _report(document, "drill_spread", ("vary", "from_spread"), text=format(drill.begin))


def _holds(found: Compiled, begin: Moment) -> bool:
    _, _, timeline = found
    try:
        timeline.locate(begin)
    except MomentError:
        return False
    return True


def _own(ground: Ground) -> Compiled | None:
    """Return the drill's own plan where another one was given in its place."""
    return ground.own() if ground.own else None


def _known(document: Document, code: str, path: Path, name: str, known: Iterable[str], **more: str) -> None:
    known = list(known)
    if name not in known:
        likely = only_reading(name, known)
        facts = {"name": name, "known": listing(known), "expected": listing(known), **more}
        _report(document, code, path, **facts, likely=quoted(likely) if likely else "")


def _report(document: Document, code: str, path: Path, *, file: str = "drill", **facts: str) -> None:
    document.report(Diagnostic(code=code, file=file, path=path, facts=facts))
