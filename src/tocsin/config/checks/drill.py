"""Check what must fit together within a drill, and between a drill, its plan and its game."""

from collections.abc import Iterable

from tocsin.config.toml.document import Document
from tocsin.config.toml.phrases import listing, quoted
from tocsin.model.diagnostics import Diagnostic, Path
from tocsin.model.drill import Drill
from tocsin.model.game import Game
from tocsin.model.moment import MomentError, format
from tocsin.model.plan import Plan
from tocsin.model.spelling import only_reading
from tocsin.model.timeline.point import MATCH
from tocsin.model.timeline.timeline import Timeline


def check_drill(document: Document, drill: Drill, game: Game, plan: Plan, timeline: Timeline) -> None:
    """Report every mistake of a drill that no single value shows."""
    windows = [window.id for window in game.windows]
    for index, name in enumerate(drill.clean.keep_off):
        _known(document, "unknown_window", ("clean", "keep_off", index), name, windows)
    vary = drill.vary
    if vary.shift_ns and not vary.shift_lead:
        _report(document, "drill_shift_without_lead", ("vary", "shift"), known=listing(plan.leads))
    if vary.shift_lead:
        _known(document, "drill_lead", ("vary", "lead"), vary.shift_lead, plan.leads)
    if vary.shuffle and drill.place == "field":
        _report(document, "drill_false_cues", ("vary", "shuffle"))
    if drill.half_speed > drill.rounds:
        facts = {"count": str(drill.half_speed), "high": str(drill.rounds)}
        _report(document, "drill_half_speed", ("half_speed",), **facts)
    if drill.place == "field" and not drill.questions:
        _report(document, "drill_no_questions", ("place",))
    if drill.goal is not None and drill.goal.clean > drill.goal.of:
        _report(document, "drill_goal", ("goal", "clean"), high=str(drill.goal.of))
    _check_begin(document, drill, timeline)


def _check_begin(document: Document, drill: Drill, timeline: Timeline) -> None:
    if drill.begin is None:
        return
    try:
        point = timeline.locate(drill.begin)
    except MomentError as error:
        likely = quoted(error.likely) if error.likely else ""
        options = "" if likely else listing(map(quoted, error.readings))
        facts = {"text": format(drill.begin), "expected": error.expected, "likely": likely, "options": options}
        document.report(Diagnostic(code="moment", file="drill", path=("from",), facts=facts, span=error.span))
        return
    spread_ns = drill.vary.from_spread_ns
    if spread_ns and (point.anchor != MATCH or point.offset_ns < spread_ns):
        _report(document, "drill_spread", ("vary", "from_spread"), text=format(drill.begin))


def _known(document: Document, code: str, path: Path, name: str, known: Iterable[str]) -> None:
    known = list(known)
    if name not in known:
        likely = only_reading(name, known)
        facts = {"name": name, "known": listing(known), "expected": listing(known)}
        _report(document, code, path, **facts, likely=quoted(likely) if likely else "")


def _report(document: Document, code: str, path: Path, **facts: str) -> None:
    document.report(Diagnostic(code=code, file="drill", path=path, facts=facts))
