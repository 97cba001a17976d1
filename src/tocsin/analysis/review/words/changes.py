"""Say what was changed in a season: a sentence a change, with the names of what was dealt."""

from collections.abc import Sequence

from tocsin.analysis.review.better import value_text
from tocsin.analysis.review.changes import LEAD, PLAN, SeasonChange
from tocsin.analysis.review.rounds import BREAK_OFF
from tocsin.analysis.review.words.evidence import value_words
from tocsin.analysis.seasons.row import Value
from tocsin.translation import tr


def change_words(change: SeasonChange) -> str:
    """Return what was changed as a sentence."""
    if change.what == LEAD:
        (before,), (after,) = change.before, change.after
        if change.name == BREAK_OFF:
            return tr("The lead went from {before:g} to {after:g} s.", before=before, after=after)
        return tr(
            "The lead {lead} went from {before:g} to {after:g} s.", lead=change.name, before=before, after=after
        )
    if change.what == PLAN:
        (before,), (after,) = change.before, change.after
        return tr("The plan was {after}, before that {before}.", after=after, before=before)
    before, after = _listed(change.what, change.before), _listed(change.what, change.after)
    if not change.before:
        return tr("From here on the lot dealt {after}.", after=after)
    if not change.after:
        return tr("The lot no longer dealt {before}.", before=before)
    return tr("The lot dealt {after}, before that {before}.", after=after, before=before)


def _listed(factor: str, values: Sequence[Value]) -> str:
    return "; ".join(value_words(factor, value_text(value)) for value in values)
