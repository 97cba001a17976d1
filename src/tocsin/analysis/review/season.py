"""Put the answers to a season together, or to all matches."""

from collections.abc import Iterable

from tocsin.analysis.review.answer import Answer, Review, Scope
from tocsin.analysis.review.better import better_answer
from tocsin.analysis.review.evening import review_of
from tocsin.analysis.review.home import home_answer
from tocsin.analysis.review.matches import matches_answer
from tocsin.analysis.review.odd import odd_answer
from tocsin.analysis.review.outcomes import contact_answer, cost_answer
from tocsin.analysis.review.rounds import MATCHES, Rounds, rounds_of
from tocsin.analysis.review.times import break_off_answer, turn_answer
from tocsin.analysis.review.trends import learning_answer, tired_answer
from tocsin.analysis.review.trust import is_trusted, trust_answer
from tocsin.analysis.seasons.row import Row
from tocsin.model.project import Question


def season_review(rows: Iterable[Row], *, drill: str | None = None, question: Question | None = None) -> Review:
    """Return what all evenings came to; of several drills that were played, of ``drill``, or the one played most.

    An empty ``drill`` stands for matches. ``question`` is the question of the month.
    """
    rounds = rounds_of(rows, drill)
    scope: Scope = "season" if rounds.drill != MATCHES or not rounds.played else "matches"
    trust = trust_answer(rounds)
    if not is_trusted(trust):
        return review_of(scope, rounds, [trust], trusted=False)
    answers = [
        trust, contact_answer(rounds, season=True), break_off_answer(rounds, season=True), turn_answer(rounds),
        home_answer(rounds, season=True), cost_answer(rounds, season=True), *_over_evenings(rounds, question),
    ]  # fmt: skip
    return review_of(scope, rounds, answers)


def _over_evenings(rounds: Rounds, question: Question | None) -> tuple[Answer, ...]:
    """Return the answers to what only several evenings can tell."""
    return (
        odd_answer(rounds), tired_answer(rounds), learning_answer(rounds), matches_answer(rounds),
        better_answer(rounds.played, question),
    )  # fmt: skip
