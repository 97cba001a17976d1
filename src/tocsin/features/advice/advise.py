"""Work out advice on a plan's leads from the rows of a season: the one change, or why there is none."""

from collections.abc import Sequence
from typing import get_args

import msgspec

from tocsin import __version__
from tocsin.analysis.review.leads import needed_leads
from tocsin.analysis.seasons.row import Row
from tocsin.config import bundle
from tocsin.features.advice.advised_plan import AdvisedPlan
from tocsin.features.advice.answer import AdviceDocument, Format, LeadAnswer
from tocsin.features.advice.break_off import break_off_answer, window_title
from tocsin.features.advice.call_home import home_answer
from tocsin.features.advice.close import close_match
from tocsin.features.advice.known import Known


def advise(plan: AdvisedPlan, rows: Sequence[Row], known: Known) -> AdviceDocument:
    """Return what is advised on a plan from a season's rows, which may be of other games too; equal inputs give equal
    documents. The leads that `tocsin check` wants are those that it takes from the same rows."""
    timeline = plan.loaded.timeline
    own = [row for row in rows if row.game == timeline.game]
    known = msgspec.structs.replace(known, needed=needed_leads(rows, timeline.game))
    event = min((day for day in known.events if day >= known.today), default=None)
    return AdviceDocument(
        format=get_args(Format)[0], version=__version__, invented=known.invented, game=timeline.game,
        plan=timeline.plan, file=plan.file, bundled=bundle.holds(plan.path),
        window=window_title(plan.loaded.game), event=event.isoformat() if event else "",
        leads=_one_change(_answers(plan, own, known)),
        close_match=close_match(plan, own, known.second, ahead=known.ahead, spread=known.spread),
    )  # fmt: skip


def _answers(plan: AdvisedPlan, rows: Sequence[Row], known: Known) -> list[LeadAnswer]:
    """Return what is said of both leads, that of the one that moves the call home first; of a lead that the plan does
    not have only where it has neither."""
    found = [break_off_answer(plan, rows, known), home_answer(plan, rows, known)]
    kept = [one for one in found if one.now_s is not None] or found[:1]
    return sorted(kept, key=lambda one: one.records is None)


def _one_change(answers: Sequence[LeadAnswer]) -> tuple[LeadAnswer, ...]:
    """Return the answers with one change at the most, the one that gains most: the others wait for what it does."""
    gains = [one.change.gain for one in answers if one.change is not None]
    return tuple(
        msgspec.structs.replace(one, change=None, unfit="one at a time")
        if one.change is not None and one.change.gain < max(gains) else one
        for one in answers
    )
