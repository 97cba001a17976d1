"""Ask for advice from the rows of whole simulated seasons, and hold it against what is truly best in the next match."""

import math
import random
from collections import Counter
from collections.abc import Iterable
from datetime import date, timedelta
from typing import Any, NamedTuple

import numpy as np

from tests.support.analysis.season_teams import SO_FAR, season_rows
from tests.support.analysis.season_worlds import WORLDS, Driver, Matches, World
from tests.support.analysis.seasons import evening_times
from tocsin.analysis.decisions.choice import Advice, candidates, choose
from tocsin.analysis.decisions.season import Terms, break_off_question

SECOND, CONTACT, PUSHES = 0.75, 20.0, 0.5
SECONDS = (0.5, 1.0)
HARMFUL = -0.05                        # points a match
# What nobody tells the model: other lapses than those that it knows.
LAPSES = ("rare long lapses", "many short lapses", "one evening of lapses", "late by 2.5 s")
ASKED_WORLDS = {
    **{name: WORLDS[name] for name in (
        "a plain", "b evenings r .15", "c ex-Gaussian", "c t4", "c lapses", "d learning, fatigue",
        "e scribes, marks lost", "e lost when wrong", "f never ended", "g swapped, repeated", "h clock late 0.3 s",
        "i earlier call used up", "k lead changed", "l matches slower",
    )},
    **{f"c {name}": World(times=name) for name in LAPSES},
}  # fmt: skip


class Advised(NamedTuple):
    """What so many ``teams`` were told: to how many advice ``spoke``, how often it was ``harmful``, how often its 80 %
    interval of the gain ``held``; refusals by their codes."""

    teams: int
    spoken: int
    harmful: int
    held: int
    refused: dict[str, int]


def advised(world: World, evenings: int, worth: float, seeds: Iterable[int]) -> Advised:
    """Return what teams are told after so many evenings of *Break off*, whose best change of the lead gains about
    ``worth`` points in a match."""
    teams = spoken = harmful = held = 0
    refused: Counter[str] = Counter()
    for seed in seeds:
        team = _team(world, evenings, seed)
        large = _next_match(team, evenings, seed)
        lead_s = _lead_worth(team, large, worth)
        rows = season_rows(_at_lead(team, world, evenings, lead_s), seed)
        today = date.fromisoformat(rows[-1].local[:10]) + timedelta(days=1)
        terms = Terms(lead_s=lead_s, contact=CONTACT, second=SECONDS, pushes=(PUSHES, PUSHES))
        asked = break_off_question(rows, terms, today=today, plan="Full", lead="break_off")
        found = choose(asked.question, asked.times, asked.records, seed=seed)
        teams += 1
        if isinstance(found, Advice):
            gain = _cost(team, large, lead_s, lead_s) - _cost(team, large, lead_s, found.lead_s)
            spoken += 1
            harmful += gain < HARMFUL
            held += found.low <= gain <= found.high
        else:
            refused[found.code] += 1
    return Advised(teams, spoken, harmful, held, dict(refused))


def _team(world: World, evenings: int, seed: int) -> World:
    rng = random.Random(f"{seed} team")
    crews = tuple(
        crew._replace(driver=Driver(crew.driver.key, rng.uniform(2, 3), rng.uniform(0.15, 0.3))) for crew in world.crews
    )
    matches = tuple(Matches(evening, 3) for evening in range(evenings)) if world.matches else ()
    return world._replace(crews=crews, evenings=evenings, matches=matches, points=False)


def _at_lead(team: World, world: World, evenings: int, lead_s: float) -> World:
    if not world.lead_changes:
        return team._replace(lead_s=lead_s)
    # The drill calls up to a second later: there has to be a lead left.
    return team._replace(lead_s=max(1.5, lead_s - 0.5), lead_changes=((evenings // 2, lead_s),))


def _next_match(team: World, evenings: int, seed: int) -> Any:
    """Return many true times, in seconds and sorted, of the pushes that the call finds in the next match, its clock's
    error included; of each crew as many."""
    generator: Any = np.random.RandomState(seed)
    found = []
    for crew in team.crews:
        driver = crew.driver
        times = evening_times(
            generator, 20_000, 1, team.correlation, world=team.times, median_s=driver.median_s, spread=driver.spread
        )
        learnt = (12 * evenings / SO_FAR) ** math.log2(1 - team.doubling)
        found.append(times.ravel() * learnt + team.match_s + team.clock_s)
    return np.sort(np.concatenate(found))


def _cost(team: World, large: Any, now_s: float, lead_s: float) -> float:
    """Return the true points a match that a lead costs, where pushes end as they do now at ``now_s``."""
    effective_s = now_s + team.follows * (lead_s - now_s)
    beyond = 1 - np.searchsorted(large, effective_s, side="right") / len(large)
    return SECOND * lead_s + CONTACT * PUSHES * float(beyond)


def _lead_worth(team: World, large: Any, worth: float) -> float:
    """Return the lead whose best change gains about so much; of several the middle one."""
    leads = [lead / 10 for lead in range(15, 91)]
    best = [
        max(_cost(team, large, lead, lead) - _cost(team, large, lead, one) for one in candidates(lead, 0.0))
        for lead in leads
    ]
    if not worth:
        near = [lead for lead, gain in zip(leads, best, strict=True) if gain < -HARMFUL]
        if near:
            return near[len(near) // 2]
    return leads[int(np.argmin(np.abs(np.array(best) - worth)))]

