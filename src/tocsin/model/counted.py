"""Count marks: of each statement those of the best source, and what two scribes saw of one push as one mark.

A statement is a label and whose it was; home, half and none are one. Scribes are told apart by where their marks come
from: each board is one, all keys and buttons of the laptop together are one (``scribe_of``).

Two marks of different scribes are one mark
    * if they begin no further apart than a scribe may be late (``error_ns``, else ``SCRIBE_ERROR_NS``);
    * of two spans also if they overlap, however late one of them begins;
    * of a point and a span also if the point lies in it, or within that error of its end.

    A push whose end nobody noted is a point here: whoever forgot a finger on a pad has not seen all that came later.

Two marks of one scribe are never one
    whoever notes two touches has seen two. So a second scribe never takes away what the first has counted. Where each
    may be one with several of the other's, they pair in the order of time, and so that they lie close together.

The one mark lasts from the earliest begin to the latest end, and its source names all that saw it. Points stay a point,
at the earliest, since people note late and not early. An end that one noted counts instead of one that nobody did.

Home, half and none are states: the later one holds (``analysis.rounds.stakes.settled``). Of two scribes who say
different ones of one moment, as above, the lesser holds: whoever tapped again has looked again, and a tap that comes
some tenths of a second later is no news.
"""

from collections.abc import Iterable, Iterator, Sequence
from functools import lru_cache
from typing import NamedTuple

from tocsin.model.mark import LATER, OBSERVED, SCRIBE_ERROR_NS, STATES, VIDEO, Mark, scribe_of, standing_places
from tocsin.units import Ns

KEYED = 2                              # the rank of what scribes note as it happens
_RANKS = {VIDEO: 0, LATER: 1, OBSERVED: 1}
_BETWEEN = ", "                        # stands between the sources of one mark
# Nobody notes so many that all lie close together; a file of somebody else's may, and must not take for ever.
_MOST_TOGETHER = 100


class Merged(Mark, frozen=True, kw_only=True):
    """One mark that several scribes noted; ``latest_ns`` is the latest of their begins."""

    latest_ns: Ns


class Counted(NamedTuple):
    """A mark that results count, and the places among a run's marks of those that it is made of."""

    mark: Mark
    places: tuple[int, ...]


def counted(marks: Sequence[Mark]) -> tuple[Counted, ...]:
    """Return the marks that results count, in the order of the places at which they were first noted: of those that
    hold, by statement, the ones of the best source alone, each push once.

    What was seen in a video counts instead of what was added later without one, and that instead of what a scribe
    noted: who marks a push by key and again by video has seen one push. A run that was logged from a video is added to
    by hand: there both count.
    """
    held = standing_places(marks)
    best: dict[tuple[str, str], int] = {}
    for place in held:
        what = statement(marks[place])
        best[what] = min(rank(marks[place]), best.get(what, rank(marks[place])))
    said: dict[tuple[str, str], list[Counted]] = {}
    for place in held:
        if rank(marks[place]) == best[statement(marks[place])]:
            said.setdefault(statement(marks[place]), []).append(Counted(marks[place], (place,)))
    found = [one for of_one in said.values() for one in merged(of_one)]
    return tuple(sorted(found, key=lambda one: one.places))


def counted_places(marks: Sequence[Mark]) -> tuple[int, ...]:
    """Return the places of the marks that results count, those too that are one with another."""
    return tuple(sorted(place for one in counted(marks) for place in one.places))


def counted_marks(marks: Sequence[Mark]) -> tuple[Mark, ...]:
    """Return the marks that results count, each push once."""
    return tuple(one.mark for one in counted(marks))


def is_again(marks: Sequence[Mark]) -> bool:
    """Return whether the last of these marks says what another scribe has said."""
    last = len(marks) - 1
    return any(last in one.places and len(one.places) > 1 for one in counted(marks))


def statement(mark: Mark) -> tuple[str, str]:
    """Return what a mark is about: its label, of home, half and none the first, and whose it was."""
    return STATES[0] if mark.label in STATES else mark.label, "us" if mark.by == "" else mark.by


def rank(mark: Mark) -> int:
    """Return how good a mark's source is: 0 is the best, ``KEYED`` what a scribe noted as it happened."""
    return _RANKS.get(sources(mark)[0], KEYED)


def sources(mark: Mark) -> tuple[str, ...]:
    """Return where a mark came from; one that several scribes saw has several."""
    return tuple(mark.source.split(_BETWEEN))


def scribes(mark: Mark) -> frozenset[str]:
    """Return the scribes who noted a mark."""
    return _scribes(mark.source)


@lru_cache(maxsize=1024)
def _scribes(source: str) -> frozenset[str]:
    return frozenset(scribe_of(one) for one in source.split(_BETWEEN))


def merged(seen: Iterable[Counted]) -> list[Counted]:
    """Return the marks of one statement and rank with those of different scribes that are one made one."""
    found: list[Counted] = []
    for together in _close_together(sorted(seen, key=_order)):
        found += _merged(together) if len(together) <= _MOST_TOGETHER else together
    return found


def _merged(seen: Sequence[Counted]) -> list[Counted]:
    by_scribe: dict[frozenset[str], list[Counted]] = {}
    for one in seen:
        by_scribe.setdefault(scribes(one.mark), []).append(one)
    if len(by_scribe) == 1:
        return list(seen)
    found: list[Counted] = []
    for scribe in sorted(by_scribe, key=sorted):
        found = sorted(_paired(found, by_scribe[scribe]), key=_order)
    while (pair := _still_one(found)) is not None:         # what became one may reach what neither part did
        rest = [one for one in found if one not in pair]
        found = sorted([*rest, _one(*pair)], key=_order)
    return found


def _close_together(seen: Sequence[Counted]) -> Iterator[list[Counted]]:
    """Yield marks in order of their begins in lists, so that none is one with a mark of another list."""
    together: list[Counted] = []
    reach_ns = most_ns = 0
    for one in seen:
        most_ns = max(most_ns, _error_ns(one.mark))
        if together and one.mark.begin_ns - reach_ns > most_ns:
            yield together
            together = []
        reach_ns = max(reach_ns, _end_ns(one.mark)) if together else _end_ns(one.mark)
        together.append(one)
    if together:
        yield together


def _paired(left: Sequence[Counted], right: Sequence[Counted]) -> Iterator[Counted]:
    """Yield the marks of two lists, both in the order of time, with those that are one made one: of all ways to pair
    them in that order the one with the greatest gain."""
    gains = [[0] * (len(right) + 1) for _ in range(len(left) + 1)]
    for i in reversed(range(len(left))):
        for j in reversed(range(len(right))):
            gain = _gain(left[i].mark, right[j].mark)
            both = gain + gains[i + 1][j + 1] if gain else 0
            gains[i][j] = max(both, gains[i + 1][j], gains[i][j + 1])
    i = j = 0
    while i < len(left) and j < len(right):
        gain = _gain(left[i].mark, right[j].mark)
        if gain and gains[i][j] == gain + gains[i + 1][j + 1]:
            yield _one(left[i], right[j])
            i, j = i + 1, j + 1
        elif gains[i][j] == gains[i + 1][j]:
            yield left[i]
            i += 1
        else:
            yield right[j]
            j += 1
    yield from left[i:]
    yield from right[j:]


def _still_one(seen: Sequence[Counted]) -> tuple[Counted, Counted] | None:
    """Return the two marks that are one and lie closest together, or None."""
    most_ns = max(_error_ns(one.mark) for one in seen)
    found, best = None, 0
    for place, one in enumerate(seen):
        for other in seen[place + 1 :]:
            if other.mark.begin_ns - _end_ns(one.mark) > most_ns:
                break                      # all that follow begin later still
            gain = _gain(one.mark, other.mark)
            if gain > best:
                found, best = (one, other), gain
    return found


def _gain(one: Mark, other: Mark) -> int:
    """Return what it is worth to make two marks one, 0 where they are not.

    Two pairs that each lie as far apart as may be are worth more than one pair without a gap: so two quick touches that
    the other scribe noted some tenths of a second later each stay two.
    """
    if scribes(one) & scribes(other) or not _is_one(one, other):
        return 0
    most_ns = 2 * max(_error_ns(one), _error_ns(other))
    return most_ns - min(most_ns, _apart_ns(one, other)) + 1


def _is_one(one: Mark, other: Mark) -> bool:
    error_ns = max(_error_ns(one), _error_ns(other))
    if _apart_ns(one, other) <= error_ns:
        return True
    if one.label in STATES:
        return False
    if _is_span(one) and _is_span(other):
        return one.begin_ns < _end_ns(other) and other.begin_ns < _end_ns(one)
    return one.begin_ns - _end_ns(other) <= error_ns and other.begin_ns - _end_ns(one) <= error_ns


def _apart_ns(one: Mark, other: Mark) -> int:
    """Return how far apart the begins of two marks lie; those of a merged one lie from its first to its latest."""
    return max(0, one.begin_ns - _latest_ns(other), other.begin_ns - _latest_ns(one))


def _latest_ns(mark: Mark) -> int:
    return mark.latest_ns if isinstance(mark, Merged) else mark.begin_ns


def _one(one: Counted, other: Counted) -> Counted:
    both = sorted([one, other], key=_order)
    first, second = both[0].mark, both[1].mark
    spans = _is_span(first) or _is_span(second)
    ended = spans or _is_ended(first) or _is_ended(second)
    errors_ns = [mark.error_ns for mark in (first, second) if mark.error_ns is not None]
    mark = Merged(
        label=max(first.label, second.label, key=_degree),
        begin_ns=first.begin_ns,
        end_ns=max(_end_ns(first), _end_ns(second)) if spans else None,
        by=first.by,
        open=not ended and (first.open or second.open),
        error_ns=max(errors_ns) if len(errors_ns) == len(both) else None,
        source=_BETWEEN.join(sorted({*sources(first), *sources(second)})),
        pointlike=not ended and (first.pointlike or second.pointlike),
        latest_ns=max(_latest_ns(first), _latest_ns(second)),
    )
    return Counted(mark, tuple(sorted((*one.places, *other.places))))


def _degree(label: str) -> int:
    return STATES.index(label) if label in STATES else 0


def _error_ns(mark: Mark) -> int:
    return SCRIBE_ERROR_NS if mark.error_ns is None else mark.error_ns


def _end_ns(mark: Mark) -> int:
    return _latest_ns(mark) if mark.end_ns is None else max(_latest_ns(mark), mark.end_ns)


def _is_span(mark: Mark) -> bool:
    return mark.end_ns is not None and mark.end_ns > mark.begin_ns


def _is_ended(mark: Mark) -> bool:
    return mark.end_ns is not None or not (mark.open or mark.pointlike)


def _order(one: Counted) -> tuple[object, ...]:
    mark = one.mark
    error_ns = -1 if mark.error_ns is None else mark.error_ns
    return (
        mark.begin_ns, _end_ns(mark), mark.source, mark.label, mark.by, mark.open, mark.pointlike, error_ns, one.places,
    )  # fmt: skip
