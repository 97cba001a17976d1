"""A card on paper: the calls as the official display shows them, for a wrist (A6) or a desk or pit wall (A4).

For places where no laptop may stand. SVG and PDF are drawn from one layout, so both look the same; equal inputs give
equal bytes. How large letters are, and why: ``page``. What is left out when there is no room: ``layout``.
"""

from tocsin.errors import UsageError
from tocsin.export.card.layout import CardContent, Layout, lay_out
from tocsin.export.card.page import PAGES, SIZES, Size
from tocsin.export.drawing.letters import DEJAVU
from tocsin.export.drawing.printing import drawn
from tocsin.export.rows import content
from tocsin.export.source import CAUTIONS, Source
from tocsin.translation import tr

__all__ = ["SIZES", "Layout", "Size", "card_layout", "card_pdf", "card_svg"]


def card_svg(source: Source, layout: Layout) -> str:
    """Return the card of a plan as an SVG document of one page, upright; ``layout`` is what stands where."""
    return drawn(layout, "svg", "card", source.title, source.origin_lines[0]).decode("utf-8")


def card_pdf(source: Source, layout: Layout) -> bytes:
    """Return the card of a plan as a PDF document of one page, upright; ``layout`` is what stands where."""
    return drawn(layout, "pdf", "card", source.title, source.origin_lines[0])


def card_layout(source: Source, size: Size) -> Layout:
    """Return what stands where on the card of a plan, A6 or A4.

    Raises UsageError (exit 2) if the plan's rows of the highest priority alone have no room on it.
    """
    if size not in SIZES:
        raise UsageError(
            tr("there is no card of size {size}", size=size), hint=tr("give one of {sizes}", sizes=", ".join(SIZES)),
        )
    page = PAGES[size]
    words = CardContent(
        content=content(source, page.columns),
        cautions=CAUTIONS,
        prints=source.short_origin_lines(page.digest),
    )
    return lay_out(words, size, DEJAVU)
