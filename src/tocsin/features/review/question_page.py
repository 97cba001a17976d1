"""One question on a page: what the lot tells of one thing that drills deal, its meters, and what is still missing.

For paper (A4) and for a phone. What else a season came to stands on its own pages.
"""

from collections.abc import Mapping

from tocsin.analysis.review.better import FACTORS
from tocsin.analysis.review.headline import flags
from tocsin.analysis.review.rounds import MATCHES, rounds_of
from tocsin.export.drawing.flow import Size, invented, look_of, on_pages, tall_page
from tocsin.export.drawing.look import Look
from tocsin.export.drawing.shapes import Page, ShapeRow
from tocsin.features.review.chosen import Chosen, ReviewRequest
from tocsin.features.review.look import look_lines
from tocsin.features.review.parts import foot, head, left_out, ruled
from tocsin.features.review.pictures.meter import meter


def question_pages(
    chosen: Chosen, wish: ReviewRequest, *, size: Size, names: Mapping[str, str], example: bool = False,
    tall: bool = False,
) -> tuple[Page, ...]:  # fmt: skip
    """Return what stands where, of the question that is asked for (``wish.look``)."""
    look = look_of(size)
    mark = invented(look) if example else None
    blocks = [block for block in _blocks(chosen, wish, names, look) if block.height_mm]
    if tall and size != "a4":
        return (tall_page([*([mark] if mark else []), *blocks], look),)
    return on_pages(blocks, look, each=mark)


def _blocks(chosen: Chosen, wish: ReviewRequest, names: Mapping[str, str], look: Look) -> list[ShapeRow]:
    review, style = chosen.review, look.style
    rows = rounds_of(chosen.rows, next(iter(review.drills), MATCHES)).played
    asked, *told = (line.strip() for line in look_lines(chosen, wish))
    blocks = [head(review, rows, names, look)]
    if told:
        blocks.append(look.text(asked, style.inner_mm, style.heading_em, "heading", bold=True))
    blocks.append(ruled(told[0] if told else asked, flags(review), look))
    blocks += [look.text(text, style.inner_mm, look.em_mm, "list") for text in told[1:]]
    compared = meter(review, FACTORS[wish.look]) if wish.look and review.trusted else None
    blocks += [compared.drawn(style.inner_mm, style.plot_mm, look)] if compared else []
    return [*blocks, left_out(review, look), foot(look)]
