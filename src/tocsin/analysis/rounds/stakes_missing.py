"""What would have met a threshold: the smallest additions to a round's events."""

from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from itertools import combinations_with_replacement

import msgspec

from tocsin.analysis.rounds.stakes_home import STATES
from tocsin.model.game import ALLIANCE, By, Stake

MOST_TOGETHER = 4              # of different kinds; longer lists help nobody
MOST_ALONE = 50                # of one kind

# For each stake, how many events of each robot count.
Counts = Mapping[str, Counter[By]]
_Event = tuple[str, By]


class Missing(msgspec.Struct, frozen=True, kw_only=True):
    """``times`` more events with a label; ``title`` says in the game's words what that is."""

    label: str
    title: str
    times: int


def total(stakes: Sequence[Stake], counts: Counts) -> int:
    """Return the points of stakes whose events are ``counts``."""
    return sum(
        stake.points * stake.times(sum(counts[stake.id][by] for by in stake.by if by in counts[stake.id]))
        for stake in stakes
    )


def missing(stakes: Sequence[Stake], counts: Counts, points: int) -> tuple[tuple[Missing, ...], ...]:
    """Return the additions with which these stakes would come to ``points``, the shortest first.

    None of them holds another; empty if there are none of a length that helps. A robot that was half home and is now
    thought of as home is no longer half home.
    """
    found: list[Counter[str]] = []
    for events in _additions(stakes):
        kinds = Counter(label for label, _ in events)
        if not any(known <= kinds for known in found) and total(stakes, _with(stakes, counts, events)) >= points:
            found.append(kinds)
    return tuple(tuple(_missing(stakes, label, times) for label, times in kinds.items()) for kinds in found)


def _additions(stakes: Sequence[Stake]) -> Iterator[tuple[_Event, ...]]:
    """Yield sets of events that a round might have had besides, the small ones first."""
    events = _events(stakes)
    for size in range(1, MOST_TOGETHER + 1):
        yield from combinations_with_replacement(events, size)
    for size in range(MOST_TOGETHER + 1, MOST_ALONE + 1):
        yield from ((event,) * size for event in events if event[0] not in STATES)


def _events(stakes: Sequence[Stake]) -> list[_Event]:
    """Return the kinds of event that add something; of robots that make no difference only the first."""
    kinds: dict[tuple[object, ...], _Event] = {}
    for stake in stakes:
        for by in (by for by in ALLIANCE if by in stake.by):
            added = tuple(other.id for other in stakes if other.label == stake.label and by in other.by)
            alike = (stake.label, by) if stake.label in STATES else added
            kinds.setdefault(alike, (stake.label, by))
    return list(kinds.values())


def _with(stakes: Sequence[Stake], counts: Counts, events: Sequence[_Event]) -> Counts:
    """Return the counts with these events besides. A robot has one state, so that of two for one only one adds."""
    after = {stake.id: Counter(counts[stake.id]) for stake in stakes}
    for label, by in events:
        for stake in stakes:
            if label in STATES and stake.label in STATES:
                after[stake.id][by] = int(stake.label == label)
            elif stake.label == label:
                after[stake.id][by] += 1
    return after


def _missing(stakes: Sequence[Stake], label: str, times: int) -> Missing:
    first = min((stake for stake in stakes if stake.label == label), key=lambda stake: stake.every)
    return Missing(label=label, title=first.title, times=times)
