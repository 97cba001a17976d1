"""A season on two pages at most: evenings, shares, what the lot compared, changes, what is not told yet.

For paper (A4), for a phone, and for a screen. As the evening page otherwise.
"""

from collections.abc import Mapping, Sequence
from typing import NamedTuple

from tocsin.analysis.review.answer import Lacking, Question, Review
from tocsin.analysis.review.rounds import MATCHES, Rounds, rounds_of
from tocsin.analysis.review.words.answers import MOST_NOT_YET
from tocsin.analysis.seasons.row import Row
from tocsin.export.drawing.flow import Size, invented, look_of, on_pages, side_by_side, tall_page
from tocsin.export.drawing.look import Look, Picture
from tocsin.export.drawing.shapes import Page, ShapeRow, stacked
from tocsin.features.review.cells import cells, grid
from tocsin.features.review.changes import change_texts
from tocsin.features.review.parts import (
    bold_sentence,
    foot,
    head,
    lackings,
    left_out,
    lines_beside,
    not_yet_list,
    titled,
    told_beside,
)
from tocsin.features.review.pictures.evenings import evenings
from tocsin.features.review.pictures.meter import meter
from tocsin.features.review.pictures.shares import shares
from tocsin.features.review.pictures.ways import ways
from tocsin.features.review.pictures.within import within
from tocsin.features.review.screen import screen_page
from tocsin.translation import tr

MOST_PAGES = 2
_BEHIND: tuple[Question, ...] = ("matches", "learning")            # what has a sentence and no picture of its own
# How tall pictures are, in shares of what a page would like: so tall that they fill the first page.
_TALL = tuple(share / 20 for share in range(30, 15, -1))
_FIRST = tuple(share / 10 for share in range(20, 10, -1))          # the first one, if there is room for it alone
# Where two pages do not hold all, the list of what is missing is shorter.
_TRIES = ((0.9, 5), (0.8, 5), (0.8, 4), (0.7, 2), (0.7, 1), (0.7, 0))


class _Content(NamedTuple):
    """All that a season's pages hold, in its order: made once, whatever height pictures are drawn with. ``compared`` is
    what the lot compared, ``texts`` what else is told; below them stands the list of what is missing, then ``below``.
    """

    above: list[ShapeRow]
    first: Picture | None
    pairs: list[Picture]
    meter: Picture | None
    compared: list[ShapeRow]
    within: list[Picture]
    texts: list[ShapeRow]
    missing: list[Lacking]
    below: list[ShapeRow]


def season_pages(
    review: Review, rows: Sequence[Row], *, size: Size, names: Mapping[str, str], example: bool = False,
    tall: bool = False,
) -> tuple[Page, ...]:  # fmt: skip
    """Return what stands where: two pages at most, but on a phone as many as it takes, or a ``tall`` one."""
    look = look_of(size)
    rounds = rounds_of(rows, review.drills[0] if review.drills else MATCHES)
    if size == "screen":
        return (screen_page(review, _first(review, rounds), look, example=example),)
    mark = invented(look) if example else None
    above = [mark] if mark else []
    content = _content(review, rounds, names, look)
    if size == "phone":
        blocks = _blocks(content, look, tall=1.0, most=MOST_NOT_YET)
        return (tall_page([*above, *blocks], look),) if tall else on_pages(blocks, look, each=mark)

    def placed(tall: float, first: float) -> tuple[Page, ...]:
        blocks = _blocks(content, look, tall=tall, first=first, most=MOST_NOT_YET)
        return on_pages(blocks, look, each=mark)

    fitting = {share: pages for share in _TALL if len(pages := placed(share, share)) <= MOST_PAGES}
    if fitting:
        fewest = min(map(len, fitting.values()))
        most = max((one for one in fitting if len(fitting[one]) == fewest), key=lambda one: _used_mm(fitting[one][0]))
        # Where the second page is full, the first picture alone may fill the first one.
        taller = (placed(most, share) for share in _FIRST if share > most)
        same = [pages for pages in taller if len(pages) == fewest and _last(pages) == _last(fitting[most])]
        return max([fitting[most], *same], key=lambda pages: _used_mm(pages[0]))
    for share, listed in _TRIES:
        pages = on_pages(_blocks(content, look, tall=share, most=listed), look, each=mark)
        if len(pages) <= MOST_PAGES:
            break
    return pages


def _used_mm(page: Page) -> float:
    """Return how far down a page reaches."""
    return max((label.y_mm for label in page.parts.labels), default=0.0)


def _last(pages: Sequence[Page]) -> str:
    """Return the text with which the first page ends."""
    return pages[0].parts.labels[-1].string if pages[0].parts.labels else ""


def _content(review: Review, rounds: Rounds, names: Mapping[str, str], look: Look) -> _Content:
    """Return what stands on the pages; where the records cannot be trusted no figures."""
    above = [head(review, rounds.played, names, look), bold_sentence(review, look)]
    below = [told_beside(review, "odd", rounds.played, look), left_out(review, look), foot(look)]
    if not review.trusted:
        return _Content(above, None, [], None, [], [], [], lackings(review), below)
    found, changed = cells(review), change_texts(rounds)
    behind = [look.text(text, look.style.inner_mm, look.em_mm, "list") for text in lines_beside(review, _BEHIND)]
    texts = [stacked(behind)] if behind else []
    texts += titled(tr("What was changed, and what followed"), changed, look) if changed else []
    return _Content(
        above=[*above, *([grid(found, look)] if found else [])], first=_first(review, rounds),
        pairs=[one for one in (shares(review), ways(review)) if one is not None], meter=meter(review),
        compared=[told_beside(review, "better", rounds.played, look)], within=within(review, rounds), texts=texts,
        missing=lackings(review), below=below,
    )  # fmt: skip


def _blocks(
    content: _Content, look: Look, *, tall: float, most: int, first: float | None = None
) -> list[ShapeRow]:
    """Return all blocks in their order, pictures so ``tall`` (the ``first`` one maybe another height), and so many
    sentences of what is missing at the most."""
    width_mm, plot_mm = look.style.inner_mm, tall * look.style.plot_mm
    first_mm = plot_mm if first is None else first * look.style.plot_mm
    above, lot = (
        [one.drawn(width_mm, high_mm, look)] if one else []
        for one, high_mm in ((content.first, first_mm), (content.meter, plot_mm))
    )
    blocks = [
        *content.above, *above, *_pairs(content.pairs, plot_mm, look), *lot, *content.compared,
        *_pairs(content.within, plot_mm, look), *content.texts, not_yet_list(content.missing, most, look),
        *content.below,
    ]  # fmt: skip
    return [block for block in blocks if block.height_mm]


def _first(review: Review, rounds: Rounds) -> Picture | None:
    return evenings(rounds) if review.trusted else None


def _pairs(found: Sequence[Picture], plot_mm: float, look: Look) -> list[ShapeRow]:
    """Return pictures side by side where a page is wide enough, else one below the other."""
    if look.style.columns < 3 or len(found) < 2:
        return [picture.drawn(look.style.inner_mm, plot_mm, look) for picture in found]
    return [side_by_side(found, plot_mm, look)]
