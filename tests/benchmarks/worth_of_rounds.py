"""Whether more rounds are worth what we say: beside seasons in which they are played.

    python -m tests.benchmarks.worth_of_rounds [SEASONS]

A row a team and number of more pushes; 400 seasons of each take less than a minute in all. Pushes of a team are known,
log-normal on evenings of eight. A season draws a truth from what is known of them, plays more pushes by that truth,
weighs what was known by their likelihood, and takes the change if it gains on average: what that brings beyond today's
choice is the worth that "came", "decided" is how often the change then gains, or loses, with a probability of 0.9. The
worth is in points a match, of the change that gains most today, and "said" is the formula's, which holds the gain to be
normal: after 24 pushes it is skewed, and the formula promises up to two thirds too much. "<" marks a worth that is off
by more than a fifth and 0.005 points, or a chance that is off by more than 0.1; both by more than two standard errors.
"""

import argparse

import numpy as np
from scipy import stats

from tests.support.analysis.seasons import evening_times
from tocsin.analysis.decisions.choice import Question, candidates, weigh
from tocsin.analysis.decisions.posterior import DRAWS, Times, design_effect, drawn_from
from tocsin.analysis.decisions.worth import DECIDED, worth_of

ASKED = Question(lead_s=3.0, contact=20, second=(0.75, 0.75), pushes=(0.5, 0.5))
MEDIANS_S = (2.0, 2.2, 2.4)
PUSHES, MORE = (24, 72), (24, 48, 96)
LAPSE = 1.8                            # so many times as long


def times_of(values):
    """Return times as a video shows them, on evenings of eight."""
    values = tuple(float(value) for value in values)
    evenings = tuple(number // 8 for number in range(len(values)))
    return Times(lows_s=values, highs_s=values, evenings=evenings, by_scribe=(False,) * len(values))


def played(rng, drawn, number, pushes):
    """Return pushes of one truth among draws."""
    values = rng.lognormal(np.log(drawn.centres_s[number]), drawn.spreads[number], pushes)
    return values * np.where(rng.random(pushes) < drawn.lapses[number], LAPSE, 1.0)


def weights(drawn, new, effect):
    """Return how likely each draw is after new pushes."""
    spreads, centres, lapses = drawn.spreads[:, None], drawn.centres_s[:, None], drawn.lapses[:, None]
    usual, slow = (stats.lognorm.pdf(new, spreads, scale=by * centres) for by in (1, LAPSE))
    logs = np.log((1 - lapses) * usual + lapses * slow + 1e-300).sum(axis=1) / effect
    found = np.exp(logs - logs.max())
    return found / found.sum()


def row(median_s, pushes, more, seasons, rng):
    """Return a row of a team."""
    known = times_of(evening_times(rng, pushes // 8, 8, median_s=median_s, spread=0.22).ravel())
    told = weigh(ASKED, known, candidates(ASKED.lead_s), 1).told[:DRAWS]             # of the log-normal family
    gains = told[:, int(np.argmax(told.mean(axis=0)))]
    said = worth_of(float(gains.mean()), float(gains.std()), pushes, more)
    drawn, effect = drawn_from(known, "log-normal", seed=1), design_effect(known)
    after, decided = [], 0
    for _ in range(seasons):
        weight = weights(drawn, played(rng, drawn, rng.integers(DRAWS), more), effect)
        after.append(float(weight @ gains))
        sure = float(weight[gains > 0].sum())
        decided += max(sure, 1 - sure) >= DECIDED
    brings = np.maximum(after, 0) - np.array(after) * (gains.mean() > 0)
    came, error = float(brings.mean()), float(brings.std()) / seasons**0.5
    chance = decided / seasons
    off = abs(came - said.worth) > max(0.2 * said.worth, 2 * error, 0.005)
    off |= abs(chance - said.chance) > max(0.1, 2 * (chance * (1 - chance) / seasons) ** 0.5)
    gain = f"{gains.mean():5.2f} ± {gains.std():.2f}"
    return (
        f"{median_s:.1f} s, {pushes:2} pushes and {more:2} | gain {gain} | worth: said "
        f"{said.worth:.3f}, came {came:.3f} ± {error:.3f} | decided: said {said.chance:.2f}, came {chance:.2f}"
        f"{' <' if off else ''}"
    )


def main():
    """Print the rows, each as it comes."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("seasons", type=int, nargs="?", default=400, help="seasons of each (400)")
    seasons = parser.parse_args().seasons
    rng = np.random.default_rng(11)
    for median_s in MEDIANS_S:
        for pushes in PUSHES:
            for more in MORE:
                print(row(median_s, pushes, more, seasons, rng), flush=True)


if __name__ == "__main__":
    main()
