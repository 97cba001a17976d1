"""Write reviews as JSON: every figure with its limits, for other programs. ``schema.json`` beside it describes it.

The schema is the contract with those programs: a change of the types here, or of those that they hold, needs the same
change there, and a new ``Format`` once one is in use. ``tests/features/review/test_document.py`` compares the two.

No label and no name stands in it: people are keys, and a run's folder is named without what somebody called it. What
is in words, in the language of whoever asked, is called ``text``; all else is the same in every language.
"""

from collections.abc import Iterable
from pathlib import Path
from typing import Literal, get_args

import msgspec

from tocsin import __version__
from tocsin.analysis.review.answer import Answer, Comparison, Figure, Lacking, Question, Review, Scope
from tocsin.features.records.run_list import Wanted
from tocsin.journal.place import unlabelled

Format = Literal["tocsin-review/1"]


class Filter(msgspec.Struct, frozen=True, kw_only=True):
    """What was asked for; an empty text asks for everything. ``drill`` is part of a name, ``person`` a key, ``since``
    and ``until`` are dates of evenings, both inclusive."""

    drill: str = ""
    crew: str = ""
    person: str = ""
    since: str = ""
    until: str = ""


class AnswerFacts(msgspec.Struct, frozen=True, kw_only=True):
    """The answer to one question: the figures that may be told, what may not yet, and a verdict, empty where there is
    none. ``marked`` are runs that the answer points at, by their folders without the label; ``comparisons`` those of
    values that were dealt by lot."""

    question: Question
    figures: tuple[Figure, ...]
    lacking: tuple[Lacking, ...]
    verdict: str
    marked: tuple[str, ...]
    comparisons: tuple[Comparison, ...]


class LeftOutFacts(msgspec.Struct, frozen=True, kw_only=True):
    """How many rounds no figure rests on; ``text`` says why, in words."""

    text: str
    rounds: int


class ReviewFacts(msgspec.Struct, frozen=True, kw_only=True):
    """What an evening, a season or all matches came to. ``evenings`` are named by their dates, with a number behind the
    first of one date; ``leads_s`` are leads in seconds where all rounds have the same. ``trusted`` is false where so
    much is lost that nothing else is told."""

    scope: Scope
    evenings: tuple[str, ...]
    drills: tuple[str, ...]
    plans: tuple[str, ...]
    leads_s: dict[str, float]
    trusted: bool
    answers: tuple[AnswerFacts, ...]
    left_out: tuple[LeftOutFacts, ...]


class ReviewDocument(msgspec.Struct, frozen=True, kw_only=True):
    """Reviews of the runs of a team. ``invented`` is true of the example's. A figure's limits hold 95 times in 100;
    null is what nobody can tell, or a side without a limit."""

    format: Format
    version: str
    invented: bool
    filter: Filter
    reviews: tuple[ReviewFacts, ...]


def document_of(reviews: Iterable[Review], wanted: Wanted, *, invented: bool = False) -> ReviewDocument:
    """Return what is told of reviews as data."""
    return ReviewDocument(
        format=get_args(Format)[0],
        version=__version__,
        invented=invented,
        filter=Filter(
            drill=wanted.drill, crew=wanted.crew, person=wanted.person, since=wanted.since, until=wanted.until
        ),
        reviews=tuple(map(_facts, reviews)),
    )


def _facts(review: Review) -> ReviewFacts:
    return ReviewFacts(
        scope=review.scope, evenings=review.evenings, drills=review.drills, plans=review.plans,
        leads_s=review.leads_s, trusted=review.trusted, answers=tuple(map(_answer, review.answers)),
        left_out=tuple(LeftOutFacts(text=one.why, rounds=one.rounds) for one in review.left_out),
    )  # fmt: skip


def _answer(answer: Answer) -> AnswerFacts:
    return AnswerFacts(
        question=answer.question, figures=answer.figures, lacking=answer.lacking, verdict=answer.verdict,
        marked=tuple(unlabelled(Path(folder).name) for folder in answer.marked), comparisons=answer.comparisons,
    )  # fmt: skip
