"""Answer for the lead of the call home: seconds that are given up against returns that bring points."""

from collections import Counter
from collections.abc import Iterable, Sequence

import msgspec

from tocsin.analysis.decisions.choice import Advice
from tocsin.analysis.decisions.cost import return_points
from tocsin.analysis.decisions.curve import LeadCurve, home_curve
from tocsin.analysis.decisions.home import HomeTerms, choose_home, unknown_home
from tocsin.analysis.decisions.season import CallHome, home_question
from tocsin.analysis.seasons.row import Row
from tocsin.features.advice.advised_plan import AdvisedPlan
from tocsin.features.advice.answer import LeadAnswer, Unfit, changed, resting_on
from tocsin.features.advice.known import FEWEST_FOR_CURVE, Known
from tocsin.lint.leads import HOME
from tocsin.units import NS_PER_S

PARTNER_HOME = 0.5                     # in which share of matches the partner is home; common practice, no source


def home_answer(plan: AdvisedPlan, rows: Sequence[Row], known: Known) -> LeadAnswer:
    """Return what is said of the lead of the call home, by the rows of the plan's game."""
    full, half = return_points(plan.loaded.game, PARTNER_HOME)
    late_s, spread_s = plan.clock_s
    now_s, least_s = plan.lead_s(HOME), known.least_s(HOME)
    answer = LeadAnswer(
        lead=HOME, now_s=now_s, second=known.second, full=full, half=half, late_s=late_s, spread_s=spread_s,
        least_s=least_s,
    )  # fmt: skip
    why = _unfit(plan, full)
    if why is not None or now_s is None:
        return msgspec.structs.replace(answer, unfit=why or "no lead")
    terms = HomeTerms(
        lead_s=now_s, full=full, half=half, second=known.second, shares=_shares(rows), late_s=late_s,
        spread_s=spread_s, least_s=least_s, most_s=plan.most_s(HOME, now_s),
    )  # fmt: skip
    asked = home_question(
        rows, terms, today=known.today, plan=plan.loaded.timeline.plan, lead=HOME, events=known.events
    )
    if asked is None:
        return msgspec.structs.replace(answer, unfit="no way home")
    curve = _curve(asked) if known.shows(asked.records) else None
    answer = msgspec.structs.replace(resting_on(answer, asked, rows), curve=curve)
    found = choose_home(asked.question, asked.times, asked.records, seed=asked.seed)
    if not isinstance(found, Advice):
        return msgspec.structs.replace(answer, refused=found)
    line = plan.line(HOME, round(found.lead_s * NS_PER_S))
    change = changed(found, line, unknown_home(asked.question, asked.times, asked.seed))
    return msgspec.structs.replace(answer, change=change)


def _shares(rows: Iterable[Row]) -> dict[str, float]:
    """Return how often matches began their way home from each set-up, as far as it stands in them; else nothing."""
    counts = Counter(row.setup for row in rows if row.kind != "drill" and row.setup)
    return {setup: count / counts.total() for setup, count in counts.items()}


def _unfit(plan: AdvisedPlan, full: float) -> Unfit | None:
    if plan.lead_s(HOME) is None:
        return "no lead"
    if not plan.moves_the_call(HOME):
        return "no call"
    return "no stake" if full <= 0 else None


def _curve(asked: CallHome) -> LeadCurve | None:
    return home_curve(asked.question, asked.times, seed=asked.seed) if len(asked.runs) >= FEWEST_FOR_CURVE else None
