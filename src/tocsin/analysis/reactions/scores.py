"""Score a person's answers in a reaction test, for each channel and pair.

The scores are those of the psychomotor vigilance test (Dinges and Powell 1985; Basner and Dinges, Sleep 34:581, 2011):
an answer less than 100 ms after its signal is a false start, one of 500 ms or more a lapse (355 ms in the three-minute
form), and the mean speed is the mean of 1000 / answer in ms, not 1000 / mean. Lapses are answers and count in all
means.

A missed signal is a lapse too, but has no time. In median and percent points it counts as slower than all answers, in
the mean speed as 0, in mean and standard deviation it is left out (our own choice).

Intervals of median and percent points lie between order statistics (``order_statistics.py``). A BCa bootstrap was
tried: with 20 answers it held the median in 94 % of simulated sessions but the 90 % point in 83 %, for it cannot see
past the slowest answer. The present one holds each in 95 %, and leaves a side open that so few answers cannot bound.
"""

import re
from collections.abc import Iterable, Sequence
from typing import Literal

import msgspec
import numpy as np

from tocsin.analysis.order_statistics import CONFIDENCE, Values, at_place, fewest_for_both_sides, low_place
from tocsin.analysis.reactions.order import ANSWER_WINDOW_NS, CATCH, Condition, Trial, in_order
from tocsin.model.plan import ChannelName
from tocsin.units import NS_PER_MS

FALSE_START_MS = 100.0
LAPSE_MS = 500.0
WINDOW_MS = ANSWER_WINDOW_NS / NS_PER_MS

Outcome = Literal["answer", "missed", "false_start", "held", "void"]

TIMED: tuple[Outcome, ...] = ("answer", "missed")          # outcomes of which a time is known, or that it was long
_PERSON = re.compile(r"[0-9a-f]{8}|[0-9a-f]{16}")


class TrialAnswer(msgspec.Struct, frozen=True, kw_only=True):
    """The record of one trial, in times of the shared clock.

    ``fired_ns`` is when each channel's device was called, ``answer_ns`` the first press in the trial's answer window,
    or None. A channel is absent if its device gave no signal, or was not called before the press.
    """

    trial: Trial
    fired_ns: dict[ChannelName, int] = {}
    answer_ns: int | None = None


class Delays(msgspec.Struct, frozen=True, kw_only=True):
    """The delays of devices: from a call to its signal, and from a press to its time stamp. An absent channel is
    unknown and counts as 0, so that its delay is then part of the person's times."""

    out_ns: dict[ChannelName, int] = {}
    key_ns: int = 0

    def known(self, condition: Condition) -> bool:
        """Return whether the delays of all channels of a condition are known."""
        return all(channel in self.out_ns for channel in condition)


UNKNOWN = Delays()


class ReactionTest(msgspec.Struct, frozen=True, kw_only=True):
    """One person's test. ``outside`` counts the presses outside all answer windows, without practice.

    ``person`` is a key of 8 or 16 random hex digits, never a name: anything else raises ValueError.
    """

    person: str
    answers: tuple[TrialAnswer, ...]
    delays: Delays = UNKNOWN
    outside: int = 0

    def __post_init__(self) -> None:
        if not _PERSON.fullmatch(self.person):
            raise ValueError("a person is known by a random key of 8 or 16 hex digits, not by a name")


class Reaction(msgspec.Struct, frozen=True, kw_only=True):
    """One judged trial. ``ms`` is the time of an answer in milliseconds, None for all other outcomes.

    ``held``: no signal came and nobody answered. ``void``: the signal was incomplete; the trial counts nowhere.
    ``apart_ms`` is the time between the signals of a pair; ``delay_known`` is false if a device's own delay may be in
    the times.
    """

    condition: Condition
    outcome: Outcome
    ms: float | None = None
    apart_ms: float = 0.0
    delay_known: bool = True


class ConfidenceInterval(msgspec.Struct, frozen=True, kw_only=True):
    """A 95 % interval in milliseconds; a side is None (open) with too few answers or too many missed ones."""

    low_ms: float | None
    high_ms: float | None


class Score(msgspec.Struct, frozen=True, kw_only=True):
    """A person's figures for one condition.

    ``signals`` counts answers and missed signals; ``lapses`` includes the missed ones. A figure is None without
    answers, or where it lies among the missed ones. ``delay_known`` is false if a device's own delay may be in it.
    """

    condition: Condition
    signals: int
    missed: int
    lapses: int
    lapse_ms: float
    false_starts: int
    mean_ms: float | None
    spread_ms: float | None                # standard deviation, n - 1
    speed_per_s: float | None
    p10_ms: float | None
    median_ms: float | None
    p90_ms: float | None
    median_interval: ConfidenceInterval
    p90_interval: ConfidenceInterval
    delay_known: bool = True


class Scores(msgspec.Struct, frozen=True, kw_only=True):
    """All figures of a person. ``false_starts`` includes those on catch trials and ``outside``, the presses outside all
    answer windows; ``void`` counts the incomplete trials."""

    person: str
    scores: tuple[Score, ...]
    catches: int
    false_starts: int
    outside: int
    void: int


def judge(answer: TrialAnswer, delays: Delays = UNKNOWN) -> Reaction:
    """Return the outcome of a trial, after subtracting the devices' known delays. A pair begins with its first
    signal."""
    condition = answer.trial.condition
    known = delays.known(condition)
    pressed_ns = None if answer.answer_ns is None else answer.answer_ns - delays.key_ns
    if condition == CATCH or not answer.fired_ns:
        silent: Outcome = "held" if condition == CATCH else "void"
        outcome = silent if pressed_ns is None else "false_start"
        return Reaction(condition=condition, outcome=outcome, delay_known=known)
    begins_ns = [fired_ns + delays.out_ns.get(channel, 0) for channel, fired_ns in answer.fired_ns.items()]
    ms = None if pressed_ns is None else (pressed_ns - min(begins_ns)) / NS_PER_MS
    outcome = _outcome(ms)
    if set(answer.fired_ns) != set(condition) and outcome != "false_start":
        outcome = "void"
    return Reaction(
        condition=condition,
        outcome=outcome,
        ms=ms if outcome == "answer" else None,
        apart_ms=(max(begins_ns) - min(begins_ns)) / NS_PER_MS,
        delay_known=known,
    )


def _outcome(ms: float | None) -> Outcome:
    if ms is None or ms > WINDOW_MS:
        return "missed"
    return "false_start" if ms < FALSE_START_MS else "answer"


def reactions_of(session: ReactionTest) -> tuple[Reaction, ...]:
    """Return a session's judged trials without practice."""
    return tuple(judge(answer, session.delays) for answer in session.answers if not answer.trial.practice)


def scores_of(session: ReactionTest, *, lapse_ms: float = LAPSE_MS) -> Scores:
    """Return a person's figures for each condition that came, single channels first."""
    reactions = reactions_of(session)
    given = in_order({r.condition for r in reactions} - {CATCH})
    return Scores(
        person=session.person,
        scores=tuple(score(c, reactions, lapse_ms=lapse_ms) for c in given),
        catches=sum(r.condition == CATCH for r in reactions),
        false_starts=sum(r.outcome == "false_start" for r in reactions) + session.outside,
        outside=session.outside,
        void=sum(r.outcome == "void" for r in reactions),
    )


def times_ms(condition: Condition, reactions: Iterable[Reaction]) -> list[float]:
    """Return the answer times of a condition in ms; a missed signal counts as the length of the answer window."""
    own = [r for r in reactions if r.condition == condition]
    answered = [r.ms for r in own if r.ms is not None]
    return answered + [WINDOW_MS] * sum(r.outcome == "missed" for r in own)


def score(condition: Condition, reactions: Iterable[Reaction], *, lapse_ms: float = LAPSE_MS) -> Score:
    """Return the figures of one condition; reactions of several sessions of one person may be put together."""
    own = [r for r in reactions if r.condition == condition]
    answered = [r.ms for r in own if r.ms is not None]
    missed = sum(r.outcome == "missed" for r in own)
    return Score(
        condition=condition,
        signals=len(answered) + missed,
        missed=missed,
        lapses=missed + sum(ms >= lapse_ms for ms in answered),
        lapse_ms=lapse_ms,
        false_starts=sum(r.outcome == "false_start" for r in own),
        mean_ms=float(np.mean(answered)) if answered else None,
        spread_ms=float(np.std(answered, ddof=1)) if len(answered) > 1 else None,
        speed_per_s=sum(1000 / ms for ms in answered) / (len(answered) + missed) if answered else None,
        p10_ms=point_ms(answered, missed, 0.1),
        median_ms=point_ms(answered, missed, 0.5),
        p90_ms=point_ms(answered, missed, 0.9),
        median_interval=interval_ms(answered, missed, 0.5),
        p90_interval=interval_ms(answered, missed, 0.9),
        delay_known=all(r.delay_known for r in own),
    )


def point_ms(answered: Sequence[float], missed: int, share: float) -> float | None:
    """Return the time in ms within which ``share`` of the signals were answered; None with fewer than 0.5 / share
    answers (or 0.5 / (1 - share)), or where it lies among the missed ones.

    Interpolated between the midpoints of steps (Hazen); for one half it is the ordinary median.
    """
    n = len(answered) + missed
    place = share * n + 0.5                # from 1, in order of size; a float, so compared with a hair's breadth
    hair = 1e-9
    if not 1 - hair <= place <= n + hair or place > len(answered) + hair:
        return None
    return float(np.quantile([*answered, *[WINDOW_MS] * missed], share, method="hazen"))


def interval_ms(answered: Sequence[float], missed: int, share: float) -> ConfidenceInterval:
    """Return the 95 % interval of a percent point in ms, for any distribution.

    Both sides are bounded from 6 signals on for the median, from 36 on for the 10 and 90 % points. With fewer the outer
    side is open, and the other takes the whole error of 5 %.
    """
    ordered = np.sort([*answered, *[WINDOW_MS] * missed])
    both = len(ordered) >= fewest_for_both_sides(share)
    error = (1 - CONFIDENCE) / (2 if both else 1)
    low_ms = _low_side(ordered, share, error) if both or share > 0.5 else None
    high_ms = _low_side(-ordered[::-1], 1 - share, error) if both or share < 0.5 else None
    longest_ms = max(answered, default=0.0)
    return ConfidenceInterval(
        low_ms=None if low_ms is None or low_ms > longest_ms else low_ms,
        high_ms=None if high_ms is None or -high_ms > longest_ms else -high_ms,
    )


def _low_side(ordered: Values, share: float, error: float) -> float | None:
    """Return the lower limit in ms of a percent point from ``ordered`` (ms, rising, shape (answers,)); None for too
    few."""
    place = low_place(len(ordered), share, error)
    return None if place is None else at_place(ordered, place)
