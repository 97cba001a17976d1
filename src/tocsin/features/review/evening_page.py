"""An evening on one page: what happened, six numbers, three pictures, what is not told yet, what was left out.

For paper (A4), for a phone, and for the screen at the end of a drill. Black, greys and shapes; equal inputs give equal
bytes. The file says by their keys whose names it shows, so that it goes away with a name that is forgotten.
"""

from collections.abc import Mapping, Sequence

from tocsin.analysis.review.answer import Review
from tocsin.analysis.review.headline import headline
from tocsin.analysis.review.rounds import MATCHES, Rounds, evening_of, rounds_of
from tocsin.analysis.review.times import break_off_times
from tocsin.analysis.seasons.row import Row
from tocsin.export.drawing.flow import Form, Size, invented, look_of, on_pages, one_page, printed
from tocsin.export.drawing.look import Look, Picture
from tocsin.export.drawing.shapes import Page, ShapeRow, joined, stacked
from tocsin.features.review.cells import cells, grid
from tocsin.features.review.parts import (
    bold_sentence,
    foot,
    head,
    lackings,
    left_out,
    not_yet_list,
    people_of,
)
from tocsin.features.review.pictures.rounds import rounds
from tocsin.features.review.pictures.shares import shares
from tocsin.features.review.pictures.still_pushing import still_pushing
from tocsin.translation import tr

_MOST_LACKING = 8
_HALVES_EM = 1.6                       # between two pictures side by side
_SCREEN_SIZES = (1.0, 0.85, 0.7, 0.6)  # of the sentence


def draw(
    review: Review, rows: Sequence[Row], *, kind: Form, size: Size = "a4", names: Mapping[str, str],
    example: bool = False,
) -> bytes:  # fmt: skip
    """Return an evening's page as a file of that kind, with people's ``names`` by key, none if it is empty.

    ``rows`` are those that the review was made of; ``example`` marks the page as invented.
    """
    pages = evening_pages(review, rows, size=size, names=names, example=example, tall=kind != "pdf")
    shown = sorted(key for key in people_of(rows) if key in names)
    creator = " ".join(["Tocsin", *shown])
    return printed(pages, kind, _title(review), creator)


def evening_pages(
    review: Review, rows: Sequence[Row], *, size: Size, names: Mapping[str, str], example: bool = False,
    tall: bool = False,
) -> tuple[Page, ...]:  # fmt: skip
    """Return what stands where: one page, but on a phone as many as it takes, or a ``tall`` one."""
    look = look_of(size)
    played = _rounds(review, rows)
    if size == "screen":
        return (_screen(review, played, look, example=example),)
    above, below = _around(review, played.played, names, look, example=example)
    pictures = _pictures(review, played)
    if size == "a4":
        return (_a4(review, above, below, pictures, look),)
    blocks = [*above, *(one.drawn(look.style.inner_mm, look.style.plot_mm, look) for one in pictures)]
    blocks += [not_yet_list(lackings(review), 99, look), *below]
    blocks = [block for block in blocks if block.height_mm]
    return (one_page(stacked(blocks, look.style.gap_mm), look, as_tall=True),) if tall else on_pages(blocks, look)


def _rounds(review: Review, rows: Sequence[Row]) -> Rounds:
    of = [row for row in rows if evening_of(row) in review.evenings]
    return rounds_of(of, review.drills[0] if review.drills else MATCHES)


def _title(review: Review) -> str:
    return tr("Evening of {day}", day=", ".join(review.evenings))


def _pictures(review: Review, played: Rounds) -> list[Picture]:
    """Return the pictures that may be drawn, in their order; none where the records cannot be trusted."""
    if not review.trusted:
        return []
    found = rounds(review, played.played), still_pushing(review, break_off_times(played)), shares(review)
    return [picture for picture in found if picture is not None]


def _around(
    review: Review, rows: Sequence[Row], names: Mapping[str, str], look: Look, *, example: bool
) -> tuple[list[ShapeRow], list[ShapeRow]]:
    """Return what stands above the pictures, and what below them and the list of what is not told yet."""
    above = [invented(look)] if example else []
    above += [head(_title(review), review, rows, names, look), bold_sentence(review, look)]
    found = cells(review) if review.trusted else []
    above += [grid(found, look)] if found else []
    return above, [left_out(review, look), foot(look)]


def _a4(
    review: Review, above: Sequence[ShapeRow], below: Sequence[ShapeRow], pictures: Sequence[Picture], look: Look
) -> Page:
    """Return the page: pictures take what room the texts leave; the list is shortened before a picture is."""
    style = look.style
    found = lackings(review)
    for most in range(min(_MOST_LACKING, len(found)), -1, -1):
        texts = [*above, not_yet_list(found, most, look), *below]
        blocks = [block for block in texts if block.height_mm]
        room_mm = style.height_mm - 2 * style.margin_mm - sum(block.height_mm + style.gap_mm for block in blocks)
        bands = _bands(pictures, room_mm, look)
        if sum(band.height_mm + style.gap_mm for band in bands) <= room_mm + style.gap_mm + 1e-6:
            break
    lower = [block for block in texts[len(above):] if block.height_mm]
    return one_page(stacked([*above, *bands, *lower], style.gap_mm), look)


def _bands(pictures: Sequence[Picture], room_mm: float, look: Look) -> list[ShapeRow]:
    """Return the pictures: the first one over the width, the others side by side below it."""
    style = look.style
    if not pictures:
        return []
    first, rest = pictures[0], pictures[1:]
    half_mm = (style.inner_mm - _HALVES_EM * look.em_mm) / 2 if len(rest) > 1 else style.inner_mm
    lower: list[ShapeRow] = []
    if rest:
        texts_mm = [one.texts_mm(half_mm, look) for one in rest]
        share_mm = 0.45 * room_mm
        drawn = [one.drawn(half_mm, share_mm - text_mm, look) for one, text_mm in zip(rest, texts_mm, strict=True)]
        placed = [one.parts.moved(place * (style.inner_mm - half_mm), 0.0) for place, one in enumerate(drawn)]
        lower = [ShapeRow(joined(placed), max(one.height_mm for one in drawn))]
    left_mm = room_mm - sum(band.height_mm + style.gap_mm for band in lower)
    return [first.drawn(style.inner_mm, left_mm - first.texts_mm(style.inner_mm, look), look), *lower]


def _screen(review: Review, played: Rounds, look: Look, *, example: bool) -> Page:
    """Return the sentence and the rounds, as large as they may be."""
    style = look.style
    about = " · ".join([*review.evenings, *review.drills, *([tr("invented example")] if example else [])])
    picture = next(iter(_pictures(review, played)), None)
    for size in _SCREEN_SIZES:
        said = look.text(headline(review), style.inner_mm, size * style.headline_em, "word", bold=True)
        above = [look.text(about, style.inner_mm, look.em_mm, "detail"), said]
        if picture is not None:
            used_mm = sum(block.height_mm + style.gap_mm for block in above) + picture.texts_mm(style.inner_mm, look)
            above.append(picture.drawn(style.inner_mm, style.height_mm - 2 * style.margin_mm - used_mm, look))
        page = one_page(stacked(above, style.gap_mm), look)
        if page.height_mm <= style.height_mm:
            break
    return page
