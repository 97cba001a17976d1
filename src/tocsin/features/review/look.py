"""Say what a season tells of one thing that drills deal by lot, asked for on the command line.

It is a look: the question of the month is the project's, with its day, and takes the evidence that it took before.
"""

from collections.abc import Iterator

from tocsin.analysis.review.answer import Answer, Comparison
from tocsin.analysis.review.better import FACTORS
from tocsin.analysis.review.words.answers import not_yet
from tocsin.analysis.review.words.evidence import comparison_line
from tocsin.analysis.seasons.evidence import needed_beside
from tocsin.features.review.chosen import Chosen, ReviewRequest
from tocsin.translation import tr


def look_lines(chosen: Chosen, wish: ReviewRequest) -> tuple[str, ...]:
    """Return what is known of the thing to look at, a sentence a comparison; nothing where none was asked for."""
    if wish.look is None:
        return ()
    factor, answer, drills = FACTORS[wish.look], chosen.review.answer("better"), chosen.review.drills
    if not any(factor in row.dealt for row in chosen.rows if row.drill in drills):
        return (tr("A look at `{asked}`: no drill here dealt it by lot, so nothing compares it.", asked=wish.look),)
    is_asked = wish.question is not None and wish.question.asks == wish.look
    return (
        tr("Your question of the month, `{asked}`:", asked=wish.look) if is_asked
        else tr("A look at `{asked}`, not your question of the month:", asked=wish.look),
        *(f"  {line}" for line in _lines(answer, factor, is_asked=is_asked)),
    )  # fmt: skip


def _lines(answer: Answer | None, factor: str, *, is_asked: bool) -> Iterator[str]:
    found = [one for one in answer.comparisons if one.factor == factor] if answer else []
    if answer is None or not found:
        yield tr("Not yet: no pair of it counts so far.")
        return
    for one in found:
        lacking = next((each for each in answer.lacking if each.of == one.of), None)
        said = not_yet(lacking) if one.verdict == "not_yet" and lacking else comparison_line(answer, one)
        yield tr("{said} (Not your question of the month: it needs more evidence.)", said=said) if (
            not is_asked and _is_enough_for_a_question(answer, one)
        ) else said


def _is_enough_for_a_question(answer: Answer, one: Comparison) -> bool:
    """Return whether a comparison is only not told as better because nobody named it before its evenings."""
    evidence = answer.figure("evidence", one.of)
    beside = sum((other.factor, other.outcome) == (one.factor, one.outcome) for other in answer.comparisons)
    return (
        not one.named and one.verdict == "not_yet" and evidence is not None and evidence.value is not None
        and evidence.value >= needed_beside(beside)
    )
