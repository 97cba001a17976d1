"""Answer for the lead to break off a push: seconds that are given up against contacts that cost points."""

from collections.abc import Sequence

import msgspec

from tocsin.analysis.decisions.choice import Advice, choose, unknown_of
from tocsin.analysis.decisions.cost import contact_points
from tocsin.analysis.decisions.curve import LeadCurve, lead_curve
from tocsin.analysis.decisions.season import BreakOff, Terms, break_off_question
from tocsin.analysis.review.changes import lead_contacts
from tocsin.analysis.review.rounds import rounds_of
from tocsin.analysis.seasons.row import Row
from tocsin.features.advice.advised_plan import AdvisedPlan
from tocsin.features.advice.answer import LeadAnswer, Unfit, changed, resting_on
from tocsin.features.advice.known import FEWEST_FOR_CURVE, Known
from tocsin.lint.leads import BREAK_OFF
from tocsin.model.game import Game
from tocsin.model.mark import CONTACT
from tocsin.units import NS_PER_S


def break_off_answer(plan: AdvisedPlan, rows: Sequence[Row], known: Known) -> LeadAnswer:
    """Return what is said of the lead to break off, by the rows of the plan's game."""
    contact = contact_cost(plan.loaded.game)
    late_s, spread_s = plan.clock_s
    now_s = plan.lead_s(BREAK_OFF)
    least_s = known.least_s(BREAK_OFF)
    answer = LeadAnswer(
        lead=BREAK_OFF, now_s=now_s, second=known.second, contact=contact, pushes=known.pushes, late_s=late_s,
        spread_s=spread_s, least_s=least_s,
    )  # fmt: skip
    why = _unfit(plan, contact)
    if why is not None or now_s is None:
        return msgspec.structs.replace(answer, unfit=why or "no lead")
    terms = Terms(
        lead_s=now_s, contact=contact, second=known.second, pushes=known.pushes, late_s=late_s, spread_s=spread_s,
        least_s=least_s, most_s=plan.most_s(BREAK_OFF, now_s),
    )  # fmt: skip
    asked = break_off_question(
        rows, terms, today=known.today, plan=plan.loaded.timeline.plan, lead=BREAK_OFF, events=known.events
    )
    answer = msgspec.structs.replace(
        resting_on(answer, asked, rows), pushes_seen=asked.question.pushes_seen,
        follows=asked.followed.value if asked.followed else None,
        curve=_curve(asked) if known.shows(asked.records) else None,
        season=lead_contacts(rounds_of(row for row in rows if row.drill)),
    )  # fmt: skip
    found = choose(asked.question, asked.times, asked.records, seed=asked.seed)
    if not isinstance(found, Advice):
        return msgspec.structs.replace(answer, refused=found)
    line = plan.line(BREAK_OFF, round(found.lead_s * NS_PER_S))
    change = changed(found, line, unknown_of(asked.question, asked.times, asked.seed))
    return msgspec.structs.replace(answer, change=change)


def contact_cost(game: Game) -> float:
    """Return what a contact costs, in points: the first one of a match, or a third of three where a game charges them
    together."""
    points = contact_points(game, CONTACT)
    return float(points[0] or sum(points) / len(points))


def window_title(game: Game) -> str:
    """Return the title of the window in which a contact costs, empty for none."""
    during = {stake.during for stake in game.stakes if stake.label == CONTACT and stake.during}
    return next((window.title or window.id for window in game.windows if window.id in during), "")


def _unfit(plan: AdvisedPlan, contact: float) -> Unfit | None:
    """Return what the plan or the game has no place for."""
    if plan.lead_s(BREAK_OFF) is None:
        return "no lead"
    if not contact:
        return "no stake"
    return None if plan.moves_the_call(BREAK_OFF) else "no call"


def _curve(asked: BreakOff) -> LeadCurve | None:
    """Return the curve where there are enough pushes to draw one."""
    if asked.records.pushes < FEWEST_FOR_CURVE:
        return None
    try:
        return lead_curve(asked.question, asked.times, seed=asked.seed)
    except ValueError:                                 # of no push anybody knows when it ended
        return None
