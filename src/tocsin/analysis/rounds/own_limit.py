"""The limit that a crew sets itself: within which it turned in its own first rounds of a session.

A figure for all crews is out of reach for one and no task for another, since people, robots and scribes differ by more
than a second. So a drill may ask a crew to go on as it began: of its first ``ROUNDS`` rounds that count, and in which
somebody noted the turn, the ``PLACE``-th fastest is the limit from then on. One that went wrong does not move it, and a
crew of steady speed stays within it four times in six, since a new round is as likely to fall on any of the six places
among five. Until then the turn is not judged. The limit holds the scribe's lag, as the rounds that are judged by it do.

It stands in the journal of each round that is judged by it: marks that are added later to the first rounds move no
limit by which others were judged.
"""

from collections.abc import Iterable
from typing import Annotated

import msgspec

from tocsin.analysis.rounds.result import RoundResult
from tocsin.analysis.rounds.rule import seconds
from tocsin.model.drill import OWN_ROUNDS, Clean
from tocsin.translation import tr
from tocsin.units import NS_PER_S

ROUNDS, PLACE = OWN_ROUNDS, 4
_STEP_NS = NS_PER_S // 10              # a limit is a figure that people can say
_MOST_NS = 24 * 3600 * NS_PER_S        # of a limit in a header that may come from anywhere


class OwnLimit(msgspec.Struct, frozen=True, kw_only=True):
    """What a crew's first rounds of a session had come to as a round began: ``turned_ns`` after the call is the limit
    for the turn, None while only so many ``rounds`` of those that set it were known."""

    turned_ns: Annotated[int, msgspec.Meta(ge=0, le=_MOST_NS)] | None = None
    rounds: Annotated[int, msgspec.Meta(ge=0, le=ROUNDS)] = 0


def own_limit(results: Iterable[RoundResult]) -> OwnLimit:
    """Return what rounds of one crew come to that stand in the series, in their order. The limit is rounded up to a
    tenth of a second."""
    turns_ns = [result.turn_ns for result in results if result.counted and result.turn_ns is not None][:ROUNDS]
    if len(turns_ns) < ROUNDS:
        return OwnLimit(rounds=len(turns_ns))
    tenths = -(-sorted(turns_ns)[PLACE - 1] // _STEP_NS)
    return OwnLimit(turned_ns=max(0, tenths * _STEP_NS), rounds=ROUNDS)


def with_own(rule: Clean, limit: OwnLimit | None) -> Clean:
    """Return a rule with the crew's own limit where it asks for one."""
    return msgspec.structs.replace(rule, turned_ns=limit.turned_ns) if rule.turned_own and limit else rule


def limit_text(limit: OwnLimit) -> str:
    """Return a sentence for a round that comes: by which limit it is judged, or that it sets one."""
    if limit.turned_ns is None:
        return tr(
            "The first {rounds} rounds set your limit for the turn: {rounds_2} of {rounds} so far.", rounds=ROUNDS,
            rounds_2=limit.rounds,
        )
    return tr(
        "Your limit: turned within {turned}, from your first {rounds} rounds.", turned=seconds(limit.turned_ns),
        rounds=limit.rounds,
    )


def round_text(before: OwnLimit, result: RoundResult) -> str:
    """Return a sentence for a round's result: by which limit it was judged, or how many rounds of those that set it
    are known with this one; nothing for a round that does not count and sets none."""
    if before.turned_ns is not None:
        return limit_text(before)
    if not result.counted:
        return ""
    if result.turn_ns is None:
        return tr("Nobody noted the turn: this round sets no limit.")
    return tr(
        "These rounds set your limit for the turn: {rounds} of {rounds_2}.", rounds=before.rounds + 1, rounds_2=ROUNDS,
    )
