"""The numbers of a page, each with what it is, its limits, or what is missing for it. Pure."""

from collections.abc import Callable, Sequence
from typing import NamedTuple

from tocsin.analysis.review.answer import Answer, Figure, Lacking, Question, Review
from tocsin.analysis.review.times import SEVERAL_LEADS
from tocsin.analysis.review.words.answers import more_words
from tocsin.analysis.review.words.numbers import (
    HOME_ZERO,
    early,
    limits_early,
    limits_of_100,
    limits_s,
    points,
    seconds,
    unclear_of,
)
from tocsin.export.drawing.fitting import Type, fitted
from tocsin.export.drawing.look import Look
from tocsin.export.drawing.shapes import BLACK, DIM, ShapeRow, joined, stacked
from tocsin.translation import tr, trn

MOST_CELLS = 6
_OF_LEAD = ("margin", "margin_nine_in_ten", "on_at_lead")
_LINES = 4                             # of a name, or of limits


class Cell(NamedTuple):
    """A number as people read it: what it is, itself, in which limits, and what else belongs to it."""

    name: str
    number: str
    limits: str
    beside: str = ""


class _Wanted(NamedTuple):
    """A figure that a page tells, and how it is written."""

    question: Question
    figure: str
    name: str
    number: Callable[[Figure], str]
    limits: Callable[[Figure], str]


def _share(figure: Figure) -> str:
    if figure.count is None:
        return tr("{share:.0f} of 100", share=100 * (figure.value or 0.0))
    return tr("{count} of {rounds}", count=figure.count, rounds=figure.rounds)


def _home(figure: Figure) -> str:
    return tr("unknown") if figure.value is None else early(figure.value, HOME_ZERO)


def _early(figure: Figure) -> str:
    return tr("unknown") if figure.value is None else early(figure.value)


def _seconds(figure: Figure) -> str:
    return tr("unknown") if figure.value is None else seconds(figure.value)


def _points(figure: Figure) -> str:
    return tr("unknown") if figure.value is None else (
        tr("1 point") if points(figure.value) == "1" else tr("{points} points", points=points(figure.value))
    )


def _limits_of_points(figure: Figure) -> str:
    if figure.at_most is not None and (figure.low is None or figure.high is None):
        return tr("up to {most} if a video shows contact", most=points(figure.at_most))
    if figure.low is None or figure.high is None:
        return ""                                      # all rounds cost the same
    return tr("{low:.1f} to {high:.1f}", low=figure.low, high=figure.high)


def _no_limits(figure: Figure) -> str:
    return ""


_WANTED = (
    _Wanted("contact", "contact", tr("Rounds with contact"), _share, limits_of_100),
    _Wanted("break_off", "margin", tr("Pushes off, middle value"), _early, limits_early),
    _Wanted("break_off", "margin_nine_in_ten", tr("Nine in ten pushes, at worst"), _early, _no_limits),
    _Wanted("turn", "turn", tr("Turn after the call, middle value"), _seconds, limits_s),
    _Wanted("home", "home_full", tr("Rounds home in time"), _share, limits_of_100),
    _Wanted("cost", "cost", tr("Given to the opponents in a round"), _points, _limits_of_points),
    _Wanted("break_off", "on_at_lead", tr("Pushes still on as the window began"), _share, limits_of_100),
    _Wanted("home", "home_margin", tr("Home before the end, middle value"), _home, limits_early),
    _Wanted("turn", "turn_nine_in_ten", tr("Nine in ten turns, at worst"), _seconds, _no_limits),
)  # fmt: skip
_OF_MATCHES = {
    "contact": tr("Matches with contact"), "home_full": tr("Matches home in time"), "cost": tr("Cost of a match"),
}  # fmt: skip


def cells(review: Review) -> list[Cell]:
    """Return at most six numbers, in the order of their worth; what is not told yet stands there with what it lacks."""
    told, missing = [], []
    for wanted in _WANTED:
        answer = review.answer(wanted.question)
        figure = answer.figure(wanted.figure) if answer else None
        lacking = next((one for one in answer.lacking if one.figure == wanted.figure), None) if answer else None
        if figure is not None:
            limits = wanted.limits(figure)
            beside = _beside(figure, answer) if answer else ""
            shown = f"({limits})" if limits else ""
            told.append((wanted, Cell(_called(wanted, answer), wanted.number(figure), shown, beside)))
        elif lacking is not None:
            missing.append((wanted, Cell(_called(wanted, answer), tr("not yet"), _missing(lacking))))
    kept = [*told, *missing][:MOST_CELLS]
    return [cell for _, cell in sorted(kept, key=lambda one: _WANTED.index(one[0]))]


def _called(wanted: _Wanted, answer: Answer | None) -> str:
    of_matches = answer is not None and answer.counts == "matches"
    return _OF_MATCHES.get(wanted.figure, wanted.name) if of_matches else wanted.name


def _beside(figure: Figure, answer: Answer) -> str:
    """Return of how many more rounds only a video tells whether there was a contact; or for which of several leads a
    margin is."""
    if figure.name == "contact" and (unclear := unclear_of(figure)):
        return tr("{count} more: only a video can tell", count=unclear)
    lead = answer.figure("lead")
    if figure.name in _OF_LEAD and answer.verdict == SEVERAL_LEADS and lead and lead.value is not None:
        return tr("at lead {seconds:g} s", seconds=lead.value)
    return ""


def _missing(lacking: Lacking) -> str:
    if lacking.counted == "evenings" or not lacking.more:
        return trn("{count} more evening", "{count} more evenings", lacking.evenings) if lacking.evenings else ""
    return more_words(lacking)


def grid(found: Sequence[Cell], look: Look) -> ShapeRow:
    """Return the numbers side by side, in as many rows as they need."""
    style = look.style
    apart_mm = 1.2 * look.em_mm
    width_mm = (style.inner_mm - (style.columns - 1) * apart_mm) / style.columns
    rows = []
    for first in range(0, len(found), style.columns):
        of = found[first : first + style.columns]
        # Numbers stand on one line, however long their names are.
        for kind in (_name, _number, _limits):
            drawn = [kind(cell, width_mm, look) for cell in of]
            placed = [one.parts.moved(place * (width_mm + apart_mm), 0.0) for place, one in enumerate(drawn)]
            rows.append(ShapeRow(joined(placed), max(one.height_mm for one in drawn)))
        rows.append(look.room(0.9 * look.em_mm))
    return stacked(rows[:-1])


def _name(cell: Cell, width_mm: float, look: Look) -> ShapeRow:
    return look.text(cell.name, width_mm, look.em_mm, "detail", lines=_LINES)


def _number(cell: Cell, width_mm: float, look: Look) -> ShapeRow:
    kind = Type(look.style.number_em, look.em_mm, bold=True, lines=2)
    fit = fitted(cell.number, width_mm, kind, look.pen.letters)
    return ShapeRow(look.pen.written(fit, "reading").parts, fit.height_mm + 0.1 * look.em_mm)


def _limits(cell: Cell, width_mm: float, look: Look) -> ShapeRow:
    """Return what belongs to a number, and below it its limits."""
    return stacked([
        look.text(text, width_mm, look.em_mm, "second", grey=grey, lines=_LINES)
        for text, grey in ((cell.beside, BLACK), (cell.limits, DIM)) if text
    ])  # fmt: skip
