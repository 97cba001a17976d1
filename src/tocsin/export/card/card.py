"""A card on paper: the calls as the official display shows them, for a wrist (A6) or a desk or pit wall (A4).

For places where no laptop may stand. SVG and PDF are drawn from one layout, so both look the same; equal inputs give
equal bytes. How large letters are, and why: ``card_page``. What is left out when there is no room: ``card_layout``.
"""

import re

from tocsin.errors import UsageError
from tocsin.export.card.drawing import DEJAVU, pdf, svg
from tocsin.export.card.layout import CardContent, Layout, lay_out
from tocsin.export.card.page import PAGES, SIZES, Size
from tocsin.export.rows import content
from tocsin.export.source import CAUTIONS, Source

__all__ = ["SIZES", "Layout", "Size", "card_layout", "card_pdf", "card_svg"]


def card_svg(source: Source, layout: Layout) -> str:
    """Return the card of a plan as an SVG document of one page, upright; ``layout`` is what stands where."""
    return svg(layout, *_names(source))


def card_pdf(source: Source, layout: Layout) -> bytes:
    """Return the card of a plan as a PDF document of one page, upright; ``layout`` is what stands where."""
    return pdf(layout, *_names(source))


def card_layout(source: Source, size: Size) -> Layout:
    """Return what stands where on the card of a plan, A6 or A4.

    Raises UsageError (exit 2) if the plan's rows of the highest priority alone have no room on it.
    """
    if size not in SIZES:
        raise UsageError(f"there is no card of size {size}", hint=f"give one of {', '.join(SIZES)}")
    page = PAGES[size]
    words = CardContent(
        content=content(source, page.columns),
        cautions=CAUTIONS,
        prints=tuple(_shortened(line, page.digest) for line in source.origin_lines),
    )
    return lay_out(words, size, DEJAVU)


def _names(source: Source) -> tuple[str, str]:
    return f"{source.game.name}: {source.plan.name}", source.origin_lines[0]


def _shortened(line: str, digits: int) -> str:
    """Return a line with its digests cut to so many hexadecimal digits."""
    return re.sub(rf"(?<=sha256 )([0-9a-f]{{{digits}}})[0-9a-f]+", r"\1…", line)
