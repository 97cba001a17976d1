"""A mark a round: filled, cross, open, question as on the screen; its height is the seconds to spare. Pure."""

import itertools
from collections.abc import Sequence
from functools import partial
from typing import Literal, NamedTuple

from tocsin.analysis.review.answer import Review
from tocsin.analysis.seasons.row import Row
from tocsin.export.drawing.look import Look, Picture, Tall
from tocsin.export.drawing.plot import (
    Frame,
    Scale,
    below_mm,
    ground,
    gutter_mm,
    level,
    outward,
    parting,
    signed,
    ticks,
    upright,
)
from tocsin.export.drawing.shapes import SHADE, Parts, joined, middle
from tocsin.features.review.pictures.heights import Height, Heights, Kind, heights, shape_of
from tocsin.features.review.pictures.marks import dashed, hollow_arrow, line, ring, round_mark
from tocsin.model.display.round_picture import SHAPES, Shape
from tocsin.translation import tr

ODD_LIMIT = "odd_limit"                # the figure beyond which a round is odd
_FAR_S = 10.0                          # a push without an end may seem to have lasted till the run's end
_LEAST_S = 2.0
_MOST_NUMBERS = 14
_FEWEST_ROUNDS = 8                     # for which there is room at least, so that three do not stand far apart
_LINE_MM = 0.4
_LEAST_ARROW = 3.4                     # how long an arrow is at least, of a mark
_RING = 2.1                            # around an odd round, of its mark
_KEY_EM = 1.35
_FEWEST_LETTERS = 4                    # of a name that is cut
_LEAST_EM, _MOST_EM = 7.25, 25         # how tall the plot is, the least without its key
_NUMBER_EM = 0.95                      # from number to number of the axis at least
_NARROW_EM = 12.0                      # the least without its key where a page is narrow, and as tall as it needs
_SHAPE_WORDS: dict[Shape, str] = {
    "filled": tr("clean"), "cross": tr("not clean (contact, too late, or not home)"), "open": tr("not counted"),
    "question": tr("only a video can tell"),
}  # fmt: skip
_TITLES: dict[Kind, str] = {
    "window": tr("Rounds: seconds to spare before the window"),
    "end": tr("Rounds: home, seconds before the end"),
    "turn": tr("Rounds: seconds from the call to the turn"),
}
_SENTENCES: dict[Kind, str] = {
    "window": tr("Above the line: off before the window began, by the plan's own lead."),
    "end": tr("Above the line: home before the end of the match."),
    "turn": tr("The lower, the quicker."),
}


class _Odd(NamedTuple):
    """What is odd: heights below ``limit_s``, None where that is not told for all alike, and rounds by folder."""

    limit_s: float | None
    folders: frozenset[str]


def rounds(review: Review, rows: Sequence[Row]) -> Picture | None:
    """Return the picture of the rounds of an evening, or of several; None if nothing is known of any."""
    found = heights(rows)
    if found is None:
        return None
    plot = partial(_plot, tuple(rows), found, _odd(review, found.kind))
    said = [_SENTENCES[found.kind]]
    if found.kind == "window" and any(row.shift_s for row in rows):
        said.append(tr("Calls that the lot moved stand as if they came at the plan's lead."))
    tall = partial(_tall, tuple(rows), found, _odd(review, found.kind))
    return Picture(_TITLES[found.kind], plot, " ".join(said), tall)


def _tall(rows: Sequence[Row], of: Heights, odd: _Odd, width_mm: float, look: Look) -> Tall:
    """Return how tall the plot may be: on a narrow page so that marks have room above a key of several lines."""
    _, key_mm = _key(rows, of, odd, width_mm, look)
    least_mm = (_LEAST_EM if look.style.columns > 2 else _NARROW_EM) * look.em_mm + key_mm
    return Tall(least_mm, max(least_mm, _MOST_EM * look.em_mm))


def _odd(review: Review, kind: Kind) -> _Odd:
    answer = review.answer("odd")
    limit_s = _limit_s(review) if kind == "window" else None
    return _Odd(limit_s, frozenset(answer.marked if answer else ()))


def _limit_s(review: Review) -> float | None:
    """Return the height below which a round is odd, None if that is not told."""
    odd, off = review.answer("odd"), review.answer("break_off")
    limits = [figure.value for figure in odd.figures if figure.name == ODD_LIMIT] if odd else []
    lead = off.figure("lead") if off else None
    if lead is None or lead.value is None or len(limits) != 1 or limits[0] is None:
        return None
    return lead.value - limits[0]


def _plot(
    rows: Sequence[Row], of: Heights, odd: _Odd, width_mm: float, height_mm: float, look: Look
) -> Parts:
    kind, found = of
    limit_s = odd.limit_s
    low, high = _limits([height for height in found if height is not None], kind, limit_s)
    key, key_mm = _key(rows, of, odd, width_mm, look)
    top_mm = (1.35 if len(_groups(rows)) > 1 else 0.5) * look.em_mm
    # Rounds of which nobody noted the time stand below the plot's floor, in a row of their own: not among good ones.
    none_mm = 3.0 * look.style.mark_mm if any(height is None or not height.is_known for height in found) else 0.0
    low_mm = height_mm - below_mm(look) - key_mm
    # No mark reaches beyond the plot.
    spare_mm = (_RING + 0.4 if odd.folders else 1.3) * look.style.mark_mm
    values = _values(low, high, (low_mm - none_mm - top_mm - 2 * spare_mm) / look.em_mm)
    texts = [signed(value) for value in values]
    frame = Frame(gutter_mm(texts, look), top_mm, width_mm, low_mm)
    scale = Scale(low, high, frame.low_mm - none_mm - spare_mm, frame.top_mm + spare_mm)
    across = Scale(0.5, max(len(rows), _FEWEST_ROUNDS) + 0.5, frame.left_mm, frame.right_mm)
    numbers = _numbers(rows)
    parts = [
        upright(frame, scale, values, texts, look),
        level(frame, across, list(numbers), [str(number) for number in numbers.values()], tr("round"), look),
        *_partings(rows, frame, across, look),
        key.moved(0.0, height_mm - key_mm),
    ]
    radius_mm = min(look.style.mark_mm, 0.44 * (across.at(2) - across.at(1)))
    places = [
        (across.at(number), scale.at(height.low_s) if height and height.is_known else frame.low_mm - none_mm / 2)
        for number, height in enumerate(found, 1)
    ]
    thin = [place for row, place in zip(rows, places, strict=True) if shape_of(row) == "question"]
    if kind != "turn":
        at_mm = scale.at(0.0)
        parts += [
            ground(frame.left_mm, at_mm, frame.right_mm, frame.low_mm - none_mm, SHADE),
            *(line(piece, _LINE_MM) for piece in _around_marks(frame, at_mm, thin, radius_mm)),
        ]
    if limit_s is not None:
        parts += [dashed(piece, _LINE_MM) for piece in _around_marks(frame, scale.at(limit_s), thin, radius_mm)]
    for row, height, (x_mm, y_mm) in zip(rows, found, places, strict=True):
        if height and not height.is_known:
            parts.append(_bounds(height, kind, x_mm, radius_mm, scale, look))
        share = 1.0 if height and height.is_known else 0.8
        parts.append(round_mark(shape_of(row), x_mm, y_mm, share * radius_mm))
        if row.folder in odd.folders and height:
            parts.append(ring(x_mm, y_mm, _RING * radius_mm, _LINE_MM))
    return joined(parts)


def _values(low: float, high: float, room_em: float) -> list[float]:
    """Return the numbers of the axis: three at least where they have room."""
    found = ticks(low, high, max(3, int(room_em / 2)), least=3)
    while len(found) > 1 and len(found) - 1 > room_em / _NUMBER_EM * (found[-1] - found[0]) / (high - low):
        zero = found.index(0.0) if 0.0 in found else 0
        found = found[zero % 2 :: 2]                   # never without the line
    return found


def _around_marks(
    frame: Frame, y_mm: float, places: Sequence[tuple[float, float]], radius_mm: float
) -> list[tuple[tuple[float, float], tuple[float, float]]]:
    """Return the pieces of a level line that hide none of these marks."""
    clear_mm = 1.3 * radius_mm
    holes = [x for x, y in places if abs(y - y_mm) < clear_mm]
    begins = [frame.left_mm, *(x + clear_mm for x in holes)]
    ends = [*(x - clear_mm for x in holes), frame.right_mm]
    return [((begin, y_mm), (end, y_mm)) for begin, end in zip(begins, ends, strict=True) if begin < end]


def _limits(heights: Sequence[Height], kind: Kind, limit_s: float | None) -> tuple[float, float]:
    """Return the axis: all that was noted, the line at 0, and of bounds those that are worse than it."""
    least_s, most_s = (0.0, _FAR_S) if kind == "turn" else (-_FAR_S, 0.0)
    ends = [end for height in heights for end in height if height.is_known or least_s <= end <= most_s]
    ends += [] if limit_s is None else [limit_s]
    if kind == "turn":
        return 0.0, outward(0.0, max([*ends, _LEAST_S]), _LEAST_S)[1]
    return outward(min([*ends, 0.0]), max([*ends, 0.0]), _LEAST_S)


def _bounds(height: Height, kind: Kind, x_mm: float, radius_mm: float, scale: Scale, look: Look) -> Parts:
    """Return a hollow arrow from the best that a time can have been, which has a cap, to the worst. Nothing filled
    stands there: it would look like a round that did well."""
    best_s, worst_s = height if kind == "turn" else (height.high_s, height.low_s)
    back = -1 if kind == "turn" else 1                 # longer turns are up, later pushes down
    at_mm, to_mm = scale.at(best_s), scale.at(worst_s)
    if back * (to_mm - at_mm) < _LEAST_ARROW * radius_mm:
        to_mm = at_mm + back * _LEAST_ARROW * radius_mm
        to_mm = min(max(to_mm, scale.to_mm), scale.from_mm)
        at_mm = to_mm - back * _LEAST_ARROW * radius_mm        # at the plot's edge the arrow begins further inside
    return hollow_arrow(x_mm, at_mm, to_mm, 1.7 * radius_mm, look.style.line_mm)


# -- parts of an evening, and the key ---------------------------------------------------------------------------------


def _groups(rows: Sequence[Row]) -> list[tuple[str, int]]:
    """Return what is played one after the other, in words, and how many rounds each: evenings, else drills, else
    crews."""
    found: list[tuple[str, int]] = []
    for name in (_evening, _drill, _crew):
        found = [(title, len(list(of))) for title, of in itertools.groupby(rows, key=name)]
        if len(found) > 1:
            break
    return found


def _evening(row: Row) -> str:
    return row.evening[5:]                     # of one season: month and day are enough


def _drill(row: Row) -> str:
    return row.drill or tr("match")


def _crew(row: Row) -> str:
    return tr("crew {crew}", crew=row.crew) if row.crew else ""


def _partings(rows: Sequence[Row], frame: Frame, across: Scale, look: Look) -> list[Parts]:
    """Return the lines between groups, and above each group what it is, as far as there is room."""
    groups = _groups(rows)
    if len(groups) < 2:
        return []
    parts, labels, first = [], [], 0
    for title, count in groups:
        begin_mm, end_mm = across.at(first + 0.5), across.at(first + count + 0.5)
        if first:
            parts.append(parting(begin_mm, frame, look))
        cut = look.pen.cut(title, end_mm - begin_mm - 0.5 * look.em_mm, look.em_mm)
        if cut == title or len(cut) > _FEWEST_LETTERS:
            labels.append(look.pen.label(cut, begin_mm + 0.25 * look.em_mm, look.em_mm, look.em_mm, "lane"))
        first += count
    return [*parts, Parts(labels=tuple(labels))]


def _numbers(rows: Sequence[Row]) -> dict[int, int]:
    """Return the numbers of rounds that are written, by their places: of drills as they were counted there; about a
    dozen."""
    count = len(rows)
    step = next(step for step in (1, 2, 5, 10, 20, 50, 100, 200, 500, 1000, count) if count / step <= _MOST_NUMBERS)
    numbers = {place: row.round or place for place, row in enumerate(rows, 1)}
    return {place: number for place, number in numbers.items() if number == 1 or number % step == 0}


def _key(rows: Sequence[Row], of: Heights, odd: _Odd, width_mm: float, look: Look) -> tuple[Parts, float]:
    """Return what the marks mean, those that there are, in as many lines as they need, and how tall that is."""
    shapes = {shape_of(row) for row in rows}
    entries: list[tuple[Shape | Literal["ring", "dashes", "arrow"], str]] = [
        (shape, _SHAPE_WORDS[shape]) for shape in SHAPES if shape in shapes
    ]
    if look.style.width_mm > look.style.height_mm:     # a screen has room for one line
        entries = [(shape, tr("not clean") if shape == "cross" else word) for shape, word in entries]
    unknown = any(height is not None and not height.is_known for height in of.of)
    entries += [("arrow", tr("nobody noted when"))] if unknown else []
    entries += [("ring", tr("odd"))] if any(row.folder in odd.folders for row in rows) else []
    entries += [("dashes", tr("odd below it"))] if odd.limit_s is not None else []
    em_mm, radius_mm = look.em_mm, look.style.mark_mm
    parts, labels, x_mm, row = [], [], 0.0, 0
    for shape, word in entries:
        before_mm = (6 if shape == "dashes" else 2) * radius_mm + 0.5 * em_mm
        wide_mm = before_mm + look.pen.width(word, em_mm)
        if x_mm and x_mm + wide_mm > width_mm:
            x_mm, row = 0.0, row + 1
        y_mm = (row + 0.5) * _KEY_EM * em_mm
        if shape == "dashes":
            parts.append(dashed(((x_mm, y_mm), (x_mm + 6 * radius_mm, y_mm)), _LINE_MM))
        elif shape == "arrow":
            reach_mm = 0.5 * _KEY_EM * em_mm * (-1 if of.kind == "turn" else 1)
            parts.append(
                hollow_arrow(x_mm + radius_mm, y_mm - 0.8 * reach_mm, y_mm + 0.8 * reach_mm, 1.7 * radius_mm,
                             look.style.line_mm)
            )  # fmt: skip
        elif shape == "ring":
            parts.append(ring(x_mm + radius_mm, y_mm, 1.4 * radius_mm, _LINE_MM))
        else:
            parts.append(round_mark(shape, x_mm + radius_mm, y_mm, radius_mm))
        labels.append(look.pen.label(word, x_mm + before_mm, middle(y_mm, 0.0, em_mm), em_mm, "key"))
        x_mm += wide_mm + 1.2 * em_mm
    return joined([*parts, Parts(labels=tuple(labels))]), (row + 1) * _KEY_EM * em_mm
