"""Answer whether matches go as practice does, and these weeks as those before: contacts, and how soon pushes end. Pure.

Nobody drew by lot what was practice and what was a match, or what was played when: people, robots and opponents differ
too. So there is an interval of the difference, and no verdict.

In a drill a push is on in every round and the lot moves calls, in matches a push is on in about half and no call is
moved. So contacts are those of rounds and matches whose call found a push on, and of rounds that were as planned. Times
are from the call to the end of such a push anyway, wherever the lot put the call.

Rounds of one evening are alike, and so are matches of one event day. Of shares the difference's limits are Newcombe's
for as many rounds as they are worth. Of middle values evenings are drawn anew. Fewer than eight tell too little of how
evenings differ: there rounds are drawn anew within each, and each evening is moved as evenings of practice differ, but
at least by a tenth of all variance (simulated: 91 to 100 % for a single event day).
"""

import math
import zlib
from collections.abc import Sequence
from datetime import date

import msgspec
import numpy as np

from tocsin.analysis.order_statistics import Values
from tocsin.analysis.review.answer import Answer, Figure, Lacking
from tocsin.analysis.review.rounds import MATCHES, Rounds, evening_of, why_not
from tocsin.analysis.seasons.evening_means import FEWEST_TO_DRAW
from tocsin.analysis.seasons.pooling import components_of
from tocsin.analysis.seasons.ranks import median_of
from tocsin.analysis.seasons.row import Row
from tocsin.analysis.seasons.season_share import SeasonShare, difference_of, season_share
from tocsin.analysis.shares import CONFIDENCE

FEWEST_MATCHES = 8                     # and as many rounds of practice
FEWEST_EVENINGS = 3                    # of practice: fewer do not tell how evenings differ
_DAYS, _FEWEST_OF_WEEKS = 28, 2        # of the weeks up to the last evening, and evenings in them
_LEAST_ALIKE = 0.1                     # correlation of rounds of an evening that is reckoned with at least
_DRAWS = 1000
_SHORTEST_S = 0.05                     # as which a push counts that the call just met


def matches_answer(rounds: Rounds) -> Answer:
    """Return figures of ``practice`` and of each ``match``, and the ``difference``, match less practice: ``contact``,
    the share where a push was on at the call, and ``break_off``, seconds from the call to the end of the push.

    ``rounds`` are those of a drill, with the matches among its others; a review of matches alone asks nothing.
    """
    if rounds.drill == MATCHES:
        return Answer(question="matches")
    played = [row for row in rounds.others if row.game == rounds.game and row.kind not in ("drill", "reaction")]
    matches = [row for row in played if not why_not(row, played)]
    figures: list[Figure] = []
    missing: list[Lacking] = []
    for name, is_known, compared in (
        ("contact", _is_pressed, _contacts), ("break_off", _has_time, _times),
    ):  # fmt: skip
        practice, match = ([row for row in group if is_known(row)] for group in (rounds.count, matches))
        lack = _lacking(name, practice, match)
        if lack is None:
            figures += compared(practice, match, ("practice", "match"))
        elif practice or not (rounds.count or name == "break_off"):    # a drill without pushes is not compared
            missing.append(lack)
    return Answer(question="matches", figures=tuple(figures), lacking=tuple(missing))


def weeks_figures(rounds: Rounds) -> list[Figure]:
    """Return as ``weeks`` how soon pushes end after the call in the four up to the last evening, ``now``, in the four
    ``before``, and the ``difference``; nothing where either has too few."""
    known = [row for row in rounds.count if _has_time(row)]
    if not known:
        return []
    last = _day(rounds.count[-1])
    now = [row for row in known if (last - _day(row)).days < _DAYS]
    before = [row for row in known if _DAYS <= (last - _day(row)).days < 2 * _DAYS]
    if any(len(rows) < FEWEST_MATCHES or len(_by_evening(rows)) < _FEWEST_OF_WEEKS for rows in (now, before)):
        return []
    return [msgspec.structs.replace(one, name="weeks") for one in _times(before, now, ("before", "now"))]


def _day(row: Row) -> date:
    return date.fromisoformat(evening_of(row)[:10])


def _is_pressed(row: Row) -> bool:
    """Return whether the call found a push on, as planned, and contacts are known."""
    return row.push_at_call is True and row.contacts is not None and row.is_as_planned


def _has_time(row: Row) -> bool:
    return row.break_off_at_least_s is not None


def _lacking(name: str, practice: Sequence[Row], matches: Sequence[Row]) -> Lacking | None:
    """Return what is missing, None if nothing is: matches first, since they come by the calendar alone."""
    if (more := FEWEST_MATCHES - len(matches)) > 0:
        days = len({evening_of(row) for row in matches})
        return Lacking(
            question="matches", figure=name, of="difference", counted="matches", more=more,
            evenings=math.ceil(more / (len(matches) / days)) if days else 1,
        )  # fmt: skip
    evenings = len({evening_of(row) for row in practice})
    each = len(practice) / evenings if evenings else FEWEST_MATCHES
    more = max(FEWEST_EVENINGS - evenings, math.ceil((FEWEST_MATCHES - len(practice)) / each))
    if more <= 0:
        return None
    return Lacking(
        question="matches", figure=name, of="difference", counted="evenings", more=more, evenings=more
    )


def _contacts(practice: Sequence[Row], matches: Sequence[Row], names: tuple[str, str]) -> list[Figure]:
    """Return the shares; limits reach from none of the rounds that only a video can tell having had a contact to all
    of them, and the difference's own value lies in the middle of that."""
    figures = []
    for of, rows in zip(names, (practice, matches), strict=True):
        least, most = _share(rows, 0.0), _share(rows, 1.0)
        share, at_most = (one.count / one.rounds for one in (least, most))
        figures.append(_figure(
            "contact", of, rows, share, least.low, most.high, count=int(least.count),
            at_most=at_most if at_most > share else None,
        ))  # fmt: skip
    low = difference_of(_share(matches, 0.0), _share(practice, 1.0)).low
    high = difference_of(_share(matches, 1.0), _share(practice, 0.0)).high
    there, usual = (_share(rows, 0.5) for rows in (matches, practice))
    apart = there.count / there.rounds - usual.count / usual.rounds
    return [*figures, _figure("contact", "difference", [*practice, *matches], apart, low, high)]


def _share(rows: Sequence[Row], unclear: float) -> SeasonShare:
    """Return the share of rounds with a contact; one that only a video can tell counts so much."""
    return season_share([
        (sum(1.0 if row.contacts else unclear * bool(row.contacts_unclear) for row in group), len(group))
        for group in _by_evening(rows)
    ])


def _times(practice: Sequence[Row], matches: Sequence[Row], names: tuple[str, str]) -> list[Figure]:
    found = []
    middles = []
    for of, rows in zip(names, (practice, matches), strict=True):
        lows, highs = [_low(row) for row in rows], [_high(row) for row in rows]
        median = median_of(lows, highs, [evening_of(row) for row in rows])
        middles.append((median.at_least + median.at_most) / 2)
        found.append(_figure("break_off", of, rows, middles[-1], median.low, median.high))
    low, high = _limits(practice, matches)
    apart = middles[1] - middles[0] if all(map(math.isfinite, middles)) else math.nan
    return [*found, _figure("break_off", "difference", [*practice, *matches], apart, low, high)]


def _limits(practice: Sequence[Row], matches: Sequence[Row]) -> tuple[float, float]:
    """Return the limits of the difference of the middle values, in seconds; they hold whatever lies between bounds."""
    spread = _evening_spread(practice)
    seed = zlib.crc32(repr([(_low(row), _high(row)) for row in (*practice, *matches)]).encode())
    usual = _drawn(practice, spread, seed)
    there = _drawn(matches, spread, seed + 1)
    tails = ((1 - CONFIDENCE) / 2, (1 + CONFIDENCE) / 2)
    # The least that a match took, less the most that practice did; and the other way about.
    with np.errstate(invalid="ignore"):
        below, above = there[0] - usual[1], there[1] - usual[0]
    low = np.quantile(np.where(np.isnan(below), -math.inf, below), tails[0], method="lower")
    high = np.quantile(np.where(np.isnan(above), math.inf, above), tails[1], method="higher")
    return float(low), float(high)


def _drawn(rows: Sequence[Row], spread: float, seed: int) -> tuple[Values, Values]:
    """Return middle values of rounds drawn anew, by lower and by upper bounds, each of shape (draws,)."""
    rng = np.random.default_rng(seed)
    groups = [np.array([(_low(row), _high(row)) for row in group]) for group in _by_evening(rows)]
    if len(groups) >= FEWEST_TO_DRAW:
        padded = np.full((len(groups), max(map(len, groups)), 2), np.nan)
        for place, group in enumerate(groups):
            padded[place, :len(group)] = group
        drawn = padded[rng.integers(len(groups), size=(_DRAWS, len(groups)))].reshape(_DRAWS, -1, 2)
    else:
        moved = np.exp(spread * rng.standard_normal((len(groups), _DRAWS, 1, 1)))
        drawn = np.concatenate([
            group[rng.integers(len(group), size=(_DRAWS, len(group)))] * by
            for group, by in zip(groups, moved, strict=True)
        ], axis=1)  # fmt: skip
    return _medians(drawn[..., 0]), _medians(drawn[..., 1])


def _medians(drawn: Values) -> Values:
    """Return the medians of rows of values, shape (rows, values), of which NaN is none; infinite ones are kept."""
    ordered, n = np.sort(drawn, axis=1), np.sum(~np.isnan(drawn), axis=1)
    at = np.arange(len(ordered))
    found: Values = (ordered[at, (n - 1) // 2] + ordered[at, n // 2]) / 2
    return found


def _evening_spread(practice: Sequence[Row]) -> float:
    """Return how far evenings differ: the standard deviation of the logarithm of their times."""
    noted = [row for row in practice if _low(row) == _high(row)]
    groups = [[math.log(max(_low(row), _SHORTEST_S)) for row in group] for group in _by_evening(noted)]
    try:
        found = components_of(groups)
    except ValueError:                     # nearly all are known within bounds alone, or all are the same
        return 0.0
    alike = max(found.between / (found.between + found.within), _LEAST_ALIKE)
    return math.sqrt(found.within * alike / (1 - alike))


def _by_evening(rows: Sequence[Row]) -> list[list[Row]]:
    groups: dict[str, list[Row]] = {}
    for row in rows:
        groups.setdefault(evening_of(row), []).append(row)
    return list(groups.values())


def _low(row: Row) -> float:
    return row.break_off_at_least_s or 0.0


def _high(row: Row) -> float:
    return math.inf if row.break_off_at_most_s is None else row.break_off_at_most_s


def _figure(
    name: str, of: str, rows: Sequence[Row], value: float, low: float | None, high: float | None, *,
    count: int | None = None, at_most: float | None = None,
) -> Figure:  # fmt: skip
    def told(one: float | None) -> float | None:
        return one if one is not None and math.isfinite(one) else None

    return Figure(
        name=name, unit="share" if name == "contact" else "s", of=of, value=told(value), low=told(low), high=told(high),
        at_most=at_most, count=count, rounds=len(rows), evenings=len({evening_of(row) for row in rows}),
    )  # fmt: skip
