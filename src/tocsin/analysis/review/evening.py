"""Put the answers to an evening together."""

from collections.abc import Iterable, Sequence

import msgspec

from tocsin.analysis.review.answer import Answer, Review, Scope
from tocsin.analysis.review.home import home_answer
from tocsin.analysis.review.odd import odd_answer
from tocsin.analysis.review.outcomes import contact_answer, cost_answer
from tocsin.analysis.review.rounds import BREAK_OFF, Rounds, own_leads_s, rounds_of
from tocsin.analysis.review.times import break_off_answer, turn_answer
from tocsin.analysis.review.trust import is_trusted, trust_answer
from tocsin.analysis.seasons.row import Row


def evening_review(rows: Iterable[Row], *, drill: str | None = None, season: Iterable[Row] = ()) -> Review:
    """Return what one evening came to; of several drills that were played, of ``drill``, or the one played most.

    An empty ``drill`` stands for matches. ``season`` are all rows, that evening's too: whether a round was odd is told
    only beside what is usual. Raises ValueError for rows of several evenings.
    """
    rounds = rounds_of(rows, drill)
    if len(rounds.evenings) > 1:
        raise ValueError("an evening's review is of one evening")
    trust = trust_answer(rounds)
    if not is_trusted(trust):
        return review_of("evening", rounds, [trust], trusted=False)
    answers = [
        trust, contact_answer(rounds), break_off_answer(rounds), turn_answer(rounds), home_answer(rounds),
        cost_answer(rounds),
    ]  # fmt: skip
    of_game = [row for row in season if row.game == rounds.game]
    if of_game:
        answers.append(odd_answer(rounds_of(of_game, rounds.drill), rounds.evenings[0]))
    return review_of("evening", rounds, answers)


def review_of(scope: Scope, rounds: Rounds, answers: Sequence[Answer], *, trusted: bool = True) -> Review:
    """Return answers as a review of these rounds, without those to what was not asked of them."""
    own = own_leads_s(rounds.played)
    leads = [{**row.leads_s, **({BREAK_OFF: own[row.folder]} if row.folder in own else {})} for row in rounds.played]
    same = {name: value for name, value in (leads[0] if leads else {}).items()
            if all(one.get(name) == value for one in leads)}  # fmt: skip
    return Review(
        scope=scope, evenings=rounds.evenings, drills=(rounds.drill,) if rounds.drill else (),
        plans=tuple(dict.fromkeys(row.plan for row in rounds.played)), leads_s=same, trusted=trusted,
        answers=tuple(
            one if rounds.drill else _of_matches(one) for one in answers if one.figures or one.lacking
        ), left_out=rounds.left_out,
    )  # fmt: skip


def _of_matches(answer: Answer) -> Answer:
    """Return an answer that says matches where others say rounds."""
    lacking = tuple(
        msgspec.structs.replace(one, counted="matches") if one.counted == "rounds" else one for one in answer.lacking
    )
    return msgspec.structs.replace(answer, counts="matches", lacking=lacking)
