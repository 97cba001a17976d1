"""Count the points of a round's marks: those charged, those gained, and which thresholds were met.

What counts
    A stake without ``during`` counts all its marks. One with ``during`` counts those that are inside that window for
    certain, a mark once however many of its spans it meets; unclear ones are counted neither way, and told beside.

    Home, half home, not home are states, not events: of one robot only the newest counts, and it holds until the run's
    end. A robot that was home before the window began is at home in it.
"""

from collections import Counter
from collections.abc import Iterable, Iterator, Mapping, Sequence
from functools import lru_cache
from itertools import combinations_with_replacement

import msgspec
from msgspec.structs import replace

from tocsin.analysis.rounds.overlaps import SCRIBE_ERROR_NS, Meeting, WindowTime, meeting
from tocsin.model.game import ALLIANCE, By, Game, Stake, Threshold
from tocsin.model.mark import STATES, Mark, standing

MOST_TOGETHER = 4              # of different kinds; longer lists help nobody
MOST_ALONE = 50                # of one kind
# For each stake, how many events of each robot count.
Counts = Mapping[str, Counter[By]]
_Event = tuple[str, By]
CountsKey = tuple[tuple[str, tuple[tuple[By, int], ...]], ...]


class Shortfall(msgspec.Struct, frozen=True, kw_only=True):
    """``times`` more events of a label are missing; ``title`` is the game's name for such an event."""

    label: str
    title: str
    times: int


def total(stakes: Sequence[Stake], counts: Counts) -> int:
    """Return the points of stakes with these ``counts`` of events."""
    return sum(
        stake.points * stake.times(sum(counts[stake.id][by] for by in stake.by if by in counts[stake.id]))
        for stake in stakes
    )


def missing(stakes: Sequence[Stake], counts: Counts, points: int) -> tuple[tuple[Shortfall, ...], ...]:
    """Return the additional events with which these stakes reach ``points``, the shortest lists first.

    No list contains another; there is none if no list of a useful length is enough. A robot that was half home and is
    counted as home in an addition is no longer half home.
    """
    found: list[Counter[str]] = []
    for events in _additions(stakes):
        kinds = Counter(label for label, _ in events)
        if not any(known <= kinds for known in found) and total(stakes, _with(stakes, counts, events)) >= points:
            found.append(kinds)
    return tuple(tuple(_missing(stakes, label, times) for label, times in kinds.items()) for kinds in found)


# Rounds of one game come to the same few counts again and again, and this takes nearly all of a result's time.
@lru_cache(maxsize=1024)
def _missing_once(stakes: tuple[Stake, ...], counts: CountsKey, points: int) -> tuple[tuple[Shortfall, ...], ...]:
    return missing(stakes, {stake: Counter(dict(of)) for stake, of in counts}, points)


def _key(counts: Counts) -> CountsKey:
    """Return counts as what equal counts have in common."""
    return tuple(sorted((stake, tuple(sorted(of.items()))) for stake, of in counts.items()))


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


def _missing(stakes: Sequence[Stake], label: str, times: int) -> Shortfall:
    first = min((stake for stake in stakes if stake.label == label), key=lambda stake: stake.every)
    return Shortfall(label=label, title=first.title, times=times)


HOME, HALF, NOT_HOME = STATES


def robot(mark: Mark) -> By:
    """Return whose robot a mark is about; a label that names none is ours."""
    if mark.is_ours:
        return "us"
    return "partner" if mark.by == "partner" else "opponent"


def settled(marks: Sequence[Mark], ended_ns: int) -> tuple[Mark, ...]:
    """Return the valid marks in the order of their begins; of each robot's ``STATES`` only the newest.

    That one becomes a span to the run's end. It begins at the first mark of this state, if no other state came in
    between: a second press of the same key adds nothing.
    """
    states: dict[By, Mark] = {}
    events: list[Mark] = []
    for mark in sorted(standing(marks), key=lambda mark: mark.begin_ns):
        if mark.label not in STATES:
            events.append(mark)
        elif robot(mark) not in states or states[robot(mark)].label != mark.label:
            states[robot(mark)] = mark
    held = [replace(mark, end_ns=max(ended_ns, mark.begin_ns), open=False) for mark in states.values()]
    return tuple(sorted((*events, *held), key=lambda mark: mark.begin_ns))


class Due(msgspec.Struct, frozen=True, kw_only=True):
    """How often one stake was due. ``points`` are for one time; ``times_at_most`` counts each unclear mark too;
    ``unclear`` are those marks, with their position against the stake's window."""

    stake: str
    title: str
    to_us: bool
    points: int
    times: int
    times_at_most: int
    unclear: tuple[Meeting, ...] = ()


class Reached(msgspec.Struct, frozen=True, kw_only=True):
    """Whether the ``points`` of a threshold were reached with ``have``; ``met`` None: only a video can tell.

    ``counts`` are the events that count so far, of ``stakes``.
    """

    threshold: str
    title: str
    points: int
    have: int
    met: bool | None
    stakes: tuple[Stake, ...] = ()
    counts: CountsKey = ()

    @property
    def would_have(self) -> tuple[tuple[Shortfall, ...], ...]:
        """The smallest additions that would have reached it, the shortest first; none if it was reached or no addition
        of a useful length is enough. They take far longer than all the rest of a result, and few ask for them."""
        return () if self.met else _missing_once(self.stakes, self.counts, self.points)


class Points(msgspec.Struct, frozen=True, kw_only=True):
    """The points of a round. ``cost`` went to the opponents, ``gain`` to us; ``cost_at_most`` and ``gain_at_most``
    count each unclear mark too."""

    dues: tuple[Due, ...] = ()
    thresholds: tuple[Reached, ...] = ()
    cost: int = 0
    gain: int = 0
    cost_at_most: int = 0
    gain_at_most: int = 0

    @property
    def net_points(self) -> int:
        """Gain minus cost, in points."""
        return self.gain - self.cost

    def against(self, other: "Points") -> int:
        """Return this round's net points minus those of ``other``."""
        return self.net_points - other.net_points


class _MarkCount(msgspec.Struct, frozen=True, kw_only=True):
    """The marks that one stake counts, for certain and not; without a window there is nothing to doubt."""

    stake: Stake
    inside: tuple[Mark, ...]
    unclear: tuple[Meeting, ...]

    def times(self, *, at_most: bool = False) -> int:
        return self.stake.times(len(self.inside) + (len(self.unclear) if at_most else 0))

    def worth(self, *, at_most: bool = False) -> int:
        return self.stake.points * self.times(at_most=at_most)


def points(
    game: Game,
    marks: Sequence[Mark],
    times: Iterable[WindowTime],
    *,
    ended_ns: int,
    error_ns: int = SCRIBE_ERROR_NS,
) -> Points:
    """Return the points of a run's marks, in a game whose windows were open at ``times``.

    ``ended_ns`` is the run's end; ``error_ns`` is the error of marks that carry none of their own.
    """
    counted, times = settled(marks, ended_ns), tuple(times)
    tallies = [_tally(stake, counted, times, ended_ns, error_ns) for stake in game.stakes]
    theirs = [tally for tally in tallies if tally.stake.to == "opponents"]
    ours = [tally for tally in tallies if tally.stake.to == "us"]
    return Points(
        dues=tuple(_due(tally) for tally in tallies),
        thresholds=tuple(_reached(threshold, tallies) for threshold in game.thresholds),
        cost=sum(tally.worth() for tally in theirs),
        gain=sum(tally.worth() for tally in ours),
        cost_at_most=sum(tally.worth(at_most=True) for tally in theirs),
        gain_at_most=sum(tally.worth(at_most=True) for tally in ours),
    )


def _tally(
    stake: Stake, marks: Sequence[Mark], times: Sequence[WindowTime], ended_ns: int, error_ns: int
) -> _MarkCount:
    counted = [mark for mark in marks if mark.label == stake.label and robot(mark) in stake.by]
    if not stake.during:
        return _MarkCount(stake=stake, inside=tuple(counted), unclear=())
    spans = [time for time in times if time.id == stake.during]
    if not spans:                                               # the window never came
        return _MarkCount(stake=stake, inside=(), unclear=())
    met = [meeting(mark, spans, ended_ns=ended_ns, error_ns=error_ns) for mark in counted]
    return _MarkCount(
        stake=stake,
        inside=tuple(found.mark for found in met if found.where == "inside"),
        unclear=tuple(found for found in met if found.where == "unclear"),
    )


def _due(tally: _MarkCount) -> Due:
    stake = tally.stake
    return Due(
        stake=stake.id,
        title=stake.title,
        to_us=stake.to == "us",
        points=stake.points,
        times=tally.times(),
        times_at_most=tally.times(at_most=True),
        unclear=tally.unclear,
    )


def _reached(threshold: Threshold, tallies: Sequence[_MarkCount]) -> Reached:
    counting = [tally for tally in tallies if tally.stake.id in threshold.counts]
    stakes = [tally.stake for tally in counting]
    counts: Counts = {tally.stake.id: Counter(robot(mark) for mark in tally.inside) for tally in counting}
    have = total(stakes, counts)
    at_most = sum(max(tally.worth(), tally.worth(at_most=True)) for tally in counting)
    met = True if have >= threshold.points else None if at_most >= threshold.points else False
    return Reached(
        threshold=threshold.id,
        title=threshold.title,
        points=threshold.points,
        have=have,
        met=met,
        stakes=tuple(stakes),
        counts=_key(counts),
    )
