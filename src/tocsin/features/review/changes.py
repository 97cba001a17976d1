"""What was changed in a season, and what followed: each change of a lead, with the contacts before and after. Pure.

Nobody drew by lot when a lead was changed, so there are two shares and no verdict.
"""

from collections.abc import Sequence

import msgspec

from tocsin.analysis.review.outcomes import contact_answer
from tocsin.analysis.review.rounds import Rounds, evening_of
from tocsin.analysis.review.words.answers import line, not_yet
from tocsin.features.review.pictures.evenings import lead_changes
from tocsin.translation import tr, trn

_MOST = 4                              # the newest


def change_texts(rounds: Rounds) -> list[str]:
    """Return a paragraph for each change, the newest first, and that nothing of it was drawn by lot; nothing without a
    change."""
    changes = lead_changes(rounds)
    texts = []
    for place, change in reversed(list(enumerate(changes))):
        since = changes[place - 1].evening if place else ""
        until = changes[place + 1].evening if place + 1 < len(changes) else None
        before = [name for name in rounds.evenings if since <= name < change.evening]
        after = [name for name in rounds.evenings if change.evening <= name and (until is None or name < until)]
        texts.append(tr(
            "{evening}: the lead went from {before:g} to {after:g} s. Before: {then} After: {now}",
            evening=change.evening, before=change.before_s, after=change.after_s, then=_contacts(rounds, before),
            now=_contacts(rounds, after),
        ))  # fmt: skip
    if not texts:
        return []
    left = len(texts) - _MOST
    more = [trn("And {count} change before.", "And {count} changes before.", left)] if left > 0 else []
    return [*texts[:_MOST], *more, tr("This was not drawn by lot: people, robots and opponents differ too.")]


def _contacts(rounds: Rounds, evenings: Sequence[str]) -> str:
    """Return the contacts of these evenings in words, or what is missing for that."""
    played = tuple(row for row in rounds.played if evening_of(row) in evenings)
    count = tuple(row for row in rounds.count if evening_of(row) in evenings)
    answer = contact_answer(msgspec.structs.replace(rounds, played=played, count=count), season=True)
    return line(answer) or " ".join(not_yet(one) for one in answer.lacking) or tr("nothing is known.")
