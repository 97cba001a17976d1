"""Seasons of invented teams: rounds of one evening are alike, and their truth is known."""

import math

import numpy as np

SPREAD = 0.25                          # of the logarithm of a break-off time


def evening_counts(rng, share, correlation, evenings, rounds):
    """Return a count and its rounds for each evening, with a correlation between rounds of one evening."""
    shares = np.full(evenings, share)
    if correlation:
        both = (1 - correlation) / correlation
        shares = rng.beta(share * both, (1 - share) * both, evenings)
    return [(int(count), rounds) for count in rng.binomial(rounds, shares)]


def evening_times(rng, evenings, rounds, correlation=0.0, *, world="log-normal", median_s=math.e, spread=SPREAD):
    """Return break-off times in seconds, shape (evenings, rounds); their logarithms have this spread, of which
    evenings make the share ``correlation``.

    Worlds: log-normal; "ex-Gaussian" and "t4" for the logarithm, scaled to the same spread; "lapses": 4 % take twice
    as long. Others beside them: "rare long lapses": 2 % take 3.5 times as long; "many short lapses": 12 % take 1.5
    times; "one evening of lapses": a third of one evening in eight takes twice as long; "late by 2.5 s": 4 % take so
    much longer.
    """
    shape = (evenings, rounds)
    noise = rng.standard_normal(shape)
    if world == "ex-Gaussian":
        noise = 0.6 * noise + 0.8 * (rng.exponential(1, shape) - 1)
    elif world == "t4":
        noise = rng.standard_t(4, shape) / math.sqrt(2)
    logs = math.log(median_s) + spread * math.sqrt(1 - correlation) * noise
    logs += spread * math.sqrt(correlation) * rng.standard_normal((evenings, 1))
    if world == "lapses":
        logs += math.log(2) * (rng.random(shape) < 0.04)
    elif world == "rare long lapses":
        logs += math.log(3.5) * (rng.random(shape) < 0.02)
    elif world == "many short lapses":
        logs += math.log(1.5) * (rng.random(shape) < 0.12)
    elif world == "one evening of lapses":
        logs += math.log(2) * (rng.random(shape) < 1 / 3) * (rng.random((evenings, 1)) < 1 / 8)
    elif world == "late by 2.5 s":
        return np.exp(logs) + 2.5 * (median_s / math.e) * (rng.random(shape) < 0.04)
    return np.exp(logs)
