"""Count the clean rounds, with the uncertainty of so few, and whether the goal is reached.

The interval is Wilson's (``analysis/shares.py``). It speaks of one evening.
"""

from collections.abc import Iterable, Sequence
from typing import Literal

import msgspec

from tocsin.analysis.rounds.result import RoundResult
from tocsin.analysis.shares import wilson
from tocsin.model.drill import Goal
from tocsin.translation import tr, trn

GoalState = Literal["reached", "open", "lost"]


class Tally(msgspec.Struct, frozen=True, kw_only=True):
    """The results of rounds: ``clean`` of ``judged`` rounds; ``unclear`` ones count but could not be judged;
    ``uncounted`` ones do not count, whatever their result."""

    clean: int = 0
    judged: int = 0
    unclear: int = 0
    uncounted: int = 0


def tally(results: Iterable[RoundResult]) -> Tally:
    """Return the tally of a series of rounds."""
    results = tuple(results)
    counted = [result.clean for result in results if result.counted]
    return Tally(
        clean=counted.count(True),
        judged=len(counted) - counted.count(None),
        unclear=counted.count(None),
        uncounted=len(results) - len(counted),
    )


def tally_text(found: Tally) -> str:
    """Return one sentence: how many rounds were clean, and the range in which the habit behind them may lie."""
    beside = [
        f"{count} {what}"
        for count, what in ((found.unclear, tr("not known without a video")), (found.uncounted, tr("not counted")))
        if count
    ]
    besides = f" ({', '.join(beside)})" if beside else ""
    if not found.judged:
        return tr("No round judged so far{besides}.", besides=besides)
    low, high = wilson(found.clean, found.judged)
    return trn(
        "{clean} of {count} round clean{besides}: you are probably clean in {low:.0f} to {high:.0f} % of such rounds "
        "(95 % interval, Wilson).",
        "{clean} of {count} rounds clean{besides}: you are probably clean in {low:.0f} to {high:.0f} % of such rounds "
        "(95 % interval, Wilson).",
        found.judged, clean=found.clean, besides=besides, low=100 * low, high=100 * high,
    )


def goal_state(results: Sequence[RoundResult], goal: Goal, left: int) -> GoalState:
    """Return whether ``goal.clean`` of the last ``goal.of`` counted rounds were clean, with ``left`` rounds to come.

    A goal once reached stays reached. Rounds that could not be judged are left out; before a goal is given up
    (``lost``) they count as clean, since a video may still show it.
    """
    counted = [result.clean for result in results if result.counted]
    if _is_reached([clean for clean in counted if clean is not None], goal):
        return "reached"
    at_best = [clean is not False for clean in counted] + [True] * left
    return "open" if _is_reached(at_best, goal) else "lost"


def goal_text(results: Sequence[RoundResult], goal: Goal, left: int) -> str:
    """Return one sentence on the goal, with ``left`` rounds to come. A goal is a game and proves little: so few rounds
    say little about the habit behind them, and nobody has failed by one. What is out of reach is for the next
    series."""
    asked = tr("{clean} clean of {of}", clean=goal.clean, of=goal.of)
    match goal_state(results, goal, left):
        case "reached":
            return tr("Goal reached: {asked}.", asked=asked)
        case "lost":
            if not left:
                return tr("Goal: {asked} is for the next series.", asked=asked)
            return trn(
                "Goal: {asked} is for the next series, with {count} round left in this one.",
                "Goal: {asked} is for the next series, with {count} rounds left in this one.", left, asked=asked,
            )
        case _:
            return trn(
                "Goal: {asked}, open, with {count} round left.", "Goal: {asked}, open, with {count} rounds left.", left,
                asked=asked,
            )


def _is_reached(outcomes: Sequence[bool], goal: Goal) -> bool:
    """Return whether, after any of these rounds, enough of the last ones were clean."""
    return any(sum(outcomes[max(0, end - goal.of) : end]) >= goal.clean for end in range(1, len(outcomes) + 1))
