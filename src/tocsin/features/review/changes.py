"""Say what was changed in a season, and what followed: each evening with its changes, the contacts before and after."""

from tocsin.analysis.review.answer import Answer
from tocsin.analysis.review.changes import LEAD, ChangedEvening, changed_evenings
from tocsin.analysis.review.rounds import Rounds
from tocsin.analysis.review.words.answers import line, not_yet
from tocsin.analysis.review.words.changes import change_words
from tocsin.translation import tr, trn

_MOST = 4                              # the newest


def change_texts(rounds: Rounds) -> list[str]:
    """Return a paragraph for each evening with changes, the newest first, and what nobody can tell by them; nothing
    without a change."""
    changed = changed_evenings(rounds)
    texts = [_text(one) for one in reversed(changed)]
    if not texts:
        return []
    left = len(texts) - _MOST
    more = [trn("And {count} change before.", "And {count} changes before.", left)] if left > 0 else []
    return [*texts[:_MOST], *more, *_caution(changed)]


def _text(one: ChangedEvening) -> str:
    return tr(
        "{evening}: {changes} Before: {then} After: {now}", evening=one.evening,
        changes=" ".join(map(change_words, one.changes)), then=_contacts(one.before), now=_contacts(one.after),
    )


def _contacts(answer: Answer) -> str:
    """Return contacts in words, or what is missing for that."""
    return line(answer) or " ".join(not_yet(one) for one in answer.lacking) or tr("nothing is known.")


def _caution(changed: tuple[ChangedEvening, ...]) -> list[str]:
    """Return that nothing of it was drawn by lot; and of a lead why advice may say otherwise."""
    lot = tr("This was not drawn by lot: people, robots and opponents differ too.")
    if not any(change.what == LEAD for one in changed for change in one.changes):
        return [lot]
    both = tr(
        "These lines count contacts alone; `tocsin advise` also counts the play that a longer lead costs, so it may "
        "want another one."
    )
    return [f"{lot} {both}"]
