"""The evidence that one of two things which the lot dealt is better, on a meter, hatched below what it takes. Pure.

What is shown beside the question of the month takes more evidence. So each is drawn as a share of what it takes: all
meters have one threshold.
"""

import math
from collections.abc import Sequence
from functools import partial
from typing import NamedTuple

from tocsin.analysis.review.answer import Answer, Comparison, Review
from tocsin.analysis.review.words.answers import not_yet
from tocsin.analysis.review.words.evidence import compared_words, comparison_line, value_words
from tocsin.analysis.seasons.evidence import NEEDED, SURE
from tocsin.export.drawing.fitting import Type, fitted
from tocsin.export.drawing.look import Look, Picture, Tall
from tocsin.export.drawing.plot import Frame, Scale, below_mm, level
from tocsin.export.drawing.shapes import BLACK, OutlinedBox, Parts, ShapeRow, joined, stacked
from tocsin.translation import tr, trn

_LOW = 1 / 20
_MOST_ROWS, _MOST_OF_ONE = 4, 12
_METER_EM, _BAR_EM = 1.3, 0.55
_BELOW_EM = 0.35
_NAME_LINES = 16
_HATCH = "////"


class _Meter(NamedTuple):
    """Two things that are compared, and how much evidence there is of what it takes."""

    of: Comparison
    evidence: float


def meter(review: Review, factor: str = "") -> Picture | None:
    """Return the meters of the question of the month, and of what has most evidence beside it; or all those of one
    ``factor``, of which everything is told beside them. None without pairs."""
    answer = review.answer("better")
    found = _meters(answer) if answer else []
    if factor:
        shown = tuple(one for one in found if one.of.factor == factor)[:_MOST_OF_ONE]
    else:
        shown = tuple(_told_most(found)[:_MOST_ROWS])
    if not answer or not shown:
        return None
    by = len({one.of.outcome for one in shown}) > 1
    plot, tall = partial(_plot, shown, by), partial(_tall, shown, by)
    said = _reading() if factor else _sentence(answer, shown[0].of)
    return Picture(tr("Is one of two better? The evidence so far"), plot, said, tall)


def _meters(answer: Answer) -> list[_Meter]:
    """Return all comparisons with pairs, the question of the month first, then what has most evidence."""
    found = []
    for one in answer.comparisons:
        figure = answer.figure("evidence", one.of)
        if figure and figure.value is not None:
            found.append(_Meter(one, NEEDED * figure.value / one.needed))
    return sorted(found, key=lambda one: (not one.of.named, -one.evidence))


def _told_most(found: Sequence[_Meter]) -> list[_Meter]:
    """Return of each thing that was dealt the two values that tell most, and all of the question of the month."""
    return [
        one for place, one in enumerate(found)
        if one.of.named or one.of.factor not in {other.of.factor for other in found[:place]}
    ]  # fmt: skip


def _sentence(answer: Answer, first: Comparison) -> str:
    """Return how meters are read, and what is told of the first one, which is not yet told elsewhere on the page."""
    read = _reading()
    lacking = next((one for one in answer.lacking if one.of == first.of), None)
    if first.verdict != "not_yet":
        return f"{read} {comparison_line(answer, first)}"
    return f"{read} {not_yet(lacking)}" if first.named and lacking else read


def _reading() -> str:
    return tr("Black past \"enough\": one of the two is better. Which one is told only then. "
              "A bar may shrink, and that is normal.")  # fmt: skip


def _tall(found: Sequence[_Meter], by: bool, width_mm: float, look: Look) -> Tall:
    height_mm = stacked([_row(one, by, width_mm, look) for one in found]).height_mm + below_mm(look, titled=False)
    return Tall(height_mm, height_mm)


def _plot(found: Sequence[_Meter], by: bool, width_mm: float, height_mm: float, look: Look) -> Parts:
    """Return the meters, each named with what it goes by where they differ in that."""
    drawn = stacked([_row(one, by, width_mm, look) for one in found])
    left_mm, right_mm = _ends(width_mm, look)
    across = _across(width_mm, look)
    frame = Frame(left_mm, 0.0, right_mm, drawn.height_mm)
    # What evidence is in numbers means nothing to a coach, and was taken for pairs.
    places = {_LOW: tr("nothing"), NEEDED: tr("enough"), SURE: tr("sure")}
    axis = level(frame, across, [math.log(place) for place in places], list(places.values()), "", look)
    return joined([axis, drawn.parts])


def _ends(width_mm: float, look: Look) -> tuple[float, float]:
    return 1.1 * look.em_mm, width_mm - 1.1 * look.em_mm


def _across(width_mm: float, look: Look) -> Scale:
    return Scale(math.log(_LOW), math.log(SURE), *_ends(width_mm, look))


def _row(one: _Meter, by: bool, width_mm: float, look: Look) -> ShapeRow:
    """Return a meter with its name above it, and on how many pairs it rests."""
    em_mm, of = look.em_mm, one.of
    pairs = trn("{count} pair so far", "{count} pairs so far", of.pairs)
    right_mm = look.pen.width(pairs, em_mm)
    first, second = value_words(of.factor, of.first), value_words(of.factor, of.second)
    said = compared_words(of.of) if by else tr("{first} or {second}", first=first, second=second)
    if of.named:
        said = tr("{compared} (question of the month)", compared=said)
    kind = Type(em_mm, em_mm, bold=of.named, lines=_NAME_LINES)
    name = fitted(said, width_mm - right_mm - em_mm, kind, look.pen.letters)
    beside = look.pen.label(pairs, width_mm - right_mm, name.lines[0].baseline_mm, em_mm, "lane")
    across, high_mm = _across(width_mm, look), _METER_EM * em_mm
    top_mm, line_mm = name.height_mm + 0.1 * em_mm, look.style.line_mm
    enough_mm, end_mm = across.at(math.log(NEEDED)), across.at(math.log(max(one.evidence, _LOW)))
    boxes = (
        OutlinedBox(x_mm=across.from_mm, y_mm=top_mm, width_mm=enough_mm - across.from_mm, height_mm=high_mm,
                    kind="bar", line_mm=line_mm, hatch=_HATCH),
        OutlinedBox(x_mm=enough_mm, y_mm=top_mm, width_mm=across.to_mm - enough_mm, height_mm=high_mm, kind="bar",
                    line_mm=line_mm),
        OutlinedBox(x_mm=across.from_mm, y_mm=top_mm + (high_mm - _BAR_EM * em_mm) / 2,
                    width_mm=max(end_mm - across.from_mm, 0.6), height_mm=_BAR_EM * em_mm, kind="bar", fill=BLACK),
    )  # fmt: skip
    labels = (*look.pen.written(name, "lane").parts.labels, beside)
    return ShapeRow(Parts(labels=labels, boxes=boxes), top_mm + high_mm + _BELOW_EM * em_mm)
