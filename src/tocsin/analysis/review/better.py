"""Answer whether one of two values that the drill dealt by lot is better: the coach's question 10. Pure.

Rounds that people chose tell nothing here: a pair is two rounds of one block of the lot (``Row.block``). A block in
which a round does not count, was cancelled, repeated or never played is left out and counted beside, and so is a pair
of which nobody knows an outcome, or knows a time only within bounds: harmless while people decide that by what
happened, not by the card. Blocks at half speed were never meant to count.

Whoever asks much finds something. So one question is named before its evenings are played, and takes evidence of 20
for each pair of its values; all that is shown beside it shares one more chance in twenty. Values are compared by the
seconds until a push ended, or until the turn, whichever the drill gives; those of the question by all outcomes. Beside
what is better by time stand the contacts of both: who breaks off sooner may touch more.
"""

import math
import statistics
from collections.abc import Iterable, Mapping, Sequence
from itertools import combinations
from typing import NamedTuple

from tocsin.analysis.review.answer import Answer, Comparison, Figure, Lacking, Outcome, Verdict
from tocsin.analysis.seasons.evidence import (
    NO_MATTER_S,
    Dealt,
    Evidence,
    evidence_of_seconds,
    evidence_of_yes,
    needed_beside,
    pairs_for,
    pairs_for_shares,
    pairs_of,
)
from tocsin.analysis.seasons.row import Row, Value
from tocsin.analysis.seasons.season_share import season_share
from tocsin.model.project import Asked, Question

FEWEST_PAIRS = 5
#: The factors by what a project calls them, in the order in which they are told.
FACTORS: dict[Asked, str] = {
    "coach": "coach", "setup": "setup", "shift": "shift_s", "draw_out": "draw_out", "plan": "plan_dealt",
}  # fmt: skip
USUAL_SPREAD_S = 0.6                   # of a round's times, where few pairs tell; common practice, no source
_USUAL_PAIRS = 10                      # that the usual spread weighs
_NO_MATTER_SHARE = 0.1                 # for a smaller difference of contacts nobody is told to wait
_FEWEST_EVENINGS = 3                   # that have limits of a share
_SECONDS: tuple[Outcome, ...] = ("break_off", "turn")
_IDS: Mapping[str, Verdict] = {
    "not yet": "not_yet", "better": "better", "surely better": "surely_better",
    "no difference that matters": "no_difference",
}  # fmt: skip
_BY_STRENGTH: tuple[Verdict, ...] = ("surely_better", "better", "not_yet", "no_difference")

_Blocks = Sequence[Sequence[Row]]


class _Pair(NamedTuple):
    """The two rounds of a block, in the order of the values."""

    first: Row
    second: Row


class _Compared(NamedTuple):
    """Two values of a factor and an outcome: the pairs with their differences; see ``Comparison``. ``evenings`` is
    how many dealt both."""

    factor: str
    first: Value
    second: Value
    outcome: Outcome
    pairs: tuple[_Pair, ...]
    differences: tuple[float, ...]
    left_out: int
    bounded: int
    evenings: int

    @property
    def of(self) -> str:
        """What tells it apart in figures and JSON."""
        return f"{self.factor}: {value_text(self.first)} / {value_text(self.second)}: {self.outcome}"

    @property
    def values(self) -> tuple[str, Value, Value]:
        """What is compared, whatever by."""
        return self.factor, self.first, self.second


def better_answer(rows: Iterable[Row], question: Question | None = None) -> Answer:
    """Return the comparisons of all that was dealt by lot: their evidence and, of seconds, the limits of the difference
    at any time.

    The question of the month begins at zero with the first evening after the day on which it was named; without such a
    day it comes first, but is one among the others.
    """
    rows = sorted(rows, key=lambda row: row.wall)
    asked = FACTORS[question.asks] if question else None
    since = question.since if question else ""
    named: list[_Compared] = []
    beside: list[_Compared] = []
    contacts: dict[tuple[str, Value, Value], _Compared] = {}
    for factor in FACTORS.values():
        if factor != asked:
            by_outcome = _by_outcome(rows, factor)
            contacts.update(_contacts(by_outcome))
            beside += next(iter(by_outcome), [])
            continue
        by_outcome = _by_outcome([row for row in rows if (row.evening or row.local or row.wall)[:10] > since], factor)
        contacts.update(_contacts(by_outcome))
        named = by_outcome[0] if by_outcome and since else []
        beside[:0] = [one for group in by_outcome[bool(named):] for one in group]
    told = [
        *(_told(one, needed_beside(len(named)), contacts.get(one.values), named=True) for one in named),
        *(_told(one, needed_beside(len(beside)), contacts.get(one.values), named=False) for one in beside),
    ]
    lacking = [one for _, _, missing in told for one in missing]
    if not (named if since else told):
        lacking.insert(0, Lacking(question="better", figure="evidence", counted="pairs", more=FEWEST_PAIRS, evenings=1))
    comparisons = tuple(one for one, _, _ in told)
    return Answer(
        question="better", figures=tuple(figure for _, figures, _ in told for figure in figures),
        lacking=tuple(lacking), verdict=_verdict(comparisons, asked=bool(since)), comparisons=comparisons,
    )  # fmt: skip


def value_text(value: Value) -> str:
    """Return a value that was dealt as comparisons name it; seconds with their sign."""
    return value if isinstance(value, str) else f"{value:+g} s" if value else "0 s"


def _by_outcome(rows: Sequence[Row], factor: str) -> list[list[_Compared]]:
    """Return the comparisons of each two values of a factor, a list an outcome; the one first by which they are
    compared where only one is."""
    found: dict[Outcome, list[_Compared]] = {}
    for outcome in (*_SECONDS, "contact"):
        giving = {row.drill for row in rows if row.counted and _gives(row, outcome)}
        if compared := _compared([row for row in rows if row.drill in giving], factor, outcome):
            found[outcome] = compared
    # Times of a drill that asks for both are hardly ever known both alike: a push may end before the call.
    if "turn" in found and 2 * _count(found.get("break_off", ())) < _count(found["turn"]):
        found = {"turn": found.pop("turn"), **found}
    return list(found.values())


def _compared(rows: Sequence[Row], factor: str, outcome: Outcome) -> list[_Compared]:
    blocks: dict[tuple[str, str, int], list[Row]] = {}
    values: dict[str, set[Value]] = {}
    for row in rows:
        block = row.block(factor)
        if block and factor in row.dealt:
            blocks.setdefault(block, []).append(row)
            values.setdefault(row.drill, set()).add(row.dealt[factor])
    # In the order in which they were over: then a later evening never changes what an earlier one found.
    over = sorted(blocks.values(), key=lambda block: block[-1].wall)
    both = {two for dealt in values.values() for two in combinations(sorted(dealt, key=_order), 2)}
    return [
        _of_values([block for block in over if {*two} <= values[block[0].drill]], factor, two, outcome)
        for two in sorted(both, key=lambda two: (_order(two[0]), _order(two[1])))
    ]


def _of_values(blocks: _Blocks, factor: str, values: tuple[Value, Value], outcome: Outcome) -> _Compared:
    """Return two values side by side, one pair a block."""
    first, second = values
    pairs: list[_Pair] = []
    dealt: list[Dealt] = []
    bounded = 0
    evenings = set()
    for block in blocks:
        two = [row for row in block if row.dealt[factor] in values]
        if any(row.half_speed for row in two):
            continue
        evenings |= {row.evening for row in two}
        known = [_outcome(row, outcome) for row in two]
        dealt += [
            Dealt(row.block(factor), value_text(row.dealt[factor]), value)
            for row, value in zip(two, known, strict=True)
        ]
        if len(two) == 2 and two[0].dealt[factor] != two[1].dealt[factor]:
            if None not in known:
                pairs.append(_Pair(*sorted(two, key=lambda row: row.dealt[factor] != first)))
            elif all(value is not None or _is_bounded(row, outcome) for row, value in zip(two, known, strict=True)):
                bounded += 1
    found = pairs_of(dealt, value_text(first), value_text(second))
    return _Compared(
        factor, first, second, outcome, tuple(pairs), found.differences, found.left_out, bounded, len(evenings)
    )


def _contacts(by_outcome: Sequence[Sequence[_Compared]]) -> dict[tuple[str, Value, Value], _Compared]:
    """Return what is compared by contact, by what it is."""
    return {one.values: one for group in by_outcome for one in group if one.outcome == "contact"}


def _told(
    compared: _Compared, needed: float, contacts: _Compared | None, *, named: bool
) -> tuple[Comparison, list[Figure], list[Lacking]]:
    """Return a comparison with its figures, and what it lacks; beside what is better by time the ``contacts``."""
    weigh = evidence_of_seconds if compared.outcome in _SECONDS else evidence_of_yes
    found = weigh(compared.differences, needed=needed)
    verdict = _IDS[found.verdict]
    less = ""
    if verdict in ("better", "surely_better"):
        less = value_text(compared.second if found.sign < 0 else compared.first)
    comparison = Comparison(
        of=compared.of, factor=compared.factor, first=value_text(compared.first), second=value_text(compared.second),
        outcome=compared.outcome, named=named, verdict=verdict, less=less, needed=needed, pairs=found.pairs,
        left_out=compared.left_out, bounded=compared.bounded,
    )  # fmt: skip
    if found.pairs < FEWEST_PAIRS:
        return comparison, [], [_lacking(compared, "difference", FEWEST_PAIRS - found.pairs)]
    lacking = [_lacking(compared, "evidence", _more(compared, found))] if verdict == "not_yet" else []
    figures = _figures(compared, found)
    if less and contacts and contacts.pairs and compared.outcome in _SECONDS:
        figures += _shares(contacts, compared.of)
    return comparison, figures, lacking


def _figures(compared: _Compared, found: Evidence) -> list[Figure]:
    pairs, of = compared.pairs, compared.of
    rounds, evenings = 2 * len(pairs), len({pair.first.evening for pair in pairs})
    evidence = Figure(
        name="evidence", unit="evidence", value=found.evidence, of=of, rounds=rounds, evenings=evenings
    )
    if compared.outcome in _SECONDS:
        assert found.low is not None
        assert found.high is not None
        # Where a difference changed in mid-season its limits of all looks may have crossed: then there are none.
        limited = found.low <= found.high
        return [evidence, Figure(
            name="difference", unit="s", value=statistics.fmean(compared.differences), of=of,
            low=found.low if limited and math.isfinite(found.low) else None,
            high=found.high if limited and math.isfinite(found.high) else None, rounds=rounds, evenings=evenings,
        )]  # fmt: skip
    return [evidence, *_shares(compared, of)]


def _shares(compared: _Compared, of: str) -> list[Figure]:
    """Return the share of rounds with a contact of each value."""
    evenings = len({pair.first.evening for pair in compared.pairs})
    return [
        _share([pair[place] for pair in compared.pairs], f"{of}: {value_text(value)}", evenings)
        for place, value in enumerate((compared.first, compared.second))
    ]


def _share(rows: Sequence[Row], of: str, evenings: int) -> Figure:
    """Return the share of rounds with a contact; its limits are those over evenings."""
    by_evening: dict[str, list[float]] = {}
    for row in rows:
        by_evening.setdefault(row.evening, []).append(float(bool(row.contacts)))
    found = season_share([(sum(group), len(group)) for group in by_evening.values()])
    limited = evenings >= _FEWEST_EVENINGS
    return Figure(
        name="contact", unit="share", value=found.count / found.rounds, of=of, low=found.low if limited else None,
        high=found.high if limited else None, count=int(found.count), rounds=len(rows), evenings=evenings,
    )  # fmt: skip


def _more(compared: _Compared, found: Evidence) -> int | None:
    """Return about how many more pairs it takes if all goes on as so far; but a difference that does not matter is
    looked for no longer than the least one that does. None if no season is long enough."""
    differences = compared.differences
    if compared.outcome in _SECONDS:
        mean, total = statistics.fmean(differences), math.fsum(differences)
        squares = math.fsum(one * one for one in differences)
        usual = 2 * USUAL_SPREAD_S**2
        spread2 = (_USUAL_PAIRS * usual + squares - mean * total) / (_USUAL_PAIRS + len(differences) - 1)
        return pairs_for(
            max(abs(mean), NO_MATTER_S), math.sqrt(spread2), needed=found.needed, total=abs(total), squares=squares
        )
    more, fewer = (sum(one * side > 0 for one in differences) for side in (1, -1))
    first, second = (
        (sum(bool(pair[place].contacts) for pair in compared.pairs) + 0.5) / (len(differences) + 1) for place in (0, 1)
    )
    if abs(second - first) < _NO_MATTER_SHARE:
        middle = min(max((first + second) / 2, _NO_MATTER_SHARE / 2), 1 - _NO_MATTER_SHARE / 2)
        first, second = middle - _NO_MATTER_SHARE / 2, middle + _NO_MATTER_SHARE / 2
        more, fewer = max(more, fewer), min(more, fewer)
    return pairs_for_shares(first, second, needed=found.needed, more=more, fewer=fewer)


def _lacking(compared: _Compared, figure: str, more: int | None) -> Lacking:
    """Return what is missing, with the evenings that it takes at as many pairs an evening as so far."""
    evenings = 0
    if more:
        an_evening = len(compared.pairs) / compared.evenings if compared.pairs else 1
        evenings = math.ceil(more / an_evening)
    return Lacking(
        question="better", figure=figure, of=compared.of, counted="pairs", more=more or 0, evenings=evenings
    )


def _verdict(comparisons: Sequence[Comparison], *, asked: bool) -> str:
    """Return the strongest verdict of the question, or of all if none was named."""
    verdicts = {one.verdict for one in comparisons if one.named or not asked}
    return next((verdict for verdict in _BY_STRENGTH if verdict in verdicts), "")


def _gives(row: Row, outcome: Outcome) -> bool:
    """Return whether a round shows that its drill gives an outcome: a turn that only home bounds was not asked for."""
    if outcome == "contact":
        return row.push_at_call is True or bool(row.contacts)
    low, high = _bounds(row, outcome)
    return low is not None and low == high


def _outcome(row: Row, outcome: Outcome) -> float | None:
    """Return what a round came to, in seconds or as 0 and 1; None if it does not count, or nobody knows exactly."""
    if not _counts(row):
        return None
    if outcome == "contact":
        open_ones = not row.contacts and row.contacts_unclear
        return None if row.contacts is None or open_ones else float(row.contacts > 0)
    low, high = _bounds(row, outcome)
    return low if low == high else None


def _is_bounded(row: Row, outcome: Outcome) -> bool:
    return outcome in _SECONDS and _counts(row) and _bounds(row, outcome)[0] is not None


def _counts(row: Row) -> bool:
    """Return whether a round counts, and somebody watched it."""
    return row.counted and bool(row.watched)


def _bounds(row: Row, outcome: Outcome) -> tuple[float | None, float | None]:
    if outcome == "turn":
        return row.turn_at_least_s, row.turn_at_most_s
    return row.break_off_at_least_s, row.break_off_at_most_s


def _count(compared: Sequence[_Compared]) -> int:
    return sum(len(one.pairs) for one in compared)


def _order(value: Value) -> tuple[bool, float, str]:
    return (True, 0.0, value) if isinstance(value, str) else (False, value, "")
