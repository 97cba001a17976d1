"""Compute what each lead costs against today's, over all that is not known: the curve that a change rests on. Pure."""

from collections.abc import Sequence

import msgspec
import numpy as np

from tocsin.analysis.decisions.choice import LEAST_GAIN, Question, weigh
from tocsin.analysis.decisions.home import HomeQuestion, HomeTimes, weigh_home
from tocsin.analysis.decisions.posterior import Grid, Times

_SHOWN_S, _STEP_S = 2.5, 0.25          # how far from today's lead, and how finely


class LeadPoint(msgspec.Struct, frozen=True, kw_only=True):
    """What a lead of ``lead_s`` seconds is worth in points a match more than today's, below 0 less, with its 80 %
    interval."""

    lead_s: float
    gain: float
    low: float
    high: float


class LeadCurve(msgspec.Struct, frozen=True, kw_only=True):
    """Leads around today's, evenly spaced and rising. From ``flat_from_s`` to ``flat_to_s`` none is worth a quarter of
    a point less than the best of them: there is nothing to win."""

    points: tuple[LeadPoint, ...]
    flat_from_s: float
    flat_to_s: float


def lead_curve(question: Question, times: Times, *, seed: int) -> LeadCurve:
    """Return what leads are worth in points a match, from 2.5 s below today's to 2.5 s above it; equal inputs give
    equal curves. Raises ValueError without a time that has an upper bound."""
    leads = _leads(question.lead_s)
    return _curve(leads, weigh(question, times, leads, seed).gains)


def home_curve(question: HomeQuestion, times: HomeTimes, *, seed: int) -> LeadCurve:
    """Return the same for the lead of the call home."""
    leads = _leads(question.lead_s)
    return _curve(leads, weigh_home(question, times, leads, seed)[0].gains)


def _leads(now_s: float) -> list[float]:
    steps = round(_SHOWN_S / _STEP_S)
    found = (round(now_s + _STEP_S * step, 3) for step in range(-steps, steps + 1))
    return [lead for lead in found if lead >= 0]


def _curve(leads: Sequence[float], gains: Grid) -> LeadCurve:
    """Return the curve of gains over today's lead, shape (draws, leads)."""
    lows, highs = np.quantile(gains, (0.1, 0.9), axis=0).tolist()
    means = gains.mean(axis=0).tolist()
    points = tuple(
        LeadPoint(lead_s=lead, gain=mean, low=low, high=high)
        for lead, mean, low, high in zip(leads, means, lows, highs, strict=True)
    )
    first = last = max(range(len(means)), key=lambda place: (means[place], -place))
    least = means[first] - LEAST_GAIN
    while first and means[first - 1] > least:
        first -= 1
    while last + 1 < len(means) and means[last + 1] > least:
        last += 1
    return LeadCurve(points=points, flat_from_s=leads[first], flat_to_s=leads[last])
