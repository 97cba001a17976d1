"""Work out advice on a plan's leads from the rows of a season: the one change, or why there is none."""

from collections.abc import Callable, Sequence
from datetime import date
from pathlib import PurePath

import msgspec

from tocsin.analysis.decisions.choice import FROZEN_DAYS, STEPS_S, Advice, choose
from tocsin.analysis.decisions.cost import contact_points
from tocsin.analysis.decisions.curve import LeadCurve, lead_curve
from tocsin.analysis.decisions.season import BreakOff, Terms, break_off_question
from tocsin.analysis.rounds.result import CONTACT
from tocsin.analysis.seasons.row import Row
from tocsin.features.advice.advised_plan import AdvisedPlan
from tocsin.features.advice.answer import AdviceDocument, LeadAnswer, NoChange, PlanLine, WhyNot, changed, unchanged
from tocsin.lint.leads import BREAK_OFF
from tocsin.model.game import Game
from tocsin.units import NS_PER_S

USUAL_PUSHES = (0.1, 0.5)              # share of matches with a push on at the call; common practice, no source
_MS_PER_S = 1000
_FEWEST_FOR_CURVE = 6


class Known(msgspec.Struct, frozen=True, kw_only=True):
    """What people say beside the plan: what a ``second`` is worth, how often ``pushes`` are on at the call, the days of
    events, ``today``; whether the curve is shown though an event is near (``look``). ``least_ns`` tells below which
    length `tocsin check` objects to a lead, by its name."""

    today: date
    least_ns: Callable[[str], int]
    second: tuple[float, float]
    pushes: tuple[float, float] = USUAL_PUSHES
    events: tuple[date, ...] = ()
    look: bool = False


def advise(plan: AdvisedPlan, rows: Sequence[Row], known: Known) -> AdviceDocument:
    """Return what is advised on a plan from a season's rows, which may be of other games too; equal inputs give equal
    documents."""
    timeline = plan.loaded.timeline
    own = [row for row in rows if row.game == timeline.game]
    window = _window(plan.loaded.game)
    event = min((day for day in known.events if day >= known.today), default=None)
    return AdviceDocument(
        game=timeline.game, plan=timeline.plan, file=plan.file, window=window,
        event=event.isoformat() if event else "", leads=(_break_off(plan, own, known),),
    )  # fmt: skip


def _break_off(plan: AdvisedPlan, rows: Sequence[Row], known: Known) -> LeadAnswer:
    contact = contact_cost(plan.loaded.game)
    late_ms, spread_ms = plan.rig.start.error_ms
    least_s = known.least_ns(BREAK_OFF) / NS_PER_S
    lasts_ns = plan.loaded.plan.leads.get(BREAK_OFF)
    answer = LeadAnswer(
        lead=BREAK_OFF, now_s=None if lasts_ns is None else lasts_ns / NS_PER_S, second=known.second, contact=contact,
        pushes=known.pushes, late_s=late_ms / _MS_PER_S, spread_s=spread_ms / _MS_PER_S, least_s=least_s,
    )  # fmt: skip
    why = _unfit(plan, contact)
    if why is not None or answer.now_s is None:
        return msgspec.structs.replace(answer, refused=NoChange(why=why or "no lead"))
    terms = Terms(
        lead_s=answer.now_s, contact=contact, second=known.second, pushes=known.pushes, late_s=answer.late_s,
        spread_s=answer.spread_s, least_s=least_s, most_s=_most_s(plan, BREAK_OFF, answer.now_s),
    )  # fmt: skip
    asked = break_off_question(
        rows, terms, today=known.today, plan=plan.loaded.timeline.plan, lead=BREAK_OFF, events=known.events
    )
    used = set(asked.runs)
    answer = msgspec.structs.replace(
        answer, pushes_seen=asked.question.pushes_seen, follows=asked.followed.value if asked.followed else None,
        records=asked.records, evenings=tuple(dict.fromkeys(row.evening for row in rows if row.folder in used)),
        runs=tuple(PurePath(folder).name for folder in asked.runs), curve=_curve(asked, look=known.look),
    )  # fmt: skip
    found = choose(asked.question, asked.times, asked.records, seed=asked.seed)
    if isinstance(found, Advice):
        change = changed(found, asked.question, plan_line(plan, BREAK_OFF, round(found.lead_s * NS_PER_S)))
        return msgspec.structs.replace(answer, change=change)
    return msgspec.structs.replace(answer, refused=unchanged(found))


def contact_cost(game: Game) -> float:
    """Return what a contact costs, in points: the first one of a match, or a third of three where a game charges them
    together."""
    points = contact_points(game, CONTACT)
    return float(points[0] or sum(points) / len(points))


def plan_line(plan: AdvisedPlan, lead: str, lasts_ns: int) -> PlanLine | None:
    """Return the line that makes a lead so long, None if the file does not have it as one value in a line."""
    line = plan.line(lead, lasts_ns)
    return None if line is None else PlanLine(file=line.file, line=line.number, text=line.text)


def _most_s(plan: AdvisedPlan, lead: str, now_s: float) -> float:
    """Return the longest of a lead's possible changes for which the game has room, else today's."""
    longer = (now_s + step for step in reversed(STEPS_S) if step > 0)
    return next((one for one in longer if plan.with_lead(lead, round(one * NS_PER_S)) is not None), now_s)


def _unfit(plan: AdvisedPlan, contact: float) -> WhyNot | None:
    """Return what the plan or the game has no place for."""
    if BREAK_OFF not in plan.loaded.plan.leads:
        return "no lead"
    if not contact:
        return "no stake"
    return None if plan.moves_the_call(BREAK_OFF) else "no call"


def _curve(asked: BreakOff, *, look: bool) -> LeadCurve | None:
    """Return the curve where there are enough pushes to draw one; an event that is near hides it."""
    days = asked.records.days_to_event
    if asked.records.pushes < _FEWEST_FOR_CURVE or (days is not None and days <= FROZEN_DAYS and not look):
        return None
    try:
        return lead_curve(asked.question, asked.times, seed=asked.seed)
    except ValueError:                                 # of no push anybody knows when it ended
        return None


def _window(game: Game) -> str:
    """Return the title of the window in which a contact costs, empty for none."""
    during = {stake.during for stake in game.stakes if stake.label == CONTACT and stake.during}
    return next((window.title or window.id for window in game.windows if window.id in during), "")
