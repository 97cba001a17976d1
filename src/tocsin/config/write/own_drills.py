"""Make the bundled drills a team's own: on its plan, in the windows of its game, from moments that its periods hold."""

import re
from collections.abc import Iterable
from typing import Any, NamedTuple

import msgspec
import tomlkit
from tomlkit.toml_document import TOMLDocument

from tocsin.config import bundle
from tocsin.config.load import LoadedPlan
from tocsin.config.write.room import HOME, KEEP_OFF, RESERVE_NS
from tocsin.model.compiler.compiler import compile_plan
from tocsin.model.game import Game
from tocsin.model.plan import Plan
from tocsin.model.timeline.point import MATCH, PeriodSlot, Point
from tocsin.units import NS_PER_S, format_clock

ON_BENCH = "words"
ON_FIELD = ("turn", "break_off", "missing_signal", "fork", "three_in_a_row")
_HEAD = """\
# {name}. Written by `tocsin init` from the bundled drill of that name, for {plan} in {game}.

"""
# So long before the call a round begins, and up to so much earlier, that nobody counts to it.
_AHEAD_NS = 8 * NS_PER_S
_LEAST_AHEAD_NS = 3 * NS_PER_S
_SPREADS_NS = {"turn": 4 * NS_PER_S, "break_off": 3 * NS_PER_S, "missing_signal": 3 * NS_PER_S}
_SHIFTS_NS = (NS_PER_S, -NS_PER_S)
_OWN_WORDS = (("CHOOSE", "HOME"), ("at their floor's edge", "at the edge of their protected area"))
# With so much to spare a robot that turns at once is home three seconds before the end.
_AMPLE_NS = RESERVE_NS + 3 * NS_PER_S


class Ground(NamedTuple):
    """What a drill is made for: the loaded plan, its call home as a point, the lead that sets it, and the names of plan
    and quiet plan as a drill's file gives them."""

    found: LoadedPlan
    call: Point
    lead: str
    plan: str
    quiet: str


def own_drills(found: LoadedPlan, plan: str, quiet: str) -> dict[str, str]:
    """Return the texts of the drills that make sense with a plan, by name; of those on the field none if it never calls
    home.

    ``plan`` and ``quiet`` are the plans as a drill's file names them. *Break off* needs a window in which contact
    costs, and a call ahead of it. What is trained on the bench has a plan and a game for it, which come with Tocsin.
    """
    drills = {ON_BENCH: _bundled(ON_BENCH)}
    call, lead = _call_home(found)
    if call is None:
        return drills
    ground = Ground(found, call, lead, plan, quiet)
    return drills | {name: _text(name, ground) for name in ON_FIELD if name != "break_off" or _breaks_off(ground)}


def contact_windows(game: Game) -> tuple[str, ...]:
    """Return the ids of the windows in which contact costs."""
    costly = {stake.during for stake in game.stakes if stake.to == "opponents"}
    return tuple(window.id for window in game.windows if window.id in costly or window.id in KEEP_OFF)


def _call_home(found: LoadedPlan) -> tuple[Point | None, str]:
    """Return when a plan first calls home, and the lead that it goes by (or an empty text)."""
    cues = [cue for cue in found.plan.cues if cue.id == HOME] or [cue for cue in found.plan.cues if cue.callable]
    known = {segment.anchor for segment in found.timeline.segments}
    for cue in cues:
        begins = [one.begin for one in found.timeline.firings if one.cue == cue.id and one.begin.anchor in known]
        if begins:
            return begins[0], next((moment.lead for moment in cue.at if moment.lead), "")
    return None, ""


def _breaks_off(ground: Ground) -> bool:
    """Return whether the call home comes ahead of a window in which contact costs."""
    windows = contact_windows(ground.found.game)
    call = ground.call
    return any(
        one.id in windows and one.begin.anchor == call.anchor and one.begin.offset_ns > call.offset_ns
        for one in ground.found.timeline.windows
    )


def _text(name: str, ground: Ground) -> str:
    _, _, rest = _bundled(name).partition("\nformat = ")                 # without the words at its head
    document = tomlkit.parse(f"format = {rest}")
    document["plan"] = ground.quiet if name == "three_in_a_row" else ground.plan
    spread_ns = _set_begin(document, name, ground) if "from" in document else 0
    _set_vary(document["vary"], ground, spread_ns)
    _set_clean(document["clean"], ground)
    text = tomlkit.dumps(document)
    text = re.sub(r"(from = .*?)[ ]*#.*", r"\1", text)               # what it says is of the bundled plan
    # The bundled plans have calls that a first plan has not, their games places that have other names elsewhere.
    named = f'["{ground.plan}", "{ground.quiet}"]'
    for bundled_word, own in (*_OWN_WORDS, ('["full", "mine.toml"]', named)):
        text = text.replace(bundled_word, own)
    return _HEAD.format(name=str(document["name"]), plan=ground.plan, game=ground.found.game.name) + text


def _bundled(name: str) -> str:
    return (bundle.root() / "drills" / f"{name}.toml").read_text(encoding="utf-8")


def _set_begin(document: TOMLDocument, name: str, ground: Ground) -> int:
    """Write from when a round runs; return by how much it may begin earlier."""
    timeline, call = ground.found.timeline, ground.call
    slots = [slot for slot in timeline.periods if slot.anchor == call.anchor]
    own = _holding(slots, call.offset_ns)
    room_ns = call.offset_ns - own.begin_ns
    least_ns = own.begin_ns if room_ns >= _LEAST_AHEAD_NS else 0        # else the period before has room, if any
    begin_ns = max(least_ns, call.offset_ns - _AHEAD_NS)
    spread_ns = min(_SPREADS_NS.get(name, 0), begin_ns - least_ns)
    spread_ns = spread_ns // NS_PER_S * NS_PER_S if call.anchor == MATCH else 0
    document["from"] = _moment(_holding(slots, begin_ns), begin_ns)
    return spread_ns


def _holding(slots: list[PeriodSlot], offset_ns: int) -> PeriodSlot:
    """Return the period that a time lies in; behind all of them the last."""
    return next((slot for slot in slots if slot.end_ns is None or offset_ns < slot.end_ns), slots[-1])


def _moment(slot: PeriodSlot, offset_ns: int) -> str:
    if offset_ns == slot.begin_ns:
        return f"{slot.id}.begin"
    if slot.end_ns is None:
        return f"{slot.id}.begin+{format_clock(offset_ns - slot.begin_ns)}"
    return f"{slot.id}.end-{format_clock(slot.end_ns - offset_ns)}"


def _set_vary(vary: Any, ground: Ground, spread_ns: int) -> None:
    if "from_spread" in vary:
        _set_or_drop(vary, "from_spread", format_clock(spread_ns) if spread_ns else "")
    if "shift" in vary:
        lead = ground.lead if _is_movable(ground.found, ground.lead) else ""
        _set_or_drop(vary, "lead", lead)
        if not lead:
            vary.remove("shift")


def _is_movable(found: LoadedPlan, lead: str) -> bool:
    """Return whether a plan can be played with a lead that is a second longer, or shorter, and still ahead."""
    if found.plan.leads.get(lead, 0) <= NS_PER_S:
        return False
    return all(_compiles(found.game, found.plan, lead, shift_ns) for shift_ns in _SHIFTS_NS)


def _compiles(game: Game, plan: Plan, lead: str, shift_ns: int) -> bool:
    leads = {**plan.leads, lead: plan.leads[lead] + shift_ns}
    timeline, _ = compile_plan(game, msgspec.structs.replace(plan, leads=leads))
    return timeline is not None


def _set_clean(clean: Any, ground: Ground) -> None:
    if "keep_off" in clean:
        windows = contact_windows(ground.found.game)
        if windows:
            clean["keep_off"] = list(windows)
        else:
            clean.remove("keep_off")
    if "home" in clean and clean["home"] != "0s":
        clean["home"] = "3s" if _to_spare_ns(ground) >= _AMPLE_NS else "0s"


def _to_spare_ns(ground: Ground) -> int:
    """Return how much more time than the way home takes there is from the call to the end, 0 if that is not known."""
    end: Point = ground.found.timeline.match_end()
    if end.anchor != ground.call.anchor:
        return 0
    way_ns = ground.found.plan.leads.get(HOME, RESERVE_NS) - RESERVE_NS
    return end.offset_ns - ground.call.offset_ns - way_ns


def _set_or_drop(table: Any, key: str, value: str) -> None:
    if value:
        table[key] = value
    else:
        table.remove(key)


def chosen(drills: Iterable[str]) -> list[str]:
    """Return the drills of a first evening among those that there are, in order: bench, robot alone, with a dummy."""
    there = set(drills)
    return [name for name in (ON_BENCH, "turn", "break_off") if name in there]

