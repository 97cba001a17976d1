"""What advice on a lead does to simulated teams whose best lead is known.

    python -m tests.benchmarks.advice_teams [TEAMS] [--world WORDS]

A row a world, number of pushes, and worth of the best change, as it comes; 60 teams of each take some five minutes. A
second is worth what nobody told, anything from .5 to 1 points a match, a contact 20 in half of all matches; pushes come
from three to nine evenings.
Asked of the first world, where no scribe is late: where nothing is to be won (below .05 points) advice in at most 5 %
(7 % below 36 pushes); where 1.1 points are, in at least 70 % with 24 pushes and 90 % with 72, where .6 are in 40 % with
72. Asked of all: harmful advice (below -.05 points) in at most 5 %, from 72 pushes on 3 %. A row that misses ends in
"<". "holds" is how often the stated 80 % interval of the gain did. "said" and "came" are the chance of contact at the
team's own lead; the slope of what came on what was said is asked to be .8 to 1.2.
"""

import argparse
import math
import zlib
from typing import NamedTuple

import numpy as np

from tests.support.analysis.seasons import evening_times
from tocsin.analysis.decisions.choice import Advice, Question, Records, candidates, choose
from tocsin.analysis.decisions.posterior import FAMILIES, Times, drawn_from

SECOND, CONTACT, PUSHES = 0.75, 20, 0.5
NEVER = math.inf


class World(NamedTuple):
    """What differs from the first world. ``clock_s`` is a bias that the rig does not know."""

    times: str = "log-normal"
    lapses: tuple[float, float] = (0.0, 1.0)           # which share of pushes takes how many times as long
    correlation: float = 0.0
    scribe: bool = False
    never_ended: float = 0.0
    clock_s: float = 0.0


WORLDS = {
    "as assumed": World(),
    "evenings r .05": World(correlation=0.05),
    "evenings r .15": World(correlation=0.15),
    "ex-Gaussian": World(times="ex-Gaussian"),
    "t4": World(times="t4"),
    "lapses": World(times="lapses"),
    "8 % lapses of 1.4": World(lapses=(0.08, 1.4)),
    "3 % lapses of 3": World(lapses=(0.03, 3.0)),
    "12 % lapses of 1.8": World(lapses=(0.12, 1.8)),
    "one evening of lapses": World(times="one evening of lapses"),
    "late by 2.5 s": World(times="late by 2.5 s"),
    "a scribe's lag": World(scribe=True),
    "10 % never ended": World(never_ended=0.1),
    "clock late by 0.3 s": World(clock_s=0.3),
}


def costs(leads, large, second=SECOND):
    """Return the true points a match that leads cost, by many true times."""
    beyond = 1 - np.searchsorted(large, leads, side="right") / len(large)
    return second * np.asarray(leads) + CONTACT * PUSHES * beyond


def lapsed(rng, times, lapses):
    """Return times of which some are lapses."""
    return times * np.where(rng.random(len(times)) < lapses[0], lapses[1], 1.0)


def team(rng, world, pushes, worth):
    """Return a team's question and times, and the true gain of each candidate: the best one gains ``worth``."""
    median_s, spread = rng.uniform(2, 3), rng.uniform(0.15, 0.3)
    truth = {"world": world.times, "median_s": median_s, "spread": spread}
    large = lapsed(rng, evening_times(rng, 20_000, 1, world.correlation, **truth).ravel(), world.lapses)
    large = np.sort(large + world.clock_s)
    second = rng.uniform(0.5, 1.0)
    leads = np.round(np.arange(0.5, 9, 0.1), 1)
    best = [max(costs(lead, large, second) - costs(np.array(candidates(lead)), large, second)) for lead in leads]
    near = [
        lead for lead, gain in zip(leads, best, strict=True)
        if abs(gain - worth) < 0.06 or (not worth and gain < 0.05)
    ]  # fmt: skip
    lead = rng.choice(near) if near else leads[int(np.argmin(np.abs(np.array(best) - worth)))]
    question = Question(lead_s=float(lead), contact=CONTACT, second=(0.5, 1.0), pushes=(PUSHES, PUSHES))
    gains = {one: costs(lead, large, second) - costs(one, large, second) for one in candidates(question.lead_s)}
    evenings = pushes // 8
    true = lapsed(rng, evening_times(rng, evenings, 8, world.correlation, **truth).ravel(), world.lapses)
    lag = float(np.clip(rng.normal(0.55, 0.12), 0.3, 0.8)) if world.scribe else 0.0
    lost = rng.random(len(true)) < world.never_ended
    later = np.where(rng.random(len(true)) < 0.6, true + rng.uniform(0.5, 3, len(true)), NEVER)
    lows, highs = np.where(lost, 0, true + lag), np.where(lost, later, true + lag)
    found = Times(
        lows_s=tuple(lows.tolist()), highs_s=tuple(highs.tolist()),
        evenings=tuple(np.repeat(np.arange(evenings), 8).tolist()), by_scribe=(world.scribe,) * len(true),
    )  # fmt: skip
    return question, found, gains, float(np.mean(large > lead))


def row(name, world, pushes, worth, teams):
    """Return a row, and what was said and came of each team's chance of contact."""
    rng = np.random.default_rng(zlib.crc32(f"{name} {pushes} {worth}".encode()))
    spoken, harmful, held, chances = 0, 0, 0, []
    codes: dict[str, int] = {}
    for _ in range(teams):
        question, times, gains, came = team(rng, world, pushes, worth)
        found = choose(question, times, Records(pushes=pushes, evenings=pushes // 8), seed=1)
        chances.append((_said(question, times), came))
        if isinstance(found, Advice):
            spoken += 1
            harmful += gains[found.lead_s] < -0.05
            held += found.low <= gains[found.lead_s] <= found.high
        else:
            codes[found.code] = codes.get(found.code, 0) + 1
    speaks, harms = 100 * spoken / teams, 100 * harmful / teams
    bad = harms > (3 if pushes >= 72 else 5)
    if name == "as assumed":
        least = {(1.1, 24): 70, (1.1, 72): 90, (0.6, 72): 40}.get((worth, pushes), 0)
        bad = bad or speaks < least or (not worth and speaks > (7 if pushes < 36 else 5))
    holds = f"{100 * held / spoken:3.0f} of {spoken:3}" if spoken else "  -       "
    told = ", ".join(f"{code} {100 * count / teams:.0f}" for code, count in sorted(codes.items()))
    text = (
        f"{name:>20}, {pushes:2} pushes, worth {worth:.1f} | speaks {speaks:5.1f}, harmful {harms:4.1f}, holds {holds} "
        f"| {told}{' <' if bad else ''}"
    )
    return text, chances


def calibration(teams):
    """Yield worlds with the slope of the chance of contact that came on the one that was said, and of how many teams:
    ``teams`` of each worth and number of pushes."""
    for name in ("as assumed", "evenings r .05", "evenings r .15", "ex-Gaussian", "t4", "lapses"):
        chances = []
        for pushes in (24, 72):
            for worth in (0.0, 0.6, 1.1):
                rng = np.random.default_rng(zlib.crc32(f"calibration {name} {pushes} {worth}".encode()))
                for _ in range(teams):
                    question, times, _, came = team(rng, WORLDS[name], pushes, worth)
                    chances.append((_said(question, times), came))
        said, came = np.array(chances).T
        yield name, float(np.polyfit(said, came, 1)[0]), len(chances)


def _said(question, times):
    """Return the chance of contact at the team's own lead that is told."""
    return np.mean([drawn_from(times, family, seed=1).beyond([question.lead_s]) for family in FAMILIES])


def main():
    """Print the rows, each as it comes."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("teams", type=int, nargs="?", default=60, help="teams of each (60)")
    parser.add_argument("--world", default="", help="only worlds with these words in their name")
    asked = parser.parse_args()
    teams = asked.teams
    for name, world in WORLDS.items():
        if asked.world not in name:
            continue
        chances = []
        for pushes in (24, 72):
            for worth in (0.0, 0.6, 1.1):
                text, found = row(name, world, pushes, worth, teams)
                chances += found
                print(text, flush=True)
        said, came = np.array(chances).T
        slope = np.polyfit(said, came, 1)[0]
        print(
            f"{name:>20} | chance of contact: said {said.mean():.3f}, came {came.mean():.3f}, slope {slope:.2f}"
            f"{'' if 0.8 <= slope <= 1.2 else ' <'}",
            flush=True,
        )


if __name__ == "__main__":
    main()
