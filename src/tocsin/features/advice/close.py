"""Say what to do ahead or behind in the last seconds of a close match: thresholds, never a change of the plan."""

from collections.abc import Iterator, Sequence

import numpy as np

from tocsin.analysis.decisions.choice import FEWEST_PUSHES
from tocsin.analysis.decisions.close_match import Fork, Returns, push_fork, return_fork, returns_of, spread_of
from tocsin.analysis.decisions.cost import return_points
from tocsin.analysis.decisions.posterior import FAMILIES, drawn_from
from tocsin.analysis.decisions.season import break_off_times, pushed, seed_of
from tocsin.analysis.seasons.row import Row
from tocsin.features.advice.advised_plan import AdvisedPlan
from tocsin.features.advice.answer import CloseMatch
from tocsin.features.advice.break_off import contact_cost
from tocsin.features.advice.call_home import PARTNER_HOME
from tocsin.lint.leads import BREAK_OFF

_MORE_S = 1.0                          # for which one could push on


def close_match(
    plan: AdvisedPlan, rows: Sequence[Row], second: tuple[float, float], *, ahead: float | None, spread: float | None
) -> CloseMatch | None:
    """Return the thresholds that the rounds of the plan's game tell; None if they tell none. ``ahead`` is a projected
    lead and ``spread`` by how many points it ends up off, None where nobody said so."""
    found, returns = spread_of(rows, ahead=ahead, spread=spread), returns_of(rows)
    forks = tuple(_forks(plan, rows, second, found.spread, returns))
    return CloseMatch(forks=forks, spread=found, returns=returns) if forks else None


def _forks(
    plan: AdvisedPlan, rows: Sequence[Row], second: tuple[float, float], spread: float, returns: Returns | None
) -> Iterator[Fork]:
    full, half = return_points(plan.loaded.game, PARTNER_HOME)
    if returns is not None and full > half > 0:
        yield return_fork(full, half, returns.full.value, returns.half.value, spread)
    contact, touched = contact_cost(plan.loaded.game), _touched_more(plan, rows)
    if contact > 0 and touched is not None:
        yield push_fork(_MORE_S * sum(second) / 2, contact, touched, spread)


def _touched_more(plan: AdvisedPlan, rows: Sequence[Row]) -> float | None:
    """Return by how much likelier a contact is after a second more of pushing; None with too few pushes."""
    lead_s, pushes = plan.lead_s(BREAK_OFF), pushed(rows)
    if lead_s is None or lead_s <= _MORE_S or len(pushes) < FEWEST_PUSHES or not plan.moves_the_call(BREAK_OFF):
        return None
    late_s, spread_s = plan.clock_s
    times = break_off_times(pushes)
    try:
        drawn = [drawn_from(times, family, seed=seed_of(rows)) for family in FAMILIES]
    except ValueError:                                 # of no push anybody knows when it ended
        return None
    beyond = [one.beyond([lead_s - _MORE_S, lead_s], late_s=late_s, spread_s=spread_s) for one in drawn]
    sooner, later = np.concatenate(beyond).mean(axis=0).tolist()
    return float(sooner - later)
