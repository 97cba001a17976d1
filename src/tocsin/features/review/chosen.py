"""Choose the runs that a review is of, and answer the coach's questions to them."""

from collections.abc import Iterable, Sequence
from typing import Literal

import msgspec

from tocsin.analysis.review.answer import Review
from tocsin.analysis.review.evening import evening_review
from tocsin.analysis.review.rounds import MATCHES, evening_of
from tocsin.analysis.review.season import season_review
from tocsin.analysis.seasons.row import Row
from tocsin.config.toml.phrases import listing
from tocsin.errors import UsageError
from tocsin.features.records.run_list import Wanted
from tocsin.model.project import Asked, Question
from tocsin.translation import tr

_MOST_NAMED = 4


#: The newest evening and its season, one evening, a season, or all matches.
Of = Literal["newest", "evening", "season", "matches"]


class ReviewRequest(msgspec.Struct, frozen=True, kw_only=True):
    """The request of the command line: of what, the name of an ``evening`` (empty: the newest one), a filter, the
    question of the month, and another one to ``look`` at."""

    of: Of = "evening"
    evening: str = ""
    wanted: Wanted = Wanted()
    question: Question | None = None
    look: Asked | None = None


class Chosen(msgspec.Struct, frozen=True, kw_only=True):
    """A review, and the ``rows`` that it was made of."""

    review: Review
    rows: tuple[Row, ...]


def reviewed(rows: Iterable[Row], wish: ReviewRequest) -> tuple[Chosen, ...]:
    """Return what is asked for, nothing where no run fits: of the newest evening two, its own and its season's.

    Raises UsageError if there is no evening of that name.
    """
    found = tuple(row for row in rows if row.kind != "reaction" and wish.wanted.fits(row))
    if wish.of == "matches":
        found = tuple(row for row in found if not row.drill)
    if not found:
        return ()
    if wish.of in ("season", "matches"):
        return (_season(found, wish, MATCHES if wish.of == "matches" else None),)
    evening = _evening(found, wish.evening)
    if wish.of == "evening":
        return (evening,)
    return evening, _season(found, wish, next(iter(evening.review.drills), MATCHES))


def _evening(rows: Sequence[Row], name: str) -> Chosen:
    names = sorted({evening_of(row) for row in rows})
    if name and name not in names:
        newest = listing(names[: -_MOST_NAMED - 1 : -1])
        raise UsageError(
            tr("there is no evening {name} among these runs", name=name), hint=tr("the newest: {newest}", newest=newest)
        )
    own = tuple(row for row in rows if evening_of(row) == (name or names[-1]))
    return Chosen(review=evening_review(own, season=rows), rows=own)


def _season(rows: tuple[Row, ...], wish: ReviewRequest, drill: str | None) -> Chosen:
    return Chosen(review=season_review(rows, drill=drill, question=wish.question), rows=rows)
