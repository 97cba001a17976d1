"""Choose the runs that a review is of, and answer the coach's questions to them."""

from collections.abc import Iterable, Sequence

import msgspec

from tocsin.analysis.review.answer import Review
from tocsin.analysis.review.evening import evening_review
from tocsin.analysis.review.rounds import evening_of
from tocsin.analysis.seasons.row import Row
from tocsin.config.toml.phrases import listing
from tocsin.errors import UsageError
from tocsin.features.records.run_list import Wanted
from tocsin.translation import tr

_MOST_NAMED = 4


class ReviewRequest(msgspec.Struct, frozen=True, kw_only=True):
    """The request of the command line: the name of an ``evening``, empty for the newest one, and a filter."""

    evening: str = ""
    wanted: Wanted = Wanted()


class Chosen(msgspec.Struct, frozen=True, kw_only=True):
    """A review, and the ``rows`` that it was made of."""

    review: Review
    rows: tuple[Row, ...]


def reviewed(rows: Iterable[Row], wish: ReviewRequest) -> tuple[Chosen, ...]:
    """Return what is asked for, nothing where no run fits.

    Raises UsageError if there is no evening of that name.
    """
    found = tuple(row for row in rows if row.kind != "reaction" and wish.wanted.fits(row))
    if not found:
        return ()
    return (_evening(found, wish.evening),)


def _evening(rows: Sequence[Row], name: str) -> Chosen:
    names = sorted({evening_of(row) for row in rows})
    if name and name not in names:
        newest = listing(names[: -_MOST_NAMED - 1 : -1])
        raise UsageError(
            tr("there is no evening {name} among these runs", name=name), hint=tr("the newest: {newest}", newest=newest)
        )
    own = tuple(row for row in rows if evening_of(row) == (name or names[-1]))
    return Chosen(review=evening_review(own), rows=own)
