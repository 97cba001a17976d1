"""What evening and season pages have in common: head, headline, lists, foot. Pure; lengths in mm."""

import itertools
from collections.abc import Iterable, Mapping, Sequence

from tocsin.analysis.review.answer import Lacking, Question, Review
from tocsin.analysis.review.headline import flags, headline
from tocsin.analysis.review.rounds import own_leads_s
from tocsin.analysis.review.words.answers import MOST_NOT_YET, details, legend, line, not_yet_lines
from tocsin.analysis.seasons.row import Row
from tocsin.export.drawing.look import Look
from tocsin.export.drawing.shapes import BLACK, DIM, OutlinedBox, Parts, ShapeRow, stacked
from tocsin.export.source import MADE_BY
from tocsin.features.review.told import crews, left_out_words, title
from tocsin.translation import tr, trn

_LINE_MM = 0.5
_MOST_DETAILS = 4
_MOST_LEADS = 4                        # that are named, in their order
_APART_EM = 0.15                       # paragraphs of a list


def head(review: Review, rows: Sequence[Row], names: Mapping[str, str], look: Look) -> ShapeRow:
    """Return what was played and when, with whom if ``names`` by key say so, and how good the records are."""
    style = look.style
    facts = [tr("plan {plan}", plan=plan) for plan in review.plans if plan]
    facts += _leads(rows)
    trust = review.answer("trust")
    texts = [" · ".join(facts), *_people(review, rows, names), line(trust) if trust else ""]
    return stacked([
        look.text(title(review), style.inner_mm, style.title_em, "title", bold=True),
        *(look.text(text, style.inner_mm, look.em_mm, "detail") for text in texts if text),
    ])  # fmt: skip


def _leads(rows: Sequence[Row]) -> list[str]:
    """Return the plan's own leads of the call in the order in which they were in force; of very many the last ones."""
    own = own_leads_s(rows)
    found = [f"{lead_s:g}" for lead_s, _ in itertools.groupby(own[row.folder] for row in rows if row.folder in own)]
    if not found:
        return []
    said = tr("lead {seconds} s", seconds=found[0])
    for lead in found[1:]:
        said = tr("{leads}, then {seconds} s", leads=said, seconds=lead)
    if len(found) > _MOST_LEADS:
        said = tr("{count} leads, the last {seconds} s", count=len(set(found)), seconds=found[-1])
    return [said]


def _people(review: Review, rows: Sequence[Row], names: Mapping[str, str]) -> list[str]:
    """Return who played: by crews on an evening, where a crew's letter names somebody; else all of them."""
    if review.scope == "evening":
        return list(crews(rows, review, names))
    known = [names[key] for key in people_of(rows) if key in names]
    return [tr("with {people}", people=", ".join(known))] if known else []


def people_of(rows: Iterable[Row]) -> tuple[str, ...]:
    """Return the keys of the people in rows, in the order in which they come."""
    return tuple(dict.fromkeys(key for row in rows for key in row.people.values()))


def creator(rows: Iterable[Row], names: Mapping[str, str]) -> str:
    """Return what made a file, with the keys of those whose names it shows: so it is found if a name is forgotten."""
    return " ".join([MADE_BY, *sorted(key for key in people_of(rows) if key in names)])


def bold_sentence(review: Review, look: Look) -> ShapeRow:
    """Return the one sentence that matters, between two lines, and below it what else is wrong with the records."""
    said = headline(review)
    return ruled(said, [flag for flag in flags(review) if flag != said], look)


def ruled(said: str, notes: Sequence[str], look: Look) -> ShapeRow:
    """Return a bold sentence with notes below it, between two lines."""
    style = look.style
    rule = OutlinedBox(x_mm=0.0, y_mm=0.0, width_mm=style.inner_mm, height_mm=_LINE_MM, kind="line", fill=BLACK)
    between = ShapeRow(Parts(boxes=(rule,)), _LINE_MM)
    return stacked([
        between, look.room(0.5 * look.em_mm),
        look.text(said, style.inner_mm, style.headline_em, "word", bold=True),
        *(look.text(note, style.inner_mm, look.em_mm, "note") for note in notes),
        look.room(0.2 * look.em_mm), between,
    ])  # fmt: skip


def lackings(review: Review) -> list[Lacking]:
    """Return what is not told yet, what takes least first."""
    return list(review.unknown)


def not_yet_list(found: Sequence[Lacking], most: int, look: Look) -> ShapeRow:
    """Return the list of what is not told yet, ``most`` of it at most; then it says how many more there are."""
    style = look.style
    texts = not_yet_lines(found, min(most, MOST_NOT_YET))
    return stacked([look.text(text, style.inner_mm, look.em_mm, "list") for text in texts], _APART_EM * look.em_mm)


def told_beside(review: Review, question: Question, rows: Sequence[Row], look: Look) -> ShapeRow:
    """Return what else the answer to a question tells: the odd rounds with what odd is, what the lot compared; the
    first few of it."""
    answer = review.answer(question)
    texts = details(answer, rows) if answer and review.trusted else ()
    if answer and texts and question == "odd":
        texts = (*lines_beside(review, [question]), *texts)
    left = len(texts) - _MOST_DETAILS
    shown = [*texts[:_MOST_DETAILS], *([trn("And {count} more.", "And {count} more.", left)] if left > 0 else [])]
    width_mm = look.style.inner_mm
    return stacked([look.text(text, width_mm, look.em_mm, "list") for text in shown], _APART_EM * look.em_mm)


def lines_beside(review: Review, questions: Iterable[Question]) -> list[str]:
    """Return the sentences of these questions that are told and are not the one that stands above all."""
    answers = (review.answer(one) for one in questions)
    said = headline(review)
    return [text for answer in answers if answer and (text := line(answer)) and text != said]


def left_out(review: Review, look: Look) -> ShapeRow:
    """Return how many rounds are left out of all figures, and why."""
    if not review.left_out:
        return look.room(0.0)
    reasons = "; ".join(left_out_words(one) for one in review.left_out)
    return look.text(tr("Left out: {reasons}.", reasons=reasons), look.style.inner_mm, look.em_mm, "list")


def foot(look: Look) -> ShapeRow:
    """Return what holds for all numbers, and who says what to change."""
    said = " ".join((*legend(), tr("What to change: tocsin advise.")))
    return look.text(said, look.style.inner_mm, look.em_mm, "print", grey=DIM)


def titled(heading: str, texts: Sequence[str], look: Look) -> list[ShapeRow]:
    """Return a heading with the first text, and the others, which may stand on the next page."""
    style = look.style
    title = look.text(heading, style.inner_mm, style.heading_em, "heading", bold=True)
    rows = [look.text(text, style.inner_mm, look.em_mm, "list") for text in texts]
    return [stacked([title, rows[0]]), *rows[1:]]
