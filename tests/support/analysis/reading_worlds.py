"""Worlds from which readings are drawn: people's answers and devices' delays as they come, in milliseconds.

A world's readings are those that would be measured; its truth is the median and the spread of the same world before
it was rounded. Answers are ex-Gaussian (Luce, Response Times, 1986, from memory; parameters of our own in the usual
range), a lapse comes 0.3 to 1 s behind the answer that it replaces (our own choice). It is part of the truth.
"""

from collections.abc import Callable
from typing import NamedTuple

import numpy as np

from tocsin.analysis.spread import TO_DEVIATION

Draw = Callable[[np.random.Generator, tuple[int, ...]], np.ndarray]
LAPSES = 0.05


class World(NamedTuple):
    """How exact readings are drawn, and the step to which they are rounded before they are seen (0: not at all)."""

    exact: Draw
    step_ms: float = 0.0

    def draw(self, rng, shape):
        exact = self.exact(rng, shape)
        return np.round(exact / self.step_ms) * self.step_ms if self.step_ms else exact

    def truth(self, draws=2_000_000):
        """Return median and spread, from the definition: half of all pairs lie nearer to each other than the spread."""
        exact = self.exact(np.random.default_rng(0), (draws,))
        pairs = np.abs(exact[::2] - exact[1::2])
        return float(np.median(exact)), TO_DEVIATION * float(np.median(pairs))


def _normal(mean, deviation):
    return lambda rng, shape: rng.normal(mean, deviation, shape)


def _ex_gaussian(mean, deviation, tail):
    return lambda rng, shape: rng.normal(mean, deviation, shape) + rng.exponential(tail, shape)


def _with_lapses(draw):
    def exact(rng, shape):
        return draw(rng, shape) + np.where(rng.random(shape) < LAPSES, rng.uniform(300, 1000, shape), 0)

    return exact


WORLDS = {
    "normal": World(_normal(250, 40)),
    "ex-Gaussian": World(_ex_gaussian(200, 20, 60)),
    "long tail": World(_ex_gaussian(200, 10, 100)),
    "rounded": World(_ex_gaussian(200, 20, 60), 10),
    "normal, rounded": World(_normal(253, 15), 10),
    "finer than its step": World(_normal(253, 4), 10),
    "at the edge of a step": World(_normal(254.9, 1), 10),
    "lapses": World(_with_lapses(_normal(250, 40))),
    "ex-Gaussian, lapses": World(_with_lapses(_ex_gaussian(200, 20, 60))),
    "rounded, lapses": World(_with_lapses(_ex_gaussian(200, 20, 60)), 10),
}
