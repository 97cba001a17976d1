"""An evening on one page: what happened, six numbers, three pictures, what is not told yet, what was left out.

For paper (A4), for a phone, and for the screen at the end of a drill. Black, greys and shapes; equal inputs give equal
bytes. The file says by their keys whose names it shows, so that it goes away with a name that is forgotten.
"""

from collections.abc import Mapping, Sequence

from tocsin.analysis.review.answer import Review
from tocsin.analysis.review.rounds import MATCHES, Rounds, evening_of, rounds_of
from tocsin.analysis.review.times import break_off_times
from tocsin.analysis.review.words.answers import MOST_NOT_YET
from tocsin.analysis.seasons.row import Row
from tocsin.export.drawing.flow import (
    HAIR_MM,
    Size,
    invented,
    look_of,
    on_pages,
    one_page,
    side_by_side,
    tall_page,
)
from tocsin.export.drawing.look import Look, Picture
from tocsin.export.drawing.shapes import Page, ShapeRow, stacked
from tocsin.features.review.cells import cells, grid
from tocsin.features.review.parts import (
    bold_sentence,
    foot,
    head,
    lackings,
    left_out,
    not_yet_list,
    told_beside,
)
from tocsin.features.review.pictures.rounds import rounds
from tocsin.features.review.pictures.shares import shares
from tocsin.features.review.pictures.still_pushing import still_pushing
from tocsin.features.review.screen import screen_page

_LOWER = 0.45                          # of the room for pictures: the lower ones, side by side
_LEAST_PLOT_MM = 42.0                  # of the first picture with its axis: below it nobody sees who was late


def evening_pages(
    review: Review, rows: Sequence[Row], *, size: Size, names: Mapping[str, str], example: bool = False,
    tall: bool = False,
) -> tuple[Page, ...]:  # fmt: skip
    """Return what stands where: one page, but on a phone as many as it takes, or a ``tall`` one."""
    look = look_of(size)
    played = rounds_of(
        [row for row in rows if evening_of(row) in review.evenings], review.drills[0] if review.drills else MATCHES
    )
    pictures = _pictures(review, played)
    if size == "screen":
        return (screen_page(review, next(iter(pictures), None), look, example=example),)
    mark = invented(look) if example else None
    above, below = _around(review, played.played, names, look)
    if size == "a4":
        return (_a4(review, [*([mark] if mark else []), *above], below, pictures, look),)
    blocks = [*above, *(one.drawn(look.style.inner_mm, look.style.plot_mm, look) for one in pictures)]
    blocks += [not_yet_list(lackings(review), MOST_NOT_YET, look), *below]
    blocks = [block for block in blocks if block.height_mm]
    if tall:
        return (tall_page([*([mark] if mark else []), *blocks], look),)
    return on_pages(blocks, look, each=mark)


def _pictures(review: Review, played: Rounds) -> list[Picture]:
    """Return the pictures that may be drawn, in their order; none where the records cannot be trusted."""
    if not review.trusted:
        return []
    found = rounds(review, played.played), still_pushing(review, break_off_times(played)), shares(review)
    return [picture for picture in found if picture is not None]


def _around(
    review: Review, rows: Sequence[Row], names: Mapping[str, str], look: Look
) -> tuple[list[ShapeRow], list[ShapeRow]]:
    """Return what stands above the pictures, and what below them and the list of what is not told yet."""
    above = [head(review, rows, names, look), bold_sentence(review, look)]
    found = cells(review) if review.trusted else []
    above += [grid(found, look)] if found else []
    return above, [told_beside(review, "odd", rows, look), left_out(review, look), foot(look)]


def _a4(
    review: Review, above: Sequence[ShapeRow], below: Sequence[ShapeRow], pictures: Sequence[Picture], look: Look
) -> Page:
    """Return the page: pictures take what room the texts leave; the list is shortened before the first picture is low
    or another one goes."""
    style = look.style
    found = lackings(review)
    tries = [(list(pictures[:count]), most) for count in range(len(pictures), -1, -1)
             for most in range(min(MOST_NOT_YET, len(found)), -1, -1)]  # fmt: skip
    for shown, most in tries:
        lower = [block for block in (not_yet_list(found, most, look), *below) if block.height_mm]
        texts_mm = sum(block.height_mm + style.gap_mm for block in (*above, *lower))
        room_mm = style.height_mm - 2 * style.margin_mm - texts_mm
        bands, plot_mm = _bands(shown, room_mm, look)
        fits = sum(band.height_mm + style.gap_mm for band in bands) <= room_mm + style.gap_mm + HAIR_MM
        if fits and (plot_mm >= _LEAST_PLOT_MM or not most):
            break
    return one_page(stacked([*above, *bands, *lower], style.gap_mm), look)


def _bands(pictures: Sequence[Picture], room_mm: float, look: Look) -> tuple[list[ShapeRow], float]:
    """Return the pictures, the first one over the width, the others side by side below it; and how tall the plot of the
    first one is."""
    style = look.style
    if not pictures:
        return [], 0.0
    first, rest = pictures[0], pictures[1:]
    lower = [side_by_side(rest, 0.0, look, height_mm=_LOWER * room_mm)] if rest else []
    left_mm = room_mm - sum(band.height_mm + style.gap_mm for band in lower)
    plot_mm = left_mm - first.texts_mm(style.inner_mm, look)
    return [first.drawn(style.inner_mm, plot_mm, look), *lower], plot_mm
